"""A catch that contradicts the rest, with what its weight may have been meant as."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from predictor.curves.base import Curve
from predictor.domain.control import Setting
from predictor.domain.trials import Trials
from predictor.slips.causes import Cause, Range, known, likely_causes
from predictor.slips.finding import Finding
from predictor.slips.seen import Seen
from predictor.slips.weigh import probability

# How often a catch of a lot is a slip or bridged; judgement.
ODD = 0.03
# The limits between which a weight is expected.
EXPECTED = 0.99


def odd(seen: Seen, i: int, setting: Setting, others: Curve, length: float, log: Trials, scatter: float) -> Finding:
    """The finding that catch i contradicts the curve of the others; by scatter alone it comes with a small probability.

    `length` is that of the catch, in ordinary catches; `log` is the whole log, which may name containers. The finding
    waits: the caller knows whether it has to.
    """
    used = seen.used
    size, grams = float(used.turns[i] * used.rows[i]), float(used.catch_g[i])

    def at(opening: float) -> Range | None:
        low, high = others.interval(opening, EXPECTED, "next", length)
        return max(float(low), 0.0) * size, float(high) * size

    expected = at(float(used.opening[i]))
    values = {
        "line": int(used.line[i]),
        "number": i + 1,
        "grams": grams,
        "setting": setting.text,
        "ratio": grams / max(float(others.mean(float(used.opening[i]))) * size, 1e-9 * grams),
        "expected": expected,
        "causes": () if used.confirmed[i] or expected is None else causes_of(seen, i, setting, expected, log, at),
        "confirmed": bool(used.confirmed[i]),
    }
    return Finding("odd", seen.box.name, seen.lot, (int(used.line[i]),), chance_of(scatter), True, values)


def causes_of(
    seen: Seen,
    i: int,
    setting: Setting,
    expected: Range,
    log: Trials,
    at: Callable[[float], Range | None] | None = None,
) -> tuple[Cause, ...]:
    """What the weight of catch i may have been meant as."""
    used = seen.used
    about = known(
        seen.box,
        log,
        rows=float(used.rows[i]),
        turns=float(used.turns[i]),
        setting=setting,
        tare_g=float(np.nan_to_num(used.tare_g[i])),
        pieces=used.rows_g[i] or used.parts_g[i] or (),
        at=at,
        first=i == 0 or used.date[i] != used.date[i - 1],
    )
    return likely_causes(float(used.catch_g[i]), expected, about)


def chance_of(scatter: float) -> float:
    """Probability of a slip where such a catch comes by scatter alone with a probability.

    Source: -e p ln p is the least Bayes factor in favour of no slip, Sellke, Bayarri & Berger (2001), The American
    Statistician 55(1), 62-71 (cited from memory).
    """
    p = min(max(scatter, 1e-300), np.exp(-1))
    return probability(ODD, -float(np.log(-np.e * p * np.log(p))))
