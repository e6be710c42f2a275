"""Options that several commands share, and the reading of their values."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from predictor.commands.output import say
from predictor.job.place import HERE as HERE, Place as Place, job_file as job_file, place_of as place_of
from predictor.units import Units

if TYPE_CHECKING:
    from predictor.domain.drill import Drill, SeedBox
    from predictor.job.job import Job


def named(name: str, metavar: str | None, text: str, read: Callable[..., Any] | None = None, **limits: Any) -> Any:
    """An option with its help; with `limits` for what reads its value, whose ValueError is wrong usage."""
    return typer.Option(name, metavar=metavar, help=text, parser=None if read is None else usage(read, **limits))


def usage(read: Callable[..., Any], **limits: Any) -> Callable[[str], Any]:
    """A reader for the command line: a ValueError becomes a usage error with the same sentence."""

    def value(text: str) -> Any:
        if not isinstance(text, str):  # a default, which needs no reading
            return text
        try:
            return read(text, **limits)
        except ValueError as error:
            raise typer.BadParameter(str(error)) from None

    return value


def number(text: str, *, above: float = 0.0, below: float = 1e300, whole: bool = False) -> float:
    """A number between two limits."""
    from predictor.numbers import parse_number

    value = parse_number(text)
    if not above < value < below:
        raise ValueError(f"{text} must be above {above:g}{f' and below {below:g}' if below < 1e300 else ''}.")
    if whole and value != int(value):
        raise ValueError(f"{text} must be a whole number.")
    return value


def fraction(text: str, *, at_least: float = 0.0) -> float:
    """A fraction below 1, written as 0.10 or as 10%."""
    from predictor.numbers import parse_number

    share = text.strip().endswith("%")
    value = parse_number(text.strip().removesuffix("%")) / (100 if share else 1)
    if not (0 < value < 1 and value >= at_least):
        hint = f" Write {value / 100:g}, or {value:g}%." if 1 <= value < 100 and at_least <= value / 100 else ""
        raise ValueError(f"{text} is not a fraction from {at_least:g} to 1, such as 0.95 or 0.10.{hint}")
    return value


def day(text: str) -> datetime.date:
    """A date, written as 2026-04-18."""
    from predictor.files.signs import Signs

    return datetime.date.fromisoformat(Signs().date(text.strip()))


# More than anyone has looked at one by one.
MOST_LINES = 1000


@dataclass(frozen=True)
class Lines:
    """Lines of a file; a class of its own, since an option that is a tuple would take several words."""

    numbers: tuple[int, ...]


def lines_of(text: str) -> Lines:
    """Lines of a file, as 7 or 3,5-7."""
    found: list[int] = []
    for piece in text.replace(" ", "").split(","):
        first, _, last = piece.partition("-")
        if not (first.isdecimal() and (last or first).isdecimal() and 2 <= int(first) <= int(last or first) < 10**7):
            raise ValueError(f"{text!r} does not name lines of a file. Write them as 7, or 3,5-7.")
        if len(found) + int(last or first) - int(first) >= MOST_LINES:
            raise ValueError(f"{text!r} names more than {MOST_LINES:,} lines. Name those that you looked at.")
        found += range(int(first), int(last or first) + 1)
    return Lines(tuple(dict.fromkeys(found)))


def one_of(text: str, *, names: Sequence[str]) -> str:
    """One of several names, in capitals or not."""
    if text.lower() not in names:
        raise ValueError(f"{text!r} is not one of these: {', '.join(names)}.")
    return text.lower()


def to_write(text: str, *, endings: Sequence[str]) -> Path:
    """The name of a file to write; its ending tells, so that no log is ever overwritten by a page."""
    if Path(text).suffix.lower() not in endings:
        raise ValueError(f"{text!r} must end in {' or '.join(endings)}.")
    return Path(text)


def one_place(place: Place, job: str | None) -> Place:
    """The job that was named as the argument or with --job."""
    if job is None:
        return place
    if place != HERE:
        raise typer.BadParameter("Name the job once, as JOB or with --job.", param_hint="--job")
    return place_of(job)


HELP = "JOB is the folder of the job, or a file in it. Without it the job is in the current folder."
VIABLE, UNITS = ("germination", "hard", "total"), ("us", "metric")
JobPlace = Annotated[Place, typer.Argument(metavar="[JOB]", show_default=False, parser=usage(place_of))]
JobFolder = Annotated[str | None, named("--job", "DIR", "The same as JOB.")]
DrillFile = Annotated[str | None, named("--drill", "FILE", "Drill file, if not JOB/drill.toml.")]
PlanFile = Annotated[str | None, named("--plan", "FILE", "Plan file, if not JOB/plan.csv.")]
History = Annotated[
    list[str] | None, named("--history", "FILE", "An earlier log, beside those of drill.toml; may be given again.")
]
ViableRule = Annotated[
    Literal["germination", "hard", "total"] | None,
    named("--viable", "RULE", "What counts as alive in all lots: germination, hard or total.", one_of, names=VIABLE),
]
UnitsOption = Annotated[
    Units | None, named("--units", "UNITS", "us or metric; the drill file's if not given.", one_of, names=UNITS)
]
Tolerance = Annotated[float, named("--tolerance", "FRACTION", "How far the rate may be off target.", fraction)]
Confidence = Annotated[
    float,
    named("--confidence", "CHANCE", "How sure to be before a setting is locked.", fraction, at_least=0.5),
]
NoHistory = Annotated[bool, named("--no-history", None, "Learn nothing from earlier lots.")]
NoFieldFactor = Annotated[bool, named("--no-field-factor", None, "Do not correct targets by what field checks showed.")]
Acres = Annotated[float | None, named("--area-ac", "ACRES", "Area in acres.", number, below=1e7)]
Hectares = Annotated[float | None, named("--area-ha", "HECTARES", "Area in hectares.", number, below=1e7)]
Turns = Annotated[
    float | None, named("--turns", "TURNS", "Turns or seconds of a catch, if not the drill file's.", number, below=1e5)
]
DistanceFt = Annotated[
    float | None, named("--distance-ft", "FEET", "Distance of a towed catch, in place of turns.", number, below=16_000)
]
DistanceM = Annotated[
    float | None, named("--distance-m", "METRES", "Distance of a towed catch, in place of turns.", number, below=5_000)
]
Rows = Annotated[float | None, named("--rows", "ROWS", "Rows caught, if not the drill file's.", number, whole=True)]
PlantingDay = Annotated[datetime.date | None, named("--on", "DATE", "Day of planting, such as 2026-04-18.", day)]
PlotFile = Annotated[
    Path | None, named("--plot", "FILE", "Draw the result, .png or .svg.", to_write, endings=(".png", ".svg"))
]
HtmlFile = Annotated[Path | None, named("--out", "FILE.html", "Page to write.", to_write, endings=(".html",))]
PdfFile = Annotated[
    Path | None, named("--pdf", "FILE.pdf", "Write a PDF; with --out the HTML too.", to_write, endings=(".pdf",))
]
BoxOnly = Annotated[str | None, named("--box", "BOX", "This box only.")]
Details = Annotated[bool, named("--details", None, "Also show what only a statistician needs.")]
AsJson = Annotated[bool, named("--json", None, "Print the result as JSON.")]


def area_m2(acres: float | None, hectares: float | None) -> float | None:
    """The area of two options in square metres; None where neither is given."""
    from predictor.units import SQUARE_METRES

    if acres is not None and hectares is not None:
        raise typer.BadParameter("Give the area once, in acres or in hectares.", param_hint="--area-ac")
    unit, area = ("ac", acres) if hectares is None else ("ha", hectares)
    return None if area is None else area * SQUARE_METRES[unit]


def towed_over(
    turns: float | None, feet: float | None, metres: float | None
) -> tuple[float, Literal["ft", "m"]] | None:
    """The distance of a towed catch with its unit; None where there is none."""
    if sum(each is not None for each in (turns, feet, metres)) > 1:
        raise typer.BadParameter("Give turns, or the distance of a towed catch, once.", param_hint="--distance-ft")
    if feet is not None:
        return feet, "ft"
    return None if metres is None else (metres, "m")


def rows_of(rows: float | None, drill: Drill, box: SeedBox | None = None) -> int | None:
    """The rows of a catch by option, no more than the drill has or the box feeds; None where they are not given."""
    if rows is None:
        return None
    if rows > drill.rows:
        raise typer.BadParameter(f"{rows:g} is more than the drill's {drill.rows} rows.", param_hint="--rows")
    if box is not None and rows > drill.rows_of(box):
        most = f"the {drill.rows_of(box)} rows that box {box.name} feeds"
        raise typer.BadParameter(f"{rows:g} is more than {most}.", param_hint="--rows")
    return int(rows)


def told(job: Job, *, factors: bool = True) -> Job:
    """The job, after what was assumed in reading it and, with `factors`, what corrects its targets was said."""
    for sentence in dict.fromkeys(job.messages):
        say(sentence)
    if factors and job.plan and job.field:
        from predictor.text.field import correction

        # a lot that was towed has slip in its catches, so its target is not corrected
        hand = [(task.box.name, task.lot.lower()) for task in job.in_hand() if not job.is_towed(task.box, task.lot)]
        boxes = [each for each in job.plan.boxes if (each.box.name, each.lot.lower()) in hand]
        boxes = [each for each in boxes if each.field_factor != 1]
        if boxes:
            say(f"{correction(boxes)} --no-field-factor leaves them out.")
    return job
