"""A second opinion: each figure beside the answer of another library on the same catches, and what catches say of it.

Imports all rooms before it: `domain`, `files`, `curves`, `advice`, `lots`, `job`.
"""
