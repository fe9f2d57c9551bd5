"""Who may what: the gate before every request, and the rules it goes by."""
