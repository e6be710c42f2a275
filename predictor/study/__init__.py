"""Made-up drills: for practice, and to measure how often the program is right.

Imports `domain`, `curves` and `advice`.
"""
