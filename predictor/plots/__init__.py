"""Pictures of results.

Imports results and `text`; nothing before this room imports it.
"""
