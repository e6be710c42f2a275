"""Reads drill.toml: one drill as its owner measured it."""

from __future__ import annotations

import math
import os
import re
import tomllib
from collections import Counter
from hashlib import sha256
from typing import Any

from predictor.domain.control import Lever, Sprockets
from predictor.domain.drill import HOLDS, CatchDefaults, Drill, SeedBox
from predictor.errors import InputError, Problem
from predictor.files.cells import near
from predictor.files.text import CONTROL, decode, read_bytes
from predictor.numbers import quoted
from predictor.units import GRAMS, METRES

# Wider than any field drill, common practice: what lies outside was written in another unit, or is a slip.
SPACING_M = (0.05, 1.5)
CIRCUMFERENCE_M = (0.5, 10.0)
MOST_ROWS = 200
MOST_TEETH = 200
MOST_STEPS = 100_000

_TOP = {"name", "rows", "viable", "catch", "box"} | {
    f"{name}_{unit}" for name in ("row_spacing", "rolling_circumference") for unit in METRES
}
_CATCH = {"turns", "rows", "charge_turns", "scale_resolution_g"}
_LEVER = {"lowest", "highest", "step", "more_is"}
_FULL = {"full_lb": GRAMS["lb"], "full_kg": GRAMS["kg"]}
_BOX = {"name", "holds", "control", "positions"} | _LEVER | _FULL.keys()
_POSITION = {"label", "driver", "driven"}
_POSITIONS_FORM = 'positions = [{label = "1", driver = 12, driven = 30}, ...]'

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\]\[#]+?)\s*\]").match
_KEY = re.compile(r"""\s*["']?([A-Za-z0-9_-]+)["']?\s*=""").match


def read_drill(path: str | os.PathLike[str]) -> Drill:
    """Read a drill file.

    Parameters
    ----------
    path : str or path
        TOML with `name, rows`, one `row_spacing_...` and one `rolling_circumference_...` key (`_in`, `_ft`,
        `_cm` or `_m`), optionally `viable` and a table `[catch]`, and a table `[[box]]` for each seed box.
        "-" reads standard input.

    Returns
    -------
    Drill
        Lengths in metres; `units` are those in which the row spacing was written.

    Raises
    ------
    InputError
        All problems of the file, each with its line, its key, what was found and what to do.

    Examples
    --------
    >>> import predictor
    >>> drill = predictor.read_drill("sample_trials/drill.toml")
    >>> [box.name for box in drill.boxes], drill.rows
    (['chaffy', 'grain', 'small'], 12)
    """
    file, data = read_bytes(path)
    text = decode(data, file)
    try:
        content = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError([_syntax(str(error), text, file)]) from None
    problems: list[Problem] = []
    top = _Keys(content, _TOP, _Source(file, _key_lines(text), problems))
    name, rows = top.text("name"), top.whole("rows", high=MOST_ROWS)
    viable = top.choice("viable", ("germination", "total"), "germination")
    spacing, unit = top.length("row_spacing", SPACING_M, "Measure from the middle of one row to the next.")
    circumference, _ = top.length(
        "rolling_circumference",
        CIRCUMFERENCE_M,
        "Roll the loaded drill 10 turns of its drive wheel in the field, and divide the distance by 10.",
    )
    catch, boxes = _catch(top, rows), _boxes(top)
    if problems:
        raise InputError(sorted(problems, key=lambda problem: problem.line or 0))
    units = "us" if unit in ("in", "ft") else "metric"
    return Drill(name, rows, spacing, circumference, boxes, catch, viable, units, sha256(data).hexdigest())


class _Source:
    """What every table of the file shares: its name, the lines of its keys, and the problems so far."""

    def __init__(self, file: str, lines: dict[str, int], problems: list[Problem]):
        self.file, self.lines, self.problems = file, lines, problems


class _Keys:
    """One table of the file, read key by key; what is wrong is collected."""

    def __init__(self, data: dict[str, Any], known: set[str], source: _Source, where: str = "", path: str = ""):
        self.data, self.source, self.where, self.path = data, source, where, path
        for key in data:
            if key not in known:
                meant = near(key, known)
                hint = f"Did you mean {meant}?" if meant else f"Known here: {', '.join(sorted(known))}."
                self.wrong(key, f"The program knows no such key. {hint}")

    def wrong(self, key: str, message: str) -> None:
        """Note a problem with a key of this table."""
        lines = self.source.lines
        tried = (self.path + key, f"{self.path}{key}.", self.path)
        line = next((lines[each] for each in tried if each in lines), None)
        place = CONTROL.sub("?", f"{self.where}{key}")
        self.source.problems.append(Problem(message, self.source.file, line, key=place))

    def number(
        self,
        key: str,
        default: float | None = None,
        *,
        low: float = -1e9,
        high: float = 1e9,
        above: float | None = None,
        hint: str = "",
    ) -> float:
        """A number within limits; NaN with a problem noted where it is not."""
        value = self.data.get(key, default)
        if value is None:
            self.wrong(key, "The key is missing. Write its number.")
            return math.nan
        if isinstance(value, bool) or not isinstance(value, (int, float)) or value != value:
            self.wrong(key, f"{_shown(value)} is not a number. Write the number alone, without quotes or unit.")
            return math.nan
        if above is not None and not value > above:
            self.wrong(key, f"{_shown(value)} cannot be: it must be above {above:g}. {hint}".rstrip())
            return math.nan
        if not low <= value <= high:
            self.wrong(key, f"{_shown(value)} cannot be: it lies between {low:g} and {high:g}. {hint}".rstrip())
            return math.nan
        return float(value)

    def whole(self, key: str, default: int | None = None, *, high: int) -> int:
        """A whole number from 1 to `high`; `high` where it is not, with a problem noted."""
        value = self.number(key, default, low=1, high=high)
        if value == value and value != int(value):
            self.wrong(key, f"{value:g} is not a whole number.")
        return int(value) if value == value else high

    def text(self, key: str) -> str:
        """A name; "" with a problem noted where there is none."""
        value = self.data.get(key)
        if value is None:
            self.wrong(key, f'The key is missing. Write it in quotes: {key} = "...".')
        elif not isinstance(value, str) or not value.strip() or CONTROL.search(value):
            self.wrong(key, f'{_shown(value)} is not a name. Write it in quotes: {key} = "...".')
        else:
            return " ".join(value.split())
        return ""

    def choice(self, key: str, choices: tuple[str, ...], default: str | None = None) -> str | None:
        """One of a few words; None with a problem noted where it is none of them."""
        value = self.data.get(key, default)
        if isinstance(value, str) and value in choices:
            return value
        found = "The key is missing." if value is None else f"{_shown(value)} is none of them."
        self.wrong(key, f"{found} Write one of: " + ", ".join(f'"{choice}"' for choice in choices) + ".")
        return None

    def length(self, name: str, limits: tuple[float, float], how: str) -> tuple[float, str]:
        """A length in metres, and the unit it was written in."""
        there = [unit for unit in METRES if f"{name}_{unit}" in self.data]
        if len(there) != 1:
            keys = ", ".join(f"{name}_{unit}" for unit in METRES)
            found = "there is none" if not there else f"there are {len(there)}"
            self.wrong(f"{name}_{there[0]}" if there else name, f"Write exactly one of {keys}; {found}.")
            return math.nan, "m"
        unit = there[0]
        key = f"{name}_{unit}"
        value = self.number(key, above=0, hint=how)
        metres = value * METRES[unit]
        if metres == metres and not limits[0] <= metres <= limits[1]:
            low, high = (limit / METRES[unit] for limit in limits)
            hint = _meant_length(value, name, unit, limits) or how
            self.wrong(key, f"{value:g} {unit} cannot be: it lies between {low:.3g} and {high:.3g}. {hint}")
        return metres, unit


def _meant_length(value: float, name: str, unit: str, limits: tuple[float, float]) -> str:
    """What an impossible length may have been meant to be; "" where nothing fits."""

    def fits(metres: float) -> bool:
        return limits[0] <= metres <= limits[1]

    units = [each for each, factor in METRES.items() if fits(value * factor)]
    if units:
        keys = " or ".join(f"{name}_{each}" for each in units)
        return f"Is {value:g} in {' or '.join(units)}? Then name the key {keys}."
    if unit in ("cm", "m") and fits(value / 1000):
        return f"Is {value:g} in millimetres? Then write {name}_cm = {value / 10:g}."
    for divisor in (10, 100, 1000):
        if fits(value / divisor * METRES[unit]):
            return f"Is a decimal point missing, as in {value / divisor:g}?"
    return ""


def _catch(top: _Keys, drill_rows: int) -> CatchDefaults:
    usual = CatchDefaults()
    data = top.data.get("catch", {})
    if not isinstance(data, dict):
        top.wrong("catch", "Write it as a table: [catch] on a line of its own, its keys below.")
        return usual
    keys = _Keys(data, _CATCH, top.source, "catch, ", "catch.")
    rows = keys.whole("rows", min(usual.rows, drill_rows), high=MOST_ROWS)
    if rows > drill_rows:
        keys.wrong("rows", f"{rows} rows cannot be caught: the drill has {drill_rows}.")
    return CatchDefaults(
        keys.number("turns", usual.turns, above=0, high=10_000),
        rows,
        keys.number("charge_turns", usual.charge_turns, low=0, high=10_000),
        keys.number("scale_resolution_g", usual.scale_resolution_g, above=0, high=1000, hint="Write it in grams."),
    )


def _boxes(top: _Keys) -> tuple[SeedBox, ...]:
    entries = top.data.get("box")
    if not isinstance(entries, list) or not entries or not all(isinstance(entry, dict) for entry in entries):
        found = "One pair of brackets is missing." if isinstance(entries, dict) else "The drill has no boxes."
        top.wrong("box", f"{found} Write [[box]] on a line of its own for each box, its keys below.")
        return ()
    boxes: list[SeedBox] = []
    seen: set[str] = set()
    for number, entry in enumerate(entries, 1):
        label = entry["name"] if isinstance(entry.get("name"), str) else f"number {number}"
        keys = _Keys(entry, _BOX, top.source, f"box {label}, ", f"box.{number}.")
        name = keys.text("name")
        if name and name.lower() in seen:
            keys.wrong("name", f"Two boxes are called {name}. Give each its own name.")
        seen.add(name.lower())
        holds = keys.choice("holds", HOLDS)
        kind = keys.choice("control", ("lever", "sprockets"))
        control = _lever(keys) if kind == "lever" else _sprockets(keys) if kind == "sprockets" else None
        if control is not None and holds is not None:
            boxes.append(SeedBox(name, holds, control, _full(keys)))
    return tuple(boxes)


def _full(keys: _Keys) -> float | None:
    """Weight of the full box in grams, where it is given."""
    there = [key for key in _FULL if key in keys.data]
    if len(there) > 1:
        keys.wrong(there[1], "The weight of the full box stands in pounds and in kilograms. Keep one of them.")
    return keys.number(there[0], above=0, high=10_000) * _FULL[there[0]] if there else None


def _lever(keys: _Keys) -> Lever | None:
    if "positions" in keys.data:
        keys.wrong("positions", 'A lever has no chain positions. Delete them, or write control = "sprockets".')
    lowest, highest = keys.number("lowest", 0), keys.number("highest")
    step = keys.number("step", 1, above=0)
    more_is = keys.choice("more_is", ("higher", "lower"), "higher")
    if more_is is None or not all(map(math.isfinite, (lowest, highest, step))):
        return None
    if not lowest < highest:
        keys.wrong(
            "lowest",
            f"The scale would run from {lowest:g} to {highest:g}. Write the smaller reading as lowest; "
            'where a smaller reading gives more seed, add more_is = "lower".',
        )
        return None
    if step > highest - lowest or (highest - lowest) / step > MOST_STEPS:
        keys.wrong("step", f"Steps of {step:g} do not fit a scale from {lowest:g} to {highest:g}.")
        return None
    return Lever(lowest, highest, step, more_is)


def _sprockets(keys: _Keys) -> Sprockets | None:
    for key in sorted(_LEVER & keys.data.keys()):
        keys.wrong(key, 'Sprockets have no scale. Delete the key, or write control = "lever".')
    positions = keys.data.get("positions")
    if not isinstance(positions, list) or not positions or not all(isinstance(entry, dict) for entry in positions):
        found = "The chain positions are missing." if not positions else f"{_shown(positions)} has no teeth in it."
        keys.wrong("positions", f"{found} Write them as {_POSITIONS_FORM}.")
        return None
    ratios: dict[str, float] = {}
    folded: set[str] = set()
    # positions are mostly written inside one key of the box, so that their problems are placed at its line
    path = f"{keys.path}positions"
    for number, entry in enumerate(positions, 1):
        written = f"{path}.{number}."
        inner = _Keys(
            {key: value for key, value in entry.items() if key != "ratio"},
            _POSITION,
            keys.source,
            f"{keys.where}position {number}, ",
            written if written in keys.source.lines else path,
        )
        label = _label(inner)
        if label and label.lower() in folded:
            inner.wrong("label", f"Two chain positions are called {label}. Give each its own label.")
        folded.add(label.lower())
        if "ratio" in entry:
            inner.wrong("ratio", "A ratio is worked out from the teeth. Write driver and driven in its place.")
            if not {"driver", "driven"} & entry.keys():
                continue
        ratios[label] = inner.whole("driver", high=MOST_TEETH) / inner.whole("driven", high=MOST_TEETH)
    return Sprockets(ratios) if ratios else None


def _label(position: _Keys) -> str:
    """Label of a chain position; a whole number is taken as it is written."""
    value = position.data.get("label")
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) < 1e9:
        return str(value)
    return position.text("label")


def _key_lines(text: str) -> dict[str, int]:
    """Lines of tables and keys, as "catch.turns" or "box.2.highest"; the TOML reader does not keep them.

    A key written in an unusual way may be missing: its problem then has the line of its table.
    """
    lines: dict[str, int] = {}
    counts: Counter[str] = Counter()
    here = ""
    for number, line in enumerate(text.split("\n"), 1):
        if header := _HEADER(line):
            *outer, last = (part.strip(" \"'") for part in header[2].split("."))
            here = ""
            for part in outer:
                here += f"{part}."
                here += f"{counts[here]}." if counts[here] else ""
            here += f"{last}."
            if header[1] == "[[":
                counts[here] += 1
                here += f"{counts[here]}."
            lines[here] = number
        elif key := _KEY(line):
            lines.setdefault(here + key[1], number)
    return lines


def _syntax(error: str, text: str, file: str) -> Problem:
    """A sentence for what the TOML reader could not read."""
    what, _, place = error.partition(" (at ")
    found = re.match(r"line (\d+)", place)
    lines = text.split("\n")
    number = int(found[1]) if found and int(found[1]) <= len(lines) else None
    if number is None:
        return Problem("The file ends too early. Look for a quote or bracket that is never closed.", file)
    line = lines[number - 1].strip()
    shown = f"{quoted(line)} cannot be read" if line else "This line cannot be read"
    if any(word in what for word in ("overwrite", "twice", "uplicate", "mutate")):
        return Problem(f"{quoted(line)} stands a second time in its table. Keep one.", file, number)
    return Problem(f"{shown}. {_syntax_hint(line)}", file, number)


def _syntax_hint(line: str) -> str:
    """What is probably wrong with a line that is not TOML."""
    key, sign, value = (part.strip() for part in line.partition("="))
    if re.search("[“”„«»‘’]", line):
        return 'Type straight quotes: ".'
    if not sign:
        return "Write a key, an = sign and its value, or a table in brackets."
    if " " in key:
        return f"Write the key in one word: {'_'.join(key.split())}."
    if not value or value.startswith("#"):
        return "Nothing stands behind the = sign. Write the value there, or delete the line."
    if re.match(r"-?\d+,\d+", value):
        return f"Write a decimal point: {re.match(r'-?[0-9]+,[0-9]+', value)[0].replace(',', '.')}."
    if number := re.match(r"(-?\d+(?:\.\d+)?)\s*[A-Za-z\"'%]", value):
        return f"Write the number alone, without its unit: {number[1]}."
    if re.match(r"\.\d", value):
        return f"Write a zero before the point: 0{value}."
    if re.match(r"[^\W\d]", value):
        return f'Put words in quotes: {key} = "{value}".'
    return "Check its quotes, brackets and commas."


def _shown(value: Any) -> str:
    """A value as a message shows it: numbers bare, everything else in quotes."""
    if isinstance(value, float):
        return f"{value:g}"
    try:
        return str(value) if type(value) is int and abs(value) < 1e15 else quoted(str(value))
    except ValueError:  # Python refuses to write out a whole number of thousands of digits
        return "This number"
