"""The planting plan as it is shown: one result for text and JSON, so that the two cannot disagree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from predictor.domain.catch import coarse_scale
from predictor.domain.drill import Drill
from predictor.domain.seed import BoxPlan, LotPlan, Plan
from predictor.format import figures, plain
from predictor.text.fold import Fold, facts
from predictor.units import (
    GRAMS_PER_KILOGRAM,
    GRAMS_PER_POUND,
    METRES_PER_FOOT,
    RATE_UNIT,
    SQUARE_METRES_PER_SQUARE_FOOT,
    Units,
    rate_in,
)


class _Names(NamedTuple):
    """Names and sizes of the units that a plan is shown in."""

    weight: str
    weight_g: float
    area: str
    area_m2: float
    row: str
    row_word: str
    row_m: float
    count: str
    count_g: float


_NAMES: dict[Units, _Names] = {
    "us": _Names(
        *("lb", GRAMS_PER_POUND, "ft2", SQUARE_METRES_PER_SQUARE_FOOT),
        *("ft", "foot", METRES_PER_FOOT, "pound", GRAMS_PER_POUND),
    ),
    "metric": _Names("kg", GRAMS_PER_KILOGRAM, "m2", 1.0, "m", "metre", 1.0, "gram", 1.0),
}


@dataclass(frozen=True)
class Amounts:
    """What a box or one of its lots comes to, in the user's units; None where it is not known."""

    bulk_rate: float
    carrier_rate: float
    load: float | None
    carrier_load: float | None
    seeds_per_area: float | None
    seeds_per_row: float | None


@dataclass(frozen=True)
class Sheet:
    """A plan for one size of catch and, where it is given, one area in square metres."""

    plan: Plan
    drill: Drill
    units: Units
    turns: float
    rows: int
    area_m2: float | None = None

    @property
    def warnings(self) -> list[str]:
        """Everything that looks odd, in sentences."""
        coarse = (
            coarse_scale(box.box.name, box.target_output, self.drill, self.turns, self.rows) for box in self.plan.boxes
        )
        return [*map(str, self.plan.remarks), *(str(each) for each in coarse if each)]

    def amounts(self, part: BoxPlan | LotPlan) -> Amounts:
        """The rates, loads and seeds of a box or lot."""
        names, area, seeds = _NAMES[self.units], self.area_m2, part.seeds_per_m2
        known = seeds == seeds
        return Amounts(
            bulk_rate=rate_in(part.bulk_rate, self.units),
            carrier_rate=rate_in(part.carrier, self.units),
            load=None if area is None else part.bulk_rate * area / names.weight_g,
            carrier_load=None if area is None else part.carrier * area / names.weight_g,
            seeds_per_area=seeds * names.area_m2 if known else None,
            seeds_per_row=seeds * self.drill.row_spacing_m * names.row_m if known else None,
        )

    def to_dict(self) -> dict[str, Any]:
        """The plan as plain values for JSON; no NaN, no infinity."""
        return {
            "schema": 1,
            "units": self.units,
            "rate_unit": RATE_UNIT[self.units],
            "weight_unit": _NAMES[self.units].weight,
            "viable": self.plan.viable,
            "boxes": [self._box_dict(box) for box in self.plan.boxes],
            "lots": [self._lot_dict(lot) for lot in self.plan.lots],
            "warnings": self.warnings,
        }

    def _box_dict(self, box: BoxPlan) -> dict[str, Any]:
        return {
            "box": box.box.name,
            "lot": box.lot,
            **self._amounts_dict(box),
            "target_catch_g": box.target_catch_g(self.turns, self.rows),
            "target_output": box.target_output,
            "field_factor": box.field_factor,
            "turns": self.turns,
            "rows": self.rows,
        }

    def _lot_dict(self, lot: LotPlan) -> dict[str, Any]:
        names = ("box", "lot", "blend", "species", "pls_germination", "pls_total", "pls")
        return {
            **{name: getattr(lot, name) for name in names},
            "pls_rate": rate_in(lot.pls_rate, self.units),
            **self._amounts_dict(lot),
            **{name: getattr(lot, name) for name in ("seeds_from", "table_species", "test_date")},
        }

    def _amounts_dict(self, part: BoxPlan | LotPlan) -> dict[str, float | None]:
        found, names = self.amounts(part), _NAMES[self.units]
        return {
            "bulk_rate": found.bulk_rate,
            "carrier_rate": found.carrier_rate,
            "load": found.load,
            f"seeds_per_{names.area}": found.seeds_per_area,
            f"seeds_per_row_{names.row}": found.seeds_per_row,
        }

    def lines(self, wrapped: Fold) -> list[str]:
        """The plan in plain words, the weight to catch first."""
        said: list[str] = []
        for box in self.plan.boxes:
            said += [*([""] if said else []), *self._box_lines(box, wrapped)]
        if self.area_m2 is not None:
            said += ["", wrapped("Each load covers the area. Add the seed that must stay in the box.", "")]
        warnings = [wrapped(warning, "! ", "  ") for warning in self.warnings]
        return [*said, "", *warnings] if warnings else said

    def _box_lines(self, box: BoxPlan, wrapped: Fold) -> list[str]:
        found, weight = self.amounts(box), _NAMES[self.units].weight
        holds = "" if box.box.holds in box.box.name.lower() else f" ({box.box.holds})"
        catch = figures(box.target_catch_g(self.turns, self.rows))
        said = [wrapped(f"BOX {box.box.name}{holds}: {box.lot}", "")]
        said += facts(wrapped, f"CATCH {catch} g in {plain(self.turns)} turns", f"{self.rows} rows")
        if box.field_factor != 1:
            said += facts(wrapped, f"Corrected for a field factor of {box.field_factor:.2f}")
        of_it = [f"{figures(found.carrier_rate)} of it carrier"] if box.carrier else []
        said += facts(wrapped, f"Drop {figures(found.bulk_rate)} {RATE_UNIT[self.units]} bulk", *of_it)
        if found.load is not None and found.carrier_load is not None:
            of_it = [f"{figures(found.carrier_load)} of it carrier"] if box.carrier else []
            said += facts(wrapped, f"Load {figures(found.load)} {weight}", *of_it)
        for lot in box.lots:
            said += self._lot_lines(lot, wrapped, len(box.lots) > 1)
        if len(box.lots) > 1 and found.seeds_per_area is not None:
            said += ["  All lots together", *self._seed_facts(found, wrapped)]
        return said

    def _lot_lines(self, lot: LotPlan, wrapped: Fold, mixed: bool) -> list[str]:
        found, names, unit = self.amounts(lot), _NAMES[self.units], RATE_UNIT[self.units]
        rules = [("by germination", lot.pls_germination, "germination"), ("with dormant", lot.pls_total, "total")]
        if lot.dormant == 0:  # the same by either rule
            rules = [("(no dormant seed on the tag)", lot.pls, "")]
        shares = [
            f"PLS {100 * pls:.1f} % {words}{' (used)' if rule == self.plan.viable else ''}"
            for words, pls, rule in rules
        ]
        said = [wrapped(f"Lot {lot.lot}, {lot.species}"), *facts(wrapped, *shares, indent="    ")]
        pls_rate = figures(rate_in(lot.pls_rate, self.units))
        said += facts(wrapped, f"{pls_rate} {unit} PLS is {figures(found.bulk_rate)} {unit} bulk", indent="    ")
        if mixed and found.load is not None:
            said.append(f"    Load {figures(found.load)} {names.weight} of this lot")
        if not lot.seeds_from:
            return [*said, wrapped("Seeds per area unknown, see below", "    ")]
        source = f"USDA table for {lot.table_species}" if lot.seeds_from == "table" else "from plan.csv"
        count = f"Seeds: {lot.seeds_per_g * names.count_g:,.0f} a {names.count}"
        return [*said, *self._seed_facts(found, wrapped), *facts(wrapped, count, source, indent="    ")]

    def _seed_facts(self, found: Amounts, wrapped: Fold) -> list[str]:
        names = _NAMES[self.units]
        area, row = (figures(each or 0.0) for each in (found.seeds_per_area, found.seeds_per_row))
        return facts(wrapped, f"{area} live seeds/{names.area}", f"{row} per {names.row_word} of row", indent="    ")
