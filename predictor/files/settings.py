"""Reads a setting as text: a lever reading or a chain position."""

import re

import numpy as np

from predictor.domain.control import Setting, Sprockets
from predictor.domain.drives import Controls, LeverAndDrive
from predictor.format import listed
from predictor.numbers import parse_number, quoted

_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_DATE_LIKE = re.compile(
    r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}.*|[0-9]{1,2}([/.-])[0-9]{1,2}\1[0-9]{2,4}"
    rf"|[0-9]{{1,2}}[- .]+(?:{_MONTHS})[a-z]*\b.*|(?:{_MONTHS})[a-z]*[- .]+[0-9].*",
    re.IGNORECASE | re.DOTALL,
).fullmatch


def read_setting(text: str, control: Controls | None, box: str = "", *, decimal: str = ".") -> Setting:
    """The setting that a text names; raises a ValueError with a sentence where the control does not have it.

    Without a control a number is its own opening, and any other text is a label whose opening is NaN.
    """
    found = None if control is None else control.find(text, decimal)
    # A chain position may be called "3-5". On a lever, or without a control, that is a date.
    if found is None and _DATE_LIKE(text):
        raise ValueError(
            f"{quoted(text)} is a date. Spreadsheets turn a setting such as 3-5 into a date: format the cell as text "
            "and type the setting again."
        )
    if control is None:
        try:
            value = parse_number(text, decimal=decimal)
        except ValueError:
            return Setting(text, np.nan, text)
        return Setting(value, value, text)
    if found is not None:
        return found
    if isinstance(control, Sprockets):
        positions = listed(control.ratios, most=20)
        raise ValueError(f"Box {box} has no chain position {quoted(text)}. Its positions: {positions}.")
    if isinstance(control, LeverAndDrive):
        lever = control.lever
        raise ValueError(
            f"{quoted(text)} is not a setting of box {box}, which has two controls. Write the lever reading and the "
            f"drive, as {example_of(control)}. The lever runs from {lever.lowest:g} to "
            f"{lever.highest:g}; the drives are {listed(control.drives)}."
        )
    parse_number(text, decimal=decimal, what="a lever reading")
    raise ValueError(
        f"{quoted(text)} is off the scale of box {box}, which runs from {control.lowest:g} to {control.highest:g}. "
        "Read the lever again."
    )


def example_of(control: LeverAndDrive) -> str:
    """How a setting of two controls is written: the middle of the lever on the first drive."""
    settings = control.on().settings
    return settings[len(settings) // 2].text
