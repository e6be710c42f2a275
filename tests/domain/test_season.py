"""Seasons follow each other in time, whatever they are called."""

import itertools

import pytest

from predictor.domain.season import season_time
from predictor.files.trials import as_trials


@pytest.mark.parametrize(
    "names",
    [
        ("2025", "2026"),
        ("fall 2025", "spring 2026", "fall 2026"),
        ("Spring 2026", "summer 2026", "autumn 2026"),
        ("9", "10", "11"),
        ("2026-1", "2026-2", "2026-10"),
        ("2024-25", "2025-26"),
        ("April 2026", "Oct 2026"),
        ("season 9", "season 10", "2025"),
        ("", "trial", "2025"),
    ],
)
def test_names_of_seasons_tell_their_order(names):
    times = [season_time(name) for name in names]
    assert all(a <= b for a, b in itertools.pairwise(times))
    assert len(names) < 3 or times[-2] < times[-1]


def test_dates_go_before_names():
    assert season_time("A", ["2026-09-02", ""]) > season_time("Z", ["2026-04-18", "2026-04-19"])
    assert season_time("2024", ["2026-04-18"]) > season_time("2025")


def test_trials_give_their_seasons_in_the_order_of_time():
    import pandas as pd

    frame = pd.DataFrame(
        {"box": "b", "lot": "A", "setting": 3, "catch_g": 10.0, "season": ["spring 2026", "fall 2025", "fall 2026"]}
    )
    assert list(as_trials(frame).season_times) == ["fall 2025", "spring 2026", "fall 2026"]
