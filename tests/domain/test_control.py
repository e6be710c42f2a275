"""Controls map settings to openings, and read what people write for a setting."""

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from predictor.domain.control import Lever, Setting, Sprockets
from predictor.domain.drill import SeedBox
from predictor.files.settings import read_setting

LEVER = SeedBox("small", "small", Lever(0, 60, 1))
CHAIN = SeedBox("chaffy", "chaffy", Sprockets({"1": 0.4, "2": 0.54, "A": 0.6, "3-5": 0.7, "May 3": 0.8}))


@pytest.mark.parametrize(
    ("text", "box", "expected"),
    [
        ("30", LEVER, ("30", 30.0)),
        ("30.50", LEVER, ("30.5", 30.5)),
        ("0", LEVER, ("0", 0.0)),
        ("60", LEVER, ("60", 60.0)),
        ("2", CHAIN, ("2", 0.54)),
        ("02", CHAIN, ("2", 0.54)),
        ("2.0", CHAIN, ("2", 0.54)),
        ("a", CHAIN, ("A", 0.6)),
        ("3-5", CHAIN, ("3-5", 0.7)),
        ("May 3", CHAIN, ("May 3", 0.8)),
    ],
)
def test_settings_are_shown_as_the_control_shows_them(text, box, expected):
    found = read_setting(text, box.control, box.name)
    assert (found.text, found.opening) == expected
    assert box.control.find(text) == found


@pytest.mark.parametrize(
    "text",
    ["3-May", "03-May", "May-03", "Mar-05", "5. Mar", "2026-3-5", "2026-05-03 00:00:00", "3/5/26", "5.3.26"],
)  # fmt: skip
@pytest.mark.parametrize("control", [LEVER.control, CHAIN.control, None])
def test_dates_are_recognised_and_explained(text, control):
    with pytest.raises(ValueError, match=r"is a date\. Spreadsheets turn a setting such as 3-5 into a date"):
        read_setting(text, control)


@pytest.mark.parametrize(
    ("text", "box", "words"),
    [
        ("61", LEVER, "runs from 0 to 60"),
        ("-1", LEVER, "off the scale"),
        ("1e9", LEVER, "off the scale"),
        ("open", LEVER, "is not a lever reading"),
        ("nan", LEVER, "is not a lever reading"),
        ("3-5", LEVER, "is not a lever reading"),
        ("9", CHAIN, 'no chain position "9". Its positions: 1, 2, A, 3-5, May 3.'),
        ("nan", CHAIN, "no chain position"),
        ("2,0", CHAIN, "no chain position"),
    ],
)
def test_settings_the_control_lacks_are_refused(text, box, words):
    with pytest.raises(ValueError, match=r"\.$") as caught:
        read_setting(text, box.control, box.name)
    assert words in str(caught.value)
    assert box.control.find(text) is None


def test_a_number_that_can_be_two_positions_is_neither():
    control = Sprockets({"1": 0.4, "01": 0.5})
    assert control.find("01").opening == 0.5
    assert control.find("1.0") is None


def test_many_positions_are_listed_in_part():
    box = SeedBox("chaffy", "chaffy", Sprockets({f"p{i}": 0.1 + i for i in range(30)}))
    with pytest.raises(ValueError, match=r"p19 \.\.\.\.$"):
        read_setting("q", box.control, box.name)


def test_without_a_box_numbers_are_openings_and_labels_have_none():
    assert read_setting("30.0", None) == Setting(30.0, 30.0, "30.0")
    assert read_setting("30,5", None, decimal=",") == Setting(30.5, 30.5, "30,5")
    assert math.isnan(read_setting("1_0", None).opening)


def test_lever_that_gives_less_at_higher_readings_opens_downwards():
    lever = Lever(0, 60, 1, more_is="lower")
    assert lever.opening(60) == lever.lowest_opening == 0
    assert lever.opening(0) == 60
    assert lever.settings[0].value == 60
    assert lever.settings[-1].value == 0


@pytest.mark.parametrize("more_is", ["higher", "lower"])
def test_openings_grow_along_the_settings_whichever_way_gives_more(more_is):
    openings = Lever(5, 25, 0.5, more_is=more_is).openings
    assert len(openings) == 41
    assert (np.diff(openings) > 0).all()


@pytest.mark.parametrize(
    ("lever", "shown"),
    [
        (Lever(0, 6, 1, shut=3), ["4", "5", "6"]),
        (Lever(0, 6, 1, shut=3.5), ["4", "5", "6"]),
        (Lever(0, 6, 1, "lower", shut=3), ["2", "1", "0"]),
        (Lever(0, 6, 1, shut=0), ["1", "2", "3", "4", "5", "6"]),
    ],
)
def test_a_shut_reading_is_on_the_scale_and_never_among_the_settings_to_advise(lever, shown):
    assert [each.text for each in lever.settings] == shown
    assert lever.nearest(-9).text == shown[0]
    assert lever.find("3") is not None
    assert not lever.between_steps(lever.find("3"))
    assert lever.between_steps(lever.at(3.2))


def test_a_lever_that_nothing_opens_is_refused():
    for wrong in ({"shut": 60}, {"shut": 61}, {"shut": 0, "more_is": "lower"}):
        with pytest.raises(ValueError, match="shut"):
            Lever(0, 60, 1, **wrong)


def test_lever_with_a_scale_that_its_step_does_not_divide_never_goes_beyond_its_end():
    assert [each.value for each in Lever(0, 10, 3).settings] == [0, 3, 6, 9]


def test_lever_steps_of_a_tenth_are_shown_without_binary_dust():
    lever = Lever(0, 1, 0.1)
    assert [str(setting) for setting in lever.settings] == [
        "0", "0.1", "0.2", "0.3", "0.4", "0.5", "0.6", "0.7", "0.8", "0.9", "1",
    ]  # fmt: skip


@given(st.floats(0, 60), st.sampled_from(["higher", "lower"]))
def test_reading_and_opening_are_each_others_inverse(setting, more_is):
    lever = Lever(0, 60, 1, more_is=more_is)
    assert lever.at(lever.opening(setting)).value == pytest.approx(setting, abs=1e-9)


@pytest.mark.parametrize(
    "wrong",
    [(60, 0, 1), (0, 0, 1), (0, 60, 0), (0, 60, 61), (0, 60, -1), (0, float("nan"), 1), (0, float("inf"), 1)],
)
def test_lever_without_a_scale_is_refused(wrong):
    with pytest.raises(ValueError, match="lever"):
        Lever(*wrong)


def test_lever_refuses_a_direction_it_does_not_know():
    with pytest.raises(ValueError, match="higher"):
        Lever(0, 60, 1, more_is="up")


def test_chain_positions_stand_in_the_order_of_their_output_whatever_the_file_says():
    chain = Sprockets({"B": 0.9, "A": 0.3, "C": 0.5})
    assert [each.value for each in chain.settings] == ["A", "C", "B"]
    assert chain.openings.tolist() == [0.3, 0.5, 0.9]
    assert chain.at(0.52) == Setting("C", 0.5, "C")
    assert chain.find("D") is None


@pytest.mark.parametrize("ratios", [{}, {"1": 0}, {"1": -0.4}, {"1": float("nan")}, {"1": float("inf")}])
def test_sprockets_without_a_drive_ratio_are_refused(ratios):
    with pytest.raises(ValueError, match=r"[Cc]hain position"):
        Sprockets(ratios)


def test_the_same_chain_positions_in_another_order_are_the_same_control():
    ours, theirs = Sprockets({"1": 0.4, "2": 0.54}), Sprockets({"2": 0.54, "1": 0.4})
    assert ours == theirs
    assert hash(ours) == hash(theirs)
