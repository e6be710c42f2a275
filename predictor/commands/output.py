"""What commands say and write: text folded to the terminal, JSON, messages, and files never over a job's own."""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from predictor.errors import InputError, Problem

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Names of the files a job has: no page, table or picture is written over them.
JOB_FILES = ("drill.toml", "plan.csv", "trials.csv", "field.csv")

_UNIT = re.compile(r"(?<=\d) (?=(?:g|%|lb|kg|ac|ha|lb/ac|kg/ha|turns|rows)\b|%)")


def output(name: str, text: str | None, ending: str) -> Path | None:
    """A file to write, or a usage error where its name has another ending: so no log is ever overwritten by a page."""
    if text is not None and Path(text).suffix.lower() != ending:
        raise typer.BadParameter(f"{text!r} is no {ending} file. Name one.", param_hint=f"--{name}")
    return None if text is None else Path(text)


def written(path: Path, data: bytes, read: Iterable[str | os.PathLike[str] | None] = (), said: str = "Written") -> None:
    """Write a page, table or picture that was asked for, whole or not at all, and say so; never over a job's own
    files."""
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
    from predictor.files import field as field_file
    from predictor.files import plan as plan_file
    from predictor.files import trials as trials_file
    from predictor.files.text import decode, normalised, read_bytes, split

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
    """Write a file of a new job, whole or not at all."""
    from predictor.files.write import replace_file

    try:
        replace_file(path, data)
    except OSError as error:
        raise InputError([Problem(f"It cannot be written: {error.strerror or error}.", str(path))]) from None


def plot_file(text: str | None) -> Path | None:
    """The picture to draw, or a usage error where its name has no ending of one."""
    if text is not None and Path(text).suffix.lower() not in (".png", ".svg"):
        raise typer.BadParameter("A plot is a .png or a .svg file.", param_hint="--plot")
    return None if text is None else Path(text)


def draw(figure: Figure, path: Path, read: Iterable[str | os.PathLike[str] | None] = ()) -> None:
    """Write a figure as PNG or SVG by the ending of its name."""
    from predictor.plots.style import render

    written(path, render(figure, "svg" if path.suffix.lower() == ".svg" else "png"), read, "Drawn")


def say(text: str) -> None:
    """A message, not a result: to standard error."""
    print(text, file=sys.stderr)


def lead_on(sentence: str, command: str) -> None:
    """The next useful command, as a message."""
    say(f"{wrapped(sentence, '', '')}\n  {command}")


def print_json(value: dict[str, Any]) -> None:
    """A result as JSON; never NaN or Infinity."""
    # in ASCII, so that no terminal or pipe can change a letter of it
    print(json.dumps(value, indent=2, allow_nan=False))


def width() -> int:
    """Columns to write in: the terminal's, between 40 and 80; 80 in a pipe."""
    return max(40, min(shutil.get_terminal_size((80, 24)).columns, 80))


def wrapped(text: str, indent: str = "  ", further: str | None = None) -> str:
    """Text folded to the terminal."""
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
    """Facts on one line where the terminal has room for it, else one a line."""
    line = indent + ", ".join(parts)
    return [line] if len(line) <= width() else [wrapped(part, indent) for part in parts]
