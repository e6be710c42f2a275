"""What was planted, added up: areas, seed used and live seed, by box, lot, field and species.

Everything is worked out from the lines and the evidence that each of them keeps, never from the plan or the catches of
today. What was not weighed, or has no tag, stays unknown and is named.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from predictor.domain.fields import Field
from predictor.domain.planted import PlantedLine, PlantedLot
from predictor.domain.result import NanEqual
from predictor.field.verdict import Verdict
from predictor.units import AREA_UNIT, GRAMS, RATE_UNIT, SQUARE_METRES, WEIGHT_UNIT, Units, rate_in

# So little of a field is the rounding of its area.
LEAST_LEFT = 0.01
_NO_TAG = PlantedLot(
    *("", "", "", 1.0),
    *(math.nan, math.nan, math.nan, math.nan, math.nan, math.nan),
    *("", math.nan, ""),
    *(math.nan, math.nan, math.nan, math.nan),
    *("", "", "", "", ""),
)


@dataclass(frozen=True, eq=False)
class Amount(NanEqual):
    """What was planted of one box, lot, field or species.

    Attributes
    ----------
    names : tuple of str
        What it is the amount of, such as a box and the lot in it.
    lines : tuple of int
        Lines of the file, or empty where a line is not in one yet.
    area_m2 : float
        Ground; where several boxes went over one field, it is counted once.
    used_g : float
        Bulk weight, carrier included; NaN where a line was not weighed.
    pls_g, live_seeds : float
        Pure live seed that was planted; NaN where a line was not weighed or its tag does not say.
    weighed_g, weighed_m2 : float
        Those of the lines that were weighed; 0 where none was.
    ratio : float
        Weight used over what the targets of these lines ask for, of lines that were weighed and have a target; NaN
        where there is none.
    not_weighed : tuple of int
        Lines that were not weighed.
    """

    names: tuple[str, ...]
    lines: tuple[int, ...]
    area_m2: float
    used_g: float
    pls_g: float
    live_seeds: float
    weighed_g: float
    weighed_m2: float
    ratio: float
    not_weighed: tuple[int, ...]

    @property
    def rate(self) -> float:
        """Bulk rate on the ground that was weighed, grams per square metre; NaN where none was."""
        return self.weighed_g / self.weighed_m2 if self.weighed_m2 else math.nan

    @property
    def live_per_m2(self) -> float:
        """Live seeds per square metre; NaN where they are unknown."""
        return self.live_seeds / self.area_m2

    def to_dict(self, units: Units) -> dict[str, Any]:
        """Values in the units that people read; None where they are unknown."""
        weight, per_area = GRAMS[WEIGHT_UNIT[units]], SQUARE_METRES[AREA_UNIT[units]]
        square = SQUARE_METRES["ac"] / 43_560 if units == "us" else 1.0
        values = {
            f"area_{AREA_UNIT[units]}": self.area_m2 / per_area,
            f"used_{WEIGHT_UNIT[units]}": self.used_g / weight,
            f"pls_{WEIGHT_UNIT[units]}": self.pls_g / weight,
            "rate": rate_in(self.rate, units),
            "ratio": self.ratio,
            "live_seeds_per_ft2" if units == "us" else "live_seeds_per_m2": self.live_per_m2 * square,
        }
        known = {name: None if value != value else value for name, value in values.items()}
        return {
            "names": list(self.names),
            **known,
            "rate_unit": RATE_UNIT[units],
            "not_weighed": list(self.not_weighed),
        }


@dataclass(frozen=True)
class Planting:
    """All that was planted in a job, added up."""

    lines: tuple[PlantedLine, ...]  # Those in use, in order of their days
    fillings: tuple[Amount, ...]  # Box, and the lot, bag or blend in it
    contents: tuple[Amount, ...]  # Box, filling, and each lot or bag of it by its tag
    carrier: tuple[Amount, ...]  # Box and filling, of those with carrier
    lots: tuple[Amount, ...]  # Lot or bag, from whichever box it went out
    species: tuple[Amount, ...]
    fields: tuple[Amount, ...]  # Field, box and filling
    everything: Amount

    def to_dict(self, units: Units) -> dict[str, Any]:
        """The amounts in the units that people read."""
        kinds = ("fillings", "contents", "carrier", "lots", "species", "fields")
        parts = {kind: [each.to_dict(units) for each in getattr(self, kind)] for kind in kinds}
        return {**parts, "everything": self.everything.to_dict(units)}

    @property
    def without_tags(self) -> tuple[int, ...]:
        """Lines whose live seed is not known, since no evidence names the lots: they are in no amount of a species."""
        return tuple(each.line for each in self.lines if each.evidence is None or not each.evidence.lots)


@dataclass(frozen=True, eq=False)
class _Share:
    """What one line says of one amount."""

    line: PlantedLine
    part: float  # Of the weight of the line
    pls_g: float
    live_seeds: float

    @property
    def used_g(self) -> float:
        return self.part * self.line.used_g

    @property
    def target_g(self) -> float:
        """What the target of the line asks for of it; NaN without one."""
        evidence = self.line.evidence
        return math.nan if evidence is None else evidence.target * self.line.area_m2 * self.part


def planting(lines: Iterable[PlantedLine]) -> Planting:
    """Add up the lines in use.

    Parameters
    ----------
    lines : iterable of PlantedLine
        Those taken back are left out.

    Returns
    -------
    Planting
    """
    used = tuple(sorted((each for each in lines if each.use), key=lambda each: each.date))
    whole = [((each.box.name, each.lot), _whole(each)) for each in used]
    parts = [((each.box.name, each.lot), lot, _part(each, lot)) for each in used for lot in contents(each)]
    return Planting(
        used,
        _amounts(whole),
        _amounts(((*names, lot.bag or lot.lot), share) for names, lot, share in parts),
        _amounts(((each.box.name, each.lot), share) for each in used for share in _carrier(each)),
        _amounts(((lot.bag or lot.lot,), share) for _, lot, share in parts),
        _amounts(((lot.species,), share) for _, lot, share in parts if lot.species),
        _amounts(((share.line.field, *names), share) for names, share in whole),
        _amount((), [share for _, share in whole]),
    )


def contents(line: PlantedLine) -> tuple[PlantedLot, ...]:
    """The lots in the box; that of the line itself, without a tag, where no evidence names them."""
    if line.evidence is not None and line.evidence.lots:
        return line.evidence.lots
    return (replace(_NO_TAG, lot=line.lot),)


def _carrier(line: PlantedLine) -> list[_Share]:
    """What else was in the box than its lots, where there was anything."""
    part = 1 - math.fsum(lot.share for lot in contents(line))
    return [_Share(line, part, 0.0, 0.0)] if part > 1e-9 else []


def _whole(line: PlantedLine) -> _Share:
    """All that went out of the box; its live seed is unknown where that of one of its lots is."""
    parts = [_part(line, lot) for lot in contents(line)]
    pls, live = (math.fsum(getattr(each, name) for each in parts) for name in ("pls_g", "live_seeds"))
    return _Share(line, 1.0, pls, live)


def _part(line: PlantedLine, lot: PlantedLot) -> _Share:
    """The part of one lot, or of one species in a bag, as it was mixed."""
    used = lot.share * line.used_g
    return _Share(line, lot.share, used * lot.pls, used * lot.pls * lot.seeds_per_g)


def _amounts(shares: Iterable[tuple[tuple[str, ...], _Share]]) -> tuple[Amount, ...]:
    """An amount for each name, in capitals or not, in the order in which they were first planted."""
    together: dict[tuple[str, ...], tuple[tuple[str, ...], list[_Share]]] = {}
    for names, share in shares:
        together.setdefault(tuple(map(str.lower, names)), (names, []))[1].append(share)
    return tuple(_amount(names, each) for names, each in together.values())


def _amount(names: tuple[str, ...], shares: Sequence[_Share]) -> Amount:
    lines = list({each.line.line: each.line for each in shares}.values())
    weighed = [each for each in shares if not math.isnan(each.used_g)]
    aimed = [each for each in weighed if each.target_g > 0]
    return Amount(
        names,
        tuple(each.line for each in lines),
        ground_m2(lines),
        math.fsum(each.used_g for each in shares),
        math.fsum(each.pls_g for each in shares),
        math.fsum(each.live_seeds for each in shares),
        math.fsum(each.used_g for each in weighed),
        ground_m2({each.line.line: each.line for each in weighed}.values()),
        math.fsum(each.used_g for each in aimed) / math.fsum(each.target_g for each in aimed) if aimed else math.nan,
        tuple(each.line for each in lines if math.isnan(each.used_g)),
    )


def ground_m2(lines: Iterable[PlantedLine]) -> float:
    """Ground that was planted: where several boxes went over one field, it is counted once."""
    areas: dict[str, dict[str, float]] = {}
    for each in lines:
        boxes = areas.setdefault(each.field.lower(), {})
        boxes[each.box.name] = boxes.get(each.box.name, 0.0) + each.area_m2
    return math.fsum(max(boxes.values()) for boxes in areas.values())


@dataclass(frozen=True)
class ToPlant:
    """What a box has still to plant."""

    field: str  # "" where the job names no fields
    box: str
    area_m2: float  # NaN where the job names no fields
    field_m2: float

    def to_dict(self, units: Units) -> dict[str, Any]:
        """Values in the unit that people read; no area where the job names no fields."""
        area = self.area_m2 / SQUARE_METRES[AREA_UNIT[units]]
        return {"field": self.field, "box": self.box, "area": None if area != area else area}


def still_to_plant(lines: Iterable[PlantedLine], boxes: Sequence[str], fields: Sequence[Field]) -> tuple[ToPlant, ...]:
    """What each box has still to plant, field by field in the order of the drill file.

    Without fields a box is planted once it has a line.
    """
    used = [each for each in lines if each.use]
    if not fields:
        done = {each.box.name for each in used}
        return tuple(ToPlant("", box, math.nan, math.nan) for box in boxes if box not in done)
    found = [
        ToPlant(each.name, box, each.area_m2 - planted_m2(used, each.name, box), each.area_m2)
        for each in fields
        for box in boxes
    ]
    return tuple(each for each in found if each.area_m2 > LEAST_LEFT * each.field_m2)


def noted(verdict: Verdict, lines: Iterable[PlantedLine]) -> bool:
    """Whether a line says what was planted where the last check found the box; an earlier day's is of other ground."""
    return any(each.use and each.setting == verdict.setting and each.date >= verdict.date for each in lines)


def planted_m2(lines: Iterable[PlantedLine], field: str, box: str) -> float:
    """Area of a field that a box has planted."""
    mine = (each for each in lines if each.use and (each.field.lower(), each.box.name) == (field.lower(), box))
    return math.fsum(each.area_m2 for each in mine)


def line_dict(line: PlantedLine, units: Units) -> dict[str, Any]:
    """One line as plain values in the units that people read; None where something is unknown."""
    weight, evidence = GRAMS[WEIGHT_UNIT[units]], line.evidence
    numbers = {
        "area": line.area_m2 / SQUARE_METRES[AREA_UNIT[units]],
        "loaded": line.loaded_g / weight,
        "left": line.left_g / weight,
        "used": line.used_g / weight,
        "rate": rate_in(line.rate, units),
        "target_rate": math.nan if evidence is None else rate_in(evidence.target, units),
        "chance": math.nan if evidence is None else evidence.chance,
    }
    names = {"date": line.date, "field": line.field, "box": line.box.name, "lot": line.lot}
    known = {name: None if value != value else value for name, value in numbers.items()}
    decision = None if evidence is None else evidence.decision or None
    return {"line": line.line, **names, "setting": line.setting.value, **known, "decision": decision}
