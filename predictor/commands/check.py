"""predictor check: field checks, added and judged; the field factor, and the uncertainty of what was planted."""

from __future__ import annotations

import datetime
import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from predictor.commands import options
from predictor.commands.output import draw, next_step, print_json, show, width, wrapped
from predictor.job.plain import stages_dict
from predictor.text import cautions

if TYPE_CHECKING:
    from pathlib import Path

    from predictor.commands.new_check import Source
    from predictor.field.budget import Budget
    from predictor.field.results import FieldResult
    from predictor.job.job import Job
    from predictor.units import Units

HELP = f"""Check the rate in the field: leave the setting, move it for the rest, or weigh again.

Examples:

    predictor check myjob --add

    predictor check myjob --box grain --area-ac 2.1 --loaded 20 --left 14.2

    predictor check myjob --box chaffy+small --area-ac 2 --loaded 60+9 --left 35

    predictor check myjob --box grain --counted 71 --row-ft 20

    predictor check myjob --undo

    predictor check myjob --plot budget.png

{options.HELP} Its field.csv holds the
field checks. A file of another name is read in place of it; "-" reads standard input.

Without further options the command shows all checks: what to do with each box, the field factors and what makes the
planted rate uncertain. With --add, or with any value of a check, it adds one, and begins the file where there is none.
You are asked for what you do not give by options. Enter takes the value in brackets.

Weigh the seed loaded, refills included, and the seed left, over a measured area or distance. Or drill a short way
over a hard surface, and count the seeds in some length of row. A weight is in lb for a drill in US units and in kg
for a metric one, unless you name the unit. Several weights are joined by +.

Boxes that were weighed together have + between their names, lots and settings. Their total is judged.

A check that looks like a slip is asked about before it is saved. If you keep it, it is marked as one, and nothing
rests on it until another check agrees. --undo takes the last check back. It stays in the file, and is judged no more.

The commands plan and recommend use the field factor too, unless they are given --no-field-factor.

{cautions.HELP}

{cautions.TOWED}
"""

Amount = options.number
AREA = "Area sown, in {}."
DISTANCE = "Distance drilled at the drill's width, in place of an area."
ROW = "Length of row in which seeds were counted, all counted rows together."


def command(
    place: options.JobPlace = options.HERE,
    add: Annotated[bool, options.named("--add", None, "Add a check; what is not given is asked.")] = False,
    box: Annotated[str | None, options.named("--box", "BOX", "Box, or boxes weighed together as a+b.")] = None,
    lot: Annotated[str | None, options.named("--lot", "LOT", "Lot or blend in the box.")] = None,
    setting: Annotated[
        str | None, options.named("--setting", "SETTING", "Where the box was set, if not as planted or locked.")
    ] = None,
    area_ac: Annotated[float | None, options.named("--area-ac", "ACRES", AREA.format("acres"), Amount)] = None,
    area_ha: Annotated[float | None, options.named("--area-ha", "HECTARES", AREA.format("hectares"), Amount)] = None,
    distance_ft: Annotated[float | None, options.named("--distance-ft", "FEET", DISTANCE, Amount)] = None,
    distance_m: Annotated[float | None, options.named("--distance-m", "METRES", DISTANCE, Amount)] = None,
    loaded: Annotated[str | None, options.named("--loaded", "WEIGHT", "Seed loaded, refills included.")] = None,
    left: Annotated[str | None, options.named("--left", "WEIGHT", "Seed left in the box.")] = None,
    used: Annotated[str | None, options.named("--used", "WEIGHT", "Seed used, in place of loaded and left.")] = None,
    counted: Annotated[str | None, options.named("--counted", "SEEDS", "Seeds counted in a row.")] = None,
    row_ft: Annotated[float | None, options.named("--row-ft", "FEET", ROW, Amount)] = None,
    row_m: Annotated[float | None, options.named("--row-m", "METRES", ROW, Amount)] = None,
    on: Annotated[datetime.date | None, options.named("--on", "DATE", "Day, if not today.", options.day)] = None,
    field: Annotated[str | None, options.named("--field", "NAME", "Field that was checked.")] = None,
    operator: Annotated[str | None, options.named("--operator", "NAME", "Who made the check.")] = None,
    note: Annotated[str | None, options.named("--note", "TEXT", "Anything worth remembering.")] = None,
    yes: Annotated[bool, options.named("--yes", None, "Keep the check, whatever looks odd.")] = False,
    undo: Annotated[bool, options.named("--undo", None, "Mark the last check unused.")] = False,
    drill: options.DrillFile = None,
    plan: options.PlanFile = None,
    trials: Annotated[str | None, options.named("--trials", "FILE", "Trials, if not JOB/trials.csv.")] = None,
    history: options.History = None,
    no_history: options.NoHistory = False,
    viable: options.ViableRule = None,
    units: options.UnitsOption = None,
    plot: options.PlotFile = None,
    details: options.Details = False,
    as_json: options.AsJson = False,
) -> None:
    """Add or take back a check, or show all."""
    from predictor.asking.check import Told
    from predictor.commands import new_check

    source = new_check.Source(place, drill, plan, trials, tuple(history or []), not no_history, viable)
    ground = {"--area-ac": (area_ac, "ac"), "--area-ha": (area_ha, "ha")}
    ground |= {"--distance-ft": (distance_ft, "ft"), "--distance-m": (distance_m, "m")}
    given = {"box": box, "lot": lot, "setting": setting, "field": field, "area": _once(ground)}
    given |= {"loaded": loaded, "left": left, "used": used, "counted": counted}
    given |= {"row": _once({"--row-ft": (row_ft, "ft"), "--row-m": (row_m, "m")})}
    _one_way(given)
    if undo:
        new_check.undo(source, box, as_json)
    elif add or any(each is not None for each in (*given.values(), on, operator, note)) or _nobody_checked(source):
        today = datetime.date.today()
        told = Told(on or today, today, operator or "", note or "")
        new_check.add(source, given, yes, told, units, as_json)
    else:
        _show(source, units, plot, as_json, details)


def _once(given: dict[str, tuple[float | None, str]]) -> str | None:
    """The one amount of several options that was given, with its unit."""
    from predictor.format import plain

    there = {name: (value, unit) for name, (value, unit) in given.items() if value is not None}
    if len(there) > 1:
        raise typer.BadParameter(f"Give one of {' and '.join(there)}.", param_hint=next(iter(there)))
    return next((f"{plain(value)} {unit}" for value, unit in there.values()), None)


def _one_way(given: dict[str, str | None]) -> None:
    """Refuse values of two ways to check."""
    there = {name for name, text in given.items() if text is not None}
    if "used" in there and there & {"loaded", "left"}:
        raise typer.BadParameter("Give the seed used, or the seed loaded and the seed left.", param_hint="--used")
    if there & {"counted", "row"} and there & {"area", "loaded", "left", "used"}:
        raise typer.BadParameter("Give a weight over an area, or a count in a row.", param_hint="--counted")


def _nobody_checked(source: Source) -> bool:
    """Whether there is no check to show, and somebody at a terminal who can be asked for one."""
    return sys.stdin is not None and sys.stdin.isatty() and source.place.file != "-" and not source.path.exists()


def _show(source: Source, units: Units | None, plot: Path | None, as_json: bool, details: bool) -> None:
    """All checks: what to do with each box, factors and budgets."""
    from predictor.errors import InputError, Problem

    job = source.job()
    options.told(job, factors=False)
    found = job.field
    if found is None:
        message = f"There is no field check yet. Add one with: predictor check {source.place} --add"
        raise InputError([Problem(message, str(source.path))])
    budgets, shown = job.budgets(), units or job.drill.units
    if as_json:
        print_json(_dict(job, found, budgets, shown))
    else:
        show(_lines(job, found, budgets, shown, details=details))
    if plot is not None:
        from predictor.plots.budget import plot_budgets
        from predictor.text.pictures import budget as in_words

        if not budgets:
            raise InputError("There is no budget to draw: no box has both a plan and catches.")
        read = [source.path, source.drill, source.plan, source.trials]
        draw(plot_budgets(budgets), " ".join(map(in_words, budgets)), plot, read)
    if not as_json and source.place.file != "-":
        next_step(job, options.Place(source.place.folder), "check")


def _dict(job: Job, found: FieldResult, budgets: list[Budget], units: Units) -> dict[str, Any]:
    from predictor.domain.seed import BoxPlan
    from predictor.units import RATE_UNIT

    def catch_g(box: BoxPlan) -> float:
        usual = job.drill.catch_of(box.box)
        return box.target_catch_g(usual.turns, usual.rows)

    targets = job.plan.boxes if job.plan else ()
    return {
        "schema": 1,
        "units": units,
        "rate_unit": RATE_UNIT[units],
        "checks": [each.to_dict(units) for each in found.checks],
        "boxes": [
            {
                **vars(each),
                "target_catch_g": [
                    {"lot": box.lot, "catch_g": catch_g(box)} for box in targets if box.box.name == each.box
                ],
            }
            for each in found.boxes
        ],
        "verdicts": [each.to_dict() for each in job.verdicts()],
        "remarks": [str(each) for each in found.remarks],
        "budgets": [each.to_dict() for each in budgets],
        **stages_dict(job, "check"),
    }


def _lines(job: Job, found: FieldResult, budgets: list[Budget], units: Units, *, details: bool) -> list[str]:
    """Verdicts, then checks, factors and what the planted rate is known to, in plain words."""
    from predictor.text import budget, field
    from predictor.text.particulars import checked_lines

    said = checked_lines(job.verdicts(), job.season_stages(), found, wrapped, width())
    said += [*([""] if said else []), *field.lines(found, units, wrapped, job, details=details)]
    if details:
        said += [line for each in budgets for line in budget.lines(each, wrapped)]
    else:
        said += budget.short_lines(budgets, wrapped)
    return [*said, wrapped("Local rules and the programme say what must be checked, and how.", "")]
