"""Ranges put together for a card: few, none too thin, never rising, and no lock where the program would not lock."""

import itertools
import math

import pytest
from hypothesis import given, settings, strategies as st

from predictor import Lever
from predictor.advice.merging import FIRM, MOST_ROWS, Act, Piece, merged
from predictor.advice.ranges import looked, runs
from predictor.domain.result import Remark

LEVER, WHY = Lever(0, 60, 0.5), Remark("advice.more-likely")
# Outputs in proportion to the opening.
THIN = 0.03


def apart(one, other):
    """How far apart two settings are where output is in proportion to the opening."""
    return abs(math.log(one.opening / other.opening))


def act(said, opening, turns=28.0):
    """What to do, at an opening."""
    return Act(said, None if said == "unreachable" else LEVER.at(opening), turns, 3.0, WHY)


def pieces(*parts):
    """Pieces from light to heavy: how many steps, how likely, and the act."""
    found, start = [], 100
    for steps, likely, does in parts:
        found.append(Piece(start, start + steps - 1, likely, does, likely))
        start += steps
    return found


def said(found):
    """Decision and openings of each piece, for short."""
    return [(each.act.said, *(end.opening for end in each.ends if end)) for each in found]


def test_thin_pieces_go_to_the_neighbour_whose_setting_is_nearer():
    found = pieces((20, 0.3, act("move", 24)), (2, 0.05, act("move", 22)), (30, 0.6, act("move", 21)))
    assert said(merged(found, THIN, apart)) == [("move", 24, 24), ("move", 21, 21)]


def test_a_lock_is_neither_widened_nor_swallowed_however_thin():
    parts = (
        (20, 0.3, act("move", 24)),
        (2, 0.05, act("lock", 22)),
        (2, 0.05, act("repeat", 22)),
        (30, 0.6, act("move", 21)),
    )
    found = merged(pieces(*parts), THIN, apart)
    assert [(each.start, each.stop) for each in found if each.act.said == "lock"] == [(120, 121)]


def test_ends_go_to_the_program_only_where_they_are_rare():
    parts = (
        (9, 0.006, act("recheck", 20)),
        (9, 0.005, act("move", 24)),
        (30, 0.8, act("lock", 20)),
        (9, 0.2, act("recheck", 35)),  # a catch is repeated where it was made, though it lies above
        (9, 0.004, act("move", 9)),
    )
    assert said(merged(pieces(*parts), THIN, apart)) == [("ask",), ("lock", 20, 20), ("recheck", 35, 35), ("ask",)]


def test_a_heavier_catch_that_would_raise_the_setting_takes_the_likelier_act():
    parts = (
        (20, 0.4, act("move", 24)),
        (10, 0.1, act("repeat", 22)),
        (10, 0.2, act("move", 23)),
        (20, 0.3, act("move", 21)),
    )
    assert said(merged(pieces(*parts), THIN, apart)) == [("move", 24, 24), ("move", 23, 23), ("move", 21, 21)]


def test_rows_beyond_the_most_name_the_settings_of_their_lightest_and_heaviest_weights():
    parts = [(30, 0.02 + 0.005 * k, act("move", 40 - 3 * k)) for k in range(12)]
    found = merged(pieces(*parts), THIN, apart)
    assert len(found) == MOST_ROWS
    assert said(found)[0] == ("move", 40, 37)
    assert said(found)[-1] == ("move", 7, 7)


ACTS = st.builds(
    act,
    st.sampled_from(["move", "move", "move", "repeat", "lock", "lengthen", "recheck", "unreachable", "offer"]),
    st.integers(4, 120).map(lambda k: k / 2),
    st.sampled_from([28.0, 28.0, 28.0, 56.0]),
)
PARTS = st.lists(st.tuples(st.integers(1, 60), st.floats(0.001, 0.2), ACTS), min_size=1, max_size=30)


@settings(max_examples=300)
@given(PARTS)
def test_whatever_the_acts_rows_are_few_without_gaps_and_never_rise(parts):
    before = pieces(*parts)
    after = merged(before, THIN, apart)
    assert len(after) <= MOST_ROWS
    assert (after[0].start, after[-1].stop) == (before[0].start, before[-1].stop)
    assert all(b.start == a.stop + 1 for a, b in itertools.pairwise(after))
    assert sum(each.likely for each in after) == pytest.approx(sum(each.likely for each in before))
    openings = [end.opening for each in after for end in each.ends if end and each.act.said != "recheck"]
    assert openings == sorted(openings, reverse=True)
    for each in after:  # what ends the work holds only where it was found
        if each.act.said in FIRM:
            inside = [one for one in before if one.stop >= each.start and one.start <= each.stop]
            assert all(one.act.like(each.act) for one in inside)


def numbered(k):
    """An act for a whole number."""
    return act("lock" if k == 3 else "move", 30 - k)


def alike(one, other):
    """Whether two acts are the same."""
    return one.like(other)


@given(st.lists(st.integers(1, 5), min_size=2, max_size=60).map(sorted))
def test_runs_are_those_of_the_answers_where_looks_are_cheap(answers):
    acts = looked(lambda k: numbered(answers[k]), [0, len(answers) - 1], alike, lambda low, high: high - low)
    assert len(acts) <= 40
    for start, stop, at in runs(acts):
        if acts[at].said == "lock":
            assert {answers[k] for k in range(start, stop + 1)} == {3}
        assert {answers[k] for k in acts if start <= k <= stop} == {answers[at]}
