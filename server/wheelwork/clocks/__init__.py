"""Clocks: which nodes matter, their exact frequencies, and how they stand to their windows."""
