"""What commands that add to a file of the job have in common: errors of the system, and a last line cut short."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from predictor.commands.asking import Asked
from predictor.errors import InputError, Problem

if TYPE_CHECKING:
    from predictor.files.form import Kind


@contextlib.contextmanager
def saving(path: Path, advice: str) -> Iterator[None]:
    """Turns what the system says about the file into a sentence."""
    try:
        yield
    except OSError as error:
        problem = Problem(f"Nothing was saved: {error.strerror or error}.{advice}", str(path))
        raise InputError([problem]) from None


def mend(kind: Kind, path: Path, asked: Asked) -> None:
    """Keep a last line that was cut short, as by a power failure, as a comment if the technician agrees."""
    from predictor.domain.result import Remark
    from predictor.files.log import comment_out_last, cut_short
    from predictor.numbers import quoted

    cut = cut_short(kind, path) if path.exists() else None
    if cut is None:
        return
    if not asked.agreed(Remark("log.cut_short", {"line": cut[0], "file": path, "text": quoted(cut[1])})):
        raise InputError([Problem("Complete this line or delete it, then try again.", str(path), cut[0])])
    comment_out_last(path)
