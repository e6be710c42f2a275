"""The planting plan as it is shown: text is made from the values of the JSON, so that the two cannot disagree."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from predictor.domain.catch import catch_size, coarse_scale
from predictor.domain.drill import VIABLE, Drill, SeedBox, Viable
from predictor.domain.fields import Field
from predictor.domain.seed import BoxPlan, LotPlan, Plan
from predictor.job.first import FirstSetting
from predictor.text.answer import Answer
from predictor.units import AREA_UNIT, GRAMS, METRES, RATE_UNIT, SQUARE_METRES, Units, rate_in


class _Names(NamedTuple):
    """The units that a plan is shown in."""

    rate: str
    weight: str
    row: str
    row_word: str
    seeds_in: str  # Weight for which seeds are counted


NAMES: dict[Units, _Names] = {
    "us": _Names(RATE_UNIT["us"], "lb", "ft", "foot", "lb"),
    "metric": _Names(RATE_UNIT["metric"], "kg", "m", "metre", "g"),
}


@dataclass(frozen=True)
class Sheet:
    """A plan for one size of catch and an area in square metres; those of the drill file where none are given."""

    plan: Plan
    drill: Drill
    units: Units
    turns: float | None = None
    rows: int | None = None
    area_m2: float | None = None
    distance_m: float | None = None  # Of a towed catch, in place of turns
    checked: frozenset[tuple[str, str]] = frozenset()  # Boxes and lots that a field check judged as they are set
    first: Mapping[str, FirstSetting] = field(default_factory=dict)  # By box and lot, with a tab between
    now: Mapping[str, Answer] = field(default_factory=dict)  # What to do with boxes and lots that were begun, likewise

    @property
    def planted_m2(self) -> float | None:
        """The area to be planted: as given, else that of the drill file's fields; None without either."""
        if self.area_m2 is None and self.drill.fields:
            return sum(each.area_m2 for each in self.drill.fields)
        return self.area_m2

    def _size(self, box: BoxPlan) -> tuple[float, int]:
        """Turns and rows of a catch of a box, with no more rows than it feeds."""
        usual = self.drill.catch_of(box.box)
        if self.distance_m is not None:
            usual = replace(usual, turns=self.distance_m / self.drill.covers_of(box.box))
        return self.turns or usual.turns, min(self.rows or usual.rows, self.drill.rows_of(box.box))

    @property
    def warnings(self) -> list[str]:
        """Everything that looks odd, in sentences."""
        towed = self.distance_m is not None
        coarse = (
            coarse_scale(each.box, each.target_output, self.drill, *self._size(each), towed) for each in self.plan.boxes
        )
        return [str(each) for each in (*self.plan.remarks, *coarse) if each is not None]

    def to_dict(self) -> dict[str, Any]:
        """The plan as plain values for JSON; no NaN, no infinity."""
        return {
            "schema": 1,
            "units": self.units,
            "rate_unit": NAMES[self.units].rate,
            "weight_unit": NAMES[self.units].weight,
            "viable": self.plan.viable,
            "area": self._area(self.planted_m2),
            "area_unit": AREA_UNIT[self.units],
            "fields": [] if self.area_m2 else [self._field(each) for each in self.drill.fields],
            "boxes": [self.box_values(box) for box in self.plan.boxes],
            "bags": [self.bag_values(box, lots) for box in self.plan.boxes for lots in bags_of(box) if lots[0].bag],
            "lots": [self.lot_values(lot, box) for lot in self.plan.lots for box in self.plan.boxes if lot in box.lots],
            "warnings": self.warnings,
        }

    def _area(self, area_m2: float | None) -> float | None:
        return None if area_m2 is None else area_m2 / SQUARE_METRES[AREA_UNIT[self.units]]

    def _field(self, each: Field) -> dict[str, Any]:
        return {"field": each.name, "area": self._area(each.area_m2)}

    def box_values(self, box: BoxPlan) -> dict[str, Any]:
        turns, rows = self._size(box)
        towed, first = self.distance_m is not None, self.first_of(box)
        size = catch_size(turns, rows, replace(self.drill, units=self.units), box.box, towed)
        # slip is in a towed catch already
        factor = 1.0 if towed else box.field_factor
        return {
            "box": box.box.name,
            "lot": box.lot,
            "method": box.method,
            **self._amounts(box, box.box),
            "rows_fed": self.drill.rows_of(box.box),
            "target_catch_g": box.target_catch_g(turns, rows) * (box.field_factor / factor),
            "target_output": box.target_output * (box.field_factor / factor),
            "field_factor": factor,
            "turns": turns,
            "length": size.length,
            "counted": size.counted,
            "rows": rows,
            **(first.to_dict() if first else {"first_setting": None, "first_setting_from": None}),
        }

    def first_of(self, box: BoxPlan) -> FirstSetting | None:
        return self.first.get(f"{box.box.name}\t{box.lot}")

    def bag_values(self, box: BoxPlan, lots: Sequence[LotPlan]) -> dict[str, Any]:
        """The species of one premixed bag together; of the carrier and the rest of the box it has nothing."""
        first = lots[0]
        names = ("pls", "pls_germination", "pls_hard", "pls_total")
        sums = {name: sum(getattr(lot, name) for lot in lots) for name in names}
        whole = BoxPlan(box.box, first.bag, tuple(lots), sum(lot.bulk_rate for lot in lots), 0.0, 0.0)
        return {
            **{name: getattr(first, name) for name in ("box", "bag", "blend")},
            **{name: _known(value) for name, value in sums.items()},
            "pls_rate": _known(rate_in(sum(lot.pls_rate for lot in lots), self.units)),
            **self._amounts(whole, box.box),
            **self._by_rules(lots),
        }

    def lot_values(self, lot: LotPlan, box: BoxPlan) -> dict[str, Any]:
        names = (
            *("box", "lot", "blend", "bag", "species", "pls_germination", "pls_hard", "pls_total", "pls"),
            *("seeds_from", "table_species", "test_date", "treatment"),
            *("other_crop", "weed", "inert", "coating", "noxious", "origin", "variety", "method"),
        )
        weight = NAMES[self.units].seeds_in
        counts = {name: getattr(lot, name) * GRAMS[weight] for name in ("seeds_per_g", "seeds_low", "seeds_high")}
        counts["bag_weight"] = lot.bag_weight / GRAMS[NAMES[self.units].weight]
        counts[f"seeds_per_{weight}"] = counts.pop("seeds_per_g")
        return {
            **{name: _known(getattr(lot, name)) for name in names},
            **{name: _known(value) for name, value in counts.items()},
            "seeds_sources": lot.seeds_sources,
            "pls_rate": _known(rate_in(lot.pls_rate, self.units)),
            "seed_share": _known(lot.seeds_per_m2 / box.seeds_per_m2 if box.seeds_per_m2 else math.nan),
            **self._amounts(lot, box.box),
            **self._by_rules([lot]),
        }

    def _by_rules(self, lots: Sequence[LotPlan]) -> dict[str, Any]:
        """The rule in force for a lot or bag, None for a bag of several; and its bulk rate by each rule.

        Where the bulk rate is given, no rule changes it.
        """
        rules = {lot.viable for lot in lots}
        bulk = sum(lot.bulk_rate for lot in lots)
        rates = {rule: rate_in(bulk * _times(lots, rule), self.units) for rule in VIABLE}
        return {
            "viable": rules.pop() if len(rules) == 1 else None,
            "bulk_rate_by_rule": {rule: _known(rate) if rate < math.inf else None for rule, rate in rates.items()},
        }

    def _amounts(self, part: BoxPlan | LotPlan, box: SeedBox) -> dict[str, float | None]:
        """Rates, load and seeds, in the user's units; None where they are not known."""
        names, seeds = NAMES[self.units], part.seeds_per_m2
        size = METRES[names.row]
        in_row = seeds * self.drill.spacing_of(box) * size
        return {
            "bulk_rate": rate_in(part.bulk_rate, self.units),
            "carrier_rate": rate_in(part.carrier, self.units),
            "load": None if self.planted_m2 is None else part.bulk_rate * self.planted_m2 / GRAMS[names.weight],
            f"seeds_per_{names.row}2": _known(seeds * size**2),
            f"seeds_per_row_{names.row}": _known(math.nan if part.method == "broadcast" else in_row),
        }


def bags_of(box: BoxPlan) -> list[list[LotPlan]]:
    """The lots of a box, those of one premixed bag together."""
    bags: dict[str, list[LotPlan]] = {}
    for k, lot in enumerate(box.lots):
        bags.setdefault(lot.bag.lower() or f"\n{k}", []).append(lot)
    return list(bags.values())


def rules_of(lots: Sequence[LotPlan]) -> list[tuple[Viable, str, tuple[Viable, ...]]]:
    """The rules for live seed that differ for some lots: one of each with its words, and those that are the same."""
    tested = [lot for lot in lots if lot.tz != lot.tz]
    hard, dormant = any(lot.hard for lot in tested), any(lot.dormant for lot in tested)
    if hard and dormant:
        three = ("by germination", "with hard seed", "with hard and dormant seed")
        return [(rule, words, (rule,)) for rule, words in zip(VIABLE, three, strict=True)]
    if hard:
        return [("germination", "by germination", ("germination",)), ("total", "with hard seed", ("hard", "total"))]
    if dormant:
        return [("germination", "by germination", ("germination", "hard")), ("total", "with dormant seed", ("total",))]
    words = "(no dormant or hard seed on the tag)" if tested else "by TZ test"
    return [("germination", words, VIABLE)]


def _times(lots: Sequence[LotPlan], rule: Viable) -> float:
    """How many times its bulk weight a lot or bag needs by another rule for the live seed that is wanted of it."""
    if lots[0].rate_of == "bulk":
        return 1.0
    by_rule = {"germination": "pls_germination", "hard": "pls_hard", "total": "pls_total"}[rule]
    counts = [lot.seeds_per_g if lots[0].rate_of == "seeds" else 1.0 for lot in lots]
    now = sum(lot.pls * count for lot, count in zip(lots, counts, strict=True))
    then = sum(getattr(lot, by_rule) * count for lot, count in zip(lots, counts, strict=True))
    return now / then if then else math.inf


def _known(value: Any) -> Any:
    """A value as JSON has it: None in place of NaN."""
    return value if value == value else None
