"""Names that are near each other, and those that are not."""

import pytest
from hypothesis import given, strategies as st

from predictor.slips.names import near_name

NAMES = st.text("ABKW-_ 0123456789", min_size=4, max_size=10).filter(lambda name: len(name.strip("-_ ")) > 3)


@pytest.mark.parametrize(
    ("name", "near"),
    [("K-62", "K-26"), ("k26", "K-26"), ("K-2", None), ("K-266", "K-26"), ("forb mix", None), ("KS-26", "K-26")],
)
def test_one_slip_of_the_hand_is_near(name, near):
    assert near_name(name, ["tall mix", "K-26"]) == near


@given(NAMES, st.data())
def test_two_characters_that_changed_places_are_found(name, data):
    i = data.draw(st.integers(0, len(name) - 2))
    slip = name[:i] + name[i + 1] + name[i] + name[i + 2 :]
    assert slip == name or near_name(slip, [name]) == name


@given(NAMES)
def test_a_known_name_is_not_near_itself(name):
    assert near_name(name, [name]) is None
