"""The page at the drill: a job served to the browser of this machine, or to a phone.

Imports `files`, `job`, `text`, `plots`, `pages` and `asking`.
"""
