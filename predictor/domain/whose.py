"""Tells which catches of a log are of this drill: a log may hold several drills, and names are spelled in many ways."""

from __future__ import annotations

import re
from collections import Counter
from functools import lru_cache

import numpy as np

from predictor.domain.codes import as_they_appear, codes_of
from predictor.domain.trials import Flags, Trials

_SIGNS = re.compile(r"[\W_]+")


@lru_cache(maxsize=1000)
def plain_name(drill: str) -> str:
    """The name of a drill in small letters and without signs, to compare names by."""
    return _SIGNS.sub("", drill.lower()) or drill


def this_drill(trials: Trials, own: str, beside: str = "") -> tuple[Flags, str]:
    """Which catches are of this drill, and another name than its own under which they were taken for it.

    A catch belongs to the drill that its row names, without a name to the drill of the file beside the log (`beside`),
    without such a file to this one. Where a log beside this drill's file never names it, the spelling must not lose the
    catches of a season: a name that is part of its name, or the other way round, is taken for it, and where every row
    has a name, the only or the most frequent one is.
    """
    written, code = codes_of(trials, "drill_name")
    names = [plain_name(each) if each.strip() else "" for each in written]
    mine, home = plain_name(own), plain_name(beside or own)
    own_names = {mine, ""} if home == mine else {mine}
    ours = _among(names, own_names)[code]
    named = Counter[str]()
    first, row = as_they_appear(code)
    for k, catches in zip(code[first].tolist(), np.bincount(row).tolist(), strict=True):
        named[names[k]] += catches
    without = named.pop("", 0)
    if not named or mine in named or home != mine:
        return ours, ""
    like = [each for each in named if each in mine or mine in each]
    if len(like) != 1:
        like = [] if without else [named.most_common(1)[0][0]]
    taken = _among(names, set(like))[code]
    return taken | ours, str(trials.drill_name[np.flatnonzero(taken)[0]]) if like else ""


def _among(names: list[str], wanted: set[str]) -> Flags:
    """Which names are among some."""
    return np.array([each in wanted for each in names], dtype=bool)
