"""What the work is about: controls and settings, drill and boxes, tags and species, catches and field checks.

No file is read here. Imports only `errors`, `numbers` and `units`.
"""
