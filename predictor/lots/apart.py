"""Lots caught in several seasons: each season is compared as a lot, unless the seasons may be pooled."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import chain, count

import numpy as np

from predictor.domain.codes import Codes, coded
from predictor.domain.control import Floats
from predictor.lots.catches import Called, Catches
from predictor.lots.limits import ratio_of, t_critical
from predictor.lots.results import Change, SeasonsOfLot
from predictor.lots.shapes import LotCurves

# The seasons of a lot are pooled where the limits of every ratio between two of them lie within these: the usual
# tolerance of 10 % (common practice). As with two one-sided tests, a lot that changed by 10 % or more is pooled at most
# as often as one limit fails, and of several pairs all must pass, so their number needs no correction. Source:
# Schuirmann (1987), J. Pharmacokinet. Biopharm. 15, 657-680; Berger (1982), Technometrics 24, 295-300 (from memory).
ALIKE = (0.90, 1.10)


def in_seasons(catches: Catches) -> Catches:
    """The catches with each season of a lot that has several as a lot; those without season stand by themselves."""
    seasons = list(catches.seasons)
    if len(seasons) < 2:
        return catches
    whole, season, of_catch = catches.cells
    named = np.array([bool(each) for each in seasons])[season]
    several = np.bincount(whole[named], minlength=len(catches.called)) > 1
    if not several.any():
        return catches
    row, of_cell = coded(whole * len(seasons) + np.where(several[whole], season, 0))
    names, called = set(catches.names), list[Called]()
    for k in row.tolist():
        each, when = catches.called[k // len(seasons)], seasons[k % len(seasons)]
        apart = several[k // len(seasons)]
        called.append(Called(_own_name(each.lot, when, names), each.lot, when) if apart else each)
    last = {each.lot: each.name for each in called if each.season is not None}
    return replace(catches, called=tuple(called), lot=of_cell[of_catch], also=last)


def _own_name(lot: str, season: str, names: set[str]) -> str:
    """A name for a season of a lot that no lot in the trials has, added to those taken."""
    when = season or "no season"
    tries = chain((f"{lot} ({when})", f"{lot} (season {when})"), (f"{lot} (season {when}, {k})" for k in count(2)))
    name = next(each for each in tries if each not in names)
    names.add(name)
    return name


def pooled(catches: Catches, seasons: tuple[SeasonsOfLot, ...]) -> Catches:
    """The catches of `in_seasons` with the seasons of a lot as one lot again where they may be pooled."""
    alike = {each.lot for each in seasons if each.pooled}
    if not alike:
        return catches
    names = [each.lot if each.lot in alike else each.name for each in catches.called]
    place = {name: k for k, name in enumerate(dict.fromkeys(names))}
    called = {each.lot if each.lot in alike else each.name: each for each in catches.called}
    rows = (Called(each.lot, each.lot) if each.lot in alike else each for each in called.values())
    also = {lot: name for lot, name in catches.also.items() if lot not in alike}
    also |= {each.name: each.lot for each in catches.called if each.lot in alike}
    lot = np.array([place[name] for name in names], dtype=np.intp)[catches.lot]
    return replace(catches, called=tuple(rows), lot=lot, also=also)


def seasons_of_lots(curves: LotCurves, level: float) -> tuple[SeasonsOfLot, ...]:
    """Whether the seasons of each lot may be pooled, by the two of them that are the least alike."""
    catches, called = curves.catches, curves.catches.called
    rows = np.array([k for k, each in enumerate(called) if each.season], dtype=np.intp)
    if not len(rows):
        return ()
    whole = np.zeros(len(called), dtype=np.intp)
    whole[catches.lot] = catches.whole
    earlier, later = (np.concatenate(each) for each in zip(*_pairs(rows, whole), strict=True))
    middle, half, beyond, at = _least_alike(curves, earlier, later, level)
    order = np.lexsort((-beyond, whole[earlier]))
    found = []
    for k in order[np.unique(whole[earlier][order], return_index=True)[1]].tolist():
        since, season = (called[each[k]].season or "" for each in (earlier, later))
        when = tuple(called[row].season or "" for row in rows[whole[rows] == whole[earlier[k]]].tolist())
        change = None if math.isnan(half[k]) else Change(*ratio_of(middle[k], half[k]), since)
        held = None if curves.shared else catches.caught_at(at[k])
        found.append(SeasonsOfLot(called[later[k]].lot, when, bool(beyond[k] < 1), season, change, held))
    return tuple(found)


def _pairs(rows: Codes, whole: Codes) -> Iterator[tuple[Codes, Codes]]:
    """All pairs of seasons of one lot, the earlier first; `rows` go by lot, then by time."""
    for lag in range(1, len(rows)):
        same = whole[rows[:-lag]] == whole[rows[lag:]]
        if not same.any():
            return
        yield rows[:-lag][same], rows[lag:][same]


def _least_alike(
    curves: LotCurves, earlier: Codes, later: Codes, level: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Log ratio of later to earlier seasons, half the width of its limits, how far they reach, and the opening.

    Limits that reach 1 touch what may be pooled. Where curves differ in shape the ratio runs from one value to another
    between the ends of what both seasons were caught at, so it is given at the end where its limits reach farther.
    """
    first, last = curves.catches.ends
    ends = np.maximum(first[earlier], first[later]), np.minimum(last[earlier], last[later])
    low, high = (np.array([*_log_ratio(curves, earlier, later, end, level), end]) for end in ends)
    middle, half, beyond, at = np.where(high[2] > low[2], high, low)
    return middle, half, beyond, at


def _log_ratio(
    curves: LotCurves, earlier: Codes, later: Codes, opening: Floats, level: float
) -> tuple[Floats, Floats, Floats]:
    """Log ratio at an opening, half the width of its limits (NaN without repeats), and how far they reach."""
    (height, answer), (height_then, answer_then) = (curves.at(each, opening) for each in (later, earlier))
    middle, half = height - height_then, np.full(len(height), np.nan)
    if curves.variance is not None:
        bend, bend_then = curves.bend_var[later], curves.bend_var[earlier]
        # a shared bend moves both seasons together
        moved = (answer - answer_then) ** 2 * bend if curves.shared else answer**2 * bend + answer_then**2 * bend_then
        noise = max(curves.variance, 1e-24) * (1 / curves.lines.count[later] + 1 / curves.lines.count[earlier])
        half = t_critical(curves.lines.df, level) * np.sqrt(noise + moved)
    beyond = np.maximum((middle + half) / math.log(ALIKE[1]), (middle - half) / math.log(ALIKE[0]))
    return middle, half, np.where(np.isnan(beyond), np.inf, beyond)
