"""The interface: JSON over HTTP, the same calls as the pages and the command line."""
