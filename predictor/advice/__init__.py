"""From catches to advice on one box and lot: which catches count, what earlier lots say, the chances, the decision.

Imports `domain`, `files` (for tables given as DataFrames) and `curves`.
"""
