"""What a weight that is far from what is expected may have been meant as: one list for all that asks about it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from predictor.domain.control import Control, Lever, Setting, Sprockets
from predictor.domain.drill import CatchDefaults, SeedBox
from predictor.domain.drives import on_drive
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.units import GRAMS

Range = tuple[float, float]

# How often each slip happens, against the others; judgement.
ODDS = {
    "all_rows": 1.0,
    "few_rows": 1.0,
    "turns": 1.0,
    "decimal": 1.0,
    "container": 1.0,
    "container_twice": 0.3,
    "unit": 0.7,
    "uncharged": 0.7,
    "plugged": 0.5,
    "digits": 0.4,
    "setting": 0.4,
    "chain": 0.4,
    "swapped": 0.4,
    "other_box": 0.4,
    "other_lot": 0.4,
}
# A container that no row names, and units that are rarely mixed up, are less likely than the others of their kind.
UNKNOWN_TARE, RARE_UNIT = 0.3, 0.3
# What meters that were not charged leave out of a catch, as shares of it; common practice.
UNCHARGED = (0.1, 0.2, 0.3, 0.4)
# Limits of 99 % lie this many standard deviations off on either side.
SIDES = 2 * 2.576
# A number as it is written on paper has no more significant digits than this.
WRITTEN_DIGITS = 6


@dataclass(frozen=True)
class Cause:
    """What a weight may have been meant as.

    Attributes
    ----------
    code : str
        "all_rows", "few_rows", "turns", "decimal", "container", "container_twice", "unit", "uncharged", "plugged",
        "digits", "setting", "chain", "swapped", "other_box" or "other_lot".
    grams : float
        What the catch weighs if this is the cause, over the turns and rows that are written; at the setting that was
        meant, where that is the cause.
    values : mapping of str to object
        What its question needs.
    likely : float
        How well it explains the weight, against the other causes.
    """

    code: str
    grams: float
    values: Mapping[str, Any] = field(default_factory=dict, hash=False)
    likely: float = field(default=0.0, repr=False, compare=False)

    @property
    def remark(self) -> Remark:
        """The question whether this is the cause."""
        return Remark(f"slips.cause-{self.code}", {"grams": self.grams, **self.values})

    def __str__(self) -> str:
        return str(self.remark)


@dataclass(frozen=True)
class About:
    """What is known of a catch whose weight looks odd; what is not known is left out.

    Attributes
    ----------
    rows, turns : float
        As they are written.
    box_rows : int
        Rows that the box feeds.
    usual_rows : float
        Rows usually caught.
    usual_turns : tuple of float
        Turns that are usual or were asked for.
    tares : tuple of float
        Containers known in the log, grams; each weighing has one.
    constant : float
        Weight that other catches seem to have on top of their seed, grams.
    tare_g : float
        What was taken off this weight in all, grams.
    pieces : tuple of float
        Net weights of the single rows or parts, where they were weighed apart, grams.
    counted : str
        What `turns` counts.
    setting : Setting
        As it is written.
    control : Lever or Sprockets
        Of the box.
    at : callable
        The weight expected at an opening, grams, 99 %; None where nothing is known of it.
    first : bool
        Whether it is the first catch of its lot on its day, so that the meters may not have been charged.
    """

    rows: float | None = None
    turns: float | None = None
    box_rows: int | None = None
    usual_rows: float | None = None
    usual_turns: tuple[float, ...] = ()
    tares: tuple[float, ...] = ()
    constant: float | None = None
    tare_g: float = 0.0
    pieces: tuple[float, ...] = ()
    counted: str = "wheel turns"
    setting: Setting | None = None
    control: Control | None = field(default=None, hash=False)
    at: Callable[[float], Range | None] | None = None
    first: bool = False


def known(box: SeedBox, log: Trials, *, rows: float, turns: float, setting: Setting, **more: Any) -> About:
    """What a log tells of a catch of a box, as it is written; `more` are other attributes of `About`."""
    drill, mine = log.drill, log.of(box=box.name)
    usual = drill.catch_of(box) if drill else CatchDefaults()
    weighings = [len(rows or parts or (0,)) for rows, parts in zip(log.rows_g, log.parts_g, strict=True)]
    tares = np.round(log.tare_g / np.array(weighings or [1])[: len(log)], 6)
    return About(
        rows=rows,
        turns=turns,
        box_rows=drill.rows_of(box) if drill else None,
        usual_rows=float(usual.rows),
        usual_turns=tuple(dict.fromkeys([usual.turns, *mine.turns[~mine.towed].tolist()])),
        tares=tuple(dict.fromkeys(tares[tares > 0].tolist())),
        setting=setting,
        control=on_drive(box.control, setting.drive),
        **{"counted": usual.counted, **more},
    )


def likely_causes(grams: float, expected_g: Range, about: About) -> tuple[Cause, ...]:
    """What a weight may have been meant as, the likeliest first.

    Parameters
    ----------
    grams : float
        Net weight as it is written, > 0.
    expected_g : (float, float)
        Limits between which it was expected with 99 %, 0 <= low < high.
    about : About

    Returns
    -------
    tuple of Cause
        Those whose weight is inside what is expected; of each kind the likeliest.

    Examples
    --------
    >>> about = About(rows=3, box_rows=12, turns=28)
    >>> [(each.code, each.grams) for each in likely_causes(104.2, (24.0, 29.0), about)]
    [('all_rows', 26.05)]
    >>> print(likely_causes(261.0, (24.0, 29.0), about)[0])
    Was 26.1 g meant?
    """
    best: dict[str, Cause] = {}
    for odds, cause, meant in _candidates(grams, expected_g, about):
        likely = odds * _density(cause.grams, meant)
        if likely > best.get(cause.code, cause).likely:
            best[cause.code] = replace(cause, likely=likely)
    return tuple(sorted(best.values(), key=lambda each: -each.likely))


def with_places(causes: tuple[Cause, ...], grams: float, places: Iterable[tuple[Cause, Range]]) -> tuple[Cause, ...]:
    """The causes of a weight with those where it fits another box or lot, each with what is expected there."""
    found = [replace(each, likely=ODDS[each.code] * _density(grams, expected)) for each, expected in places]
    best: dict[str, Cause] = {}
    for each in sorted(found, key=lambda each: each.likely):
        if each.likely > 0:
            best[each.code] = each
    return tuple(sorted([*causes, *best.values()], key=lambda each: -each.likely))


def _density(grams: float, expected_g: Range) -> float:
    """How well a weight fits what is expected: 0 outside, else a density of its logarithm."""
    low, high = max(expected_g[0], 1e-9), expected_g[1]
    if not low <= grams <= high:
        return 0.0
    width = max(np.log(high / low) / SIDES, 1e-9)
    off = np.log(grams) - (np.log(low) + np.log(high)) / 2
    return float(np.exp(-0.5 * (off / width) ** 2) / width)


Candidate = tuple[float, Cause, Range]  # Prior odds, cause, and the weight expected if it is true


def _candidates(grams: float, expected_g: Range, about: About) -> Iterator[Candidate]:
    """Every cause there may be, with its odds; most do not fit."""
    for odds, code, meant, values in (*_sizes(grams, about), *_containers(grams, about), *_numbers(grams, about)):
        yield odds * ODDS[code], Cause(code, meant, values), expected_g
    lost = UNCHARGED if about.first else ()
    for share in lost:
        yield ODDS["uncharged"] / len(lost), Cause("uncharged", grams / (1 - share)), expected_g
    yield from _settings(grams, about)
    yield from _chains(grams, about)


Simple = tuple[float, str, float, dict[str, Any]]  # Odds within the kind, code, grams, values


def _sizes(grams: float, about: About) -> Iterator[Simple]:
    """Other rows or turns than are written."""
    rows, every, usual = about.rows, about.box_rows, about.usual_rows
    if rows and every and rows < every:
        yield 1.0, "all_rows", grams * rows / every, {"rows": rows, "box_rows": every}
    if rows and every and usual and usual < rows == every:
        yield 1.0, "few_rows", grams * rows / usual, {"rows": rows, "few": usual}
    if rows and rows > 1 and not about.pieces:
        yield 1.0, "plugged", grams * rows / (rows - 1), {"rows": rows}
    if about.turns:
        for turns in dict.fromkeys((*about.usual_turns, 2 * about.turns, about.turns / 2)):
            if turns > 0 and turns != about.turns:
                yield 1.0, "turns", grams * about.turns / turns, _turns(about, turns)


def _turns(about: About, turns: float) -> dict[str, Any]:
    return {"turns": about.turns, "meant": turns, "counted": about.counted}


def _containers(grams: float, about: About) -> Iterator[Simple]:
    """A container that was weighed along, or taken off twice."""
    weighings = max(len(about.pieces), 1)
    for tare in about.tares:
        if about.tare_g < tare and 0 < tare * weighings < grams:
            yield 1.0, "container", grams - tare * weighings, {"tare_g": tare}
    if about.constant is not None and 0 < about.constant < grams:
        yield UNKNOWN_TARE, "container", grams - about.constant, {"tare_g": about.constant}
    if about.tare_g > 0:
        yield 1.0, "container_twice", grams + about.tare_g, {"tare_g": about.tare_g / weighings}


def _numbers(grams: float, about: About) -> Iterator[Simple]:
    """Another number or unit than is written, of the whole weight or of one row or part."""
    for piece in dict.fromkeys(about.pieces or (grams,)):
        tare = about.tare_g / max(len(about.pieces), 1)
        number, unit = as_written(piece + tare)
        for odds, code, meant, values in _meant(number, unit):
            net = grams - piece + meant - tare
            if net > 0:
                yield odds, code, net, values
    number, unit = as_written(grams + about.tare_g)
    for other, size in GRAMS.items():
        if other != unit and number * size > about.tare_g:
            odds = 1.0 if {unit, other} == {"g", "oz"} else RARE_UNIT
            values = {"number": number, "unit": other, "column": unit}
            yield odds, "unit", number * size - about.tare_g, values


def _meant(number: float, unit: str) -> Iterator[Simple]:
    """A number with its decimal point elsewhere, or two of its digits in the other order: what it weighs in grams."""
    for factor in (10, 0.1, 100, 0.01):
        meant = float(f"{number / factor:.10g}")
        values = {"number": number, "meant": meant, "unit": unit}
        yield 1.0 if 0.05 < factor < 50 else 0.4, "decimal", meant * GRAMS[unit], values
    for meant in swapped_digits(number):
        yield 1.0, "digits", meant * GRAMS[unit], {"number": number, "meant": meant, "unit": unit}


def _settings(grams: float, about: About) -> Iterator[Candidate]:
    """The setting misread, or setting and weight in each other's place: held against what is expected elsewhere."""
    control, setting, at = about.control, about.setting, about.at
    if not isinstance(control, Lever) or setting is None or at is None:
        return
    reading = control.opening(setting.opening)  # the map is its own inverse
    for value in dict.fromkeys((*swapped_digits(reading), reading - 10, reading + 10)):
        expected = at(control.opening(value)) if control.has(value) else None
        if expected is not None:
            yield (
                ODDS["setting"],
                Cause("setting", grams, {"setting": setting.text, "meant": f"{value:.10g}"}),
                expected,
            )
    number, unit = as_written(grams + about.tare_g)
    other = control.find(f"{number:.10g}")
    if unit == "g" and other is not None and other.opening != setting.opening and not control.between_steps(other):
        expected = at(other.opening)
        if expected is not None and reading > 0:
            values = {"setting": setting.text, "number": number}
            yield ODDS["swapped"], Cause("swapped", reading, values), expected


def _chains(grams: float, about: About) -> Iterator[Candidate]:
    """The chain moved on one end only: the sprocket of another position drives, or is driven."""
    control, setting, at = about.control, about.setting, about.at
    if not isinstance(control, Sprockets) or setting is None or at is None or setting.value not in control.teeth:
        return
    driver, driven = control.teeth[str(setting.value)]
    others = [(each, driven) for each, _ in control.teeth.values()] + [
        (driver, each) for _, each in control.teeth.values()
    ]
    for pair in dict.fromkeys(others):
        expected = at(pair[0] / pair[1]) if pair != (driver, driven) else None
        if expected is not None:
            values = {"setting": setting.text, "driver": pair[0], "driven": pair[1]}
            yield ODDS["chain"], Cause("chain", grams, values), expected


def as_written(grams: float) -> tuple[float, str]:
    """A weight as it stands on paper: the number, and the first unit in which it has few digits; grams where none has.

    >>> as_written(26.1), as_written(2.1 * GRAMS["oz"])
    ((26.1, 'g'), (2.1, 'oz'))
    """
    for unit, size in GRAMS.items():
        number = float(f"{grams / size:.{WRITTEN_DIGITS}g}")
        if abs(number * size - grams) <= 1e-9 * grams:
            return number, unit
    return grams, "g"


def swapped_digits(number: float) -> tuple[float, ...]:
    """The numbers that a number becomes where two digits next to each other change places.

    >>> swapped_digits(21.6)
    (12.6, 26.1)
    """
    text = f"{number:.10g}"
    places = [i for i, sign in enumerate(text) if sign.isdigit()]
    if len(places) > WRITTEN_DIGITS or "e" in text:
        return ()
    found = []
    for i, j in pairwise(places):
        signs = list(text)
        signs[i], signs[j] = signs[j], signs[i]
        meant = "".join(signs)
        if signs[i] != signs[j] and (not meant.startswith("0") or meant.startswith("0.")):
            found.append(float(meant))
    return tuple(found)
