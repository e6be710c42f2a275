"""predictor check: field checks, the field factor, and the uncertainty of what was planted."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from predictor.commands.options import AsJson, DrillFile, PlanFile, PlotFile, UnitsOption, ViableRule, job_of
from predictor.commands.output import draw, lead_on, print_json, wrapped
from predictor.text import cautions

if TYPE_CHECKING:
    from predictor.field.budget import Budget
    from predictor.field.factors import CheckResult
    from predictor.job.job import Job

HELP = f"""Compare what was planted with what was planned, and correct the target catch.

Examples:

    predictor check myjob/field.csv

    predictor check myjob/field.csv --plot budget.png

FIELD.csv holds the field checks; "-" reads standard input. drill.toml, plan.csv and trials.csv are looked for
beside it. plan and recommend then use the
field factor by themselves; --no-field-factor leaves it out there.

{cautions.HELP}
"""


def command(
    checks: Annotated[str, typer.Argument(metavar="FIELD.csv", help='Field checks; "-" reads standard input.')],
    drill: DrillFile = None,
    plan: PlanFile = None,
    trials: Annotated[str | None, typer.Option(metavar="FILE", help="Trials, if not DIR/trials.csv.")] = None,
    viable: ViableRule = None,
    units: UnitsOption = None,
    plot: PlotFile = None,
    as_json: AsJson = False,
) -> None:
    """Read, compare, print."""
    folder = Path(checks).parent
    job = job_of(folder, drill=drill, plan=plan, trials=trials, checks=checks, viable=viable, tell_factors=False)
    budgets = job.budgets()
    shown = units or job.drill.units
    if as_json:
        print_json(_dict(job, budgets, shown))
    else:
        print("\n".join(lines(job, budgets, shown)))
    if plot is not None:
        from predictor.errors import InputError
        from predictor.plots.budget import plot_budgets

        if not budgets:
            raise InputError("There is no budget to draw: no box has both a plan and catches.")
        draw(plot_budgets(budgets), plot, [checks, drill, plan, trials])
    if not as_json and checks != "-":
        lead_on("Next: the record for the file.", "report", "--job", folder)


def _dict(job: Job, budgets: list[Budget], units: str) -> dict[str, Any]:
    from dataclasses import asdict

    from predictor.units import RATE_UNIT

    plan = job.plan
    return {
        "schema": 1,
        "units": units,
        "rate_unit": RATE_UNIT[units],
        "checks": [_check_dict(each, units) for each in job.field.checks],
        "boxes": [
            {
                **asdict(each),
                "target_catch_g": [
                    {"lot": box.lot, "catch_g": box.target_catch_g(job.drill.catch.turns, job.drill.catch.rows)}
                    for box in (plan.boxes if plan else ())
                    if box.box.name == each.box
                ],
            }
            for each in job.field.boxes
        ],
        "remarks": list(job.field.remarks),
        "budgets": [each.to_dict() for each in budgets],
    }


def _check_dict(check: CheckResult, units: str) -> dict[str, Any]:
    from predictor.text.field import amount, amount_unit

    values = check.to_dict()
    for name in ("achieved", "target"):
        if values[name] is not None:
            values[name] = amount(check, values[name], units)
    return {**values, "unit": amount_unit(check, units)}


def lines(job: Job, budgets: list[Budget], units: str) -> list[str]:
    """Checks, factors and budgets in plain words."""
    from predictor.text.field import budget_words, check_words, factor_words, target_words

    found = job.field
    said = ["CHECKS"]
    for each in found.checks:
        said += [wrapped(part, *indent) for part, indent in zip(check_words(each, units), _INDENTS, strict=False)]
    said.append("FIELD FACTOR (field over stationary)")
    if not found.boxes:
        said.append(wrapped("None can be told: no check could be set beside catches of its lot. See above."))
    for box in found.boxes:
        said.append(wrapped(factor_words(box)))
        said += [wrapped(text, "    ", "    ") for text in target_words(job, box.box)]
    told = {each.box for each in found.boxes}
    for box in dict.fromkeys(each.box.name for each in (job.plan.boxes if job.plan else ())):
        if found.boxes and box not in told:
            said.append(wrapped(f"{box}: not checked, its target catch stays as it is."))
    said += [wrapped(text, "! ", "  ") for text in found.remarks]
    for budget in budgets:
        said.append(f"BUDGET {budget.box}, lot {budget.lot}")
        said += [wrapped(text) for text in budget_words(budget)]
        said.append(wrapped("Standard uncertainty of each source, and its share of the variance:"))
        said += [
            wrapped(
                f"{100 * each.u:4.1f} %  {each.name}: {each.basis} ({100 * each.share:.0f} %)",
                "  ",
                "          ",
            )
            for each in budget.sources
        ]
    said.append(wrapped("Local rules and the programme say what must be checked, and how.", ""))
    return said


_INDENTS = (("  ", "    "), ("    ", "    "), ("    ", "    "))
