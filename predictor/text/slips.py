"""Slips in plain words: what was found, its likely cause, what to do, and what was taken as given."""

from __future__ import annotations

from collections.abc import Callable

from predictor.domain.result import Remark

SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "given": "Taken as given: {turns:g} turns.",
}
