"""What is asked of a technician about a catch, a check or a planted line, on a terminal and on the page alike.

Imports `files`, `slips`, `job` and `text`.
"""
