"""Compares the lots of one box: how each flows against a reference lot, how lots differ in general, how seasons do.

`compare` is the way in. It has `catches` pick what counts, `apart` take a lot of several seasons as one lot or as
several, `shapes` fit a curve to each lot, `flow` compare lots with the reference, `spread` look at lots in general,
`starts` say where to start with each, and `seasons` look at drift and, with `repeatability`, at how well catches
repeat; `rows` puts it together lot by lot, and `results` holds what they found. Below are `parallel` (lines with a
common slope), `random_levels`, `season_levels`, `random_lines` (lots as random effects), `limits` (Student's t, ratios,
many comparisons at once) and `roots` (of functions of one number). Imports `domain` and `files`.
"""
