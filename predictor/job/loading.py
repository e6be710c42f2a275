"""What is to be loaded for the fields of a job, without what is planted already."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from predictor.advice.aim import TOLERANCE
from predictor.domain.fields import Field
from predictor.domain.seed import BoxPlan
from predictor.errors import InputError
from predictor.field.filling import Refill, refill
from predictor.field.loading import RESERVE, BoxLoad, Loading, Part, full_box, load_boxes
from predictor.format import listed
from predictor.job.job import Job
from predictor.units import AREA_UNIT, GRAMS, SQUARE_METRES, WEIGHT_UNIT, Units

# Less than this part of a field is no rest to load for.
ALL_PLANTED = 1e-6


@dataclass(frozen=True)
class InHand:
    """Seed that is there, against what is needed of it.

    Attributes
    ----------
    part : Part
        Its weights are what is needed.
    box : str
    weight_g : float
    """

    part: Part
    box: str
    weight_g: float

    @property
    def plants_m2(self) -> float:
        """Ground that it plants, down to an empty box."""
        return self.weight_g / self.part.rate

    @property
    def short_g(self) -> float:
        """What is missing; 0 or less where there is enough."""
        return self.part.total_g - self.weight_g


@dataclass(frozen=True)
class LoadingSheet:
    """The loads of a job.

    Attributes
    ----------
    fields : tuple of Field
        In the order of planting, with their whole area; the name is "" where only an area is known.
    passes : tuple of Loading
        Boxes with the same ground to plant are in one of them.
    in_turn : tuple of BoxLoad
        One full box of each lot that goes into a box after another one: which field gets which is not known.
    done : tuple of str
        Boxes that have planted all of it.
    planted_m2 : mapping of (str, str) to float
        Box and field to ground that it has planted.
    unplaced_m2 : mapping of str to float
        Box to ground that it has planted in a field that is not known here: it is not taken off.
    in_hand : tuple of InHand
    units : {"us", "metric"}
    """

    fields: tuple[Field, ...]
    passes: tuple[Loading, ...]
    in_turn: tuple[BoxLoad, ...]
    done: tuple[str, ...]
    planted_m2: Mapping[tuple[str, str], float]
    unplaced_m2: Mapping[str, float]
    in_hand: tuple[InHand, ...]
    units: Units

    @property
    def area_m2(self) -> float:
        """Ground of all fields."""
        return sum(each.area_m2 for each in self.fields)

    def rest_m2(self, box: str) -> float:
        """Ground that a box has still to plant.

        Parameters
        ----------
        box : str

        Returns
        -------
        float
        """
        return sum(each.area_m2 for each in _rest(box, self.fields, self.planted_m2))

    @property
    def loads(self) -> tuple[BoxLoad, ...]:
        """The boxes of all passes."""
        return tuple(load for each in self.passes for load in each.boxes)


def loading_sheet(
    job: Job,
    fields: Sequence[Field],
    units: Units,
    *,
    box: str | None = None,
    lot: str | None = None,
    in_hand: Mapping[str, float] | None = None,
    reserve: float = RESERVE,
    tolerance: float = TOLERANCE,
) -> LoadingSheet:
    """Work out what to load.

    Parameters
    ----------
    job : Job
        With a plan.
    fields : sequence of Field
        At least one.
    units : {"us", "metric"}
        Weights and stops are round in these.
    box, lot : str, optional
        This box, or this lot, bag or blend only, in capitals or not.
    in_hand : mapping of str to float, optional
        Lot or bag to the grams of it that are there.
    reserve : float
        Part of the full box that stays in it at the end.
    tolerance : float
        How far the rate may be off target, for when to refill.

    Returns
    -------
    LoadingSheet

    Raises
    ------
    InputError
        No such box or lot, or a box would have to be filled more often than anyone does.

    Examples
    --------
    >>> from predictor import read_job
    >>> sheet = loading_sheet(read_job("sample_trials"), [Field("north", 56_656.0)], "us", box="grain")
    >>> [(part.name, round(part.total_g / 453.59237, 1)) for part in sheet.loads[0].parts]
    [('CW-26', 39.0)]
    """
    plans = _chosen(job, box, lot)
    planted, unplaced = _planted(job, fields, {each.box.name for each in plans})
    alone = [each for each in plans if sum(other.box == each.box for other in plans) == 1]
    weight, area = GRAMS[WEIGHT_UNIT[units]], SQUARE_METRES[AREA_UNIT[units]]
    passes: dict[tuple[Field, ...], list[tuple[BoxPlan, Refill]]] = {}
    for plan in alone:
        passes.setdefault(_rest(plan.box.name, fields, planted), []).append((plan, _refill(job, plan, tolerance)))
    turns = [each for each in plans if each not in alone]
    over = [each for each in turns if not _rest(each.box.name, fields, planted)]
    done = dict.fromkeys([*(plan.box.name for plan, _ in passes.pop((), [])), *(each.box.name for each in over)])
    loadings = tuple(load_boxes(each, rest, weight, area, reserve) for rest, each in passes.items())
    in_turn = [full_box(each, _refill(job, each, tolerance), weight) for each in turns if each not in over]
    parts = [(part, load.plan.box.name) for each in loadings for load in each.boxes for part in load.parts if part.lots]
    return LoadingSheet(
        tuple(fields),
        loadings,
        tuple(in_turn),
        tuple(done),
        planted,
        unplaced,
        _in_hand(parts, in_hand or {}),
        units,
    )


def _chosen(job: Job, box: str | None, lot: str | None) -> list[BoxPlan]:
    """The plans of the boxes that are wanted; an InputError names those there are."""
    assert job.plan is not None
    boxes = [each for each in job.plan.boxes if box is None or each.box.name.lower() == box.lower()]
    if not boxes:
        names = listed(dict.fromkeys(each.box.name for each in job.plan.boxes))
        raise InputError(f"The plan has no box {box}. Its boxes are {names}.")
    found = [each for each in boxes if lot is None or each.lot.lower() == lot.lower()]
    if not found:
        raise InputError(f"No such box takes {lot}. Its lots and blends are {listed(each.lot for each in boxes)}.")
    return found


def _planted(
    job: Job, fields: Sequence[Field], boxes: set[str]
) -> tuple[dict[tuple[str, str], float], dict[str, float]]:
    """Ground that each box has planted in each field, and what is in none of these fields."""
    names = {each.name.lower(): each.name for each in fields if each.name}
    if len(names) == 1:
        names[""] = fields[0].name
    known = {each.name.lower() for each in job.drill.fields}
    there: dict[tuple[str, str], float] = {}
    elsewhere: dict[str, float] = {}
    for line in job.planted.season(job.today.isoformat()):
        if line.box.name not in boxes:
            continue
        name, box = line.field.lower(), line.box.name
        if name in names:
            there[box, names[name]] = there.get((box, names[name]), 0.0) + line.area_m2
        elif not names or name not in known:
            elsewhere[box] = elsewhere.get(box, 0.0) + line.area_m2
    return there, elsewhere


def _rest(box: str, fields: Sequence[Field], planted: Mapping[tuple[str, str], float]) -> tuple[Field, ...]:
    """The fields with the area that a box has not planted."""
    rests = [(each, each.area_m2 - planted.get((box, each.name), 0.0)) for each in fields]
    return tuple(Field(each.name, rest) for each, rest in rests if rest > ALL_PLANTED * each.area_m2)


def _refill(job: Job, plan: BoxPlan, tolerance: float) -> Refill:
    """When to refill a box: by its catches where they were made at several fillings."""
    mine = job.trials.of(box=plan.box.name)
    task = next(iter(job.tasks(plan.box.name, plan.lot)), None) if np.isfinite(mine.fill_pct).any() else None
    advice = None if task is None else job.advice(task, tolerance)
    given = None
    if task is not None and advice is not None and advice.advised is not None and advice.catches_used:
        given = job.given(task, advice.advised)
    return refill(plan.box, given, tolerance)


def _in_hand(parts: Sequence[tuple[Part, str]], weights: Mapping[str, float]) -> tuple[InHand, ...]:
    """What there is of each lot; an InputError for a lot that is in no box."""
    found = []
    for name, weight in weights.items():
        mine = [(part, box) for part, box in parts if part.name.lower() == name.lower()]
        if len(mine) != 1:
            wrong = "goes into several boxes: name one of them with --box" if mine else "is not to be loaded here"
            raise InputError(f"Lot {name} {wrong}. What is loaded: {listed(part.name for part, _ in parts)}.")
        found.append(InHand(*mine[0], weight))
    return tuple(found)
