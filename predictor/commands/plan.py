"""predictor plan: from seed tags and a planting mix to what each box must drop."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from predictor import cautions
from predictor.commands.options import (
    AsJson,
    DrillFile,
    Job,
    PlanFile,
    UnitsOption,
    Viable,
    choice,
    drill_path,
    number,
    print_json,
    say,
    wrapped,
)

if TYPE_CHECKING:
    from predictor.drill import Drill
    from predictor.seed import BoxPlan, LotPlan, Plan

# A scale that shows steps of more than this share of a catch adds an error of its own.
FINE_ENOUGH = 0.01

HELP = f"""Work out what each box must drop, and weigh, from tags and mix.

Example:

    predictor plan --job myjob --area-ac 12

{cautions.HELP}
"""


def command(
    job: Job = ".",
    drill: DrillFile = None,
    plan: PlanFile = None,
    viable: Viable = None,
    units: UnitsOption = None,
    area_ac: Annotated[str | None, typer.Option(metavar="ACRES", help="Area to plant, for the seed to load.")] = None,
    area_ha: Annotated[str | None, typer.Option(metavar="HECTARES", help="Area to plant, in hectares.")] = None,
    turns: Annotated[str | None, typer.Option(metavar="TURNS", help="Turns of a catch, if not the drill file's.")] = None,
    rows: Annotated[str | None, typer.Option(metavar="ROWS", help="Rows caught, if not the drill file's.")] = None,
    as_json: AsJson = False,
) -> None:
    """Read the job, work out the plan, print it."""
    from predictor.drill_file import read_drill
    from predictor.seed import read_plan
    from predictor.units import SQUARE_METRES

    choice("viable", viable, ("germination", "total"))
    choice("units", units, ("us", "metric"))
    acres, hectares = number("area-ac", area_ac), number("area-ha", area_ha)
    if acres is not None and hectares is not None:
        raise typer.BadParameter("Give the area once, in acres or in hectares.", param_hint="--area-ac")
    machine = read_drill(drill_path(job, drill))
    caught = (number("turns", turns) or machine.catch.turns, int(number("rows", rows) or machine.catch.rows))
    if caught[1] > machine.rows:
        raise typer.BadParameter(f"The drill has {machine.rows} rows.", param_hint="--rows")
    result = read_plan(plan or Path(job) / "plan.csv", machine, viable=viable)
    area = acres * SQUARE_METRES["ac"] if acres else hectares * SQUARE_METRES["ha"] if hectares else None
    shown = units or machine.units
    warnings = [*result.warnings, *(w for box in result.boxes if (w := scale_warning(box, machine, *caught)))]
    if as_json:
        print_json(as_dict(result, machine, shown, caught, area, warnings))
        return
    for sentence in result.assumed:
        say(sentence)
    for line in lines(result, machine, shown, caught, area):
        print(line)
    for warning in warnings:
        print(wrapped(f"Watch: {warning}", "! ").replace("! ! ", "  "))
    print("Next: make a catch at mid-scale, write it into trials.csv, and run")
    print(f"  predictor recommend {Path(job) / 'trials.csv'}")


def scale_warning(box: BoxPlan, drill: Drill, turns: float, rows: int) -> str | None:
    """A sentence where the scale is too coarse for the target catch, with what mends it."""
    target, step = box.target_catch_g(turns, rows), drill.catch.scale_resolution_g
    if step <= FINE_ENOUGH * target:
        return None
    import math

    needed = step / FINE_ENOUGH / target
    more_turns, more_rows = math.ceil(turns * needed), math.ceil(rows * needed)
    mend = f"use {more_turns} turns"
    if more_rows <= drill.rows:
        mend += f" or catch {more_rows} rows"
    share = 100 * step / target
    return f"Box {box.box.name}: the scale's {step:g} g is {share:.1f} % of the {target:.1f} g to catch; {mend}."


def _rate(rate: float, units: str) -> str:
    from predictor.units import RATE_UNIT, rate_in

    return f"{rate_in(rate, units):.2f} {RATE_UNIT[units]}"


def _seeds(lot: LotPlan, drill: Drill, units: str) -> str:
    """Seeds per area and per length of row."""
    from predictor.units import METRES_PER_FOOT, SQUARE_METRES_PER_SQUARE_FOOT

    if lot.seeds_per_m2 != lot.seeds_per_m2:
        return "seeds per area unknown: add seeds_per_lb"
    area, row = lot.seeds_per_m2, lot.seeds_per_row_m(drill.row_spacing_m)
    if units == "us":
        return f"{area * SQUARE_METRES_PER_SQUARE_FOOT:.1f} seeds/ft2, {row * METRES_PER_FOOT:.1f} per foot of row"
    return f"{area:.0f} seeds/m2, {row:.1f} per metre of row"


def _weight(grams: float, units: str) -> str:
    from predictor.units import GRAMS_PER_POUND

    return f"{grams / GRAMS_PER_POUND:.1f} lb" if units == "us" else f"{grams / 1000:.1f} kg"


def lines(plan: Plan, drill: Drill, units: str, caught: tuple[float, int], area: float | None) -> list[str]:
    """The plan in plain words, one fact a line."""
    result = []
    for box in plan.boxes:
        result.append(f"BOX {box.box.name} ({box.box.holds}), lot {box.lot}")
        result.append(f"  catch {box.target_catch_g(*caught):.1f} g in {caught[0]:g} turns, {caught[1]} rows")
        with_carrier = f" (carrier {_rate(box.carrier, units)} of it)" if box.carrier else ""
        result.append(wrapped(f"bulk rate {_rate(box.bulk_rate, units)}{with_carrier}"))
        if area is not None:
            result.append(f"  load {_weight(box.load_g(area), units)} for the area")
        for lot in box.lots:
            result.append(wrapped(f"{lot.species}, lot {lot.lot}:"))
            total = plan.viable == "total"
            rules = [
                f"{'*' if not total else ''}{100 * lot.pls_germination:.1f} % by germination",
                f"{'*' if total else ''}{100 * lot.pls_total:.1f} % with dormant",
            ]
            result.append(wrapped(f"PLS {', '.join(rules)} (* used)", "    "))
            result.append(wrapped(f"{_rate(lot.pls_rate, units)} PLS is {_rate(lot.bulk_rate, units)} bulk", "    "))
            result.append(wrapped(_seeds(lot, drill, units), "    "))
            if lot.seeds_from not in ("the plan", "unknown"):
                result.append(wrapped(f"seeds a pound from {lot.seeds_from}", "    "))
    return result


def as_dict(
    plan: Plan, drill: Drill, units: str, caught: tuple[float, int], area: float | None, warnings: list[str]
) -> dict[str, Any]:
    """The plan as plain values for JSON."""
    from predictor.units import METRES_PER_FOOT, RATE_UNIT, SQUARE_METRES_PER_SQUARE_FOOT, rate_in

    def finite(value: float) -> float | None:
        return value if value == value else None

    def seeds(lot: LotPlan) -> dict[str, Any]:
        area, row = lot.seeds_per_m2, lot.seeds_per_row_m(drill.row_spacing_m)
        if units == "us":
            area, row = area * SQUARE_METRES_PER_SQUARE_FOOT, row * METRES_PER_FOOT
        names = ("seeds_per_ft2", "seeds_per_row_ft") if units == "us" else ("seeds_per_m2", "seeds_per_row_m")
        return {names[0]: finite(area), names[1]: finite(row)}

    return {
        "schema": 1,
        "rate_unit": RATE_UNIT[units],
        "viable": plan.viable,
        "boxes": [
            {
                "box": box.box.name,
                "lot": box.lot,
                "bulk_rate": rate_in(box.bulk_rate, units),
                "carrier_rate": rate_in(box.carrier, units),
                "target_catch_g": box.target_catch_g(*caught),
                "turns": caught[0],
                "rows": caught[1],
                "load_g": None if area is None else box.load_g(area),
            }
            for box in plan.boxes
        ],
        "lots": [
            {
                "box": lot.box,
                "lot": lot.lot,
                "species": lot.species,
                "pls_germination": lot.pls_germination,
                "pls_total": lot.pls_total,
                "pls": lot.pls,
                "pls_rate": rate_in(lot.pls_rate, units),
                "bulk_rate": rate_in(lot.bulk_rate, units),
                **seeds(lot),
                "seeds_from": lot.seeds_from,
            }
            for lot in plan.lots
        ],
        "warnings": warnings,
    }
