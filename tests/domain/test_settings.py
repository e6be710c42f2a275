"""What people write for a setting, and what the control has."""

import math

import pytest

from predictor.domain.drill import Lever, SeedBox, Sprockets
from predictor.domain.settings import opening_of, read_setting

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
    assert read_setting(text, box) == expected
    assert opening_of(box.control, text) == expected[1]


@pytest.mark.parametrize(
    "text",
    ["3-May", "03-May", "May-03", "Mar-05", "5. Mar", "2026-3-5", "2026-05-03 00:00:00", "3/5/26", "5.3.26"],
)  # fmt: skip
@pytest.mark.parametrize("box", [LEVER, CHAIN, None])
def test_dates_are_recognised_and_explained(text, box):
    with pytest.raises(ValueError, match=r"is a date\. Spreadsheets turn a setting such as 3-5 into one"):
        read_setting(text, box)


@pytest.mark.parametrize(
    ("text", "box", "words"),
    [
        ("61", LEVER, "runs from 0 to 60"),
        ("-1", LEVER, "off the scale"),
        ("1e9", LEVER, "off the scale"),
        ("open", LEVER, "is not a lever reading"),
        ("nan", LEVER, "is not a lever reading"),
        ("3-5", LEVER, "is not a lever reading"),
        ("9", CHAIN, 'no chain position "9". It has 1, 2, A, 3-5, May 3.'),
        ("nan", CHAIN, "no chain position"),
        ("2,0", CHAIN, "no chain position"),
    ],
)
def test_settings_the_control_lacks_are_refused(text, box, words):
    with pytest.raises(ValueError, match=r"\.$") as caught:
        read_setting(text, box)
    assert words in str(caught.value)
    assert opening_of(box.control, text) is None


def test_a_number_that_can_be_two_positions_is_neither():
    control = Sprockets({"1": 0.4, "01": 0.5})
    assert opening_of(control, "01") == 0.5
    assert opening_of(control, "1.0") is None


def test_many_positions_are_listed_in_part():
    box = SeedBox("chaffy", "chaffy", Sprockets({f"p{i}": 0.1 + i for i in range(30)}))
    with pytest.raises(ValueError, match=r"p19 \.\.\.\.$"):
        read_setting("q", box)


def test_without_a_box_numbers_are_openings_and_labels_have_none():
    assert read_setting("30.0", None) == ("30.0", 30.0)
    assert read_setting("30,5", None, decimal=",") == ("30,5", 30.5)
    assert math.isnan(read_setting("1_0", None)[1])
