"""Logs that no person can have made: they are refused in a sentence instead of keeping a command busy."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import numpy as np

from predictor.domain.checks import MOST_CHECKS, FieldCheck
from predictor.domain.codes import codes_of
from predictor.domain.trials import MOST_CATCHES, MOST_SETTINGS, Trials
from predictor.errors import Problems
from predictor.numbers import quoted


def check_catches(trials: Trials, problems: Problems) -> None:
    """Note each lot with more catches in a season than anyone makes."""
    if len(trials) <= MOST_CATCHES or np.bincount(codes_of(trials, "lot")[1]).max() <= MOST_CATCHES:
        return
    lots = Counter(zip(trials.box.tolist(), trials.lot.tolist(), trials.season.tolist(), strict=True))
    for (box, lot, season), catches in lots.items():
        if catches > MOST_CATCHES:
            when = f" in season {season}" if season else ""
            problems.add(
                f"Lot {quoted(lot)} of box {box} has {catches:,} catches{when}. At most {MOST_CATCHES:,} are read: at "
                "ten minutes each these take 1,600 hours. Check which column is lot, and delete rows that are there "
                "more than once."
            )


def check_settings(trials: Trials, problems: Problems) -> None:
    """Note each lot with catches at more different settings than any control has."""
    openings = trials.opening
    if len(np.unique(openings[np.isfinite(openings)])) <= MOST_SETTINGS:
        return
    lots: dict[tuple[str, str, str], dict[float, int]] = {}
    names = zip(trials.box.tolist(), trials.lot.tolist(), trials.season.tolist(), strict=True)
    for name, opening, line in zip(names, openings.tolist(), trials.line.tolist(), strict=True):
        lots.setdefault(name, {}).setdefault(opening, line)
    for (box, lot, season), found in lots.items():
        if len(found) > MOST_SETTINGS:
            when = f" in season {season}" if season else ""
            problems.add(
                f"Lot {quoted(lot)} of box {box} has catches at {len(found):,} different settings{when}. At most "
                f"{MOST_SETTINGS:,} are read, since no lever has more. Check which column is setting, and round "
                "settings to the steps of the control.",
                list(found.values())[MOST_SETTINGS] or None,
                "setting",
            )


def check_checks(checks: Iterable[FieldCheck], problems: Problems) -> None:
    """Note each lot of a box with more field checks than anyone makes."""
    lots = Counter((part.box.name, part.lot) for each in checks for part in each.parts)
    for (box, lot), found in lots.items():
        if found > MOST_CHECKS:
            problems.add(
                f"Lot {quoted(lot)} of box {box} has {found:,} field checks. At most {MOST_CHECKS} are read. "
                "Delete rows that are there more than once, or write no in their column use."
            )
