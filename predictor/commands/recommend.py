"""predictor recommend: the main job, from catches to a setting."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from predictor.commands.options import (
    SAME_SEASON_DAYS,
    AsJson,
    DrillFile,
    NoFieldFactor,
    PlanFile,
    UnitsOption,
    Viable,
    choice,
    fraction,
    job_of,
    log_file,
    number,
)
from predictor.commands.output import draw, lead_on, plot_file, print_json, say, wrapped
from predictor.text import cautions

HELP = f"""Say which setting to use, how sure that is, and when to stop testing.

Examples:

    predictor recommend myjob/trials.csv

    predictor recommend myjob/trials.csv --box small --target-g 61.5

TRIALS.csv holds the catches; "-" reads standard input. drill.toml, plan.csv and field.csv are looked for
beside it.

{cautions.HELP}
"""

# Where no box is left to be caught, and one cannot reach its target.
OUT_OF_REACH = "Next: change what the box drops (carrier, drive, rate) in plan.csv or drill.toml, and look again."


def command(
    trials: Annotated[str, typer.Argument(metavar="TRIALS.csv", help='Catches; "-" reads standard input.')],
    box: Annotated[str | None, typer.Option(metavar="BOX", help="This box only.")] = None,
    lot: Annotated[str | None, typer.Option(metavar="LOT", help="This lot only.")] = None,
    drill: DrillFile = None,
    plan: PlanFile = None,
    target_g: Annotated[
        str | None,
        typer.Option(
            metavar="GRAMS", help="Target catch of one box, grams, over the turns and rows of its last catch."
        ),
    ] = None,
    tolerance: Annotated[str, typer.Option(metavar="FRACTION", help="How far the rate may be off.")] = "0.10",
    confidence: Annotated[str, typer.Option(metavar="CHANCE", help="How sure before a setting is locked.")] = "0.95",
    history: Annotated[
        list[str] | None, typer.Option(metavar="FILE", help="Trials of earlier seasons; may be given again.")
    ] = None,
    no_history: Annotated[bool, typer.Option("--no-history", help="Learn nothing from earlier lots.")] = False,
    no_field_factor: NoFieldFactor = False,
    viable: Viable = None,
    units: UnitsOption = None,
    plot: Annotated[str | None, typer.Option(metavar="FILE", help="Draw the curves, .png or .svg.")] = None,
    as_json: AsJson = False,
) -> None:
    """Read, advise, print."""
    choice("viable", viable, ("germination", "total"))
    choice("units", units, ("us", "metric"))
    tolerance_value = fraction("tolerance", tolerance, at_least=0.0)
    confidence_value = fraction("confidence", confidence, at_least=0.5)
    target_value = number("target-g", target_g, above=1e-3, below=1e7)
    if target_value is not None and box is None:
        raise typer.BadParameter("A target catch is that of one box: name it with --box.", param_hint="--target-g")
    picture = plot_file(plot)
    from predictor.errors import InputError

    folder = Path("." if trials == "-" else log_file(trials)).parent
    if trials != "-" and not Path(trials).exists() and (folder / "drill.toml").exists():
        lead_on("No log yet? The first catch begins it:", f"predictor record {shlex.quote(trials)}")
    job = job_of(
        folder,
        drill=drill,
        trials=trials,
        plan=plan,
        earlier=history or [],
        viable=viable,
        use_history=not no_history,
        use_field_factor=not no_field_factor,
    )
    tasks = job.tasks(box, lot, target_value)
    if not tasks:
        raise InputError(job.nothing_to_do(box, lot))
    results = [job.advice(task, tolerance_value, confidence_value) for task in tasks]
    if as_json:
        print_json({"schema": 1, "results": [each.to_dict(units) for each in results]})
    else:
        from predictor.text.advice import lines

        for advice in results:
            print("\n".join(lines(advice, units, wrapped)))
        print(wrapped(cautions.SHORT, ""))
    if picture is not None:
        from predictor.plots.advice import plot_advice

        draw(plot_advice(job.trials, results, job.drill, units), picture, [trials, drill, plan, *(history or [])])
    _say_what_is_old(job, results)
    if not as_json and trials != "-":
        _lead_on(trials, results)


def _say_what_is_old(job, results) -> None:
    """A message for each box that would be locked on catches of another season."""
    import datetime

    for advice in results:
        dates = job.trials.of(box=advice.box, lot=advice.lot).date.tolist()
        last = max(filter(None, dates), default="")
        if advice.decision == "lock" and last and all(dates):
            days = (datetime.date.today() - datetime.date.fromisoformat(last)).days
            if days > SAME_SEASON_DAYS:
                text = f"Box {advice.box}: its last catch is of {last}. Seed and drill change"
                say(wrapped(f"{text}: catch again before you plant.", "", ""))


def _lead_on(trials: str, results) -> None:
    """The next command: another catch, or the card."""
    name, decisions = shlex.quote(trials), {each.decision for each in results}
    if decisions == {"lock"}:
        lead_on("Next: lock, and take the settings into the cab.", f"predictor card {name}")
    elif decisions <= {"lock", "unreachable"}:
        lead_on(OUT_OF_REACH, f"predictor plan --job {shlex.quote(str(Path(trials).parent))}")
    else:
        lead_on("Next: make the catch, and record it.", f"predictor record {name}")
