"""Catches of different size whose weights do not differ with it: more turns or rows written than were caught."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from predictor.curves.bent import ShapeCurve
from predictor.domain.drives import OnDrive
from predictor.domain.trials import Flags
from predictor.slips.finding import Finding
from predictor.slips.seen import Seen
from predictor.slips.weigh import LIKELY, probability, spoils_lock

# How often turns or rows of a group of catches are written wrong; judgement.
PRIOR = 0.02
# Groups as near in size as this tell nothing; and so many groups are looked at.
LEAST_RATIO, MOST_GROUPS = 1.3, 3


def look(seen: Seen) -> tuple[Finding, ...]:
    """Groups of catches that weigh as if they had been made with the turns or rows of the others."""
    found = [_like_the_others(seen, what) for what in ("turns", "rows")]
    likely = [each for each in found if each is not None]
    return (max(likely, key=lambda each: each.chance),) if likely else ()


def _like_the_others(seen: Seen, what: str) -> Finding | None:
    """The likeliest group of at least two catches whose size was written wrong."""
    used = seen.used
    sizes = np.asarray(getattr(used, what))
    told = _plain(seen)
    numbers, counts = np.unique(sizes[told], return_counts=True)
    if len(numbers) < 2:
        return None
    usual = float(numbers[np.argmax(counts)])
    base = seen.curve if isinstance(seen.curve, ShapeCurve) else seen.refit(used)
    assert isinstance(base, ShapeCurve)
    best: Finding | None = None
    for number, count in list(zip(numbers.tolist(), counts.tolist(), strict=True))[:MOST_GROUPS]:
        if number == usual or count < 2 or max(number / usual, usual / number) < LEAST_RATIO:
            continue
        group: Flags = (sizes == number) & told
        written = np.where(group, usual, sizes)
        curve = seen.refit(replace(used, turns=written) if what == "turns" else replace(used, rows=written))
        assert isinstance(curve, ShapeCurve)
        chance = probability(PRIOR, curve.log_evidence - base.log_evidence)
        if chance >= LIKELY and (best is None or chance > best.chance):
            lines = tuple(used.line[group].tolist())
            values = {"what": what, "written": number, "usual": usual, "catches": int(group.sum())}
            best = Finding("sizes", seen.box.name, seen.lot, lines, chance, spoils_lock(seen, curve), values)
    return best


def _plain(seen: Seen) -> Flags:
    """Catches whose turns are as they were written: not towed, and on the drive in hand."""
    here = seen.used.drives(seen.box.control) == seen.control.drive if isinstance(seen.control, OnDrive) else True
    plain: Flags = ~seen.used.towed & here
    return plain
