"""predictor check: field checks, the field factor, and the uncertainty of what was planted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from predictor.commands import options
from predictor.commands.output import draw, lead_on, print_json, wrapped
from predictor.text import cautions

if TYPE_CHECKING:
    from predictor.field.budget import Budget
    from predictor.field.results import FieldResult
    from predictor.job.job import Job
    from predictor.units import Units

HELP = f"""Compare what was planted with what was planned, and correct the target catch.

Examples:

    predictor check myjob

    predictor check myjob --plot budget.png

{options.HELP} Its field.csv holds the
field checks. A file of another name is read in place of it; "-" reads standard input.

The commands plan and recommend then use the field factor too, unless they are given --no-field-factor.

{cautions.HELP}
"""


def command(
    place: options.JobPlace = options.HERE,
    drill: options.DrillFile = None,
    plan: options.PlanFile = None,
    trials: Annotated[str | None, options.named("--trials", "FILE", "Trials, if not JOB/trials.csv.")] = None,
    history: options.History = None,
    no_history: options.NoHistory = False,
    viable: options.ViableRule = None,
    units: options.UnitsOption = None,
    plot: options.PlotFile = None,
    as_json: options.AsJson = False,
) -> None:
    """Read, compare, print."""
    from predictor.job.read import read_job

    folder, checks = place.folder, place.path("field.csv")
    machine = options.job_file(folder, drill, "drill.toml")
    job = read_job(
        folder,
        drill=machine,
        plan=plan,
        trials=trials,
        checks=checks,
        earlier=history or [],
        viable=viable,
        use_history=not no_history,
    )
    options.told(job, factors=False)
    budgets, found = job.budgets(), job.field
    assert found is not None  # since the file of checks was read
    shown = units or job.drill.units
    if as_json:
        print_json(_dict(job, found, budgets, shown))
    else:
        print("\n".join(_lines(job, found, budgets, shown)))
    if plot is not None:
        from predictor.errors import InputError
        from predictor.plots.budget import plot_budgets

        if not budgets:
            raise InputError("There is no budget to draw: no box has both a plan and catches.")
        draw(plot_budgets(budgets), plot, [checks, drill, plan, trials])
    if not as_json and checks != "-":
        lead_on("Next: the record for the file.", "report", folder)


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
        "remarks": [str(each) for each in found.remarks],
        "budgets": [each.to_dict() for each in budgets],
    }


def _lines(job: Job, found: FieldResult, budgets: list[Budget], units: Units) -> list[str]:
    """Checks, factors and budgets in plain words."""
    from predictor.text import budget, field

    said = field.lines(found, units, wrapped, job)
    for each in budgets:
        said += budget.lines(each, wrapped)
    return [*said, wrapped("Local rules and the programme say what must be checked, and how.", "")]
