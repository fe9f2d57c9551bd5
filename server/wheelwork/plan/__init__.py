"""The plan: settings chosen for one board with one part, read against its sheet, written back, carried in an address."""
