"""The drill and its controls."""

import pytest

from predictor.domain.control import Lever
from predictor.domain.drill import Drill, SeedBox


def test_box_refuses_a_kind_of_seed_it_does_not_know():
    with pytest.raises(ValueError, match=r"chaffy.*free-flowing.*small"):
        SeedBox("x", "fluffy", Lever(0, 60, 1))


def test_asking_for_a_box_that_is_not_there_names_those_that_are():
    drill = Drill("ours", 12, 0.19, 2.2, (SeedBox("small", "small", Lever(0, 60, 1)),))
    assert drill.box("small").holds == "small"
    with pytest.raises(KeyError, match="Known: small"):
        drill.box("smal")
