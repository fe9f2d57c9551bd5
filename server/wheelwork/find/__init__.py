"""Searches over settings: the mends of a finding, every one tried by the same reckoning that judges a plan."""
