"""Cards and the season's record: pages made of blocks, shown as HTML or PDF.

Imports results, `job`, `text` and `plots`.
"""
