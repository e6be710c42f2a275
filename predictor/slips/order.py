"""Output against the order of catches: a box that empties, bridges or fills its meters as it is tested."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.special import logsumexp

from predictor.curves.base import Curve
from predictor.curves.bent import ShapeCurve
from predictor.domain.codes import codes_of
from predictor.domain.control import Floats
from predictor.domain.drill import CatchDefaults
from predictor.domain.trials import Trials
from predictor.slips.finding import Finding
from predictor.slips.seen import Seen
from predictor.slips.weigh import LIKELY, lock_opening, log_times, probability

# How often output runs away with the order of catches. So small that ordinary jobs, in which the settings change with
# the order too, raise it in less than 1 of 200; it takes clear evidence.
PRIOR = 0.005
# Boxes drift by a little with each ordinary catch, which is not called a slip; what is one; and how often the little.
LITTLE, LITTLE_SHARE = 0.008, 0.1
TRENDS = (0.015, 0.03, 0.06, 0.12)
# A trend shows in so many catches at least, and in residuals that go with it at least so much (t of a slope). The curve
# hides so much of it; and what is left must explain the catches better than no trend, by so much of log evidence.
FEWEST, LEAST_T, HIDDEN, BETTER = 4, 1.5, 1 / 3, 1.0
ORDINARY = CatchDefaults().turns * CatchDefaults().rows  # Turns times rows of a catch that a trend refers to


def look(seen: Seen) -> tuple[Finding, ...]:
    """A trend of the output with the seed run through the box, where the catches lean to one."""
    used = seen.used
    if len(used) < FEWEST:
        return ()
    run = _run_through(used)
    slope = _slope(seen, run)
    sign, size = int(np.sign(slope)), abs(slope) / (1 - HIDDEN)
    near = min(TRENDS, key=lambda each: abs(np.log(each / max(size, 1e-9))))
    if not sign or _without(seen, run, sign * near).log_evidence < _without(seen, run, 0.0).log_evidence + BETTER:
        return ()
    usual = [_without(seen, run, each) for each in (0.0, sign * LITTLE)]
    shares = np.log([1 - LITTLE_SHARE, LITTLE_SHARE])
    base = float(logsumexp(np.array([each.log_evidence for each in usual]) + shares))
    curves = [_without(seen, run, sign * each) for each in TRENDS]
    evidence = np.array([each.log_evidence for each in curves])
    # either sign is as likely beforehand
    chance = probability(PRIOR, float(logsumexp(evidence)) - np.log(2 * len(TRENDS)) - base)
    if chance < LIKELY:
        return ()
    best = int(np.argmax(evidence))
    trend = sign * TRENDS[best]
    values = {
        "trend": float(np.expm1(trend)),
        "catches": len(used),
        "whole": float(np.expm1(trend * np.ptp(run))),
        "holds": seen.box.holds,
        "filled": bool(np.isfinite(used.fill_pct).any()),
    }
    lines = tuple(used.line.tolist())
    waits = _runs_out(seen, curves[best], trend, run)
    return (Finding("falling" if trend < 0 else "rising", seen.box.name, seen.lot, lines, chance, waits, values),)


def _run_through(used: Trials) -> Floats:
    """Seed run through the box up to the middle of each catch, in ordinary catches since the day began, centred."""
    sizes = used.turns * used.rows / ORDINARY
    _, day = codes_of(used, "date")
    order = np.argsort(day, kind="stable")
    through = np.cumsum(sizes[order])
    new = np.r_[True, np.diff(day[order]) != 0]
    before = (through - sizes[order])[new]  # What had run through when each day began
    run = np.empty(len(used))
    run[order] = through - before[np.cumsum(new) - 1] - sizes[order] / 2
    return np.asarray(run - run.mean())


def _slope(seen: Seen, run: Floats) -> float:
    """The slope of the log residuals against the order; 0 where it is too weak to look closer."""
    off = log_times(seen.used.output, np.asarray(seen.curve.mean(seen.used.opening)))
    square, spread = float(run @ run), float(off.std())
    if square <= 0 or spread <= 0:
        return 0.0
    # early catches shape the curve too, so a trend is partly hidden in it
    slope = float(run @ (off - off.mean())) / square
    left = off - off.mean() - slope * run
    t = slope * np.sqrt(square) / max(float(np.sqrt(left @ left / (len(off) - 2))), 1e-12)
    return slope if abs(t) >= LEAST_T else 0.0


def _without(seen: Seen, run: Floats, trend: float) -> ShapeCurve:
    """The line of the catches as they would be in the middle of all, without a trend."""
    curve = seen.refit(replace(seen.used, catch_g=seen.used.catch_g * np.exp(-trend * run)))
    assert isinstance(curve, ShapeCurve)
    return curve


def _runs_out(seen: Seen, curve: Curve, trend: float, run: Floats) -> bool:
    """Whether the setting that would be locked is unsure now, or once as much seed again has run through."""
    at = lock_opening(seen)
    ends = [float(run[-1]), float(run[-1] + np.ptp(run))]
    sure = [float(curve.probability(at, seen.low * f, seen.high * f)) for f in np.exp(-trend * np.array(ends)).tolist()]
    return min(sure) < seen.confidence
