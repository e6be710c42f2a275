"""Slips in plain words: what was found, its likely cause, what to do, and what was taken as given."""

from __future__ import annotations

from collections.abc import Callable

from predictor.domain.result import Remark
from predictor.text import examples, given, rows
from predictor.text.causes import CAUSES, level, odd, run
from predictor.text.slip_patterns import PATTERNS

SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    **CAUSES,
    **rows.SENTENCES,
    **PATTERNS,
    "odd": odd,
    "run": run,
    "level": level,
    "given": given.taken,
    "example_drill": examples.drill_waits,
    "example_lots": examples.lots_wait,
}
