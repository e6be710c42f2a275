"""What commands that add to a file of the job have in common: what is said of saving, and a last line cut short."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

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
    """Say so if a spreadsheet has the file open: what it saves later would replace what is saved now."""
    from predictor.domain.result import Remark

    for each in dict.fromkeys((path, Path(os.path.realpath(path)))):
        for lock in (f".~lock.{each.name}#", f"~${each.name}"):
            if os.path.lexists(each.with_name(lock)):
                say(str(Remark("log.open_elsewhere", {"file": path, "lock": lock})))
                return


def mend(kind: Kind, path: Path, asked: Typed) -> None:
    """Keep a last line that was cut short, as by a power failure, as a comment if the technician agrees."""
    from predictor.domain.result import Remark
    from predictor.files.cut import comment_out_last, cut_short
    from predictor.numbers import quoted

    cut = cut_short(kind, path) if path.exists() else None
    if cut is None:
        return
    if not asked.agreed(Remark("log.cut_short", {"line": cut[0], "file": path, "text": quoted(cut[1])})):
        raise InputError([Problem("Complete this line or delete it, then try again.", str(path), cut[0])])
    with saving(path):
        comment_out_last(kind, path)
