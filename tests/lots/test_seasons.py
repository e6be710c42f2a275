"""Seasons of a box in the order of time, whatever they are called. Every catch here is invented."""

import pytest

from predictor.lots.compare import compare_lots
from tests.lots.test_lots_thin_logs import BOX, log, made_up


def in_seasons(*names, dates=None):
    """One lot caught in all seasons, and a lot of its own in each, in the order given."""
    rows = []
    for k, name in enumerate(names):
        rows += [("every", x, 5 * x * (1 + 0.02 * i), name) for i, x in enumerate((30, 30, 40))]
        rows += [(f"L{k}", x, 5 * x * (1 - 0.01 * i), name) for i, x in enumerate((30, 30, 40))]
    frame = log(rows)
    return frame if dates is None else frame.assign(date=frame.season.map(dict(zip(names, dates, strict=True))))


@pytest.mark.parametrize(
    ("earlier", "later"),
    [("fall 2025", "spring 2026"), ("spring 2026", "fall 2026"), ("9", "10"), ("2025", "2026"), ("", "2025")],
)
@pytest.mark.parametrize("turned", [False, True])
def test_seasons_stand_in_the_order_of_time(earlier, later, turned):
    found = compare_lots(in_seasons(*((later, earlier) if turned else (earlier, later))), BOX)
    assert [row.season for row in found.seasons.table] == [earlier, later]
    assert [row.change and row.change.since for row in found.seasons.table] == [None, earlier]
    assert found.lot("every").seasons == (earlier, later)
    assert [row.seasons[0] for row in found.lots] == [earlier, earlier, later]


def test_dates_tell_the_order_of_seasons_whose_names_do_not():
    frame = in_seasons("green", "blue", "amber", dates=("2025-04-01", "2026-04-01", "2024-04-01"))
    found = compare_lots(frame, BOX).seasons
    assert [row.season for row in found.table] == ["amber", "green", "blue"]
    assert found.drift is not None


@pytest.mark.parametrize("name", ["{} spring", "spring {}", "{}-1", "{}/27"])
def test_a_steady_drift_goes_by_the_years_in_the_names(name):
    frame = made_up([0, 0.1, -0.1, 0.05], per_lot=9, season=lambda k, i: 2022 + i % 3, drift=-0.06)
    plain = compare_lots(frame, BOX).seasons.drift
    assert plain.shown
    assert compare_lots(frame.assign(season=frame.season.map(name.format)), BOX).seasons.drift == plain


def test_more_than_a_hundred_seasons_are_not_compared_one_by_one():
    found = compare_lots(in_seasons(*(str(1900 + k) for k in range(101))), BOX).seasons
    assert [(reason.code, reason["most"]) for reason in found.reasons] == [("lots.many_seasons", 100)]
    assert all(row.change is None for row in found.table)
    assert found.drift.linked_lots == 1


def test_seasons_of_one_year_have_an_order_and_no_steady_drift():
    found = compare_lots(in_seasons("fall 2026", "spring 2026"), BOX).seasons
    assert [row.season for row in found.table] == ["spring 2026", "fall 2026"]
    assert [reason.code for reason in found.reasons][-1] == "lots.no_years"
