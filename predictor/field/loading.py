"""How to load the boxes: what goes into each of them, fill by fill, and where to stop for it.

Weights are rounded up to what a scale shows, running totals first: the fills add up to the totals, and no box starves.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from predictor.domain.fields import Field
from predictor.domain.result import NanEqual
from predictor.domain.seed import BoxPlan, LotPlan
from predictor.field.filling import Refill
from predictor.field.stops import NEARLY, STEPS, Fill, Tank, stops_for

# Part of the full box that stays in it at the end, so that seed covers every meter to the last row; judgement.
RESERVE = 0.10
# A hanging scale shows tenths of a pound or kilogram. Where a tenth is more than this part of a weight, a finer scale
# is needed, and the weight is given to a hundredth or a thousandth.
COARSEST = 0.02


@dataclass(frozen=True, eq=False)
class Part(NanEqual):
    """What is weighed out by itself: a lot, a premixed bag or the carrier.

    Attributes
    ----------
    name : str
        Of the bag or lot; "" for the carrier.
    lots : tuple of LotPlan
        What is in it; empty for the carrier.
    rate : float
        Bulk weight, grams per square metre.
    bag_g : float
        Weight of a full bag; NaN where it is not known.
    step_g : float
        Step to which its weights are rounded up.
    weights : tuple of float
        Grams for each fill of the box.
    """

    name: str
    lots: tuple[LotPlan, ...]
    rate: float
    bag_g: float
    step_g: float
    weights: tuple[float, ...]

    @property
    def total_g(self) -> float:
        """All fills together."""
        return sum(self.weights)

    @property
    def bags(self) -> tuple[tuple[int, float], ...] | None:
        """Bags to open for each fill, and grams then left in the last one; None where a bag's weight is not known."""
        if math.isnan(self.bag_g):
            return None
        taken = list(itertools.accumulate(self.weights))
        opened = [math.ceil(each / self.bag_g - NEARLY) for each in taken]
        left = (max(count * self.bag_g - each, 0.0) for count, each in zip(opened, taken, strict=True))
        return tuple((new - old, rest) for (old, new), rest in zip(itertools.pairwise([0, *opened]), left, strict=True))


@dataclass(frozen=True)
class BoxLoad:
    """Everything that is loaded into one box.

    Attributes
    ----------
    plan : BoxPlan
    refill : Refill
    area_m2 : float
    reserve_g : float
        What should stay in the box at the end; 0 where the size of the box is not known. Up to a fifth of it is given
        up where that saves a stop.
    parts : tuple of Part
    fills : tuple of Fill
    """

    plan: BoxPlan
    refill: Refill
    area_m2: float
    reserve_g: float
    parts: tuple[Part, ...]
    fills: tuple[Fill, ...]

    @property
    def total_g(self) -> float:
        """All fills together."""
        return sum(each.weight_g for each in self.fills)

    def left_g(self, at_m2: float) -> float:
        """What is in the box when so much ground is covered, before it is filled there.

        Parameters
        ----------
        at_m2 : float

        Returns
        -------
        float
            Grams.
        """
        loaded = sum(each.weight_g for each in self.fills if each.at_m2 < at_m2 * (1 - NEARLY))
        return max(loaded - self.plan.bulk_rate * at_m2, 0.0)


@dataclass(frozen=True)
class Stop:
    """A stop to fill boxes.

    Attributes
    ----------
    at_m2 : float
        Ground covered before it; 0 before the first row.
    field : Field
        Where it is.
    within_m2 : float
        Ground covered in that field.
    fills : tuple of (BoxLoad, int)
        The boxes to fill, and which of its fills each gets, counted from 0.
    """

    at_m2: float
    field: Field
    within_m2: float
    fills: tuple[tuple[BoxLoad, int], ...]


@dataclass(frozen=True)
class Loading:
    """The loads of the boxes that go over the same ground.

    Attributes
    ----------
    fields : tuple of Field
        With the area that is to be planted in each, in the order of planting.
    boxes : tuple of BoxLoad
    stops : tuple of Stop
        The first is before the first row.
    stops_alone : int
        How many there would be if each box were filled only when it has to be.
    """

    fields: tuple[Field, ...]
    boxes: tuple[BoxLoad, ...]
    stops: tuple[Stop, ...]
    stops_alone: int

    @property
    def area_m2(self) -> float:
        """Ground to be planted."""
        return sum(each.area_m2 for each in self.fields)


def load_boxes(
    plans: Sequence[tuple[BoxPlan, Refill]],
    fields: Sequence[Field],
    weight_unit_g: float,
    area_unit_m2: float,
    reserve: float = RESERVE,
) -> Loading:
    """Work out the fills of boxes that go over the same ground, and the stops for them.

    At a stop every box is filled that would not last to the next one, so that there are as few stops as can be.

    Parameters
    ----------
    plans : sequence of (BoxPlan, Refill)
        What each box drops, and when to refill it.
    fields : sequence of Field
        In the order of planting.
    weight_unit_g, area_unit_m2 : float
        The units of the person who reads it: weights and stops are round in them.
    reserve : float
        Part of the full box that stays in it at the end, below 1. No more than the part at which it is refilled counts.

    Returns
    -------
    Loading

    Raises
    ------
    InputError
        A box would have to be filled more often than anyone does.

    Examples
    --------
    >>> import predictor
    >>> from dataclasses import replace
    >>> from predictor.field.filling import refill
    >>> drill = predictor.read_drill("sample_trials/drill.toml")
    >>> plan = predictor.read_plan("sample_trials/plan.csv", drill).target("grain", "CW-26")
    >>> plan = replace(plan, box=replace(plan.box, full_g=20_000))
    >>> found = load_boxes([(plan, refill(plan.box, None, 0.1))], [Field("north", 120_000)], 1000, 10_000)
    >>> [(round(each.at_m2), round(each.weight_g)) for each in found.boxes[0].fills]
    [(0, 19900), (47000, 14700), (94000, 4800)]
    """
    fields, area = tuple(fields), sum(each.area_m2 for each in fields)
    tanks = [_tank(plan, refill, area, weight_unit_g, reserve) for plan, refill in plans]
    at = stops_for(tanks, area, area_unit_m2)
    alone = {each for tank in tanks for each in stops_for([tank], area, area_unit_m2)}
    loads = [
        _load(plan, refill, tank, tank.fills(at, area), area, weight_unit_g)
        for (plan, refill), tank in zip(plans, tanks, strict=True)
    ]
    stops = []
    for each in at:
        fills = tuple((load, k) for load in loads for k, fill in enumerate(load.fills) if fill.at_m2 == each)
        stops.append(Stop(each, *place(fields, each), fills))
    return Loading(fields, tuple(loads), tuple(stops), len(alone))


def place(fields: Sequence[Field], at_m2: float) -> tuple[Field, float]:
    """The field in which so much ground is covered, and how much of it is in that field.

    The end of a field is in that field, not in the next one.

    Parameters
    ----------
    fields : sequence of Field
        In the order of planting.
    at_m2 : float

    Returns
    -------
    Field, float

    Examples
    --------
    >>> place([Field("north", 100.0), Field("south", 50.0)], 120.0)
    (Field(name='south', area_m2=50.0), 20.0)
    """
    for each in fields[:-1]:
        if at_m2 <= each.area_m2 * (1 + NEARLY):
            return each, at_m2
        at_m2 -= each.area_m2
    return fields[-1], at_m2


def full_box(plan: BoxPlan, refill: Refill, weight_unit_g: float) -> BoxLoad:
    """One full box, planted down to where it is filled again; a pound or kilogram where its size is not known.

    Parameters
    ----------
    plan : BoxPlan
    refill : Refill
    weight_unit_g : float
        Weights are round in it.

    Returns
    -------
    BoxLoad
        With one fill.
    """
    if plan.box.full_g is None:
        tank = Tank(plan.box.name, plan.bulk_rate, weight_unit_g, 0.0, 0.0)
    else:
        tank = _tank(plan, refill, math.inf, weight_unit_g, RESERVE)
    covers = (tank.full - tank.refill) / tank.rate
    fill = Fill(0.0, covers, covers, tank.full, tank.full)
    return _load(plan, refill, tank, [fill], covers, weight_unit_g)


def _tank(plan: BoxPlan, refill: Refill, area: float, unit_g: float, reserve: float) -> Tank:
    """A box with room for what its weights are rounded up by."""
    full = plan.box.full_g
    if full is None:
        return Tank(plan.box.name, plan.bulk_rate, math.inf, 0.0, 0.0)
    kept = min(reserve, refill.at) * full
    steps = sum(_step(each / plan.bulk_rate * _usual(plan, area, kept), unit_g) for each in _rates(plan))
    return Tank(plan.box.name, plan.bulk_rate, full - steps, refill.at * full, kept)


def _usual(plan: BoxPlan, area: float, reserve: float) -> float:
    """Grams of the first fill."""
    return min(plan.box.full_g or math.inf, plan.bulk_rate * area + reserve)


def _rates(plan: BoxPlan) -> list[float]:
    return [sum(lot.bulk_rate for lot in lots) for lots in _bags(plan)] + ([plan.carrier] if plan.carrier else [])


def _step(weight_g: float, unit_g: float) -> float:
    """Step to which a weight of this size is rounded."""
    return next((each for each in STEPS if each * unit_g <= COARSEST * weight_g), STEPS[-1]) * unit_g


def _load(plan: BoxPlan, refill: Refill, tank: Tank, fills: Sequence[Fill], area: float, unit_g: float) -> BoxLoad:
    """The load of a box with the weights of its parts, rounded up."""
    exact = list(itertools.accumulate(each.weight_g for each in fills))
    parts = []
    lots = [*_bags(plan), *([()] if plan.carrier else [])]
    for members, rate in zip(lots, _rates(plan), strict=True):
        share = rate / plan.bulk_rate
        step = _step(share * exact[0], unit_g)
        taken = [math.ceil(each * share / step - 1e-6) for each in exact]
        weights = tuple((new - old) * step for old, new in itertools.pairwise([0, *taken]))
        name = (members[0].bag or members[0].lot) if members else ""
        bag_g = members[0].bag_weight if members else math.nan
        parts.append(Part(name, tuple(members), rate, bag_g, step, weights))
    rounded, loaded = [], 0.0
    for k, each in enumerate(fills):
        weight = sum(part.weights[k] for part in parts)
        loaded += weight
        level = loaded - plan.bulk_rate * each.at_m2
        rounded.append(Fill(each.at_m2, each.to_m2, each.lasts_m2, weight, level))
    return BoxLoad(plan, refill, area, tank.reserve, tuple(parts), tuple(rounded))


def _bags(plan: BoxPlan) -> list[tuple[LotPlan, ...]]:
    """The lots of a box, those of one premixed bag together."""
    bags: dict[str, list[LotPlan]] = {}
    for k, lot in enumerate(plan.lots):
        bags.setdefault(lot.bag.lower() or f"\n{k}", []).append(lot)
    return [tuple(each) for each in bags.values()]
