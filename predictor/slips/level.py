"""All catches of a lot off by a factor: against earlier lots of the box, or against the target where there are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from predictor.domain.drives import LeverAndDrive
from predictor.slips.causes import Cause
from predictor.slips.finding import Finding
from predictor.slips.odd import causes_of
from predictor.slips.runs import COMMON
from predictor.slips.seen import Seen
from predictor.slips.weigh import LIKELY, probability, spoils_lock
from predictor.units import GRAMS

# How often all catches of a lot are off in the same way; judgement.
ALL_OFF = 0.05
# The log ratio of the target to what the middle of the control gives has this standard deviation: a drill is bought for
# the rates it plants; judgement.
TARGET_SPREAD = 0.6
# Both have heavy tails: degrees of freedom of a Student-t.
TAILS = 5.0
# What so many times more or less is named as: the corrected weight is this near to the one that would do.
NEAR = 0.03


def look(seen: Seen) -> tuple[Finding, ...]:
    """All catches off by a known factor; someone who stands by the first catch stands by the level."""
    used = seen.used
    if not len(used) or used.confirmed[0]:
        return ()
    # the target may be meant for another drive, many times as fast
    if seen.prior.level is None and isinstance(seen.box.control, LeverAndDrive):
        return ()
    off, sd = _off(seen)
    often = _factors(seen)
    factors, shares = list(often), np.array(list(often.values())) / sum(often.values())
    log_odds = [_log_density((off - np.log(each)) / sd) - _log_density(off / sd) for each in factors] + np.log(shares)
    chance = probability(ALL_OFF, float(np.logaddexp.reduce(log_odds)))
    if chance < LIKELY:
        return ()
    factor = factors[int(np.argmax(log_odds))]
    right = seen.refit(replace(used, catch_g=used.catch_g / factor))
    known = seen.prior.level is not None
    values = {"factor": float(np.exp(off)), "history": known, "causes": _causes(seen, factor)}
    # without earlier lots only the target speaks for it, and a target may be out of reach for real: said, not held
    waits = known and spoils_lock(seen, right)
    return (Finding("level", seen.box.name, seen.lot, tuple(used.line.tolist()), chance, waits, values),)


def _off(seen: Seen) -> tuple[float, float]:
    """Log ratio of what the lot gives to what was expected of it, and its standard deviation."""
    prior, control = seen.prior, seen.control
    if prior.level is not None and prior.level_spread is not None:
        opening = control.lowest_opening + control.span * prior.level_at
        expected, spread = prior.level, prior.level_spread
    else:
        opening = float(control.openings[len(control.openings) // 2])
        expected, spread = float(np.log(seen.target)), TARGET_SPREAD
    low, middle, high = np.log(np.maximum(seen.curve.quantile(opening, [0.1587, 0.5, 0.8413]), 1e-300)).tolist()
    return middle - expected, float(np.hypot(spread, min((high - low) / 2, TARGET_SPREAD)))


def _log_density(z: float) -> float:
    """Log density of a Student-t, up to a constant."""
    return float(-0.5 * (TAILS + 1) * np.log1p(z * z / TAILS))


def _factors(seen: Seen) -> dict[float, float]:
    """What known slips multiply all outputs of a lot by, and how often each happens against the others; judgement."""
    others = 10.0, 0.1, 16.0, 1 / 16, GRAMS["oz"], 1 / GRAMS["lb"], 1 / GRAMS["kg"]
    found = {**dict.fromkeys(others, 1.0), 2.0: 2.0, 0.5: 2.0, 1 / GRAMS["oz"]: 3.0}
    if seen.drill is not None and (times := seen.drill.rows_of(seen.box) / float(np.median(seen.used.rows))) > 1:
        found[times] = 3.0
    return found


def _causes(seen: Seen, factor: float) -> tuple[Cause, ...]:
    """What the last weight may have been meant as, if it is off by the factor."""
    i = len(seen.used) - 1
    grams = float(seen.used.catch_g[i]) / factor
    setting = seen.control.at(float(seen.used.opening[i]))
    found = causes_of(seen, i, setting, (grams * (1 - NEAR), grams * (1 + NEAR)), seen.used)
    return tuple(each for each in found if each.code in COMMON)
