"""The planting plan as it is shown: text is made from the values of the JSON, so that the two cannot disagree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from predictor.domain.catch import coarse_scale
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.seed import BoxPlan, LotPlan, Plan
from predictor.format import figures, plain
from predictor.text.drill import fed_rows
from predictor.text.fold import Fold, facts
from predictor.units import GRAMS, METRES, RATE_UNIT, Units, rate_in


class _Names(NamedTuple):
    """The units that a plan is shown in."""

    rate: str
    weight: str
    row: str
    row_word: str
    seeds_in: str  # Weight for which seeds are counted


_NAMES: dict[Units, _Names] = {
    "us": _Names(RATE_UNIT["us"], "lb", "ft", "foot", "lb"),
    "metric": _Names(RATE_UNIT["metric"], "kg", "m", "metre", "g"),
}


@dataclass(frozen=True)
class Sheet:
    """A plan for one size of catch, the drill file's where none is given, and for an area in square metres."""

    plan: Plan
    drill: Drill
    units: Units
    turns: float | None = None
    rows: int | None = None
    area_m2: float | None = None

    def _size(self, box: BoxPlan) -> tuple[float, int]:
        """Turns and rows of a catch of a box, with no more rows than it feeds."""
        usual = self.drill.catch_of(box.box)
        return self.turns or usual.turns, min(self.rows or usual.rows, self.drill.rows_of(box.box))

    @property
    def warnings(self) -> list[str]:
        """Everything that looks odd, in sentences."""
        coarse = (coarse_scale(each.box, each.target_output, self.drill, *self._size(each)) for each in self.plan.boxes)
        return [str(each) for each in (*self.plan.remarks, *coarse) if each is not None]

    def to_dict(self) -> dict[str, Any]:
        """The plan as plain values for JSON; no NaN, no infinity."""
        return {
            "schema": 1,
            "units": self.units,
            "rate_unit": _NAMES[self.units].rate,
            "weight_unit": _NAMES[self.units].weight,
            "viable": self.plan.viable,
            "boxes": [self._box(box) for box in self.plan.boxes],
            "lots": [self._lot(lot) for lot in self.plan.lots],
            "warnings": self.warnings,
        }

    def _box(self, box: BoxPlan) -> dict[str, Any]:
        turns, rows = self._size(box)
        return {
            "box": box.box.name,
            "lot": box.lot,
            **self._amounts(box, box.box),
            "rows_fed": self.drill.rows_of(box.box),
            "target_catch_g": box.target_catch_g(turns, rows),
            "target_output": box.target_output,
            "field_factor": box.field_factor,
            "turns": turns,
            "rows": rows,
        }

    def _lot(self, lot: LotPlan) -> dict[str, Any]:
        names = ("box", "lot", "blend", "species", "pls_germination", "pls_total", "pls")
        return {
            **{name: getattr(lot, name) for name in (*names, "seeds_from", "table_species", "test_date")},
            "pls_rate": rate_in(lot.pls_rate, self.units),
            **self._amounts(lot, self.drill.box(lot.box)),
        }

    def _amounts(self, part: BoxPlan | LotPlan, box: SeedBox) -> dict[str, float | None]:
        """Rates, load and seeds, in the user's units; None where they are not known."""
        names, seeds = _NAMES[self.units], part.seeds_per_m2
        size, known = METRES[names.row], seeds == seeds
        return {
            "bulk_rate": rate_in(part.bulk_rate, self.units),
            "carrier_rate": rate_in(part.carrier, self.units),
            "load": None if self.area_m2 is None else part.bulk_rate * self.area_m2 / GRAMS[names.weight],
            f"seeds_per_{names.row}2": seeds * size**2 if known else None,
            f"seeds_per_row_{names.row}": seeds * self.drill.spacing_of(box) * size if known else None,
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
        found, names = self._box(box), _NAMES[self.units]
        holds = "" if box.box.holds in box.box.name.lower() else f" ({box.box.holds})"
        said = [wrapped(f"BOX {box.box.name}{holds}: {box.lot}", "")]
        if fed := fed_rows(self.drill, box.box, self.units):
            said.append(wrapped(f"Feeds {fed}"))
        catch = f"CATCH {figures(found['target_catch_g'])} g in {plain(found['turns'])} turns"
        said += facts(wrapped, catch, f"{found['rows']} rows")
        if box.field_factor != 1:
            said.append(wrapped(f"Corrected for a field factor of {box.field_factor:.2f}"))
        amounts = [("Drop", found["bulk_rate"], f" {names.rate} bulk"), ("Load", found["load"], f" {names.weight}")]
        for what, amount, unit in amounts:
            if amount is not None:
                carrier = [f"{figures(amount * box.carrier / box.bulk_rate)} of it carrier"] if box.carrier else []
                said += facts(wrapped, f"{what} {figures(amount)}{unit}", *carrier)
        for lot in box.lots:
            said += self._lot_lines(lot, wrapped, len(box.lots) > 1)
        if len(box.lots) > 1 and box.seeds_per_m2 == box.seeds_per_m2:
            said += ["  All lots together", *self._seeds(found, wrapped)]
        return said

    def _lot_lines(self, lot: LotPlan, wrapped: Fold, mixed: bool) -> list[str]:
        found, names = self._lot(lot), _NAMES[self.units]
        rules = [("by germination", lot.pls_germination, "germination"), ("with dormant", lot.pls_total, "total")]
        if lot.dormant == 0:  # the same by either rule
            rules = [("(no dormant seed on the tag)", lot.pls, "")]
        used = self.plan.viable
        shares = [f"PLS {100 * pls:.1f} % {words}{' (used)' if rule == used else ''}" for words, pls, rule in rules]
        said = [wrapped(f"Lot {lot.lot}, {lot.species}"), *facts(wrapped, *shares, indent="    ")]
        pls, bulk = (f"{figures(found[name])} {names.rate}" for name in ("pls_rate", "bulk_rate"))
        said.append(wrapped(f"{pls} PLS is {bulk} bulk", "    "))
        if mixed and found["load"] is not None:
            said.append(f"    Load {figures(found['load'])} {names.weight} of this lot")
        if not lot.seeds_from:
            return [*said, wrapped("Seeds per area unknown, see below", "    ")]
        source = f"USDA table for {lot.table_species}" if lot.seeds_from == "table" else "from plan.csv"
        count = f"Seeds: {lot.seeds_per_g * GRAMS[names.seeds_in]:,.0f} per {names.seeds_in}"
        return [*said, *self._seeds(found, wrapped), *facts(wrapped, count, source, indent="    ")]

    def _seeds(self, found: dict[str, Any], wrapped: Fold) -> list[str]:
        row, word = _NAMES[self.units].row, _NAMES[self.units].row_word
        area = f"{figures(found[f'seeds_per_{row}2'])} live seeds/{row}2"
        return facts(wrapped, area, f"{figures(found[f'seeds_per_row_{row}'])} per {word} of row", indent="    ")
