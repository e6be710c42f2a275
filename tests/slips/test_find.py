"""What `find` makes of the checks' findings: the likeliest first, and nothing that a person stands by."""

from dataclasses import replace

import numpy as np
import pytest

from predictor.slips import find as room
from predictor.slips.finding import Finding
from predictor.slips.weigh import probability
from tests.slips.lots import FREE, seen


def test_the_likeliest_finding_comes_first_and_confirmed_rows_are_left_out(monkeypatch):
    lot = seen(FREE, [(30, 40.0), (35, 50.0)], 0.5)
    lot = replace(lot, used=replace(lot.used, line=np.array([2, 3]), confirmed=np.array([True, False])))
    found = (
        Finding("odd", "box", "new", (2,), 0.9, True),  # a person stands by line 2
        Finding("odd", "box", "new", (3,), 0.3, True),
        Finding("odd", "box", "new", (2, 3), 0.6, False),
    )
    monkeypatch.setattr(room, "CHECKS", (lambda _: found,))
    assert [each.chance for each in room.find(lot)] == [0.6, 0.3]


def test_a_lot_without_a_catch_has_no_slips():
    assert room.find(seen(FREE, [], 0.5, history=True)) == ()


def test_evidence_turns_a_prior_into_a_probability():
    # odds of 1 to 19, and evidence of 19 to 1
    assert probability(0.05, np.log(19)) == pytest.approx(0.5)
    assert probability(0.05, 1e6) == 1.0
