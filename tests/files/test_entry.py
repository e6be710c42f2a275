"""Weights as they are typed, and the questions a slip raises. Weights are invented."""

import pytest
from hypothesis import given, strategies as st

from predictor import Lever, SeedBox, Sprockets
from predictor.files.entry import questions, read_weight, setting_of

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
    ],
)
def test_weights_are_read_in_grams(text, grams):
    assert read_weight(text).parts == pytest.approx(grams, abs=1e-9)
    assert read_weight(text).grams == pytest.approx(sum(grams), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is not a weight"),
        ("nan", "is not a weight"),
        ("1e9", "more than a tonne"),
        ("-3", "below zero"),
        ("61,2", "Write 61.2"),
        ("61.2 stone", "Write the number alone"),
        ("61.2++60", "is not a weight"),
        ("6 1.2", "is not a weight"),
    ],
)
def test_what_is_no_weight_is_said(text, words):
    with pytest.raises(ValueError, match=words):
        read_weight(text)


def test_a_tare_is_taken_off_each_weight():
    found = read_weight("61.2+59.8", tare_g=10)
    assert (found.grams, found.parts, found.tare_g) == (101.0, (51.2, 49.8), 20)
    with pytest.raises(ValueError, match="less than the empty container"):
        read_weight("9", tare_g=10)


def test_a_setting_the_control_lacks_is_said():
    assert setting_of(" 14.0 ", BOX) == "14"
    with pytest.raises(ValueError, match="off the scale"):
        setting_of("61", BOX)
    with pytest.raises(ValueError, match="has no chain position"):
        setting_of("7", SeedBox("chaffy", "chaffy", Sprockets({"1": 0.4})))


def ask(text, setting="14", expected=(50.0, 70.0), last=None):
    return questions(BOX, setting, read_weight(text), expected_g=expected, last=last)


def test_ten_times_the_expected_weight_is_asked_about():
    assert ask("612")[0] == "612 g is far from the 50 to 70 g expected at 14. If 61.2 was meant, answer n. Keep 612 g?"
    assert "61.2 was meant" in ask("6.12")[0]
    assert ask("61.2") == ask("75") == ask("612", expected=None) == []


def test_nothing_a_half_step_and_a_double_are_asked_about():
    assert "Keep 0 g?" in ask("0")[0]
    assert "has steps of 1. Keep 14.5?" in ask("61", setting="14.5")[0]
    assert "Is this another one?" in ask("61", last=("14", 61.0))[0]
    assert ask("61", last=("15", 61.0)) == []


@given(st.floats(0.001, 9e5), st.sampled_from(["g", "oz", "lb"]))
def test_a_weight_is_the_same_in_every_unit(grams, unit):
    from predictor.units import GRAMS

    typed = f"{grams / GRAMS[unit]:.12f} {unit}"
    assert read_weight(typed).grams == pytest.approx(grams, rel=1e-6, abs=1e-8)
