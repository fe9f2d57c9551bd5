"""Core voltage, wait states and supply current."""
