"""A constant in every weight: the container was weighed along, or a tare was taken off twice.

Seed grows with turns, rows and opening; a container does not. So catches of different size or setting tell.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.special import logsumexp, softmax

from predictor.curves.base import Curve
from predictor.curves.bent import ShapeCurve
from predictor.domain.control import Control, Floats, Lever
from predictor.domain.trials import Flags, Trials
from predictor.slips.finding import Finding
from predictor.slips.given import states
from predictor.slips.seen import Seen, alike
from predictor.slips.weigh import LIKELY, lock_opening, probability

# How often it happens, before any catch; judgement. A column that has a tare in some rows only was begun with care and
# left off, and a weight where nothing should come has to be of something.
ALONG, TWICE, SOME_ROWS, WHERE_SHUT = 0.04, 0.02, 0.10, 0.30
# Without earlier lots the shape of the curve is a guess, and where it is a wrong one it looks like a constant: then so
# much of the first is believed.
GUESSED = 0.5
# Constants worth looking for: from so many steps of the scale to this share of the smallest weight.
LEAST_STEPS, MOST = 10, 0.9
ALIKE_STEPS = 5  # Two weighings of one container differ by no more steps of the scale
# Shares of the smallest weight looked at first; where none of them explains the catches better than no constant does,
# by so much of log evidence, none is there that would be likely.
FIRST_LOOK, BETTER, GRID = (0.15, 0.35, 0.6), 1.0, 9
# Degrees of freedom of the level of a new lot, as for its first setting; and how many times as far as earlier lots
# differ it may lie off for other reasons than a constant, judgement.
TAILS, LEVEL_DOUBT = 5.0, 1.4


@dataclass(frozen=True)
class _Constant:
    """What may be in every weight: grams in each catch per gram of the constant, and the sizes it may have."""

    code: str
    prior: float
    times: Floats  # (n,); 0 for a catch without it, below 0 where it was taken off
    sizes: Floats
    # Catches of one setting and size, with the constant as often in them: the group of each, and one catch of each
    group: np.ndarray
    first: np.ndarray


def look(seen: Seen) -> tuple[Finding, ...]:
    """A constant in the weights, where the catches lean to one."""
    shut = _where_shut(seen)
    used = seen.used.where(~shut)
    if seen.curve.family != "line":
        return ()  # a curve of a shape of its own hides a constant, and would be taken for one
    if not len(used) or (len(used) == 1 and seen.prior.level is None and not shut.any()):
        return ()
    weighed = [_weighed(replace(seen, used=used), each, bool(shut.any())) for each in _constants(seen, used, shut)]
    found = [each for each in weighed if each is not None]
    return (max(found, key=lambda each: each.chance),) if found else ()


def _where_shut(seen: Seen) -> Flags:
    """Which catches were made where the lever is shut, so that their weight is that of something else."""
    closed = _closed(seen.control)
    return np.zeros(len(seen.used), dtype=bool) if closed is None else np.asarray(seen.used.opening <= closed)


def _closed(control: Control) -> float | None:
    if not isinstance(control, Lever):
        return None
    return control.lowest_opening if control.shut is not None else control.zero_opening


def _constants(seen: Seen, used: Trials, shut: Flags) -> list[_Constant]:
    """The constants that may be in the weights."""
    tare, asked = used.tare_g, states(used, "tare") | used.confirmed
    without, taken = ~asked, np.isfinite(tare) & (tare > 0) & ~used.confirmed
    found = []
    if without.any():
        times = np.where(without, _weighings(used), 0)
        most = MOST * float((used.catch_g[without] / times[without]).min())
        least = LEAST_STEPS * seen.defaults.scale_resolution_g
        if shut.any():
            alone, step = seen.used.catch_g[shut], seen.defaults.scale_resolution_g
            same = np.ptp(alone) <= ALIKE_STEPS * step  # a container weighs the same each time, and seed does not
            size = np.array([np.median(alone)])
            found += [_constant("offset-shut", WHERE_SHUT, used, times, size)] if same and size[0] < most else []
        elif taken.any():
            grams = np.unique(tare[taken])
            some = _constant("offset-some", SOME_ROWS, used, times, grams[grams < most])
            found += [some] if grams.min() < most else []
        elif least < most:
            prior = ALONG * (GUESSED if seen.prior.level is None else 1.0)
            found.append(_constant("offset", prior, used, times, np.geomspace(least, most, GRID)))
    if taken.sum() > len(used) / 2:
        found.append(_constant("offset-twice", TWICE, used, -np.where(taken, tare, 0.0), np.ones(1)))
    return found


def _constant(code: str, prior: float, used: Trials, times: Floats, sizes: Floats) -> _Constant:
    return _Constant(code, prior, times, sizes, *alike(used.opening, used.turns, used.rows, times))


def _weighings(used: Trials) -> Floats:
    """How often something was weighed for each catch: rows and parts one by one, each in the container."""
    apart = zip(used.rows_g, used.parts_g, strict=True)
    return np.array([max(len(rows or ()), len(parts or ()), 1) for rows, parts in apart], dtype=float)


def _weighed(seen: Seen, constant: _Constant, shut: bool) -> Finding | None:
    """The finding that a constant is in the weights; None where it is unlikely."""
    none = seen.refit(seen.used) if shut else seen.curve
    base = _log_evidence(seen, none, constant, np.ones(len(seen.used)))
    sizes = constant.sizes
    if len(sizes) > len(FIRST_LOOK):
        first = sizes[[int(np.argmin(np.abs(sizes / sizes[-1] * MOST - share))) for share in FIRST_LOOK]]
        if max(_tried(seen, constant, each)[1] for each in first.tolist()) < base + BETTER:
            return None
    curves, evidence = zip(*(_tried(seen, constant, each) for each in sizes.tolist()), strict=True)
    factor = np.array(evidence) - base
    chance = probability(constant.prior, float(logsumexp(factor)) - np.log(len(sizes)))
    if chance < LIKELY:
        return None
    share = softmax(factor)
    return _finding(seen, constant, chance, float(share @ sizes), _spoils(seen, curves, share))


def _spoils(seen: Seen, curves: tuple[Curve, ...], share: Floats) -> bool:
    """Whether the setting that would be locked is less sure than the confidence if the constant is there."""
    at = lock_opening(seen)
    sure = sum(
        part * float(curve.probability(at, seen.low, seen.high)) for part, curve in zip(share, curves, strict=True)
    )
    return bool(sure < seen.confidence)


def _tried(seen: Seen, constant: _Constant, size: float) -> tuple[Curve, float]:
    """The curve without a constant of a size, and the log evidence of the catches under it.

    The constant is taken off the mean weight of the catches that are alike, and repeats keep their relative scatter:
    that a box repeats better than most is no sign of a constant.
    """
    group, grams = constant.group, seen.used.catch_g
    usual = (np.bincount(group, grams) / np.bincount(group))[group]
    share = 1 - constant.times * size / usual
    curve = seen.refit(replace(seen.used, catch_g=grams * share))
    return curve, _log_evidence(seen, curve, constant, share)


def _log_evidence(seen: Seen, curve: Curve, constant: _Constant, share: Floats) -> float:
    """Log density of the mean weights with a constant in them, up to what all constants share."""
    assert isinstance(curve, ShapeCurve)
    # a density of weights, where the curve has one of the logarithms of what is left of them
    stretch = -np.log(share[constant.first])
    level, spread = seen.prior.level, seen.prior.level_spread
    if level is None or spread is None:
        # the level is open, so one setting alone is as likely under any constant
        return curve.log_evidence + float(stretch.sum()) * (1 - 1 / len(stretch))
    at = seen.control.lowest_opening + seen.prior.level_at * seen.control.span
    off = float(np.log(max(curve.mean(at), 1e-300)) - level) / (LEVEL_DOUBT * spread)
    return curve.log_evidence + float(stretch.sum()) - 0.5 * (TAILS + 1) * float(np.log1p(off**2 / TAILS))


def _finding(seen: Seen, constant: _Constant, chance: float, size: float, waits: bool) -> Finding:
    """The finding, with what a catch of half as many turns would weigh with and without the constant."""
    used = seen.used
    last = int(np.flatnonzero(constant.times)[-1])
    grams, inside = float(used.catch_g[last]), float(constant.times[last]) * size
    values = {
        "constant": abs(inside) if constant.code == "offset-twice" else size,
        "grams": grams,
        "setting": str(used.setting[last]),
        "turns": float(used.turns[last]) / 2,
        "seed_alone": grams / 2,
        "with_constant": (grams - inside) / 2 + inside,
        "towed": bool(used.towed[last]),
    }
    lines = tuple(used.line[constant.times != 0].tolist())
    return Finding(constant.code, seen.box.name, seen.lot, lines, chance, waits, values)
