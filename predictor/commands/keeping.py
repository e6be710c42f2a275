"""What commands that add to a file of the job have in common: what is said of saving, and a last line cut short."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from predictor.asking import rows
from predictor.asking.rows import open_elsewhere
from predictor.commands.output import print_json, say
from predictor.commands.typed import Typed
from predictor.errors import InputError, Problem, Unsure

if TYPE_CHECKING:
    from predictor.files.form import Kind


@contextlib.contextmanager
def saving(path: Path, advice: str = "", *, as_json: bool = False) -> Iterator[None]:
    """Turns what the system says about the file into a sentence. Only what changes the file belongs into it."""
    try:
        yield
    except Unsure as error:
        if as_json:  # a program that finds no answer would send it again
            print_json({"schema": 1, "line": error.line, "saved": None, "problems": [str(error)]})
        raise InputError([Problem(str(error), str(path), error.line)]) from None
    except OSError as error:
        problem = Problem(f"Nothing was saved: {error.strerror or error}.{advice}", str(path))
        raise InputError([problem]) from None


def warn_if_open(path: Path) -> None:
    """Say so if a spreadsheet has the file open."""
    found = open_elsewhere(path)
    if found is not None:
        say(str(found))


def mend(kind: Kind, path: Path, asked: Typed) -> None:
    """Keep a last line that was cut short as a comment if the technician agrees."""
    with saving(path):
        rows.mend(kind, path, asked)
