"""Reads drill.toml: one drill as its owner measured it."""

from __future__ import annotations

import math
import os
import tomllib
from typing import Any

from predictor.csv_text import decode, read_bytes
from predictor.drill import HOLDS, CatchDefaults, Drill, Lever, SeedBox, Sprockets
from predictor.errors import InputError, Problem
from predictor.tables import near
from predictor.units import METRES

# Wider than any field drill: what is outside was written in another unit.
SPACING_M = (0.05, 1.5)
CIRCUMFERENCE_M = (0.5, 10.0)
MOST_STEPS = 100_000

_TOP = {"name", "rows", "viable", "catch", "box"} | {
    f"{name}_{unit}" for name in ("row_spacing", "rolling_circumference") for unit in METRES
}
_CATCH = {"turns", "rows", "charge_turns", "scale_resolution_g"}
_BOX = {"name", "holds", "control", "positions", "lowest", "highest", "step", "more_is"}


class _Keys:
    """One TOML table, read key by key; what is wrong is collected."""

    def __init__(self, data: dict[str, Any], where: str, known: set[str], file: str, problems: list[Problem]):
        self.data, self.where, self.file, self.problems = data, where, file, problems
        for key in data:
            if key not in known:
                meant = near(key, known)
                self.wrong(key, f"The program knows no such key.{f' Did you mean {meant}?' if meant else ''}")

    def wrong(self, key: str, message: str) -> None:
        self.problems.append(Problem(message, self.file, None, f"{self.where}{key}"))

    def number(self, key: str, default: float | None = None, *, above: float = -math.inf) -> float:
        """A finite number above a bound; NaN with a problem noted where it is not."""
        value = self.data.get(key, default)
        if value is None:
            self.wrong(key, "The key is missing. Write its number.")
            return math.nan
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            self.wrong(key, f"{_shown(value)} is not a number. Write the number alone, without quotes or unit.")
            return math.nan
        if value <= above:
            self.wrong(key, f"{_shown(value)} is not above {above:g}.")
            return math.nan
        return float(value)

    def whole(self, key: str, default: int | None = None) -> int:
        value = self.number(key, default, above=0)
        if value == value and value != int(value):
            self.wrong(key, f"{value:g} is not a whole number.")
        return int(value) if value == value else 1

    def text(self, key: str, default: str | None = None) -> str:
        value = self.data.get(key, default)
        if not isinstance(value, str) or not value.strip():
            found = "The key is missing." if value is None else f"{_shown(value)} is not a name."
            self.wrong(key, f'{found} Write it in quotes, as {key} = "...".')
            return ""
        return " ".join(value.split())

    def choice(self, key: str, choices: tuple[str, ...], default: str | None = None) -> str:
        value = self.data.get(key, default)
        if value not in choices:
            found = "The key is missing." if value is None else f"{_shown(value)} is none of them."
            self.wrong(key, f"{found} Write one of: " + ", ".join(f'"{choice}"' for choice in choices) + ".")
            return choices[0]
        return value

    def length(self, name: str, limits: tuple[float, float]) -> tuple[float, str]:
        """A length in metres, and the unit it was written in."""
        there = [unit for unit in METRES if f"{name}_{unit}" in self.data]
        if len(there) != 1:
            keys = ", ".join(f"{name}_{unit}" for unit in METRES)
            self.wrong(name, f"Write exactly one of {keys}; found {len(there)}.")
            return 1.0, there[0] if there else "m"
        unit = there[0]
        key = f"{name}_{unit}"
        value = self.number(key, above=0)
        metres = value * METRES[unit]
        if metres == metres and not limits[0] <= metres <= limits[1]:
            fits = [u for u, factor in METRES.items() if limits[0] <= value * factor <= limits[1]]
            hint = f" If {value:g} is in {fits[0]}, name the key {name}_{fits[0]}." if fits else ""
            low, high = limits[0] / METRES[unit], limits[1] / METRES[unit]
            self.wrong(key, f"{value:g} {unit} cannot be: it lies between {low:.3g} and {high:.3g} {unit}.{hint}")
        return metres, unit


def read_drill(path: str | os.PathLike[str]) -> Drill:
    """Read a drill file.

    Parameters
    ----------
    path : str or path
        TOML with `name, rows`, one `row_spacing_...` and one `rolling_circumference_...` key (`_in`, `_ft`, `_cm` or
        `_m`), optionally `viable` and a table `[catch]`, and a table `[[box]]` for each seed box.

    Returns
    -------
    Drill

    Raises
    ------
    InputError
        All problems of the file, each with its key, what was found and what to do.
    """
    file, data = read_bytes(path)
    text = decode(data, file)
    try:
        top_data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        words = str(error)
        line = words.partition("(at line ")[2].partition(",")[0]
        what = words.partition(" (at ")[0]
        number = int(line) if line.isdigit() else None
        raise InputError(
            [Problem(f"This is not a drill file the program can read: {what}. Check quotes, brackets and = signs.",
                     file, number)]
        ) from None
    problems: list[Problem] = []
    top = _Keys(top_data, "", _TOP, file, problems)
    name, rows = top.text("name"), top.whole("rows")
    viable = top.choice("viable", ("germination", "total"), "germination")
    spacing, spacing_unit = top.length("row_spacing", SPACING_M)
    circumference, _ = top.length("rolling_circumference", CIRCUMFERENCE_M)
    catch = _catch(top, rows)
    boxes = _boxes(top)
    if problems:
        raise InputError(problems)
    units = "us" if spacing_unit in ("in", "ft") else "metric"
    return Drill(name, rows, spacing, circumference, boxes, catch, viable, units)


def _catch(top: _Keys, drill_rows: int) -> CatchDefaults:
    data = top.data.get("catch", {})
    if not isinstance(data, dict):
        top.wrong("catch", "Write it as a table: [catch] on a line of its own, its keys below.")
        return CatchDefaults()
    keys = _Keys(data, "catch.", _CATCH, top.file, top.problems)
    usual = CatchDefaults()
    rows = keys.whole("rows", min(usual.rows, drill_rows))
    if rows > drill_rows:
        keys.wrong("rows", f"{rows} rows are more than the drill's {drill_rows}.")
    return CatchDefaults(
        keys.number("turns", usual.turns, above=0),
        rows,
        keys.number("charge_turns", usual.charge_turns, above=-1e-9),
        keys.number("scale_resolution_g", usual.scale_resolution_g, above=0),
    )


def _boxes(top: _Keys) -> tuple[SeedBox, ...]:
    entries = top.data.get("box")
    if not isinstance(entries, list) or not entries or not all(isinstance(entry, dict) for entry in entries):
        top.wrong("box", "The drill has no boxes. Write a table [[box]] for each.")
        return ()
    boxes, seen = [], set()
    for number, entry in enumerate(entries, 1):
        label = entry.get("name") if isinstance(entry.get("name"), str) else f"number {number}"
        keys = _Keys(entry, f"box {label}, ", _BOX, top.file, top.problems)
        name = keys.text("name")
        if name.lower() in seen:
            keys.wrong("name", "Two boxes have this name. Give each its own.")
        seen.add(name.lower())
        holds = keys.choice("holds", HOLDS)
        kind = keys.choice("control", ("lever", "sprockets"))
        control = _lever(keys) if kind == "lever" else _sprockets(keys)
        if control is not None:
            boxes.append(SeedBox(name, holds, control))
    return tuple(boxes)


def _lever(keys: _Keys) -> Lever | None:
    if "positions" in keys.data:
        keys.wrong("positions", "A lever has no chain positions. Delete them, or write control = \"sprockets\".")
    lowest, highest = keys.number("lowest", 0), keys.number("highest")
    step = keys.number("step", 1, above=0)
    more_is = keys.choice("more_is", ("higher", "lower"), "higher")
    if not all(map(math.isfinite, (lowest, highest, step))):
        return None
    if not lowest < highest:
        keys.wrong("lowest", f"The scale runs from {lowest:g} to {highest:g}. Write the smaller reading as lowest; "
                   'where a smaller reading gives more seed, add more_is = "lower".')
        return None
    if step > highest - lowest or (highest - lowest) / step > MOST_STEPS:
        keys.wrong("step", f"Steps of {step:g} do not fit a scale from {lowest:g} to {highest:g}.")
        return None
    return Lever(lowest, highest, step, more_is)


def _sprockets(keys: _Keys) -> Sprockets | None:
    for key in ("lowest", "highest", "step"):
        if key in keys.data:
            keys.wrong(key, "Sprockets have no scale. Delete it, or write control = \"lever\".")
    positions = keys.data.get("positions")
    form = 'positions = [{label = "1", driver = 12, driven = 30}, ...]'
    if not isinstance(positions, list) or not positions or not all(isinstance(entry, dict) for entry in positions):
        keys.wrong("positions", f"Write the chain positions as {form}.")
        return None
    ratios: dict[str, float] = {}
    for number, entry in enumerate(positions, 1):
        inner = _Keys(entry, f"{keys.where}position {number}, ", {"label", "driver", "driven"}, keys.file, keys.problems)
        label = entry.get("label", "")
        label = str(label) if isinstance(label, int) and not isinstance(label, bool) else inner.text("label")
        driver, driven = inner.number("driver", above=0), inner.number("driven", above=0)
        if label in ratios:
            inner.wrong("label", f"Two chain positions are called {label}. Give each its own label.")
        ratios[label] = driver / driven
    return Sprockets(ratios) if all(map(math.isfinite, ratios.values())) else None


def _shown(value: Any) -> str:
    from predictor.numbers import quoted

    return quoted(str(value))
