"""One file a command: it reads its options, calls the library and prints.

Imports every other room; no room imports it.
"""
