"""predictor load: what goes into each box for the fields of a job, fill by fill."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from predictor.commands import options
from predictor.commands.output import next_step, print_json, say, wrapped, write_page
from predictor.errors import InputError, Problem
from predictor.text import cautions
from predictor.units import AREA_UNIT

if TYPE_CHECKING:
    from predictor.domain.fields import Field
    from predictor.job.job import Job
    from predictor.units import Units

_CARE = "\n\n".join(cautions.LOADING)
HELP = f"""Work out what to load into each box, fill by fill, and where to refill.

Examples:

    predictor load myjob --area-ac 20

    predictor load myjob --field north=12 --field "south 40=8" --out load.html

    predictor load myjob --area-ac 20 --have KS-26=35

{options.HELP}

Write the fields once as [[field]] tables in drill.toml, or give them here. Write the weight of a full box
there too, as full_lb or full_kg, and the weight of a full bag in plan.csv, as bag_weight_lb or bag_weight_kg.
What planted.csv says is planted already is not loaded again.

While you load:

{_CARE}
"""


def command(
    place: options.JobPlace = options.HERE,
    field: Annotated[
        list[str] | None,
        options.named("--field", "NAME=AREA", "A field with its area, such as north=12; may be given again."),
    ] = None,
    area_ac: options.Acres = None,
    area_ha: options.Hectares = None,
    box: options.BoxOnly = None,
    lot: Annotated[str | None, options.named("--lot", "LOT", "This lot or blend only.")] = None,
    have: Annotated[
        list[str] | None,
        options.named("--have", "LOT=WEIGHT", "Seed that is there of a lot or bag; may be given again."),
    ] = None,
    reserve: Annotated[
        float,
        options.named("--reserve", "FRACTION", "Part of the full box that stays in it at the end.", options.fraction),
    ] = 0.10,
    tolerance: options.Tolerance = 0.10,
    drill: options.DrillFile = None,
    plan: options.PlanFile = None,
    viable: options.ViableRule = None,
    units: options.UnitsOption = None,
    out: options.HtmlFile = None,
    pdf: options.PdfFile = None,
    paper: Annotated[
        Literal["a5", "half-letter", "a4", "letter"] | None,
        options.named(
            "--paper",
            "PAPER",
            "a5, half-letter, a4 or letter.",
            options.one_of,
            names=("a5", "half-letter", "a4", "letter"),
        ),
    ] = None,
    on: options.PlantingDay = None,
    as_json: options.AsJson = False,
) -> None:
    """Read the job, print the sheet, write its page."""
    from predictor.files.amounts import read_area, read_bulk
    from predictor.job.loading import loading_sheet
    from predictor.job.read import read_job
    from predictor.text import loading, loading_values

    area = options.area_m2(area_ac, area_ha)
    folder = place.folder
    machine = options.job_file(folder, drill, "drill.toml")
    mix = options.job_file(folder, plan or place.file, "plan.csv")
    found = options.told(read_job(folder, drill=machine, plan=mix, viable=viable, today=on), factors=False)
    shown = units or found.drill.units
    usual = found.drill.units  # of areas and weights without a unit
    areas = _amounts("--field", field or [], read_area, usual)
    weights = _amounts("--have", have or [], read_bulk, usual)
    sheet = loading_sheet(
        found,
        _fields(found, areas, area, machine),
        shown,
        box=box,
        lot=lot,
        in_hand=weights,
        reserve=reserve,
        tolerance=tolerance,
    )
    if as_json:
        print_json(loading_values.to_dict(sheet))
    else:
        print("\n".join(loading.lines(sheet, wrapped)))
    stages = found.stages(box, lot, tolerance=tolerance)
    if out or pdf:
        from predictor.pages.loading import loading_page

        page = loading_page(found.drill, sheet, paper or ("letter" if shown == "us" else "a4"), stages)
        write_page(page, out, pdf, folder / "load.html", [machine, mix])
    for each in loading.first(stages):
        say(each)
    next_step(found, options.Place(folder), "load")


def _pairs(option: str, texts: list[str]) -> list[tuple[str, str]]:
    """Names and values of an option that may be given again."""
    pairs = []
    for text in texts:
        name, sign, value = text.rpartition("=")
        if not (sign and name.strip() and value.strip()):
            raise typer.BadParameter(f"{text!r} is not a name, an = sign and a value.", param_hint=option)
        pairs.append((" ".join(name.split()), value.strip()))
        if len({name.lower() for name, _ in pairs}) < len(pairs):
            raise typer.BadParameter(f"{name.strip()} is given twice.", param_hint=option)
    return pairs


def _amounts(option: str, texts: list[str], read: Callable[[str, Units], float], units: Units) -> dict[str, float]:
    """The values of such an option by their names."""
    try:
        return {name: read(value, units) for name, value in _pairs(option, texts)}
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint=option) from None


def _fields(job: Job, named: dict[str, float], area: float | None, file: Path) -> list[Field]:
    """The fields to load for: those that are named, else the area alone, else those of the drill file."""
    from predictor.domain.fields import Field

    if named and area is not None:
        raise typer.BadParameter("Give the fields, or the whole area, not both.", param_hint="--field")
    if named:
        own = {each.name.lower(): each.name for each in job.drill.fields}
        return [Field(own.get(name.lower(), name), each) for name, each in named.items()]
    if area is not None:
        return [Field("", area)]
    if not job.drill.fields:
        unit = AREA_UNIT[job.drill.units]
        advice = f"Pass it with --area-{unit}, or write a table [[field]] with name and area_{unit} for each field."
        raise InputError([Problem(f"The area to be planted is not known. {advice}", str(file))])
    return list(job.drill.fields)
