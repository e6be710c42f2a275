"""predictor plan: from seed tags and a planting mix to what each box must drop."""

from __future__ import annotations

import math
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from predictor.commands.options import (
    AsJson,
    DrillFile,
    Job,
    NoFieldFactor,
    PlanFile,
    UnitsOption,
    Viable,
    area_m2,
    choice,
    day,
    drill_path,
    job_of,
    number,
    plan_path,
)
from predictor.commands.output import facts, print_json, wrapped
from predictor.format import figures
from predictor.text import cautions

if TYPE_CHECKING:
    from predictor.domain.drill import Drill
    from predictor.domain.seed import BoxPlan, LotPlan, Plan

# A scale that shows steps of more than this share of a catch adds an error of its own; common practice.
FINE_ENOUGH = 0.01
# Turning a wheel by hand more than this many times as often is worse than a finer scale; common practice.
MOST_TIMES = 4

HELP = f"""Work out what each box must drop, and weigh, from tags and mix.

Examples:

    predictor plan --job myjob --area-ac 12

    predictor plan --job myjob --turns 40 --rows 6 --viable total

{cautions.HELP}
"""


def command(
    job: Job = ".",
    drill: DrillFile = None,
    plan: PlanFile = None,
    viable: Viable = None,
    units: UnitsOption = None,
    area_ac: Annotated[str | None, typer.Option(metavar="ACRES", help="Area to plant, for the seed to load.")] = None,
    area_ha: Annotated[str | None, typer.Option(metavar="HECTARES", help="The same in hectares.")] = None,
    turns: Annotated[
        str | None, typer.Option(metavar="TURNS", help="Turns of a catch, if not the drill file's.")
    ] = None,
    rows: Annotated[str | None, typer.Option(metavar="ROWS", help="Rows caught, if not the drill file's.")] = None,
    on: Annotated[
        str | None, typer.Option(metavar="DATE", help="Day of planting, as 2026-04-18: seed tests are that old then.")
    ] = None,
    no_field_factor: NoFieldFactor = False,
    as_json: AsJson = False,
) -> None:
    """Read the job, work out the plan, print it."""
    choice("viable", viable, ("germination", "total"))
    choice("units", units, ("us", "metric"))
    area = area_m2(area_ac, area_ha)
    turned = number("turns", turns, below=1e5)
    caught = number("rows", rows, whole=True)
    planting = day("on", on)
    machine_file, plan_file = drill_path(job, drill), plan_path(job, plan)
    found = job_of(
        job,
        drill=str(machine_file),
        plan=str(plan_file),
        # catches tell nothing of a plan but what field checks are compared with
        with_trials=not no_field_factor and (Path(job) / "field.csv").exists(),
        viable=viable,
        use_field_factor=not no_field_factor,
        today=planting,
    )
    machine, result = found.drill, found.plan
    if caught is not None and caught > machine.rows:
        raise typer.BadParameter(f"{caught:g} is more than the drill's {machine.rows} rows.", param_hint="--rows")
    view = View(
        result,
        machine,
        units or machine.units,
        turned or machine.catch.turns,
        int(caught or machine.catch.rows),
        area,
    )
    if as_json:
        print_json(view.to_dict())
        return
    print("\n".join(view.lines()))
    trials = shlex.quote(str(Path(job) / "trials.csv"))
    print(f"\n{wrapped(cautions.SHORT, '')}")
    if len(found.trials) or (Path(job) / "trials.csv").exists():
        print(wrapped("Next: what do the catches say?", ""))
        print(f"  predictor recommend {trials}")
    else:
        print(wrapped("Next: catch each box with its control near the middle, and record each catch:", ""))
        print(f"  predictor record {trials}")


def scale_warning(box: BoxPlan, drill: Drill, turns: float, rows: int) -> str | None:
    """A sentence where the scale is too coarse for the target catch, with what mends it."""
    target, step = box.target_catch_g(turns, rows), drill.catch.scale_resolution_g
    times = step / FINE_ENOUGH / target
    if times <= 1 + 1e-9:
        return None
    mends = []
    if times <= MOST_TIMES:
        mends.append(f"{math.ceil(turns * times - 1e-9)} turns")
    if rows * times <= drill.rows:
        mends.append(f"{math.ceil(rows * times - 1e-9)} rows")
    elif rows < drill.rows and times * rows / drill.rows <= MOST_TIMES:
        more = math.ceil(turns * times * rows / drill.rows - 1e-9)
        mends.append(f"all {drill.rows} rows and {more} turns")
    finer = f"a scale that shows {step / 10:g} g"
    advice = f"Catch {' or '.join(mends)}, or use {finer}." if mends else f"Use {finer}."
    share = f"{100 * step / target:.1f} % of the catch"
    return f"Box {box.box.name}: the scale's step of {step:g} g is {share}. {advice}"


class View:
    """A plan as it is shown: one result for text and JSON, so that the two cannot disagree."""

    def __init__(self, plan: Plan, drill: Drill, units: str, turns: float, rows: int, area_m2: float | None):
        self.plan, self.drill, self.units, self.turns, self.rows = plan, drill, units, turns, rows
        self.area_m2 = area_m2
        found = (scale_warning(box, drill, turns, rows) for box in plan.boxes)
        self.warnings = [*map(str, plan.remarks), *(each for each in found if each)]

    def rate(self, rate_g_m2: float) -> float:
        """A rate in the user's units."""
        from predictor.units import rate_in

        return rate_in(rate_g_m2, self.units)

    def load(self, rate_g_m2: float) -> float | None:
        """Weight to load for the area, pounds or kilograms."""
        from predictor.units import GRAMS_PER_KILOGRAM, GRAMS_PER_POUND

        if self.area_m2 is None:
            return None
        return rate_g_m2 * self.area_m2 / (GRAMS_PER_POUND if self.units == "us" else GRAMS_PER_KILOGRAM)

    def seeds(self, seeds_per_m2: float) -> tuple[float, float]:
        """Seeds per square foot and foot of row, or per square metre and metre of row."""
        from predictor.units import METRES_PER_FOOT, SQUARE_METRES_PER_SQUARE_FOOT

        row = seeds_per_m2 * self.drill.row_spacing_m
        if self.units == "us":
            return seeds_per_m2 * SQUARE_METRES_PER_SQUARE_FOOT, row * METRES_PER_FOOT
        return seeds_per_m2, row

    def lines(self) -> list[str]:
        """The plan in plain words, the weight to catch first."""
        result: list[str] = []
        for box in self.plan.boxes:
            result.extend(["", *self._box_lines(box)] if result else self._box_lines(box))
        if self.area_m2 is not None:
            result += ["", wrapped("Loads are what the area takes; add what must stay in each box.", "", "")]
        if self.warnings:
            result.append("")
            result.extend(wrapped(warning, "! ", "  ") for warning in self.warnings)
        return result

    def _box_lines(self, box: BoxPlan) -> list[str]:
        from predictor.units import RATE_UNIT

        rate_unit, weight_unit = RATE_UNIT[self.units], "lb" if self.units == "us" else "kg"
        holds = "" if box.box.holds in box.box.name.lower() else f" ({box.box.holds})"
        result = [wrapped(f"BOX {box.box.name}{holds}: {box.lot}", "")]
        catch = box.target_catch_g(self.turns, self.rows)
        result += facts(f"CATCH {figures(catch)} g in {self.turns:g} turns", f"{self.rows} rows")
        if box.field_factor != 1:
            result += facts(f"Corrected for a field factor of {box.field_factor:.2f}")
        parts = [f"Drop {figures(self.rate(box.bulk_rate))} {rate_unit} bulk"]
        if box.carrier:
            parts.append(f"{figures(self.rate(box.carrier))} of it carrier")
        result += facts(*parts)
        load = self.load(box.bulk_rate)
        if load is not None:
            parts = [f"Load {figures(load)} {weight_unit}"]
            if box.carrier:
                parts.append(f"{figures(self.load(box.carrier))} of it carrier")
            result += facts(*parts)
        for lot in box.lots:
            result += self._lot_lines(lot, rate_unit, weight_unit, len(box.lots) > 1)
        if len(box.lots) > 1 and box.seeds_per_m2 == box.seeds_per_m2:
            result += ["  Together", *self._seed_facts(box.seeds_per_m2)]
        return result

    def _lot_lines(self, lot: LotPlan, rate_unit: str, weight_unit: str, mixed: bool) -> list[str]:
        rules = [
            ("by germination", lot.pls_germination, "germination"),
            ("with dormant", lot.pls_total, "total"),
        ]
        used = self.plan.viable
        if lot.dormant == 0:  # by either rule the same
            rules = [("(no dormant seed on the tag)", lot.pls, "")]
        result = [wrapped(f"Lot {lot.lot}, {lot.species}")]
        result += facts(
            *(f"PLS {100 * pls:.1f} % {words}{' (used)' if rule == used else ''}" for words, pls, rule in rules),
            indent="    ",
        )
        pls_rate, bulk_rate = (f"{figures(self.rate(each))} {rate_unit}" for each in (lot.pls_rate, lot.bulk_rate))
        result += facts(f"{pls_rate} PLS is {bulk_rate} bulk", indent="    ")
        load = self.load(lot.bulk_rate)
        if mixed and load is not None:
            result.append(f"    Load {figures(load)} {weight_unit} of it")
        if not lot.seeds_from:
            return [*result, wrapped("Seeds per area not known, see below", "    ")]
        result += self._seed_facts(lot.seeds_per_m2)
        from predictor.units import GRAMS_PER_POUND

        us = self.units == "us"
        count = f"{lot.seeds_per_g * GRAMS_PER_POUND:,.0f} a pound" if us else f"{lot.seeds_per_g:,.0f} a gram"
        source = f"USDA table for {lot.table_species}" if lot.seeds_from == "table" else "from plan.csv"
        return [*result, *facts(f"Seeds: {count}", source, indent="    ")]

    def _seed_facts(self, seeds_per_m2: float) -> list[str]:
        area, row = self.seeds(seeds_per_m2)
        names = ("ft2", "foot") if self.units == "us" else ("m2", "metre")
        return facts(f"{figures(area)} live seeds/{names[0]}", f"{figures(row)} per {names[1]} of row", indent="    ")

    def to_dict(self) -> dict[str, Any]:
        """The plan as plain values for JSON; no NaN, no infinity."""
        from predictor.units import RATE_UNIT

        return {
            "schema": 1,
            "units": self.units,
            "rate_unit": RATE_UNIT[self.units],
            "weight_unit": "lb" if self.units == "us" else "kg",
            "viable": self.plan.viable,
            "boxes": [self._box_dict(box) for box in self.plan.boxes],
            "lots": [self._lot_dict(lot) for lot in self.plan.lots],
            "warnings": self.warnings,
        }

    def _box_dict(self, box: BoxPlan) -> dict[str, Any]:
        return {
            "box": box.box.name,
            "lot": box.lot,
            "bulk_rate": self.rate(box.bulk_rate),
            "carrier_rate": self.rate(box.carrier),
            "target_catch_g": box.target_catch_g(self.turns, self.rows),
            "target_output": box.target_output,
            "field_factor": box.field_factor,
            "turns": self.turns,
            "rows": self.rows,
            "load": self.load(box.bulk_rate),
            **self._seed_dict(box.seeds_per_m2),
        }

    def _lot_dict(self, lot: LotPlan) -> dict[str, Any]:
        return {
            "box": lot.box,
            "lot": lot.lot,
            "blend": lot.blend,
            "species": lot.species,
            "pls_germination": lot.pls_germination,
            "pls_total": lot.pls_total,
            "pls": lot.pls,
            "pls_rate": self.rate(lot.pls_rate),
            "bulk_rate": self.rate(lot.bulk_rate),
            "carrier_rate": self.rate(lot.carrier),
            "load": self.load(lot.bulk_rate),
            **self._seed_dict(lot.seeds_per_m2),
            "seeds_from": lot.seeds_from,
            "table_species": lot.table_species,
            "test_date": lot.test_date,
        }

    def _seed_dict(self, seeds_per_m2: float) -> dict[str, float | None]:
        names = ("seeds_per_ft2", "seeds_per_row_ft") if self.units == "us" else ("seeds_per_m2", "seeds_per_row_m")
        known = seeds_per_m2 == seeds_per_m2
        return {name: value if known else None for name, value in zip(names, self.seeds(seeds_per_m2), strict=True)}
