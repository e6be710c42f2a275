"""Reads the files of a job strictly, and writes them so that nothing recorded is lost.

Imports `domain` and the modules at the top.
"""
