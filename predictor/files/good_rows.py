"""The rows of a file that can be read where others cannot: a new row is held against those."""

import itertools
import os
from collections.abc import Callable, Collection
from dataclasses import replace
from typing import TypeVar

from predictor.domain.checks import FieldChecks
from predictor.domain.drill import Drill
from predictor.domain.trials import Trials
from predictor.errors import InputError, Problems
from predictor.files import field, trials
from predictor.files.cells import Cells
from predictor.files.split import split
from predictor.files.table import Header, Table, table_of
from predictor.files.text import decode, read_bytes

Read = TypeVar("Read")
# A pass finds as many wrong rows as are listed: with more the file is of another kind.
MOST_PASSES = 20


def good_trials(path: str | os.PathLike[str], drill: Drill) -> Trials | None:
    """The catches of a log that can be read; None where none can."""
    return _good(path, trials.HEADER, lambda table: trials.trials_of(table, drill))


def good_checks(path: str | os.PathLike[str], drill: Drill) -> FieldChecks | None:
    """The field checks of a file that can be read; None where none can."""
    return _good(path, field.HEADER, lambda table: field.field_of(table, drill))


def _good(path: str | os.PathLike[str], header: Header, read: Callable[[Table], Read]) -> Read | None:
    """What `read` makes of the rows without a problem; None where there are none, or where the header is wrong."""
    try:
        file, data = read_bytes(path)
        text = decode(data, file)
        table = table_of(text, file, header)
    except InputError:
        return None
    above = {None, split(text, header.known, Problems(file)).rows[0]}  # of the whole file, and of its header
    for _ in range(MOST_PASSES):
        if not len(table):
            break
        try:
            return read(table)
        except InputError as error:
            wrong = {each.line for each in error.problems}
        if wrong & above:
            break
        table = _without(table, wrong)
    return None


def _without(table: Table, wrong: Collection[int | None]) -> Table:
    """The rows of a table that are not in these lines, with no problem noted yet."""
    kept = [line not in wrong for line in table.lines]
    problems = Problems(table.problems.file)
    problems.columns = table.columns
    cells = {name: Cells.of(itertools.compress(each, kept)) for name, each in table.cells.items()}
    return replace(table, problems=problems, lines=list(itertools.compress(table.lines, kept)), cells=cells)
