"""What is said around a row that is saved: what it could not be held against, and an answer that cannot undo it."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from typing import Any

from predictor.commands.output import print_json, say
from predictor.errors import TRACE, Problem, sentence
from predictor.format import listed

MENDED = "The {} is saved. Do not enter it again. For the answer, first mend this:"
# Lines of one file that are named.
MOST_LINES = 5


def tell_unread(problems: Sequence[Problem], row: str, told: set[str]) -> None:
    """Say in one line, once, which files or rows cannot be read, so that a new row is not compared with them."""
    if not problems:
        return
    files: dict[str, set[int]] = {}
    whole = set()
    for each in problems:
        lines = files.setdefault(each.file or "a file of the job", set())
        lines.update([] if each.line is None else [each.line])
        whole |= {each.file or ""} if each.line is None or each.line == 1 else set()
    places = [name if name in whole else f"{name} {_lines(sorted(lines))}" for name, lines in files.items()]
    said = f"This cannot be read, so the {row} is not compared with it: {'; '.join(places)}."
    if said not in told:
        told.add(said)
        say(said)


def _lines(lines: Sequence[int]) -> str:
    """Some lines of a file."""
    shown = [str(each) for each in lines[:MOST_LINES]]
    more = [f"{len(lines) - MOST_LINES} more"] if len(lines) > MOST_LINES else []
    return f"line{'s' if len(lines) > 1 else ''} {listed([*shown, *more])}"


def after_saving(
    row: str, saved: dict[str, Any], answer: Callable[[], dict[str, Any]], nothing: dict[str, Any], as_json: bool
) -> None:
    """Answer a row that is saved: what goes wrong from here on is told, and never looks like a row that is not.

    With `as_json` the answer is printed as JSON with what was saved; without one in its place is `nothing`.
    """
    problems: list[str] = []
    try:
        found = answer()
    except BrokenPipeError:  # nobody reads on
        raise
    except Exception as error:
        if os.environ.get(TRACE):
            raise
        problems, found = sentence(error).splitlines(), nothing
        say(MENDED.format(row))
        for each in problems:
            say(each, whole=True)
    if as_json:
        print_json({"schema": 1, **saved, "saved": True, **found, "problems": problems})
