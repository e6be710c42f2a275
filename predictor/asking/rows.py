"""Rows that are in a file already: one that was cut short, and those for which a lock waits."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from predictor.domain.result import Remark
from predictor.errors import InputError, Problem

if TYPE_CHECKING:
    from predictor.asking.asked import Asked
    from predictor.files.form import Kind
    from predictor.job.job import Job
    from predictor.slips.finding import Finding

# What is noted in a row that is left out since it looked like a slip.
LEFT_OUT = "looked like a slip"


def open_elsewhere(path: Path) -> Remark | None:
    """That a spreadsheet has the file open: what it saves later would replace what is saved now."""
    for each in dict.fromkeys((path, Path(os.path.realpath(path)))):
        for lock in (f".~lock.{each.name}#", f"~${each.name}"):
            if os.path.lexists(each.with_name(lock)):
                return Remark("log.open_elsewhere", {"file": path, "lock": lock})
    return None


def mend(kind: Kind, path: Path, asked: Asked) -> None:
    """Keep a last line that was cut short, as by a power failure, as a comment if the technician agrees."""
    from predictor.files.cut import comment_out_last, cut_short
    from predictor.numbers import quoted

    cut = cut_short(kind, path) if path.exists() else None
    if cut is None:
        return
    if not asked.agreed(Remark("log.cut_short", {"line": cut[0], "file": path, "text": quoted(cut[1])})):
        raise InputError([Problem("Complete this line or delete it, then try again.", str(path), cut[0])])
    comment_out_last(kind, path)


def waiting_rows(job: Job) -> dict[tuple[int, ...], Finding]:
    """The rows for which a lock waits, by their lines, each with what looks like a slip in it."""
    found = {each.lines: each for stage in job.stages_in_hand() for each in stage.advice.slips if each.waits}
    return {lines: each for lines, each in found.items() if lines}  # of others the advice says where to look
