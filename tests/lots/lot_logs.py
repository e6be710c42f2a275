"""Made-up logs of lots, for the tests of their comparison. Every lot here is invented."""

import math

import numpy as np

from predictor.domain.control import Lever
from predictor.domain.drill import SeedBox
from predictor.domain.trials import Trials

BOX = SeedBox("small", "small", Lever(0, 60, 1))


def codes(remarks):
    """Codes of remarks, without the room they are worded in."""
    return [each.code.removeprefix("lots.") for each in remarks]


def log(rows, control=None):
    """Trials from rows of (lot, setting, catch) or (lot, setting, catch, season)."""
    n = len(rows)
    text = [[str(cell) for cell in (row[0], row[1], row[3] if len(row) > 3 else "2026")] for row in rows]
    blank = np.array([""] * n)
    opening = [np.nan if isinstance(row[1], str) and control is None else row[1] for row in rows]
    if control is not None:
        opening = [control.opening(row[1]) for row in rows]
    return Trials(
        box=np.array(["small"] * n),
        lot=np.array([row[0] for row in text]),
        season=np.array([row[2] for row in text]),
        setting=np.array([row[1] for row in text]),
        opening=np.array(opening, dtype=float),
        catch_g=np.array([row[2] for row in rows], dtype=float),
        turns=np.full(n, 28.0),
        rows=np.full(n, 3.0),
        distance_m=np.full(n, np.nan),
        rows_g=(None,) * n,
        parts_g=(None,) * n,
        charged=np.ones(n, dtype=bool),
        use=np.ones(n, dtype=bool),
        fill_pct=np.full(n, np.nan),
        target_g=np.full(n, np.nan),
        date=blank,
        drill_name=blank,
        operator=blank,
        note=blank,
        line=np.arange(2, n + 2),
    )


def made_up(levels, counts, *, dead=3.0, cv=0.05, seed=1, seasons=None, low=15, high=50):
    """A made-up log: lots of these log levels on lines through one dead setting."""
    rng = np.random.default_rng(seed)
    dead = np.broadcast_to(dead, len(levels))
    rows = []
    for k, (level, count) in enumerate(zip(levels, counts, strict=True)):
        for i in range(count):
            x = int(rng.integers(low, high))
            season = seasons(k, i) if seasons else "2026"
            rows.append((f"L{k}", x, math.exp(level + rng.normal(0, cv)) * (x - dead[k]), season))
    return rows
