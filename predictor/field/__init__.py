"""What field checks say: rates achieved, field factors, and the uncertainty budget of the planted seed.

Imports `domain`, `files` and `advice`.
"""
