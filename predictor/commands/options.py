"""Options and habits that several commands share."""

from __future__ import annotations

import datetime
import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from predictor.commands.output import say, wrapped
from predictor.errors import InputError, Problem

if TYPE_CHECKING:
    from predictor.job.job import Job

# Catches of a lot this close together are one season, over a new year too.
SAME_SEASON_DAYS = 60

Job = Annotated[str, typer.Option("--job", metavar="DIR", help="Folder with drill.toml and plan.csv.")]
DrillFile = Annotated[str | None, typer.Option("--drill", metavar="FILE", help="Drill file, if not DIR/drill.toml.")]
PlanFile = Annotated[str | None, typer.Option("--plan", metavar="FILE", help="Plan file, if not DIR/plan.csv.")]
Viable = Annotated[
    str | None,
    typer.Option(
        "--viable", metavar="RULE", help="Count as alive: germination, or total (with dormant and hard seed)."
    ),
]
UnitsOption = Annotated[
    str | None, typer.Option("--units", metavar="UNITS", help="us or metric; the drill file's if not given.")
]
NoFieldFactor = Annotated[
    bool, typer.Option("--no-field-factor", help="Do not correct targets by what field checks showed.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]


def choice(name: str, value: str | None, choices: tuple[str, ...]) -> str | None:
    """An option's value, or a usage error that names the choices."""
    if value is not None and value not in choices:
        raise typer.BadParameter(f"{value!r} is none of {', '.join(choices)}.", param_hint=f"--{name}")
    return value


def number(
    name: str, text: str | None, *, above: float = 0.0, below: float = float("inf"), whole: bool = False
) -> float | None:
    """An option's number through the one number parser, or a usage error in a sentence."""
    from predictor.numbers import parse_number

    if text is None:
        return None
    try:
        value = parse_number(text)
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint=f"--{name}") from None
    if not above < value < below:
        limits = f"above {above:g}" + (f" and below {below:g}" if below < float("inf") else "")
        raise typer.BadParameter(f"{text} must be {limits}.", param_hint=f"--{name}")
    if whole and value != int(value):
        raise typer.BadParameter(f"{text} must be a whole number.", param_hint=f"--{name}")
    return value


def fraction(name: str, text: str, *, at_least: float) -> float:
    """An option's fraction below 1, written as 0.10 or as 10%, or a usage error in a sentence."""
    percent = text.strip().endswith("%")
    value = number(name, text.strip().removesuffix("%"))
    value = value / 100 if percent else value
    if not at_least <= value < 1:
        hint = f" Write {value / 100:g}, or {value:g}%." if 1 <= value < 100 and at_least <= value / 100 else ""
        raise typer.BadParameter(
            f"{text} is not a fraction from {at_least:g} to 1, such as 0.95 or 0.10.{hint}", param_hint=f"--{name}"
        )
    return value


def day(name: str, text: str | None) -> datetime.date | None:
    """An option's date, written as 2026-04-18, or a usage error in a sentence."""
    from predictor.files.cells import read_date

    if text is None:
        return None
    try:
        return datetime.date.fromisoformat(read_date(text.strip()))
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint=f"--{name}") from None


def area_m2(acres: str | None, hectares: str | None) -> float | None:
    """Area of two options in square metres; None where neither is given."""
    from predictor.units import SQUARE_METRES

    if acres is not None and hectares is not None:
        raise typer.BadParameter("Give the area once, in acres or in hectares.", param_hint="--area-ac")
    for name, text in (("ac", acres), ("ha", hectares)):
        value = number(f"area-{name}", text, below=1e7)
        if value is not None:
            return value * SQUARE_METRES[name]
    return None


def drill_path(job: str | Path, drill: str | None) -> Path:
    """The drill file to read, or an InputError that says what to do."""
    return _path(job, drill, "drill")


def plan_path(job: str | Path, plan: str | None) -> Path:
    """The plan to read, or an InputError that says what to do."""
    return _path(job, plan, "plan")


def _path(job: str | Path, given: str | None, what: str) -> Path:
    """A file given by name, or the one of the job's folder; "-" is standard input."""
    if given == "-":
        return Path("-")
    path = Path(given) if given else Path(job) / ("drill.toml" if what == "drill" else "plan.csv")
    if not path.exists():
        if given:
            advice = "Check the name and the folder."
        elif Path(job).is_dir():
            advice = f"Name its folder with --job, or the file with --{what}."
        else:
            advice = f"There is no folder {job} either: name the job's folder with --job."
        raise InputError([Problem(f"There is no {what} file here. {advice}", os.fspath(path))])
    return path


def job_of(
    folder: str | Path,
    *,
    drill: str | None = None,
    trials: str | None = None,
    plan: str | None = None,
    checks: str | None = None,
    with_trials: bool = True,
    tell_factors: bool = True,
    **options: Any,
) -> Job:
    """The job of a folder: its drill, and what else is there; what was assumed is said."""
    from predictor.job.job import read_job

    def own(name: str) -> Path | None:
        path = Path(folder) / name
        return path if path.exists() else None

    log = own("trials.csv") if with_trials else None
    if log is not None and trials is None:
        from predictor.files.log import only_begun

        log = None if only_begun(log) else log
    found = read_job(
        drill_path(folder, drill),
        trials=trials or log,
        plan=plan or own("plan.csv"),
        checks=checks or (own("field.csv") if options.get("use_field_factor", True) else None),
        **options,
    )
    for sentence in dict.fromkeys([*found.messages, *(_field_messages(found) if tell_factors else ())]):
        say(wrapped(sentence, "", ""))
    return found


def _field_messages(job: Job) -> list[str]:
    """What field checks did to the targets."""
    if job.field is None or job.plan is None or not job.field.boxes:
        return []
    factors = ", ".join(f"{each.box} {each.factor:.2f}" for each in job.field.boxes)
    return [f"Targets corrected for field factors: {factors} (--no-field-factor leaves them out)."]


def log_file(text: str) -> str:
    """The trials file named, or an InputError where it is a folder."""
    if Path(text).is_dir():
        there = Path(text) / "trials.csv"
        hint = f"Name the file in it: {there}" if there.exists() else "Name the trials file in it"
        raise InputError([Problem(f"This is a folder. {hint}.", text)])
    return text
