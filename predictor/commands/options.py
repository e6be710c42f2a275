"""Options that several commands share, and the reading of their values."""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable, Sequence
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

import typer

from predictor.commands.output import say
from predictor.errors import InputError, Problem
from predictor.units import Units

if TYPE_CHECKING:
    from predictor.domain.drill import Drill
    from predictor.job.job import Job

T = TypeVar("T")


def reader(read: Callable[[str], T]) -> Callable[[str], T]:
    """A reader for an option: a ValueError becomes a usage error with the same sentence."""

    @wraps(read)
    def value(text: str) -> T:
        if not isinstance(text, str):  # a default, which needs no reading
            return text
        try:
            return read(text)
        except ValueError as error:
            raise typer.BadParameter(str(error)) from None

    return value


def number(*, above: float = 0.0, below: float = float("inf"), whole: bool = False) -> Callable[[str], float]:
    """A reader for numbers between two limits."""

    def read(text: str) -> float:
        from predictor.numbers import parse_number

        value = parse_number(text)
        if not above < value < below:
            raise ValueError(f"{text} must be above {above:g}{f' and below {below:g}' if below < 1e300 else ''}.")
        if whole and value != int(value):
            raise ValueError(f"{text} must be a whole number.")
        return value

    return reader(read)


def fraction(at_least: float) -> Callable[[str], float]:
    """A reader for fractions below 1, written as 0.10 or as 10%."""

    def read(text: str) -> float:
        from predictor.numbers import parse_number

        share = text.strip().endswith("%")
        value = parse_number(text.strip().removesuffix("%")) / (100 if share else 1)
        if not max(at_least, 1e-12) <= value < 1:
            hint = f" Write {value / 100:g}, or {value:g}%." if 1 <= value < 100 and at_least <= value / 100 else ""
            raise ValueError(f"{text} is not a fraction from {at_least:g} to 1, such as 0.95 or 0.10.{hint}")
        return value

    return reader(read)


@reader
def day(text: str) -> datetime.date:
    """A date, written as 2026-04-18."""
    from predictor.files.cells import read_date

    return datetime.date.fromisoformat(read_date(text.strip()))


def one_of(*names: str) -> Callable[[str], str]:
    """A reader for one of several names, in capitals or not."""

    def read(text: str) -> str:
        if text.lower() not in names:
            raise ValueError(f"{text!r} is not one of {', '.join(names)}.")
        return text.lower()

    return reader(read)


def file_ending(*endings: str) -> Callable[[str], Path]:
    """A reader for names of files to write, so that no log is ever overwritten by a page."""

    def read(text: str) -> Path:
        if Path(text).suffix.lower() not in endings:
            raise ValueError(f"{text!r} must end in {' or '.join(endings)}.")
        return Path(text)

    return reader(read)


@reader
def trials_file(text: str) -> str:
    """The name of a trials file, "-" for standard input."""
    if Path(text).is_dir():
        there = Path(text) / "trials.csv"
        raise ValueError(f"{text} is a folder. Name the file in it{f': {there}' if there.exists() else ''}.")
    return text


def _option(name: str, metavar: str, text: str, parser: Callable[[str], Any] | None = None) -> Any:
    """An option with its help, and what reads its value."""
    return typer.Option(name, metavar=metavar, help=text, parser=parser)


TrialsFile = Annotated[
    str, typer.Argument(metavar="TRIALS.csv", parser=trials_file, help='Catches; "-" reads standard input.')
]
JobFolder = Annotated[str, _option("--job", "DIR", "Folder with drill.toml and plan.csv.")]
DrillFile = Annotated[str | None, _option("--drill", "FILE", "Drill file, if not DIR/drill.toml.")]
PlanFile = Annotated[str | None, _option("--plan", "FILE", "Plan file, if not DIR/plan.csv.")]
History = Annotated[list[str] | None, _option("--history", "FILE", "Trials of other seasons; may be given again.")]
ViableRule = Annotated[
    Literal["germination", "total"] | None,
    _option(
        "--viable",
        "RULE",
        "Count as alive: germination, or total (with dormant and hard seed).",
        one_of("germination", "total"),
    ),
]
UnitsOption = Annotated[
    Units | None, _option("--units", "UNITS", "us or metric; the drill file's if not given.", one_of("us", "metric"))
]
Tolerance = Annotated[float, _option("--tolerance", "FRACTION", "How far the rate may be off target.", fraction(0.0))]
Confidence = Annotated[
    float, _option("--confidence", "CHANCE", "How sure to be before a setting is locked.", fraction(0.5))
]
NoHistory = Annotated[bool, typer.Option("--no-history", help="Learn nothing from earlier lots.")]
NoFieldFactor = Annotated[
    bool, typer.Option("--no-field-factor", help="Do not correct targets by what field checks showed.")
]
Acres = Annotated[float | None, _option("--area-ac", "ACRES", "Area in acres.", number(below=1e7))]
Hectares = Annotated[float | None, _option("--area-ha", "HECTARES", "Area in hectares.", number(below=1e7))]
PlantingDay = Annotated[datetime.date | None, _option("--on", "DATE", "Day of planting, such as 2026-04-18.", day)]
Turns = Annotated[
    float | None,
    _option("--turns", "TURNS", "Turns of a catch, if not the drill file's.", number(below=1e5)),
]
Rows = Annotated[float | None, _option("--rows", "ROWS", "Rows caught, if not the drill file's.", number(whole=True))]
PlotFile = Annotated[
    Path | None, _option("--plot", "FILE", "Draw the result, .png or .svg.", file_ending(".png", ".svg"))
]
HtmlFile = Annotated[Path | None, _option("--out", "FILE.html", "Page to write.", file_ending(".html"))]
PdfFile = Annotated[
    Path | None,
    _option("--pdf", "FILE.pdf", "Write a PDF; with --out the HTML too.", file_ending(".pdf")),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]


def area_m2(acres: float | None, hectares: float | None) -> float | None:
    """The area of two options in square metres; None where neither is given."""
    from predictor.units import SQUARE_METRES

    if acres is not None and hectares is not None:
        raise typer.BadParameter("Give the area once, in acres or in hectares.", param_hint="--area-ac")
    if acres is not None:
        return acres * SQUARE_METRES["ac"]
    return None if hectares is None else hectares * SQUARE_METRES["ha"]


def rows_of(rows: float | None, drill: Drill) -> int:
    """The rows of a catch: those of the option, no more than the drill has, or the drill file's."""
    if rows is not None and rows > drill.rows:
        raise typer.BadParameter(f"{rows:g} is more than the drill's {drill.rows} rows.", param_hint="--rows")
    return int(rows or drill.catch.rows)


def job_file(folder: str | Path, given: str | None, name: str) -> Path:
    """A file named by an option, or the one of the job's folder; an InputError that says what to do without it."""
    path = Path(given) if given else Path(folder) / name
    if given == "-" or path.exists():
        return path
    word = name.partition(".")[0]
    if given:
        advice = "Check the name and the folder."
    elif Path(folder).is_dir():
        advice = f"Name its folder with --job, or the file with --{word}."
    else:
        advice = f"There is no folder {folder} either: name the job's folder with --job."
    raise InputError([Problem(f"There is no {word} file here. {advice}", os.fspath(path))])


def job_of(
    folder: str | Path,
    *,
    drill: str | None = None,
    trials: str | None = None,
    plan: str | None = None,
    checks: str | None = None,
    earlier: Sequence[str] = (),
    viable: Literal["germination", "total"] | None = None,
    today: datetime.date | None = None,
    with_trials: bool = True,
    use_history: bool = True,
    use_field_factor: bool = True,
    tell_factors: bool = True,
) -> Job:
    """The job of a folder: its drill, and what else is there; what was assumed is said."""
    from predictor.job.read import read_job

    found = read_job(
        folder,
        drill=job_file(folder, drill, "drill.toml"),
        trials=trials,
        plan=plan,
        checks=checks,
        earlier=earlier,
        with_trials=with_trials,
        viable=viable,
        use_history=use_history,
        use_field_factor=use_field_factor,
        today=today,
    )
    for sentence in dict.fromkeys(found.messages):
        say(sentence)
    if tell_factors and found.field and found.plan and found.field.boxes:
        factors = ", ".join(f"{each.box} {each.factor:.2f}" for each in found.field.boxes)
        say(f"Targets corrected for field factors: {factors} (--no-field-factor leaves them out).")
    return found
