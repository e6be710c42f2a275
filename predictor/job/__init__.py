"""A job folder as one thing: its files read once, and every fit made once.

Imports all rooms before it: `domain`, `files`, `curves`, `advice`, `field`.
"""
