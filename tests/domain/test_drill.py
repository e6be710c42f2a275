"""The drill and its controls."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from predictor.domain.drill import Drill, Lever, SeedBox, Sprockets


def test_lever_that_gives_less_at_higher_readings_opens_downwards():
    lever = Lever(0, 60, 1, more_is="lower")
    assert lever.opening(60) == lever.lowest_opening == 0
    assert lever.opening(0) == 60
    assert lever.settings[0] == 60
    assert lever.settings[-1] == 0


@pytest.mark.parametrize("more_is", ["higher", "lower"])
def test_openings_grow_along_the_settings_whichever_way_gives_more(more_is):
    openings = Lever(5, 25, 0.5, more_is=more_is).openings
    assert len(openings) == 41
    assert (np.diff(openings) > 0).all()


def test_lever_with_a_scale_that_its_step_does_not_divide_never_goes_beyond_its_end():
    assert Lever(0, 10, 3).settings == (0, 3, 6, 9)


def test_lever_steps_of_a_tenth_are_shown_without_binary_dust():
    lever = Lever(0, 1, 0.1)
    assert [lever.show(setting) for setting in lever.settings] == [
        "0", "0.1", "0.2", "0.3", "0.4", "0.5", "0.6", "0.7", "0.8", "0.9", "1",
    ]  # fmt: skip


@given(st.floats(0, 60), st.sampled_from(["higher", "lower"]))
def test_reading_and_opening_are_each_others_inverse(setting, more_is):
    lever = Lever(0, 60, 1, more_is=more_is)
    assert lever.at(lever.opening(setting)) == pytest.approx(setting, abs=1e-12)


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
    assert chain.settings == ("A", "C", "B")
    assert chain.openings.tolist() == [0.3, 0.5, 0.9]
    assert chain.at(0.52) == "C"
    assert not chain.has("D")


@pytest.mark.parametrize("ratios", [{}, {"1": 0}, {"1": -0.4}, {"1": float("nan")}, {"1": float("inf")}])
def test_sprockets_without_a_drive_ratio_are_refused(ratios):
    with pytest.raises(ValueError, match=r"[Cc]hain position"):
        Sprockets(ratios)


def test_box_refuses_a_kind_of_seed_it_does_not_know():
    with pytest.raises(ValueError, match="chaffy, free-flowing, small"):
        SeedBox("x", "fluffy", Lever(0, 60, 1))


def test_asking_for_a_box_that_is_not_there_names_those_that_are():
    drill = Drill("ours", 12, 0.19, 2.2, (SeedBox("small", "small", Lever(0, 60, 1)),))
    assert drill.box("small").holds == "small"
    with pytest.raises(KeyError, match="its boxes are small"):
        drill.box("smal")


def test_the_same_chain_positions_in_another_order_are_the_same_control():
    ours, theirs = Sprockets({"1": 0.4, "2": 0.54}), Sprockets({"2": 0.54, "1": 0.4})
    assert ours == theirs
    assert hash(ours) == hash(theirs)
