"""Compares the lots of one box: ratios of flow, common shape, spread between lots, drift between seasons.

Imports `domain`, `files`, `curves` and `advice.history`.
"""
