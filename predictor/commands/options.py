"""Options and habits that several commands share."""

from __future__ import annotations

import datetime
import json
import os
import re
import shutil
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from predictor.errors import InputError, Problem

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from predictor.job import Job

# Catches of a lot this close together are one season, over a new year too.
SAME_SEASON_DAYS = 60
# Names of the files a job has: no page, table or picture is written over them.
JOB_FILES = ("drill.toml", "plan.csv", "trials.csv", "field.csv")

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

_UNIT = re.compile(r"(?<=\d) (?=(?:g|%|lb|kg|ac|ha|lb/ac|kg/ha|turns|rows)\b|%)")


def choice(name: str, value: str | None, choices: tuple[str, ...]) -> str | None:
    """An option's value, or a usage error that names the choices.

    Parameters
    ----------
    name : str
        Of the option, without the dashes.
    value : str or None
        None where the option was not given.
    choices : tuple of str

    Returns
    -------
    str or None
        `value`.

    Raises
    ------
    typer.BadParameter
        A value that is none of the choices.
    """
    if value is not None and value not in choices:
        raise typer.BadParameter(f"{value!r} is none of {', '.join(choices)}.", param_hint=f"--{name}")
    return value


def number(
    name: str, text: str | None, *, above: float = 0.0, below: float = float("inf"), whole: bool = False
) -> float | None:
    """An option's number through the one number parser, or a usage error in a sentence.

    Parameters
    ----------
    name : str
        Of the option, without the dashes.
    text : str or None
        None where the option was not given.
    above, below : float
        The number lies between these, both left out.
    whole : bool
        Whether it must be a whole number.

    Returns
    -------
    float or None
        None for None.

    Raises
    ------
    typer.BadParameter
        No number, or one that cannot be.
    """
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
    """An option's fraction below 1, written as 0.10 or as 10%, or a usage error in a sentence.

    Parameters
    ----------
    name : str
        Of the option, without the dashes.
    text : str
    at_least : float
        Smallest fraction that is taken, 0 itself never.

    Returns
    -------
    float
        Below 1.

    Raises
    ------
    typer.BadParameter
        No number, or one that cannot be; where it was meant in per cent the message says how to write it.
    """
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
    """An option's date, written as 2026-04-18, or a usage error in a sentence.

    Parameters
    ----------
    name : str
        Of the option, without the dashes.
    text : str or None
        None where the option was not given.

    Returns
    -------
    date or None

    Raises
    ------
    typer.BadParameter
        No date.
    """
    from predictor.cells import read_date

    if text is None:
        return None
    try:
        return datetime.date.fromisoformat(read_date(text.strip()))
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint=f"--{name}") from None


def area_m2(acres: str | None, hectares: str | None) -> float | None:
    """Area of two options in square metres; None where neither is given.

    Parameters
    ----------
    acres, hectares : str or None
        What was given for `--area-ac` and `--area-ha`.

    Returns
    -------
    float or None
        Square metres.

    Raises
    ------
    typer.BadParameter
        Both given, or no area that can be.
    """
    from predictor.units import SQUARE_METRES

    if acres is not None and hectares is not None:
        raise typer.BadParameter("Give the area once, in acres or in hectares.", param_hint="--area-ac")
    for name, text in (("ac", acres), ("ha", hectares)):
        value = number(f"area-{name}", text, below=1e7)
        if value is not None:
            return value * SQUARE_METRES[name]
    return None


def drill_path(job: str | Path, drill: str | None) -> Path:
    """The drill file to read, or an InputError that says what to do.

    Parameters
    ----------
    job : str or path
        Folder of the job.
    drill : str or None
        A file named instead; "-" for standard input.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        There is no such file.
    """
    return _path(job, drill, "drill")


def plan_path(job: str | Path, plan: str | None) -> Path:
    """The plan to read, or an InputError that says what to do.

    Parameters
    ----------
    job : str or path
        Folder of the job.
    plan : str or None
        A file named instead; "-" for standard input.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        There is no such file.
    """
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
    """The job of a folder: its drill, and what else is there; what was assumed is said.

    Parameters
    ----------
    folder : str or path
    drill, trials, plan, checks : str, optional
        Files, where they are not the folder's own; a file that is named must be there.
    with_trials : bool
        Whether to read the folder's trials where none are named.
    tell_factors : bool
        Whether to say which targets were corrected.
    **options
        As for `predictor.job.read_job`.

    Returns
    -------
    Job

    Raises
    ------
    InputError
        No drill file, or the problems of all files.
    """
    from predictor.job import read_job

    def own(name: str) -> Path | None:
        path = Path(folder) / name
        return path if path.exists() else None

    log = own("trials.csv") if with_trials else None
    if log is not None and trials is None:
        from predictor.trials_log import only_begun

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


def output(name: str, text: str | None, ending: str) -> Path | None:
    """A file to write, or a usage error where its name has another ending: so no log is ever overwritten by a page.

    Parameters
    ----------
    name : str
        Of the option, without the dashes.
    text : str or None
        None where the option was not given.
    ending : str
        With its dot: ".html".

    Returns
    -------
    Path or None

    Raises
    ------
    typer.BadParameter
        Another ending.
    """
    if text is not None and Path(text).suffix.lower() != ending:
        raise typer.BadParameter(f"{text!r} is no {ending} file. Name one.", param_hint=f"--{name}")
    return None if text is None else Path(text)


def log_file(text: str) -> str:
    """The trials file named, or an InputError where it is a folder.

    Parameters
    ----------
    text : str
        As given; it need not be there.

    Returns
    -------
    str
        `text`.

    Raises
    ------
    InputError
        A folder.
    """
    if Path(text).is_dir():
        there = Path(text) / "trials.csv"
        hint = f"Name the file in it: {there}" if there.exists() else "Name the trials file in it"
        raise InputError([Problem(f"This is a folder. {hint}.", text)])
    return text


def written(path: Path, data: bytes, read: Iterable[str | os.PathLike[str] | None] = (), said: str = "Written") -> None:
    """Write a page, table or picture that was asked for, whole or not at all, and say so; never over a job's own files.

    Parameters
    ----------
    path : Path
        Links are followed.
    data : bytes
    read : iterable of path
        Files the command has read, beside those that every job has; None is passed over.
    said : str
        Word before the name.

    Raises
    ------
    InputError
        A file of the job, or the folder or the disk does not take it.
    """
    real = Path(os.path.realpath(path))
    mine = real.name in JOB_FILES or any(real == Path(os.path.realpath(each)) for each in read if each is not None)
    if mine or (real.suffix.lower() == ".csv" and _holds_records(real)):
        raise InputError([Problem("This is a file of a job. Name another.", str(path))])
    if real.suffix.lower() != path.suffix.lower():
        raise InputError([Problem(f"This is a link to {real.name}, another kind of file. Name another.", str(path))])
    begun(path, data)
    say(f"{said}: {path}")


def _holds_records(path: Path) -> bool:
    """Whether a CSV file is a log, a plan or field checks, by its header: not one of our own tables."""
    from predictor import field_file, plan_file, trials_file
    from predictor.csv_text import decode, normalised, read_bytes, split

    if not path.exists():
        return False
    try:
        file, data = read_bytes(path)
        records, _, _ = split(decode(data, file), file, trials_file.COLUMNS, [])
    except InputError:
        return False
    header = set(map(normalised, records[0][1])) if records else set()
    kinds = (trials_file.REQUIRED, field_file.REQUIRED, plan_file.REQUIRED)
    whole = any(all(header & set((e,) if isinstance(e, str) else e) for e in kind) for kind in kinds)
    return whole and "expected_catch_g" not in header


def begun(path: Path, data: bytes) -> None:
    """Write a file of a new job, whole or not at all.

    Parameters
    ----------
    path : Path
    data : bytes

    Raises
    ------
    InputError
        The folder or the disk does not take it.
    """
    from predictor.storing import replace_file

    try:
        replace_file(path, data)
    except OSError as error:
        raise InputError([Problem(f"It cannot be written: {error.strerror or error}.", str(path))]) from None


def plot_file(text: str | None) -> Path | None:
    """The picture to draw, or a usage error where its name has no ending of one.

    Parameters
    ----------
    text : str or None
        None where the option was not given.

    Returns
    -------
    Path or None

    Raises
    ------
    typer.BadParameter
        Neither a .png nor a .svg file.
    """
    if text is not None and Path(text).suffix.lower() not in (".png", ".svg"):
        raise typer.BadParameter("A plot is a .png or a .svg file.", param_hint="--plot")
    return None if text is None else Path(text)


def draw(figure: Figure, path: Path, read: Iterable[str | os.PathLike[str] | None] = ()) -> None:
    """Write a figure as PNG or SVG by the ending of its name.

    Parameters
    ----------
    figure : Figure
    path : Path
    read
        As for `written`.

    Raises
    ------
    InputError
        As `written`.
    """
    from predictor.plots import drawn

    written(path, drawn(figure, path.suffix.lower().lstrip(".")), read, "Drawn")


def say(text: str) -> None:
    """A message, not a result: to standard error.

    Parameters
    ----------
    text : str
    """
    print(text, file=sys.stderr)


def lead_on(sentence: str, command: str) -> None:
    """The next useful command, as a message.

    Parameters
    ----------
    sentence : str
    command : str
        On a line of its own, as it is to be typed.
    """
    say(f"{wrapped(sentence, '', '')}\n  {command}")


def print_json(value: dict[str, Any]) -> None:
    """A result as JSON; never NaN or Infinity.

    Parameters
    ----------
    value : dict
        Plain values.

    Raises
    ------
    ValueError
        A number in it is not finite.
    """
    # in ASCII, so that no terminal or pipe can change a letter of it
    print(json.dumps(value, indent=2, allow_nan=False))


def width() -> int:
    """Columns to write in: the terminal's, between 40 and 80; 80 in a pipe."""
    return max(40, min(shutil.get_terminal_size((80, 24)).columns, 80))


def wrapped(text: str, indent: str = "  ", further: str | None = None) -> str:
    """Text folded to the terminal.

    Parameters
    ----------
    text : str
    indent : str
        Before the first line.
    further : str, optional
        Before the others; twice `indent` where not given.

    Returns
    -------
    str
        Lines; a figure and its unit stay on one.
    """
    import textwrap

    # a figure and its unit stay on one line
    whole = _UNIT.sub("\u00a0", text)
    return textwrap.fill(
        whole,
        width(),
        initial_indent=indent,
        subsequent_indent=indent * 2 if further is None else further,
        break_long_words=True,
        break_on_hyphens=False,
    ).replace("\u00a0", " ")


def facts(*parts: str, indent: str = "  ") -> list[str]:
    """Facts on one line where the terminal has room for it, else one a line.

    Parameters
    ----------
    *parts : str
    indent : str
        Before each line.

    Returns
    -------
    list of str
    """
    line = indent + ", ".join(parts)
    return [line] if len(line) <= width() else [wrapped(part, indent) for part in parts]
