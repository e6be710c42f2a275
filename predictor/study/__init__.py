"""Made-up drills: for practice, and to measure how often the advice is right.

Imports `domain`, `files`, `curves` and `advice`.
"""
