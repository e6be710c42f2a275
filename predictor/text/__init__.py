"""Every sentence a person reads about a result, made from the codes and values in it.

Imports results from `domain`, `advice`, `lots`, `field` and `job`.
"""
