"""Misuse of the library ends in its own error, which names the argument; what holds elsewhere is a right answer."""

import math
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pandas as pd
import pytest

import predictor
from predictor import (
    CatchDefaults,
    Drill,
    Field,
    InputError,
    Lever,
    LeverAndDrive,
    OnDrive,
    SeedBox,
    Sprockets,
)

NAN, INF = math.nan, math.inf
LEVER, CHAIN = Lever(0, 60), Sprockets({"1": 0.4, "2": 0.54})
BOTH = LeverAndDrive(LEVER, {"high": 2.0, "low": 1.0, "creep": None})
BOX = SeedBox("small", "small", LEVER)
DRILL = Drill("ours", 12, 0.19, 2.2, (BOX, SeedBox("Grain", "free-flowing", CHAIN)))
NO_NUMBER = [None, "1", "abc", True, [1.0], (), {}, 1j, np.array([1.0, 2.0]), pd.NA, NAN, INF, -INF, 10**400,
             pd.Series([1.0, 2.0]), Decimal("NaN"), object(), DRILL]  # fmt: skip
NO_NAME = [None, 1, 2026.0, True, ["small"], b"small", np.nan, pd.NA, {}, BOX, pd.Series(["small"])]
NO_FLAG = [None, "yes", 1, 0, [], NAN]
NO_DRILL = ["drill.toml", None, BOX, LEVER, 12, {}, pd.DataFrame()]
NO_BOX = ["small", None, DRILL, LEVER, 1, {}]


def only(*some):
    """No numbers, and these numbers too."""
    return [*NO_NUMBER, *some]


def optional(misuses):
    """What may be None."""
    return [each for each in misuses if each is not None]


def no_text(misuses):
    return [each for each in misuses if not isinstance(each, str)]


# What is called with each of the misuses of one argument, the first word being its name in the message.
DOMAIN = {
    "lowest": (lambda bad: Lever(bad, 60), only(60, 61)),
    "highest": (lambda bad: Lever(0, bad), only()),
    "step": (lambda bad: Lever(0, 60, bad), only(0, -1, 61)),
    "more_is": (lambda bad: Lever(0, 60, 1, bad), [*NO_NAME, "Lower", "low", "", "less"]),
    "shut": (lambda bad: Lever(0, 60, 1, shut=bad), optional(only(60, 61, -1))),
    "opening": (LEVER.at, only()),
    "opening of the nearest": (LEVER.nearest, only()),
    "opening on a drive": (OnDrive(0, 60, drive="high").at, only()),
    "opening of a chain": (CHAIN.at, only()),
    "reading": (LEVER.opening, [*no_text(NO_NUMBER), "", "1_0", "nan", "٣"]),
    "reading on the scale": (LEVER.has, [*no_text(NO_NUMBER), "", "1_0", "nan"]),
    "setting": (LEVER.between_steps, only("30", 30.0)),
    "text": (LEVER.find, [*NO_NAME, 30]),
    "text of a chain": (CHAIN.find, NO_NAME),
    "text of two": (BOTH.find, NO_NAME),
    "decimal": (lambda bad: LEVER.find("1", bad), [*NO_NAME, ";", "", "comma"]),
    "ratios": (Sprockets, [None, {}, [], ["1"], "12", 0.4, {"1": 0.4, 1: 0.5}, {1.5: 0.4}, {None: 0.4}, {"": 0.4}]),
    "drive ratio": (lambda bad: Sprockets({"1": bad}), only(0, -1)),
    "teeth": (lambda bad: Sprockets({"1": 0.4}, bad), [None, 3, "12", [12, 30]]),
    "chain position": (CHAIN.opening, [None, "3", 3, 0.4, "", True]),
    "lever": (lambda bad: LeverAndDrive(bad, {"a": 1.0}), [None, CHAIN, BOTH, "lever", 60]),
    "drives": (lambda bad: LeverAndDrive(LEVER, bad), [None, {}, ["a"], "ab", {1: 1.0}, {"a/b": 1.0}, {" ": 1.0},
                                                       {"a": 1.0, "A": 2.0}]),
    "ratio of drive": (lambda bad: LeverAndDrive(LEVER, {"a": bad}), optional(only(0, -1))),
    "drive": (BOTH.on, [*NO_NAME, "fast", "hig"]),
    "drive to compare": (lambda bad: BOTH.times(bad, "low"), [*NO_NAME, "fast", ""]),
    "other": (lambda bad: BOTH.times("low", bad), NO_NAME),
    "name": (lambda bad: SeedBox(bad, "small", LEVER), [*NO_NAME, "", " "]),
    "holds": (lambda bad: SeedBox("a", bad, LEVER), [*NO_NAME, "Small", "fluffy", "free flowing", ""]),
    "control": (lambda bad: SeedBox("a", "small", bad), [None, "lever", 60, BOX, DRILL, {"1": 0.4}]),
    "full_g": (lambda bad: SeedBox("a", "small", LEVER, full_g=bad), optional(only(0, -1))),
    "rows": (lambda bad: SeedBox("a", "small", LEVER, rows=bad), optional(only(0, -1, 2.5))),
    "row_spacing_m": (lambda bad: SeedBox("a", "small", LEVER, row_spacing_m=bad), optional(only(0, -0.19))),
    "catch": (lambda bad: SeedBox("a", "small", LEVER, catch=bad), [28, "28", {}, DRILL]),
    "turns": (lambda bad: CatchDefaults(turns=bad), only(0, -28)),
    "rows caught": (lambda bad: CatchDefaults(rows=bad), only(0, -3, 2.5)),
    "charge_turns": (lambda bad: CatchDefaults(charge_turns=bad), only(-1)),
    "scale_resolution_g": (lambda bad: CatchDefaults(scale_resolution_g=bad), only(-0.1)),
    "counted": (lambda bad: CatchDefaults(counted=bad), [*NO_NAME, "turns", "Seconds", "wheel"]),
    "each_covers_m": (lambda bad: CatchDefaults(each_covers_m=bad), optional(only(0, -1))),
    "name of a drill": (lambda bad: replace(DRILL, name=bad), NO_NAME),
    "rows of a drill": (lambda bad: replace(DRILL, rows=bad), only(0, -12, 7.5)),
    "rows of the drill for a box": (lambda bad: replace(DRILL, boxes=(replace(BOX, rows=bad),)), [13, 200]),
    "row_spacing_m of a drill": (lambda bad: replace(DRILL, row_spacing_m=bad), only(0, -0.19)),
    "rolling_circumference_m": (lambda bad: replace(DRILL, rolling_circumference_m=bad), optional(only(0, -2.2))),
    "boxes": (lambda bad: replace(DRILL, boxes=bad), [None, BOX, "small", {"small": BOX}, ("small",), (BOX, BOX),
                                                      (BOX, replace(BOX, name="SMALL"))]),
    "catch of a drill": (lambda bad: replace(DRILL, catch=bad), [None, 28, {}, BOX]),
    "viable": (lambda bad: replace(DRILL, viable=bad), [*NO_NAME, "Total", "germ", ""]),
    "units": (lambda bad: replace(DRILL, units=bad), [*NO_NAME, "US", "imperial", ""]),
    "fields": (lambda bad: replace(DRILL, fields=bad), [None, "north", ("north",), Field("north", 1.0)]),
    "history": (lambda bad: replace(DRILL, history=bad), [None, "trials.csv", (1,), 1]),
    "box": (DRILL.box, ["smal", "", "other"]),
    "name of a box": (DRILL.box, NO_NAME),
    "box for rows": (DRILL.rows_of, NO_BOX),
    "box for spacing": (DRILL.spacing_of, NO_BOX),
    "box for width": (DRILL.width_of, NO_BOX),
    "box for catch": (DRILL.catch_of, NO_BOX),
    "box for ground": (DRILL.covers_of, NO_BOX),
    "name of a field": (lambda bad: Field(bad, 1.0), NO_NAME),
    "area_m2": (lambda bad: Field("north", bad), only(0, -1)),
}  # fmt: skip


def refused(case, call, misuses):
    """The name in the message is the first word of a case, or its whole name."""
    missed = []
    for bad in misuses:
        try:
            answer = call(bad)
        except InputError as error:
            message = str(error)
            named = case.split(" of a ")[0].split(" for ")[0]
            names = (case, named, named.split()[0])
            if not any(each in message for each in names) or not message.endswith((".", "?")):
                missed.append(f"{bad!r:.60}: {message}")
        except Exception as error:
            missed.append(f"{bad!r:.60}: {type(error).__name__}: {error}")
        else:
            missed.append(f"{bad!r:.60}: {answer!r:.60}")
    assert not missed, "\n".join(missed)


@pytest.mark.parametrize("case", DOMAIN)
def test_what_a_drill_and_its_boxes_cannot_be_is_refused_by_name(case):
    refused(case, *DOMAIN[case])


@pytest.mark.parametrize("sixty", [60, 60.0, np.int16(60), np.float32(60), Decimal(60), Fraction(60), np.array(60)])
def test_a_number_of_any_kind_makes_the_same_lever(sixty):
    assert Lever(0, sixty) == LEVER
    assert repr(Lever(0, sixty)) == repr(LEVER)
    assert LEVER.at(sixty) == LEVER.at(60.0)
    assert LEVER.opening("60") == 60.0


def test_names_are_found_in_other_capitals_as_in_files():
    assert DRILL.box("GRAIN").name == "Grain"
    assert BOTH.on("High") == BOTH.on("high")
    assert BOTH.times("HIGH", "low") == 2.0


def test_a_name_that_is_not_there_is_a_key_error_too_and_lists_those_that_are():
    with pytest.raises(KeyError) as caught:
        DRILL.box("smal")
    assert isinstance(caught.value, predictor.InputError)
    assert str(caught.value) == 'ours has no box "smal". Did you mean small? Known: small, Grain.'
