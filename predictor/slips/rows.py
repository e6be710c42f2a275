"""Single rows against each other: a row that lastingly gives less or more than the rest, and one weighed wrong once."""

from __future__ import annotations

import numpy as np

from predictor.domain.control import Floats
from predictor.slips.finding import Finding
from predictor.slips.seen import Seen
from predictor.slips.weigh import LIKELY, lock_opening, probability

# How often a row, of those caught, lastingly gives more or less than it should; judgement.
LASTING = 0.02
# How far rows of a drill differ (source in advice/evidence.py), and how far one with something wrong is off: logs.
ROW_SPREAD, WRONG_SPREAD, TAILS = 0.07, 0.7, 6.0
# A row is spoken of where it is off by so much of what the others give; common practice.
OFF = 0.25


def look(seen: Seen) -> tuple[Finding, ...]:
    """A row that is lastingly off the others, over at least two catches."""
    logs, which = _weights(seen)
    if len(logs) < 2 or logs.shape[1] < 2:
        return ()
    off = np.column_stack([logs[:, r] - np.median(np.delete(logs, r, axis=1), axis=1) for r in range(logs.shape[1])])
    least = np.log1p(OFF)
    always = [r for r in range(off.shape[1]) if (off[:, r] > least).all() or (off[:, r] < -least).all()]
    if not always:
        return ()
    middle = off.mean(axis=0)
    r = max(always, key=lambda each: abs(float(middle[each])))
    noise = max(float(np.sqrt(off.var(axis=0, ddof=1).mean() / len(off))), 0.01)
    # its difference to the middle of the others, of which there may be one only
    usual = float(np.hypot(ROW_SPREAD * np.sqrt(1 + 1 / (off.shape[1] - 1)), noise))
    chance = probability(
        LASTING, _student(middle[r], float(np.hypot(WRONG_SPREAD, noise))) - _student(middle[r], usual)
    )
    if chance < LIKELY:
        return ()
    share = float(np.exp(middle[r]))
    values = {"row": r + 1, "share": share, "catches": len(off), "rows": off.shape[1]}
    lines = tuple(seen.used.line[which].tolist())
    code = "two-rows-differ" if off.shape[1] == 2 else "row-differs"
    return (Finding(code, seen.box.name, seen.lot, lines, chance, _misleads(seen, share, off.shape[1]), values),)


def _weights(seen: Seen) -> tuple[Floats, list[int]]:
    """Log weights of the single rows, catches by rows, of those with as many rows as the last; and which they are."""
    weighed = [(i, rows) for i, rows in enumerate(seen.used.rows_g) if rows is not None and min(rows) > 0]
    weighed = [each for each in weighed if len(each[1]) == len(weighed[-1][1])]
    return np.log(np.array([rows for _, rows in weighed])) if weighed else np.empty((0, 0)), [i for i, _ in weighed]


def _student(value: float, scale: float) -> float:
    """Log density of Student's distribution, up to a constant."""
    return float(-np.log(scale) - 0.5 * (TAILS + 1) * np.log1p((value / scale) ** 2 / TAILS))


def _misleads(seen: Seen, share: float, rows: int) -> bool:
    """Whether the setting would be less sure if the rows that were not caught give what the others do."""
    every = seen.drill.rows_of(seen.box) if seen.drill else rows
    caught = (rows - 1 + share) / rows
    whole = ((every - 1) + share) / every
    factor = whole / caught
    at = lock_opening(seen)
    return float(seen.curve.probability(at, seen.low / factor, seen.high / factor)) < seen.confidence
