"""What the drill does, in words: the rows that a box feeds, and how long a catch is."""

from __future__ import annotations

import math

from predictor.domain.catch import CatchSize, Measured
from predictor.domain.control import Lever
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.format import count, plain
from predictor.units import METRES, Units

# One and several of what the length of a catch is counted in.
_WORDS: dict[Measured, tuple[str, str]] = {
    "wheel turns": ("turn", "turns"),
    "crank turns": ("turn of the crank", "turns of the crank"),
    "motor turns": ("turn of the motor", "turns of the motor"),
    "seconds": ("second", "seconds"),
    "ft": ("ft", "ft"),
    "m": ("m", "m"),
}


def length_words(length: float, counted: Measured) -> str:
    """How long a catch is.

    Examples
    --------
    >>> length_words(28, "wheel turns"), length_words(1, "crank turns"), length_words(100, "ft")
    ('28 turns', '1 turn of the crank', '100 ft')
    """
    one, several = _WORDS[counted]
    return f"{plain(round(length, 3))} {one if length == 1 else several}"


def size_words(size: CatchSize) -> str:
    """How long a catch is, and how many rows it takes.

    Examples
    --------
    >>> size_words(CatchSize(60, "seconds", 3))
    '60 seconds, 3 rows'
    """
    return f"{length_words(size.length, size.counted)}, {count(int(size.rows), 'row')}"


def one_word(counted: Measured) -> str:
    """What an output is per, as in grams per row per turn."""
    return _WORDS[counted][0]


def several(counted: Measured) -> str:
    """What the length of a catch is counted in."""
    return _WORDS[counted][1]


def charge_words(usual: CatchDefaults, size: CatchSize | None = None) -> str:
    """What fills the meters before a catch, of the size that is given."""
    if size is not None and size.counted in ("ft", "m"):
        return f"towing a few {'feet' if size.counted == 'ft' else 'metres'} to charge"
    return f"{length_words(usual.charge_turns, usual.counted)} to charge"


def fed_rows(drill: Drill, box: SeedBox, units: Units) -> str:
    """Which rows a box feeds, where they are not all rows of the drill; else "".

    Examples
    --------
    >>> from predictor.domain.control import Lever
    >>> box = SeedBox("legume", "small", Lever(0, 40), rows=6)
    >>> fed_rows(Drill("made up", 12, 0.1905, 2.2, (box,)), box, "us")
    '6 of 12 rows, each for 15 in of width'
    """
    if box.rows is None or (box.rows == drill.rows and box.row_spacing_m is None):
        return ""
    unit = "in" if units == "us" else "cm"
    spacing = f"{drill.spacing_of(box) / METRES[unit]:.4g} {unit}"
    # where nobody gave the spacing, which rows are closed is not known: every second one, or two for the wheels
    apart = f"each for {spacing} of width" if box.row_spacing_m is None else f"{spacing} apart"
    return f"{box.rows} of {drill.rows} rows, {apart}"


def around(lever: Lever, low: float, high: float) -> tuple[str, str]:
    """The nearest readings of a lever's scale at or below `low` and at or above `high`, which lie on it.

    Examples
    --------
    >>> from predictor.domain.control import Lever
    >>> around(Lever(0, 40, 0.5), 12.83, 14.0)
    ('12.5', '14')
    """
    first = math.floor((low - lever.lowest) / lever.step + 1e-9)
    last = math.ceil((high - lever.lowest) / lever.step - 1e-9)
    below, above = (round(min(lever.lowest + lever.step * each, lever.highest), 9) for each in (first, last))
    return plain(below), plain(above)


def drive_words(drill: Drill, units: Units) -> list[str]:
    """What drives the meters, and the ground that each turn or second covers; a box where it has its own."""
    unit = "ft" if units == "us" else "m"
    said = []
    if drill.rolling_circumference_m is not None:
        said.append(f"drive wheel {drill.rolling_circumference_m / METRES[unit]:.4g} {unit} around")
    own = [("", drill.catch), *((f" of box {box.name}", box.catch) for box in drill.boxes if box.catch is not None)]
    for whose, catch in own:
        if catch.each_covers_m is not None:
            ground = f"{catch.each_covers_m / METRES[unit]:.4g} {unit} of ground"
            said.append(f"each {one_word(catch.counted)}{whose} stands for {ground}")
    return said
