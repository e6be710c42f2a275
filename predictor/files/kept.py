"""Reads logs, of which one has rows added to it: what stands in them as it did is not read again.

On a log of 10 MB a catch would otherwise take three readings: before the question, to add the row, and for the answer.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Any

import numpy as np

from predictor.domain.codes import with_same_texts
from predictor.domain.drill import Drill
from predictor.domain.trials import Trials, joined
from predictor.errors import InputError, Problems
from predictor.files.cells import uncollected
from predictor.files.signs import signs_of
from predictor.files.split import Records, split
from predictor.files.table import Table, table_in
from predictor.files.text import as_read, decode, encoding_of, read_bytes
from predictor.files.trials import HEADER, checked, trials_of


@dataclass(frozen=True)
class _Read:
    """A log as it was read, without a problem."""

    file: str
    drill: Drill | None
    data: bytes
    digest: Any  # Of the data, SHA-256 that can go on
    records: Records
    table: Table  # Its header, and what its numbers and dates show
    trials: Trials


class KeptLog:
    """Logs as they were last read: the one that rows are added to, and those of earlier seasons."""

    def __init__(self) -> None:
        self._last: dict[str, _Read] = {}

    def trials(self, path: str | os.PathLike[str], drill: Drill | None = None) -> Trials:
        """The catches of a log, as `read_trials` reads them."""
        with uncollected():
            file, data = read_bytes(path)
            last, now = self._last.pop(file, None), None
            if last is not None and last.drill == drill:
                now = last if last.data == data else _grown(last, data)
            self._last[file] = now or _read(file, data, drill)
        return self._last[file].trials

    def records_of(self, data: bytes) -> Records | None:
        """The records of a file, if it is one that was last read."""
        return next((each.records for each in self._last.values() if each.data == data), None)

    def widened(self, data: bytes, after: bytes, records: Records) -> None:
        """Know what was last read when it has more columns, which are empty, so that its rows stay what they were."""
        for file, last in self._last.items():
            if last.data == data and decode(after, file) == as_read(records.text) == records.text:
                problems, digest = Problems(file), sha256(after)
                table = table_in(records, HEADER, problems)
                trials = checked(with_same_texts(last.trials, "digest", digest.hexdigest()), table.assumed)
                table = replace(table, cells={}, lines=())
                self._last[file] = replace(last, data=after, digest=digest, records=records, table=table, trials=trials)


def _read(file: str, data: bytes, drill: Drill | None) -> _Read:
    """Read a whole log."""
    problems = Problems(file)
    records = split(decode(data, file), HEADER.known, problems)
    table = table_in(records, HEADER, problems)
    digest = sha256(data)
    table.digest = digest.hexdigest()
    trials = trials_of(table, drill)
    return _Read(file, drill, data, digest, records, replace(table, cells={}, lines=()), trials)


def _grown(last: _Read, data: bytes) -> _Read | None:
    """A log to which whole plain rows were added; None where it has to be read again, as for what it would report."""
    records, added = last.records, data[len(last.data) :]
    whole = last.data.endswith(b"\n") and data.startswith(last.data) and encoding_of(data)[1] == "utf-8"
    if not whole or not added or encoding_of(added)[0] or records.width() != len(records.cells[0]):
        return None
    problems = Problems(last.file)
    try:
        text = decode(added, last.file)
        new = split(f"{records.header_text()}\n{text}", HEADER.known, problems)
        odd = len(new.ends) != len(new) or len(new.cells.others) > 1  # a comment, a blank row, one of another width
        if problems.found or odd or new.separator != records.separator:
            return None
        table = table_in(new, HEADER, problems)
        seen = last.table.seen | table.seen
        if signs_of(seen, records.separator) != signs_of(last.table.seen, records.separator):
            return None
        table.signs = last.table.signs
        rows = trials_of(table, last.drill)
        first, digest = len(records.ends) + 1, last.digest.copy()
        digest.update(added)
        rows = replace(rows, line=np.arange(first, first + len(rows)), digest=digest.hexdigest())
        trials = checked(joined([last.trials, rows]), last.table.assumed)
    except InputError:
        return None
    longer = _longer(records, new, text)
    return _Read(last.file, last.drill, data, digest, longer, replace(last.table, seen=seen), trials)


def _longer(records: Records, new: Records, text: str) -> Records:
    """Records with those of `new` below them, which has the same header. Those of before are added to, not copied."""
    rows, end = len(records.ends), records.ends[-1] - new.ends[0]
    for k in range(1, len(new)):
        records.cells.append(new.cells[k])
    records.rows.extend(range(rows + 1, rows + len(new)))
    records.ends.extend(end + each for each in new.ends[1:])
    return replace(records, text=records.text + text)
