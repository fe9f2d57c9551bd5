"""The plan: settings chosen for one board with one part, read against its sheet, carried in an address."""
