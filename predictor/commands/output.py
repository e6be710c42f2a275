"""What commands say and write: folded text, JSON, messages, and files that are never written over a job's own."""

from __future__ import annotations

import json
import os
import shlex
import shutil
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from predictor.commands.working import Working
from predictor.commands.written import check_place
from predictor.errors import InputError, Problem
from predictor.job.place import Place

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from predictor.job.job import Job
    from predictor.job.stage import Stage
    from predictor.pages.blocks import Page
    from predictor.units import Units


def write(path: Path, data: bytes, read: Iterable[str | os.PathLike[str] | None]) -> None:
    """Write a file whole or not at all, and say so.

    It never replaces one of the files in `read`, which the command read, nor any other that this program did not write.
    """
    check_place(path, read)
    _write(path, data)


def _write(path: Path, data: bytes) -> None:
    from predictor.files.replace import replace_file

    try:
        replace_file(path, data)
    except OSError as error:
        raise InputError([Problem(f"It cannot be written: {error.strerror or error}.", str(path))]) from None
    say(f"Written: {path}", whole=True)


def write_page(
    page: Page, html: Path | None, pdf: Path | None, usual: Path, read: Iterable[str | os.PathLike[str] | None]
) -> None:
    """Write a page as HTML and as PDF where they were asked for; where neither was, as HTML to the usual place."""
    if html is not None or pdf is None:
        from predictor.pages.html import to_html

        if html is None:
            usual.parent.mkdir(exist_ok=True)
        with Working("page"):
            made = to_html(page).encode("utf-8")
        write(html or usual, made, read)
    if pdf is not None:
        from predictor.pages.pdf import lacking, to_pdf
        from predictor.text.letters import beside_pdf

        with Working("PDF"):
            made = to_pdf(page)
        write(pdf, made, read)
        if letters := lacking(page):
            say(beside_pdf(letters))


def begin_job(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write the files of a new job, never over what is there."""
    there = [name for name in files if os.path.lexists(folder / name)]
    if there:
        names = ", ".join(there)
        raise InputError([Problem(f"There is a job here already ({names}). Name a new folder.", str(folder))])
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in files.items():
        _write(folder / name, data)


# The command of each next step.
COMMAND_OF = {
    **dict.fromkeys(("catch", "next_lot"), ("record",)),
    **dict.fromkeys(("weigh", "check", "moved"), ("check", "--add")),
    **dict.fromkeys(("move", "plant"), ("plant",)),
    **{name: (name,) for name in ("card", "load", "report")},
    **dict.fromkeys(("change", "check_files"), ("plan",)),
    "check_log": ("record", "--confirm"),
}


def next_step(job: Job, place: Place, done: str) -> None:
    """The next useful command of the whole job after the command `done`."""
    step = job.next_step(done)
    if step is not None:
        # only these read a log of another name
        whole = step.code in ("catch", "next_lot", "card", "report", "check_log")
        command, *options = COMMAND_OF[step.code]
        if step.code == "check_log":
            options = [*options, ",".join(map(str, step.values["lines"]))]
        lead_on(str(step.why), command, place if whole else place.folder, *options)


def draw(figure: Figure, alt: str, path: Path, read: Iterable[str | os.PathLike[str] | None]) -> None:
    """Write a figure as PNG or SVG by the ending of its name, with what it shows in words inside."""
    from predictor.plots.style import render

    with Working("picture"):
        data = render(figure, "svg" if path.suffix.lower() == ".svg" else "png", alt=alt)
    write(path, data, read)


def say(text: str, *, whole: bool = False) -> None:
    """A message, not a result: to standard error, folded unless it is to stay whole."""
    print(text if whole else wrapped(text, ""), file=sys.stderr)


def lead_on(sentence: str, *command: str | Path | Place) -> None:
    """The next useful command, as a message; the current folder needs no naming."""
    say(sentence)
    say(f"  predictor {shlex.join(each for each in map(str, command) if each != '.')}", whole=True)


def show(lines: Iterable[str]) -> None:
    """A result, line by line: what stands out in one is bold where standard output is a terminal that can."""
    for line in lines:
        # print would make a plain text of it
        sys.stdout.write(line)
        print()


def show_stages(stages: Sequence[Stage], units: Units | None, *, given: bool = True, details: bool = False) -> None:
    """The answers on some boxes, what is behind them, and the cautions; `given` with what was taken as given."""
    from predictor.text import cautions
    from predictor.text.doing import given_line
    from predictor.text.particulars import notes, stage_lines

    if not stages:
        return
    results = [each.advice for each in stages]
    show(stage_lines(stages, units, wrapped, width(), details=details))
    said = [notes(stages), given_line(results) if given else "", cautions.short(each.towed for each in results)]
    show(wrapped(each, "") for each in said if each)


def print_json(value: dict[str, Any]) -> None:
    """A result as JSON; never NaN or Infinity."""
    # in ASCII, so that no terminal or pipe can change a letter of it
    print(json.dumps(value, indent=2, allow_nan=False))


def width() -> int:
    """Columns to write in: the terminal's, between 40 and 100; 80 in a pipe."""
    return max(40, min(shutil.get_terminal_size((80, 24)).columns, 100))


def wrapped(text: str, indent: str = "  ", further: str | None = None) -> str:
    """Text folded to the terminal."""
    from predictor.text.fold import fold

    return fold(text, indent, further, width=width())
