"""What an odd weight may have been meant as. Weights are invented; the ounce and pound are those of `units`."""

import pytest
from hypothesis import given, strategies as st

from predictor import Lever, Sprockets
from predictor.slips.causes import About, likely_causes, swapped_digits

LEVER = Lever(0, 60, 1)
AT_19 = {"setting": LEVER.find("19"), "control": LEVER}
EXPECTED = (24.0, 29.0)
DRILL = {"rows": 3, "box_rows": 12, "usual_rows": 3.0, "turns": 28.0, "usual_turns": (28.0,)}


def first(grams, expected=EXPECTED, **about):
    """The likeliest cause: its code and corrected weight."""
    found = likely_causes(grams, expected, About(**{**DRILL, **about}))
    return (found[0].code, found[0].grams) if found else None


@pytest.mark.parametrize(
    ("grams", "about", "code", "meant"),
    [
        (104.4, {}, "all_rows", 26.1),
        (6.525, {"rows": 12}, "few_rows", 26.1),
        (52.2, {}, "turns", 26.1),
        (13.05, {}, "turns", 26.1),
        (40.1, {"tares": (14.0,)}, "container", 26.1),
        (40.1, {"constant": 14.0}, "container", 26.1),
        (12.1, {"tare_g": 14.0, "turns": None}, "container_twice", 26.1),
        (0.92, {}, "unit", 26.0815),
        (261.0, {}, "decimal", 26.1),
        (2.61, {}, "decimal", 26.1),
        (62.1, {}, "digits", 26.1),
        (17.4, {}, "plugged", 26.1),
    ],
)
def test_a_slip_is_named_first_where_its_weight_fits(grams, about, code, meant):
    assert first(grams, **about) == (code, pytest.approx(meant, rel=1e-4))


def test_turns_that_are_usual_are_meant_besides_half_and_double():
    assert first(26.1 * 50 / 28, usual_turns=(28.0, 50.0)) == ("turns", pytest.approx(26.1))
    assert first(26.1 * 50 / 28) is None


def test_ounces_in_an_ounce_column_were_meant_as_grams_and_pounds_as_ounces():
    assert first(26.1 * 28.349523125)[0] == "unit"  # 26.1 in the column of ounces
    assert first(1.7 * 453.59237 / 16, expected=(700.0, 850.0)) == ("unit", pytest.approx(1.7 * 453.59237))


def test_one_row_of_several_may_have_lost_its_decimal_point():
    codes = {
        each.code: each.grams for each in likely_causes(71 + 7.3 + 6.9, (19.0, 24.0), About(pieces=(71, 7.3, 6.9)))
    }
    assert codes["decimal"] == pytest.approx(21.3)


def test_a_container_of_each_weighing_is_taken_off_each():
    about = About(pieces=(15.1, 15.3, 14.9), tares=(8.0,))
    found = likely_causes(45.3, (19.0, 24.0), about)
    assert [each.grams for each in found if each.code == "container"] == [pytest.approx(21.3)]
    stated = likely_causes(45.3, (19.0, 24.0), About(pieces=(15.1, 15.3, 14.9), tares=(8.0,), tare_g=24.0))
    assert "container" not in [each.code for each in stated]


def at(opening):
    """A box that gives a gram a step."""
    return (0.9 * opening, 1.1 * opening)


def test_a_setting_is_misread_by_ten_or_has_its_digits_swapped():
    found = likely_causes(9.1, (17.0, 21.0), About(**AT_19, at=at))
    assert [(each.code, each.values["meant"]) for each in found] == [("setting", "9")]
    swapped = likely_causes(36.0, (56.7, 69.3), About(setting=Lever(0, 90).find("63"), control=Lever(0, 90), at=at))
    assert [each.values["meant"] for each in swapped if each.code == "setting"] == ["36"]


TEETH = {"1": (12, 36), "2": (18, 30), "3": (24, 28)}
CHAIN = Sprockets({label: driver / driven for label, (driver, driven) in TEETH.items()}, TEETH)


def by_ratio(opening):
    """A chain box that gives 60 g a catch at a ratio of 1."""
    return (0.95 * 60 * opening, 1.05 * 60 * opening)


@pytest.mark.parametrize(("driver", "driven"), [(18, 36), (18, 28), (12, 30), (24, 30)])
def test_a_chain_moved_on_one_end_only_is_named_with_its_teeth(driver, driven):
    about = About(setting=CHAIN.find("2"), control=CHAIN, at=by_ratio)
    found = [each for each in likely_causes(60 * driver / driven, by_ratio(18 / 30), about) if each.code == "chain"]
    assert [(each.values["driver"], each.values["driven"]) for each in found] == [(driver, driven)]
    assert f"{driver} driving {driven} would give this." in str(found[0])


def test_a_chain_whose_teeth_are_not_known_is_not_asked_about():
    bare = Sprockets(CHAIN.ratios)
    about = About(setting=bare.find("2"), control=bare, at=by_ratio)
    assert "chain" not in [each.code for each in likely_causes(30.0, by_ratio(18 / 30), about)]


def test_setting_and_weight_may_be_in_each_others_place():
    def steep(opening):
        return (1.8 * opening, 2.2 * opening)

    found = likely_causes(19.0, steep(38), About(setting=LEVER.find("38"), control=LEVER, at=steep))
    assert ("swapped", 38.0) in [(each.code, each.grams) for each in found]
    assert not [each for each in likely_causes(19.3, steep(38), About(**AT_19, at=steep)) if each.code == "swapped"]


def test_only_the_first_catch_of_a_day_was_perhaps_not_charged():
    assert "uncharged" in [each.code for each in likely_causes(19.0, EXPECTED, About(first=True))]
    assert "uncharged" not in [each.code for each in likely_causes(19.0, EXPECTED, About())]


def test_weights_that_no_known_slip_explains_have_no_cause():
    assert first(39.7) is None


@given(
    grams=st.floats(1e-3, 1e5),
    low=st.floats(1e-3, 1e4),
    wide=st.floats(1.01, 30),
    tare=st.floats(0, 50),
    pieces=st.integers(0, 4),
)
def test_each_cause_fits_is_a_question_and_stands_once(grams, low, wide, tare, pieces):
    about = About(**DRILL, tares=(7.0,), tare_g=tare, pieces=tuple([grams / pieces] * pieces if pieces > 1 else ()))
    found = likely_causes(grams, (low, low * wide), about)
    assert len({each.code for each in found}) == len(found)
    for each in found:
        assert low <= each.grams <= low * wide
        assert str(each).endswith("?")


@given(st.integers(10, 999_999))
def test_swapped_digits_are_another_number_of_the_same_digits(number):
    for each in swapped_digits(number / 10):
        assert each != number / 10
        assert sorted(f"{each * 10:06.0f}") == sorted(f"{number:06d}")
