"""An entry as the page sends it: checked whole, before anything is done with it."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from predictor.errors import InputError
from predictor.unseen import UNSEEN

KINDS = ("catch", "check", "plant", "undo", "confirm", "leave_out")
# More than any entry of a person has.
MOST, LONGEST = 60, 4096
_IS_ID = re.compile("[0-9a-f]{32}").fullmatch
NO_ENTRY = "Nothing was saved: this is not an entry of the page. Load the page again."


@dataclass(frozen=True)
class Entry:
    """One entry.

    Attributes
    ----------
    id : str
        Made by the browser; a row that has it in the file already is not added again.
    kind : str
    job : str
        The id of the job that it was typed for.
    day : date
        The day that the page showed when it was typed.
    shown : mapping of str to str
        The lot, setting, turns and rows that the page showed.
    values : mapping of str to str
        What was typed or chosen.
    answers : mapping of str to str
        Answers to questions, by their keys.
    """

    id: str
    kind: str
    job: str
    day: datetime.date
    shown: Mapping[str, str]
    values: Mapping[str, str]
    answers: Mapping[str, str]

    def get(self, name: str) -> str | None:
        """A value; None where there is none."""
        return self.values.get(name)


def read_entry(sent: Any) -> Entry:
    """An entry from what was sent; raises an InputError for what no page sends."""
    if not isinstance(sent, dict):
        raise InputError(NO_ENTRY)
    ids = _needed(sent, "id", _IS_ID), _needed(sent, "kind", KINDS.__contains__), _needed(sent, "job", _is_short)
    try:
        day = datetime.date.fromisoformat(_needed(sent, "day", _is_short))
    except ValueError:
        raise InputError(NO_ENTRY) from None
    return Entry(*ids, day, *(_texts(sent.get(name, {})) for name in ("shown", "values", "answers")))


def _is_short(text: str) -> bool:
    return len(text) <= LONGEST


def _needed(sent: Mapping[str, Any], name: str, right: Callable[[str], object]) -> str:
    found = sent.get(name)
    if not isinstance(found, str) or not right(found):
        raise InputError(NO_ENTRY)
    return found


def _texts(sent: Any) -> dict[str, str]:
    """Texts by their names."""
    if not isinstance(sent, dict) or len(sent) > MOST:
        raise InputError(NO_ENTRY)
    for name, text in sent.items():
        if not isinstance(name, str) or not isinstance(text, str) or max(len(name), len(text)) > LONGEST:
            raise InputError(NO_ENTRY)
        if UNSEEN.search(text):
            raise InputError("Nothing was saved: an answer contains an invisible character. Type it again.")
    return {name: text.strip() for name, text in sent.items()}
