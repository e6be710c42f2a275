"""Reads drill.toml: one drill as its owner measured it."""

import datetime
import math
import os
from dataclasses import replace
from typing import TypeVar

from predictor.domain.arguments import path_of
from predictor.domain.drill import COUNTED, HOLDS, VIABLE, CatchDefaults, Counted, Drill, SeedBox
from predictor.files.controls import CONTROL_KEYS, is_tables, read_control
from predictor.files.fields import read_fields
from predictor.files.signs import Signs
from predictor.files.toml import Keys, read_toml, shown
from predictor.format import plain
from predictor.numbers import Range, quoted
from predictor.units import GRAMS, METRES, SQUARE_METRES, Units
from predictor.unseen import UNSEEN

# Wider than any field drill, common practice: what lies outside was written in another unit, or is a slip.
SPACING_M = Range(0.05, 1.5)
CIRCUMFERENCE_M = Range(0.5, 10.0)
# Metres of ground that a turn or a second may stand for, common practice: a walk to a fast tractor for a second.
COVERS_M = {"crank turns": Range(0.02, 200.0), "motor turns": Range(0.001, 200.0), "seconds": Range(0.2, 10.0)}
MOST_ROWS = 200
# What stands for a name that is missing while the rest of the file is read.
NAMELESS = "?"
Otherwise = TypeVar("Otherwise", float, None)
# A box cannot sow more ground than the drill passes over, but for rounded spacings.
WIDER = 1.02

_TOP = {"name", "rows", "viable", "measured", "history", "catch", "box", "field"} | {
    f"{name}_{unit}" for name in ("row_spacing", "rolling_circumference") for unit in METRES
}
# What one turn or second may stand for: a distance, or the ground over the whole width of the drill.
_AREAS = {"ft2": METRES["ft"] ** 2, "m2": 1.0, **SQUARE_METRES}
_COVERS = {f"each_covers_{unit}": unit for unit in ("ft", "m", *_AREAS)}
_DRIVE = {"counted", "turns", "charge_turns"} | _COVERS.keys()
_CATCH = {"rows", "scale_resolution_g"} | _DRIVE
_FULL = {"full_lb": GRAMS["lb"], "full_kg": GRAMS["kg"]}
_SPACINGS = {f"row_spacing_{unit}" for unit in METRES}
_BOX = {"name", "holds", "rows"} | CONTROL_KEYS | _FULL.keys() | _SPACINGS | _DRIVE
_OTHER_DRIVES = 'counted = "crank turns", "motor turns" or "seconds"'


def read_drill(path: str | os.PathLike[str]) -> Drill:
    """Read a drill file.

    Parameters
    ----------
    path : str or path
        TOML with `name, rows`, one `row_spacing_...` and one `rolling_circumference_...` key (`_in`, `_ft`,
        `_cm` or `_m`; not needed where no box counts wheel turns), optionally `viable`, `measured` (the day),
        `history` (earlier logs) and a table `[catch]`, and a table `[[box]]` for each seed box. A box that feeds
        fewer rows has its own `rows`, and `row_spacing_...` where they cover only their strip. `counted` and one
        `each_covers_...` key, in `[catch]` or in a box, say what drives the meters where the drive wheel does not. A
        table `[[field]]` for each field has its `name` and `area_ac` or `area_ha`.
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
    path_of(path, "path")
    top, digest = read_toml(path, _TOP)
    name, rows = top.text("name"), top.whole("rows", MOST_ROWS)
    viable = top.choice("viable", VIABLE, "germination")
    spacing, unit = _length(top, "row_spacing", SPACING_M, "Measure from the middle of one row to the next.")
    catch = _catch(top, rows, rows * spacing)
    boxes = _boxes(top, catch, rows, spacing)
    circumference = _circumference(top, [box.catch or catch for box in boxes] or [catch])
    fields, history, measured = read_fields(top), _history(top), _measured(top)
    top.problems.check()
    units: Units = "us" if unit in ("in", "ft") else "metric"
    rule, line = viable or "germination", top.lines.get("history")
    return Drill(name, rows, spacing, circumference, boxes, catch, rule, units, fields, digest, history, line, measured)


def _measured(top: Keys) -> str:
    """The day on which the drill was measured; "" where it is not given."""
    value = top.data.get("measured")
    if value is not None and not isinstance(value, (str, datetime.date)):
        top.wrong("measured", f"{shown(value)} is not a date. Write year, month and day as 2026-04-18.")
        return ""
    try:
        return "" if value is None else Signs().date(str(value))
    except ValueError as error:
        top.wrong("measured", str(error))
        return ""


def _history(top: Keys) -> tuple[str, ...]:
    """Paths and patterns of earlier logs."""
    found = top.data.get("history", [])
    texts = [found] if isinstance(found, str) else found
    if not isinstance(texts, list) or any(not isinstance(each, str) or not each.strip() for each in texts):
        top.wrong("history", 'Write the logs of earlier seasons in quotes: history = ["../2025/trials.csv"].')
        return ()
    for each in texts:
        if UNSEEN.search(each):
            top.wrong("history", f"{quoted(each)} contains an invisible character. Retype it.")
        elif "**" in each:
            top.wrong(
                "history", f"{quoted(each)} would search every folder. Use one * for each folder: ../*/trials.csv."
            )
    return tuple(each.strip() for each in texts)


def _length(keys: Keys, name: str, allowed: Range, how: str, without: str = "") -> tuple[float, str]:
    """A length in metres, and the unit it was written in."""
    there = [unit for unit in METRES if f"{name}_{unit}" in keys.data]
    if len(there) != 1:
        names = ", ".join(f"{name}_{unit}" for unit in METRES)
        found = "there is none" if not there else f"there are {len(there)}"
        keys.wrong(f"{name}_{there[0]}" if there else name, f"Write exactly one of {names}; {found}.{without}")
        return math.nan, "m"
    unit = there[0]
    value = keys.data[f"{name}_{unit}"]
    hint = _meant_length(value, name, unit, allowed) if isinstance(value, (int, float)) and 0 < value < 1e9 else ""
    value = keys.number(
        f"{name}_{unit}", Range(allowed.low / METRES[unit], allowed.high / METRES[unit]), hint=hint or how
    )
    return value * METRES[unit], unit


def _meant_length(value: float, name: str, unit: str, allowed: Range) -> str:
    """What an impossible length may have been meant to be; "" where nothing fits."""
    units = [each for each, factor in METRES.items() if allowed.has(value * factor)]
    if units:
        keys = " or ".join(f"{name}_{each}" for each in units)
        return f"Is {value:g} in {' or '.join(units)}? Then name the key {keys}."
    if unit in ("cm", "m") and allowed.has(value / 1000):
        return f"Is {value:g} in millimetres? Then write {name}_cm = {value / 10:g}."
    for divisor in (10, 100, 1000):
        if allowed.has(value / divisor * METRES[unit]):
            return f"Is a decimal point missing, as in {value / divisor:g}?"
    return ""


def _circumference(top: Keys, catches: list[CatchDefaults]) -> float | None:
    """Rolling circumference in metres; None where it is not given and no catch counts wheel turns."""
    given = any(f"rolling_circumference_{unit}" in top.data for unit in METRES)
    if not given and all(each.counted != "wheel turns" for each in catches):
        return None
    how = "Roll the loaded drill 10 turns of its drive wheel in the field, and divide the distance by 10."
    without = "" if given else f" Or name what drives the meters in [catch]: {_OTHER_DRIVES}."
    return _length(top, "rolling_circumference", CIRCUMFERENCE_M, how, without)[0]


def _catch(top: Keys, drill_rows: int, width: float) -> CatchDefaults:
    usual = CatchDefaults()
    data = top.data.get("catch", {})
    if not isinstance(data, dict):
        top.wrong("catch", "Write it as a table: [catch] on a line of its own, its keys below.")
        return usual
    keys = top.inner(data, _CATCH, "catch, ", "catch.")
    rows = keys.whole("rows", MOST_ROWS, min(usual.rows, drill_rows))
    if rows > drill_rows:
        keys.wrong("rows", f"{rows} rows cannot be caught: the drill has {drill_rows}.")
    step = keys.number("scale_resolution_g", Range(0, 1000, above=True), usual.scale_resolution_g, "Write it in grams.")
    return _driven(keys, replace(usual, rows=rows, scale_resolution_g=_given(step, usual.scale_resolution_g)), width)


def _driven(keys: Keys, usual: CatchDefaults, width: float) -> CatchDefaults:
    """How long a catch is and what that is counted in, where keys of a table say so; `width` of the drill in metres."""
    counted = keys.choice("counted", COUNTED, usual.counted)
    if counted is None:
        return usual
    covers = sorted(_COVERS.keys() & keys.data.keys())
    each = usual.each_covers_m if counted == usual.counted else None
    if counted == "wheel turns" and covers:
        keys.wrong(
            covers[0],
            "A turn of the drive wheel covers its rolling circumference. Delete this key, or say what drives the "
            f"meters: {_OTHER_DRIVES}.",
        )
    elif counted != "wheel turns" and (covers or each is None):
        each = _covers(keys, covers, counted, width)
    if counted != usual.counted and "turns" not in keys.data:  # the usual 28 turns of a wheel mean nothing there
        keys.wrong("turns", f"Write how many {counted} a catch takes.")
    return replace(
        usual,
        turns=_given(keys.number("turns", Range(0, 10_000, above=True), usual.turns), usual.turns),
        charge_turns=_given(keys.number("charge_turns", Range(0, 10_000), usual.charge_turns), usual.charge_turns),
        counted=counted,
        each_covers_m=None if each is None else _given(each, None),
    )


def _given(value: float, otherwise: Otherwise) -> float | Otherwise:
    """A number, or another one where that is NaN: its problem is noted, and reading goes on."""
    return otherwise if math.isnan(value) else value


def _covers(keys: Keys, there: list[str], counted: Counted, width: float) -> float | None:
    """Metres of ground for one turn or second of what is counted."""
    if len(there) != 1:
        found = "there is none" if not there else f"there are {len(there)}"
        keys.wrong(
            there[0] if there else "each_covers",
            f"Write exactly one of {', '.join(_COVERS)} for what one of the {counted} stands for: a distance, or the "
            f"ground over the whole width of the drill; {found}.",
        )
        return None
    unit = _COVERS[there[0]]
    factor = _AREAS[unit] / width if unit in _AREAS else METRES[unit]
    allowed = COVERS_M[counted]
    value = keys.number(there[0], Range(allowed.low / factor, allowed.high / factor), hint="Check the number and unit.")
    return value * factor


def _boxes(top: Keys, catch: CatchDefaults, drill_rows: int, drill_spacing: float) -> tuple[SeedBox, ...]:
    entries = top.data.get("box")
    if not is_tables(entries):
        found = "One pair of brackets is missing." if isinstance(entries, dict) else "The drill has no boxes."
        top.wrong("box", f"{found} Write [[box]] on a line of its own for each box, its keys below.")
        return ()
    boxes: list[SeedBox] = []
    seen: set[str] = set()
    for number, entry in enumerate(entries, 1):
        label = entry["name"] if isinstance(entry.get("name"), str) else f"number {number}"
        keys = top.inner(entry, _BOX, f"box {label}, ", f"box.{number}.")
        name = keys.text("name")
        if name and name.lower() in seen:
            keys.wrong("name", f"Two boxes are called {name}. Give each its own name.")
        seen.add(name.lower())
        holds = keys.choice("holds", HOLDS)
        control = read_control(keys)
        full, fed = _full(keys), _fed_rows(keys, drill_rows, drill_spacing)
        own = _driven(keys, catch, drill_rows * drill_spacing) if _DRIVE & entry.keys() else None
        if control is not None and holds is not None:
            boxes.append(SeedBox(name or NAMELESS, holds, control, full, *fed, own))
    return tuple(boxes)


def _full(keys: Keys) -> float | None:
    """Weight of the full box in grams, where it is given."""
    there = [key for key in _FULL if key in keys.data]
    if len(there) > 1:
        keys.wrong(there[1], "The weight of the full box is given in pounds and in kilograms. Keep one of them.")
    return _given(keys.number(there[0], Range(0, 10_000, above=True)) * _FULL[there[0]], None) if there else None


def _fed_rows(keys: Keys, drill_rows: int, drill_spacing: float) -> tuple[int | None, float | None]:
    """How many rows a box feeds, and the metres between them; None for what is as the drill has it."""
    spaced = sorted(_SPACINGS & keys.data.keys())
    if "rows" not in keys.data:
        if spaced:
            keys.wrong(spaced[0], "Write how many rows this box feeds too, as rows = 6, or delete this key.")
        return None, None
    rows = keys.whole("rows", MOST_ROWS)
    if keys.data["rows"] == rows > drill_rows:
        keys.wrong("rows", f"The box cannot feed {rows} rows: the drill has {drill_rows}.")
    if rows > drill_rows:
        return None, None
    if not spaced:
        return rows, None
    spacing, unit = _length(keys, "row_spacing", SPACING_M, "Measure from one row that the box feeds to the next.")
    if rows * spacing > drill_rows * drill_spacing * WIDER:
        width, whole = (plain(round(each / METRES[unit], 2)) for each in (rows * spacing, drill_rows * drill_spacing))
        keys.wrong(spaced[0], f"The box would sow {width} {unit} in one pass, but the drill is {whole} {unit} wide.")
    return rows, _given(spacing, None)
