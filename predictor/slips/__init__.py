"""Finds slips in catches: what looks wrong in a row, in a lot or in a whole log, and the likely cause.

Imports `domain` (catches, controls), `files` (what was typed) and `curves` (what the other catches say).
"""
