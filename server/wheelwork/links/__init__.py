"""Rates on a clock: one module for each family of rates, found by walking this folder. Knows no part and no plan."""
