"""The pages: HTML for people. They read forms, call the same functions as the interface, and hold no sums."""
