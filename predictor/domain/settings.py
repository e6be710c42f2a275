"""What people write for a setting, matched with what the control really has."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from predictor.domain.drill import Control, Lever, SeedBox, Sprockets
from predictor.numbers import parse_number, quoted

_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_DATE_LIKE = re.compile(
    r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}.*|[0-9]{1,2}([/.-])[0-9]{1,2}\1[0-9]{2,4}"
    rf"|[0-9]{{1,2}}[- .]+(?:{_MONTHS})[a-z]*\b.*|(?:{_MONTHS})[a-z]*[- .]+[0-9]+.*",
    re.IGNORECASE,
).fullmatch
_PLAIN = re.compile(r"[0-9]+(?:\.[0-9]*)?").fullmatch


def read_setting(text: str, box: SeedBox | None, *, decimal: str = ".") -> tuple[str, float]:
    """A setting as its control shows it, and its opening."""
    control = None if box is None else box.control
    label = _position(control, text) if isinstance(control, Sprockets) else None
    if label is not None:
        return label, control.opening(label)
    if _DATE_LIKE(text):
        raise ValueError(
            f"{quoted(text)} is a date. Spreadsheets turn a setting such as 3-5 into one: write the setting "
            "again, with the cell's format set to text."
        )
    if isinstance(control, Sprockets):
        raise ValueError(f"Box {box.name} has no chain position {quoted(text)}. It has {_listed(control.settings)}.")
    if control is None:
        try:
            return text, parse_number(text, decimal=decimal)
        except ValueError:
            return text, np.nan
    value = parse_number(text, decimal=decimal, what="a lever reading")
    if not control.has(value):
        raise ValueError(
            f"{quoted(text)} is off the scale of box {box.name}, which runs from {control.lowest:g} to "
            f"{control.highest:g}. Read the lever again."
        )
    return control.show(value), control.opening(value)


def opening_of(control: Control, setting: str) -> float | None:
    """Opening of a setting written as text; None where the control does not have it."""
    if isinstance(control, Lever):
        try:
            value = parse_number(setting)
        except ValueError:
            return None
        return control.opening(value) if control.has(value) else None
    label = _position(control, setting)
    return None if label is None else control.opening(label)


def _position(control: Sprockets, text: str) -> str | None:
    """The chain position a text names; "1.0" and "01" are position 1 where nothing else is meant by them."""
    if control.has(text):
        return text
    wanted = _as_number(text)
    same = [label for label in control.settings if label.lower() == text.lower() or _as_number(label) == wanted]
    return same[0] if len(same) == 1 else None


def _as_number(text: str) -> float | str:
    return float(text) if _PLAIN(text) else text


def _listed(labels: Sequence[str]) -> str:
    return ", ".join(labels[:20]) + (" ..." if len(labels) > 20 else "")
