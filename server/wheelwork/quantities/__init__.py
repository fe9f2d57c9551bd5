"""Exact values with their units: reading them as people write them, writing them so that they read back the same."""
