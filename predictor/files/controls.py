"""Reads the control of a box in drill.toml: a lever with its scale, or chain positions with their teeth."""

import math
from typing import Any, Literal, TypeGuard

from predictor.domain.control import Lever, Sprockets
from predictor.domain.drives import Controls, LeverAndDrive
from predictor.files.toml import Keys, shown
from predictor.numbers import Range

MOST_TEETH, MOST_STAGES = 200, 5
MOST_STEPS = 100_000

_LEVER = {"lowest", "highest", "step", "more_is", "shut"}
CONTROL_KEYS = {"control", "positions", "drives"} | _LEVER
_MORE_IS: tuple[Literal["higher", "lower"], ...] = ("higher", "lower")
_POSITION = {"label", "driver", "driven", "ratio"}
_DRIVES_FORM = 'drives = [{label = "high", driver = 20, driven = 12}, {label = "low", driver = 12, driven = 20}]'
_POSITIONS_FORM = 'positions = [{label = "1", driver = 12, driven = 30}, ...]'


def read_control(keys: Keys) -> Controls | None:
    """The control of a box; None with its problems noted."""
    kind = keys.choice("control", ("lever", "sprockets"))
    if kind == "sprockets":
        return _sprockets(keys)
    lever = _lever(keys) if kind == "lever" else None
    drives = _drives(keys) if "drives" in keys.data else None
    return LeverAndDrive(lever, drives) if lever is not None and drives else lever


def is_tables(value: object) -> TypeGuard[list[dict[str, Any]]]:
    """Whether a value is a list of tables, with at least one."""
    return isinstance(value, list) and bool(value) and all(isinstance(entry, dict) for entry in value)


def _lever(keys: Keys) -> Lever | None:
    if "positions" in keys.data:
        keys.wrong("positions", 'A lever has no chain positions. Delete them, or write control = "sprockets".')
    lowest, highest = keys.number("lowest", default=0), keys.number("highest")
    step = keys.number("step", Range(0, 1e9, above=True), 1)
    more_is = keys.choice("more_is", _MORE_IS, "higher")
    if more_is is None or not all(map(math.isfinite, (lowest, highest, step))):
        return None
    if not lowest < highest:
        keys.wrong(
            "lowest",
            f"The scale would run from {lowest:g} to {highest:g}. Write the smaller reading as lowest. "
            'If a smaller reading gives more seed, add more_is = "lower".',
        )
        return None
    if step > highest - lowest or (highest - lowest) / step > MOST_STEPS:
        keys.wrong("step", f"Steps of {step:g} do not fit a scale from {lowest:g} to {highest:g}.")
        return None
    shut = keys.number("shut", Range(lowest, highest)) if "shut" in keys.data else None
    if shut is None or shut != shut:
        return Lever(lowest, highest, step, more_is)
    try:
        return Lever(lowest, highest, step, more_is, shut)
    except ValueError:
        keys.wrong("shut", f"No reading is open beyond {shut:g}. Write the reading at which the lever gives nothing.")
        return None


def _sprockets(keys: Keys) -> Sprockets | None:
    for key in sorted(_LEVER & keys.data.keys()):
        keys.wrong(key, 'Sprockets have no scale. Delete the key, or write control = "lever".')
    if "drives" in keys.data:
        keys.wrong("drives", "Only a lever can have drives besides. Multiply the teeth into the positions instead.")
    positions = keys.data.get("positions")
    if not is_tables(positions):
        found = "The chain positions are missing." if not positions else f"{shown(positions)} has no teeth in it."
        keys.wrong("positions", f"{found} Write them as {_POSITIONS_FORM}.")
        return None
    ratios: dict[str, float] = {}
    teeth: dict[str, tuple[int, int]] = {}
    folded: set[str] = set()
    # positions are mostly written inside one key of the box, so that their problems are placed at its line
    path = f"{keys.path}positions"
    for number, entry in enumerate(positions, 1):
        written = f"{path}.{number}."
        at = written if written in keys.lines else path
        inner = keys.inner(dict(entry), _POSITION, f"{keys.where}position {number}, ", at)
        label = inner.text("label", or_whole=True)
        if label and label.lower() in folded:
            inner.wrong("label", f"Two chain positions are called {label}. Give each its own label.")
        folded.add(label.lower())
        if "ratio" in entry:
            inner.wrong("ratio", "A ratio is worked out from the teeth. Write driver and driven in its place.")
            if not {"driver", "driven"} & entry.keys():
                continue
        driver, driven = _both_teeth(inner)
        ratios[label or "?"] = math.prod(driver) / math.prod(driven)
        if len(driver) == len(driven) == 1:
            teeth[label] = driver[0], driven[0]
    return Sprockets(ratios, teeth) if ratios else None


def _drives(keys: Keys) -> dict[str, float | None]:
    """Label and ratio of each drive; a ratio that is not known is None, and so is one that is wrong."""
    entries = keys.data["drives"]
    if not is_tables(entries):
        keys.wrong("drives", f"{shown(entries)} has no drive in it. Write {_DRIVES_FORM}.")
        return {}
    drives: dict[str, float | None] = {}
    for number, entry in enumerate(entries, 1):
        written = f"{keys.path}drives.{number}."
        at = written if written in keys.lines else f"{keys.path}drives"
        inner = keys.inner(dict(entry), _POSITION, f"{keys.where}drive {number}, ", at)
        label = inner.text("label", or_whole=True)
        if set("+/@") & set(label):
            inner.wrong("label", f"{shown(label)} contains one of the signs + / @. Give the drive a plain name.")
        elif label.lower().startswith("on "):
            inner.wrong("label", f'Write the drive without "on", as {shown(label[3:])}: settings then read 24 {label}.')
        elif label and label.lower() in map(str.lower, drives):
            inner.wrong("label", f"Two drives are called {label}. Give each its own label.")
        elif label:
            drives[label] = _known_ratio(inner)
    return drives


def _known_ratio(keys: Keys) -> float | None:
    """The ratio of a drive by its teeth or as it is written; None where it has neither."""
    teeth = {"driver", "driven"} & keys.data.keys()
    if "ratio" not in keys.data:
        return _drive_ratio(keys) if teeth else None
    if teeth:
        keys.wrong("ratio", "The ratio is given, and the teeth as well. Keep one of them.")
    ratio = keys.number("ratio", Range(0, 1000, above=True))
    return ratio if math.isfinite(ratio) else None


def _drive_ratio(keys: Keys) -> float:
    """Driver teeth over driven teeth; the product of its stages where one chain drives the next."""
    driver, driven = _both_teeth(keys)
    return math.prod(driver) / math.prod(driven)


def _both_teeth(keys: Keys) -> tuple[list[int], list[int]]:
    """Driver and driven teeth, one of each for every stage."""
    driver, driven = _teeth(keys, "driver"), _teeth(keys, "driven")
    if driver and driven and len(driver) != len(driven):
        keys.wrong(
            "driven",
            f"The stages of driver and driven differ in number: {len(driver)} and {len(driven)}. Write one of each for "
            "every stage, as driver = [12, 20], driven = [30, 15].",
        )
    return driver, driven


def _teeth(keys: Keys, key: str) -> list[int]:
    """Teeth of the sprockets, one for each stage; none with a problem noted where the list is empty or too long."""
    value = keys.data.get(key)
    if not isinstance(value, list):
        return [keys.whole(key, MOST_TEETH)]
    if not 1 <= len(value) <= MOST_STAGES:
        found = "The list is empty" if not value else f"There are {len(value)} stages, more than any drill has"
        keys.wrong(key, f"{found}. Write the teeth of one sprocket for each stage, as {key} = [12, 20].")
        return []
    return [keys.inner({key: each}, {key}, keys.where, keys.path).whole(key, MOST_TEETH) for each in value]
