"""Estimates of crystals and RC oscillators: one calculator in each module, found by walking the folder.

A calculator knows no part and no plan: it gets values with their units and gives figures, a verdict where there is a
limit, the formula with the values put in, its sources and its cautions. Exact where a formula is rational; a root, a
logarithm or π makes a float. All of it is an estimate beside what is measured on the board.
"""
