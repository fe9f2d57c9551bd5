"""Sheets and plans on disk: the demo's files, and the shelf that a team keeps its own on."""
