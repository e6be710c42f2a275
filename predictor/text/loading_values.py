"""The loading sheet as plain values for JSON."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

from predictor.domain.fields import Field
from predictor.field.loading import BoxLoad, Loading, Part, Stop
from predictor.job.loading import LoadingSheet
from predictor.text import loading as words
from predictor.units import AREA_UNIT, GRAMS, RATE_UNIT, SQUARE_METRES, WEIGHT_UNIT, rate_in


def to_dict(sheet: LoadingSheet) -> dict[str, Any]:
    """The sheet as plain values; no NaN, no infinity."""
    return _Values(sheet).all()


@dataclass(frozen=True)
class _Values:
    """Makes values in the units of a sheet."""

    sheet: LoadingSheet

    def all(self) -> dict[str, Any]:
        sheet = self.sheet
        return {
            "schema": 1,
            "units": sheet.units,
            "weight_unit": WEIGHT_UNIT[sheet.units],
            "area_unit": AREA_UNIT[sheet.units],
            "rate_unit": RATE_UNIT[sheet.units],
            "area": self.area(sheet.area_m2),
            "fields": [self.field(each) for each in sheet.fields],
            "planted": [
                {"box": box, "field": field, "area": self.area(m2)} for (box, field), m2 in sheet.planted_m2.items()
            ],
            "passes": [self.one_pass(each) for each in sheet.passes],
            "in_turn": [self.box(each) for each in sheet.in_turn],
            "done": list(sheet.done),
            "in_hand": [
                {
                    "box": each.box,
                    "name": each.part.name,
                    "weight": self.weight(each.weight_g),
                    "needed": self.weight(each.part.total_g),
                    "plants": self.area(each.plants_m2),
                }
                for each in sheet.in_hand
            ],
            "warnings": [*words.planted_words(sheet), *words.notes(sheet)],
        }

    def one_pass(self, loading: Loading) -> dict[str, Any]:
        return {
            "area": self.area(loading.area_m2),
            "fields": [self.field(each) for each in loading.fields],
            "boxes": [self.box(each) for each in loading.boxes],
            "stops": [self.stop(each) for each in loading.stops],
            "stops_alone": loading.stops_alone - 1,
        }

    def box(self, load: BoxLoad) -> dict[str, Any]:
        plan = load.plan
        return {
            "box": plan.box.name,
            "lot": plan.lot,
            "full": None if plan.box.full_g is None else self.weight(plan.box.full_g),
            "refill_at": load.refill.at,
            "reserve": self.weight(load.reserve_g),
            "bulk_rate": rate_in(plan.bulk_rate, self.sheet.units),
            "area": self.area(load.area_m2),
            "load": self.weight(load.total_g),
            "left": self.weight(load.left_g(load.area_m2)),
            "parts": [self.part(each) for each in load.parts],
        }

    def part(self, part: Part) -> dict[str, Any]:
        return {
            "name": part.name,
            "what": "carrier" if not part.lots else "bag" if part.lots[0].bag else "lot",
            "species": list(dict.fromkeys(lot.species for lot in part.lots)),
            "bulk_rate": rate_in(part.rate, self.sheet.units),
            "load": self.weight(part.total_g),
            "bag_weight": None if part.bags is None else self.weight(part.bag_g),
            "bags": None if part.bags is None else sum(opened for opened, _ in part.bags),
            "left_in_bag": None if part.bags is None else self.weight(part.bags[-1][1]),
        }

    def stop(self, stop: Stop) -> dict[str, Any]:
        return {
            "after": self.area(stop.at_m2),
            "field": stop.field.name,
            "after_in_field": self.area(stop.within_m2),
            "boxes": [self.fill(load, k) for load, k in stop.fills],
        }

    def fill(self, load: BoxLoad, k: int) -> dict[str, Any]:
        fill = load.fills[k]
        return {
            "box": load.plan.box.name,
            "load": self.weight(fill.weight_g),
            "then_in_box": self.weight(fill.level_g),
            "plants": self.area(fill.plants_m2),
            "lasts_to": self.area(fill.lasts_m2),
            "parts": [
                {
                    "name": part.name,
                    "load": self.weight(part.weights[k]),
                    "loaded_so_far": self.weight(list(itertools.accumulate(part.weights))[k]),
                    "bags_to_open": None if part.bags is None else part.bags[k][0],
                    "left_in_bag": None if part.bags is None else self.weight(part.bags[k][1]),
                }
                for part in load.parts
            ],
        }

    def field(self, field: Field) -> dict[str, Any]:
        return {"field": field.name, "area": self.area(field.area_m2)}

    def weight(self, grams: float) -> float:
        # a weight that was rounded to the scale has no further digits, and none come from the conversion
        return round(grams / GRAMS[WEIGHT_UNIT[self.sheet.units]], 6)

    def area(self, area_m2: float) -> float:
        return round(area_m2 / SQUARE_METRES[AREA_UNIT[self.sheet.units]], 6)
