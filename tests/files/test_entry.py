"""Weights as they are typed, and the questions a slip raises. Weights are invented."""

import contextlib
import datetime
import time
from functools import partial

import pandas as pd
import pytest
from hypothesis import given, strategies as st

from predictor import Drill, Lever, LeverAndDrive, SeedBox, Sprockets
from predictor.files.amounts import read_bulk, read_ground
from predictor.files.entry import Catch, read_box, read_fill, read_weight, season_of, setting_of
from predictor.files.trials import as_trials
from predictor.units import GRAMS

BOX = SeedBox("small", "small", Lever(0, 60, 1))


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("61.2", (61.2,)),
        (" 61.2 g ", (61.2,)),
        ("61.2+59.8 + 60.4", (61.2, 59.8, 60.4)),
        ("2 oz", (56.69904625,)),
        ("2+3oz", (56.69904625, 85.048569375)),
        ("1lb+3oz", (453.59237, 85.048569375)),
        ("0.5 lbs", (226.796185,)),
        ("1 kg", (1000.0,)),
        ("0", (0.0,)),
        ("61,2", (61.2,)),
        ("7,5+7,25 oz", (212.6214234375, 205.53404265625)),
        ("0,12345", (0.12345,)),
    ],
)
def test_weights_are_read_in_grams(text, grams):
    found = read_weight(text)
    assert found.grams == pytest.approx(sum(grams), abs=1e-9)
    assert (found.rows_g or (found.grams,)) == pytest.approx(grams, abs=1e-9)
    assert (len(found.rows_g or ()), found.parts_g) == (len(grams) if len(grams) > 1 else 0, None)


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("7.1/7.3/6.9/7.2", (7.1, 7.3, 6.9, 7.2)),
        (" 7,1 / 7,3 g", (7.1, 7.3)),
        ("1lb/3oz", (453.59237, 85.048569375)),
        ("7/8", (7.0, 8.0)),
        ("7.0/8.0 oz", (198.446661875, 226.796185)),
        ("0/0", (0.0, 0.0)),
    ],
)
def test_weights_between_slashes_are_parts_of_one_catch(text, grams):
    found = read_weight(text)
    assert found.parts_g == pytest.approx(grams, abs=1e-9)
    assert found.grams == pytest.approx(sum(grams), abs=1e-9)
    assert (found.rows_g, found.rows(3)) == (None, 3)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is not a weight"),
        ("nan", "is not a weight"),
        ("1e9", "more than a tonne"),
        ("-3", "below zero"),
        ("61,234", "two ways"),
        ("1,234,5", "is not a weight"),
        ("61.2 stone", "Write the number alone"),
        ("61.2++60", "is not a weight"),
        ("6 1.2", "is not a weight"),
        ("7.1//7.3", "is not a weight"),
        ("7.1/7.3/", "is not a weight"),
        ("7.1/-7.3", "below zero"),
        ("20+21/22", "both"),
        ("3/4 lb", r"Write 0\.75 lb if it is a fraction, or 3\.0/4\.0 lb if"),
        ("7/16oz", "fraction"),
    ],
)
def test_what_is_no_weight_is_said(text, words):
    with pytest.raises(ValueError, match=words):
        read_weight(text)


def test_a_tare_is_taken_off_each_weight():
    found = read_weight("61.2+59.8", tare_g=10)
    assert (found.grams, found.rows_g, found.tare_g) == (101.0, (51.2, 49.8), 20)
    found = read_weight("17.1/17.3", tare_g=10)
    assert (found.grams, found.parts_g, found.tare_g) == (14.4, (7.1, 7.3), 20)
    with pytest.raises(ValueError, match="less than the empty container"):
        read_weight("9", tare_g=10)


def test_there_may_be_more_parts_than_rows_but_not_more_rows():
    assert len(read_weight("/".join(["7.1"] * 13), most_rows=12).parts_g) == 13
    assert read_weight("+".join(["7.1"] * 12), most_rows=12).rows(3) == 12
    with pytest.raises(ValueError, match="13 weights"):
        read_weight("+".join(["7.1"] * 13), most_rows=12)


def test_boxes_are_found_in_capitals_or_not_and_others_are_named():
    drill = Drill("invented", 12, 0.19, 2.2, (BOX,))
    assert read_box("SMALL", drill) is BOX
    with pytest.raises(ValueError, match=r'no box "smal"\. Its boxes are small\.'):
        read_box("smal", drill)


@pytest.mark.parametrize(
    ("control", "text", "value"),
    [
        (Lever(0, 60, 0.5), "14,5", 14.5),
        (Lever(0, 60, 0.5), " 14.5 ", 14.5),
        (Sprockets({"3,5": 0.4, "3.5": 0.5}), "3,5", "3,5"),
        (Sprockets({"3.5": 0.4, "4": 0.5}), "3,5", "3.5"),
    ],
)
def test_a_setting_is_read_as_the_control_names_it(control, text, value):
    assert setting_of(text, SeedBox("b", "small", control)).value == value


def test_a_setting_the_control_lacks_is_refused():
    with pytest.raises(ValueError, match="61"):
        setting_of("61", BOX)


@pytest.mark.parametrize(("text", "fill"), [("", None), ("60%", 60.0), ("0", 0.0), ("150 %", 150.0)])
def test_fillings_are_read_in_per_cent(text, fill):
    assert read_fill(text) == fill


@pytest.mark.parametrize("text", ["-1", "151", "half"])
def test_a_filling_out_of_range_is_refused(text):
    with pytest.raises(ValueError, match=text):
        read_fill(text)


CATCHES = {"box": "small", "lot": "A", "turns": 28, "rows": 3}


def caught(*rows):
    """Earlier catches, given as season, date, setting, grams and whether in use."""
    names = ("season", "date", "setting", "catch_g", "use")
    return as_trials(pd.DataFrame([{**CATCHES, **dict(zip(names, row, strict=True))} for row in rows]))


@pytest.mark.parametrize(
    ("day", "season"),
    [((2026, 4, 20), "spring"), ((2026, 5, 31), "spring"), ((2026, 8, 1), "2026"), ((2027, 4, 1), "2027")],
)
def test_catches_a_few_weeks_apart_are_of_one_season(day, season):
    assert season_of(caught(("spring", "2026-04-01", "14", 61.0, "yes")), datetime.date(*day)) == season


def test_an_undated_catch_lends_its_season_to_the_next():
    assert season_of(caught(("fall", "", "14", 61.0, "yes")), datetime.date(2026, 1, 2)) == "fall"
    assert season_of(caught(("", "", "14", 61.0, "yes")), datetime.date(2026, 1, 2)) == "2026"


def test_a_row_of_the_log_has_what_was_weighed_and_nothing_that_was_not():
    weight = read_weight("61.2+59.8", tare_g=10)
    catch = Catch(BOX, "A", BOX.control.find("14"), weight, 28, 2, 60.0)
    cells = {"box": "small", "lot": "A", "setting": 14.0, "catch_g": 121.0, "turns": 28.0, "rows": 2.0}
    assert catch.cells() == {**cells, "rows_g": (51.2, 49.8), "tare_g": 20.0, "fill_pct": 60.0}
    parted = Catch(BOX, "A", BOX.control.find("14"), read_weight("71.2/69.8", tare_g=10), 28, 2)
    assert parted.cells() == {**cells, "catch_g": 141.0, "parts_g": (61.2, 59.8), "tare_g": 20.0}
    plain = Catch(BOX, "A", BOX.control.find("14"), read_weight("121"), 28, 2)
    assert plain.cells() == cells


@given(st.lists(st.integers(0, 10**6), min_size=2, max_size=6))
def test_parts_are_kept_in_order_and_add_up(milligrams):
    grams = [each / 1000 for each in milligrams]
    found = read_weight("/".join(f"{each:.4f}" for each in grams))
    assert found.parts_g == pytest.approx(grams)
    assert found.grams == pytest.approx(sum(grams))


@given(st.floats(0.001, 9e5), st.sampled_from(["g", "oz", "lb"]))
def test_a_weight_is_the_same_in_every_unit(grams, unit):
    typed = f"{grams / GRAMS[unit]:.12f} {unit}"
    assert read_weight(typed).grams == pytest.approx(grams, rel=1e-6, abs=1e-8)


@pytest.mark.parametrize("run", [" ", "1", "1 ", ".", ",", "-", "g ", "1 g", "on ", "1+", "1/"])
def test_a_long_answer_is_read_or_refused_at_once(run):
    both = LeverAndDrive(Lever(0, 60, 1), {"high": 2.0, "low": 1.0})
    box = SeedBox("small", "small", both)
    readers = (read_weight, partial(read_bulk, units="us"), partial(read_ground, units="us"), read_fill)
    # a quadratic pattern takes many seconds for a weight of so many characters
    text = "1" + run * (32_000 // len(run)) + "!"
    before = time.process_time()
    for read in (*readers, partial(setting_of, box=box)):
        with contextlib.suppress(ValueError):
            read(text)
    assert time.process_time() - before < 1


@pytest.mark.parametrize(
    ("text", "grams"), [("1e3 g", 1000.0), ("2.1 OZ.", 59.534), ("0.5  Pounds", 226.796), ("7g", 7)]
)
def test_a_unit_may_be_written_close_in_capitals_or_with_a_point(text, grams):
    assert read_weight(text).grams == pytest.approx(grams, rel=1e-4)


@pytest.mark.parametrize(
    ("unit", "grams"),
    [
        *((each, 1.0) for each in ("", "g", "g.", "gram", "grams", "G")),
        *((each, 28.349523125) for each in ("oz", "oz.", "ounce", "ounces", "OZ")),
        *((each, 453.59237) for each in ("lb", "lbs", "lbs.", "pound", "pounds", "Pounds")),
        ("kg", 1000.0),
    ],
)
def test_every_name_of_a_unit_is_that_unit(unit, grams):
    """The international ounce and pound, in grams exactly (NIST Handbook 44, appendix C; from memory)."""
    assert read_weight(f"2.5 {unit}".strip()).grams == pytest.approx(2.5 * grams, rel=1e-9)  # nine digits are kept
