"""Which field checks are slips of weight, area, length or setting, and what may have gone wrong in them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from scipy.special import gammaln, stdtrit

from predictor.domain.drill import Drill
from predictor.domain.result import Remark
from predictor.field.comparing import Compared, Evidence
from predictor.field.model import Estimate, Model
from predictor.field.usual import CHECK_SPREAD_WORTH, LEAST_FACTOR, MOST_FACTOR, SLIP_REACH, SLIP_SHARE
from predictor.units import GRAMS, SQUARE_METRES

# What a known mistake multiplies a rate by. So near to it, a log ratio, a check is taken to be one of them.
MISTAKES = {
    "half": 2.0,  # one of two rounds, half of the rows or turns
    "pounds": GRAMS["kg"] / GRAMS["lb"],
    "acres": SQUARE_METRES["ha"] / SQUARE_METRES["ac"],
    "ounces": 28.35 / 16,  # grams in an ounce, taken for ounces in a pound
    "decimal": 10.0,
}
NEAR = 0.12
# From this probability on a check is weighed again: that costs minutes where it was honest, and a slip that passes
# moves a box that was right. At 0.2 hardly any honest check is weighed again; at 0.5 seed that was not weighed back
# moves twice as many boxes (31 of 100 such slips and not 16; tests/benchmarks/bench_field_checks.py).
LIKELY = 0.2


def slip_chance(log_factor: float, expected: Estimate) -> float:
    """Probability that a check is a slip: a few are, and they may be of any size up to a factor of ten."""
    if abs(log_factor) > SLIP_REACH:
        return 1.0
    v, z = expected.dof, (log_factor - expected.location) / expected.sd
    log_density = float(gammaln((v + 1) / 2) - gammaln(v / 2)) - 0.5 * math.log(v * math.pi)
    honest = math.exp(log_density - (v + 1) / 2 * math.log1p(z * z / v)) / expected.sd
    slip = SLIP_SHARE / (2 * SLIP_REACH)
    return slip / (slip + (1 - SLIP_SHARE) * honest)


def sifted(compared: Sequence[Compared], drill: Drill) -> list[Compared]:
    """The checks with what the program makes of each, in the order given.

    They are judged in the order of their days: each against what the earlier ones that fit let expect. One that does
    not is a slip, unless another of the same boxes, lots, settings and season agrees with it: then both are a fault of
    the drill.
    """
    found = list(compared)
    for now in sifted_in_time(compared, drill):
        found = now
    return found


def sifted_in_time(compared: Sequence[Compared], drill: Drill) -> Iterator[list[Compared]]:
    """The same after each check, in the order of their days: what was known of all when it was made.

    Judged from the start for each of them, a hundred checks would take a hundred times as long.
    """
    order = sorted(range(len(compared)), key=lambda i: (compared[i].check.date, compared[i].check.line))
    found, fitting = list(compared), list[Evidence]()
    for i in order:
        one = compared[i].evidence
        if one is not None:
            _sift(i, one, order, compared, found, fitting, drill)
        yield list(found)


def _sift(
    i: int,
    one: Evidence,
    order: Sequence[int],
    compared: Sequence[Compared],
    found: list[Compared],
    fitting: list[Evidence],
    drill: Drill,
) -> None:
    """Judge one check by those of earlier days; it joins those that fit, or is found out with those that agree."""
    expected = Model(fitting, drill).expects(one)
    chance, far = slip_chance(one.log_factor, expected), _far(one)
    if chance <= LIKELY and not far:
        fitting.append(one)
        found[i] = compared[i].found("fits", chance)
        return
    agreeing = [] if far else [k for k in order if k != i and _agree(found[k], one)]
    for k in [i, *agreeing] if agreeing else []:
        own = chance if k == i else found[k].result.slip or chance
        found[k] = compared[k].found("fault", own, Remark("field.fault", {"factor": _factor(compared[k])}))
    if not agreeing:
        found[i] = compared[i].found("slip", chance, _why(compared[i], one, expected, drill))


def _far(one: Evidence) -> bool:
    """Whether a check is so far from the standing drill that no second one makes it believed."""
    return not math.log(LEAST_FACTOR) <= one.log_factor <= math.log(MOST_FACTOR)


def _factor(one: Compared) -> float:
    return math.exp(one.evidence.log_factor) if one.evidence else math.nan


def _agree(other: Compared, one: Evidence) -> bool:
    """Whether a check that did not fit either agrees with another: the same thing, measured again, within scatter."""
    there = other.evidence
    if there is None or other.finding not in ("slip", "fault"):
        return False
    same = there.places == one.places and [part.setting for part in there.check.parts] == [
        part.setting for part in one.check.parts
    ]
    if not same or _far(there):
        return False
    measured = [(each.check.area_m2, each.check.used_g, each.check.seeds, each.check.row_m) for each in (there, one)]
    if repr(measured[0]) == repr(measured[1]):  # the same row twice is not measured again
        return False
    reach = float(stdtrit(CHECK_SPREAD_WORTH, 0.975)) * math.sqrt(there.variance + one.variance)
    return abs(there.log_factor - one.log_factor) <= reach


def _why(compared: Compared, one: Evidence, expected: Estimate, drill: Drill) -> Remark:
    """That a check is likely a slip, and what may have gone wrong in it."""
    off = one.log_factor - expected.location
    ratio, check = math.exp(off), one.check
    causes = [name for name, times in MISTAKES.items() if abs(abs(off) - math.log(times)) < NEAR]
    rows = [drill.rows_of(part.box) / drill.catch_of(part.box).rows for part in check.parts]
    if any(times > 1 and abs(abs(off) - math.log(times)) < NEAR for times in rows):
        causes.append("rows")
    if not check.counted:
        area, weight = ("ac", "lb") if drill.units == "us" else ("ha", "kg")
        swapped = (check.area_m2 / SQUARE_METRES[area]) / (check.used_g / GRAMS[weight])
        expected_rate = check.rate / ratio * SQUARE_METRES[area] / GRAMS[weight]
        if abs(math.log(swapped / expected_rate)) < 2 * NEAR:
            causes.insert(0, "swapped")
        causes.append("left" if ratio > 1 else "added")
    else:
        causes.append("length")
    return Remark("field.slip", {"ratio": ratio, "factor": _factor(compared), "causes": tuple(causes)})
