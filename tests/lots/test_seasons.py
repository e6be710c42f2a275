"""Seasons of a box in the order of time, whatever they are called. Every catch here is invented."""

import math

import numpy as np
import pytest
from scipy import optimize, special

from predictor.lots.compare import compare_lots
from predictor.text.lots import season_sentences
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
    assert [reason.code for reason in found.reasons] == ["lots.shifts_unknown", "lots.many_seasons"]
    assert found.reasons[1]["most"] == 100
    assert all(row.change is None for row in found.table)
    assert found.drift.linked_lots == 1


def test_seasons_of_one_year_have_an_order_and_no_steady_drift():
    found = compare_lots(in_seasons("fall 2026", "spring 2026"), BOX).seasons
    assert [row.season for row in found.table] == ["spring 2026", "fall 2026"]
    assert [reason.code for reason in found.reasons][-1] == "lots.no_years"


def test_limits_of_a_drift_are_those_of_least_squares_of_everything_at_once():
    """Settings that rose with the seasons leave drift and dead setting hard to tell apart, and limits must show that.

    Outside check: `scipy.optimize.curve_fit` of levels, dead setting and drift together. It takes the scatter from 64
    degrees of freedom, ours from 59 or more, so that half widths differ by 2 to 3 % by chance, the mean of four by
    1.5 %; three such errors are allowed.
    """
    apart = []
    for seed in range(4):
        rng, rows = np.random.default_rng(seed), []
        for k, level in enumerate((0, 0.1, -0.1, 0.05, 0.2, -0.15)):
            for year, at in ((0, (16, 20, 24) * 2), (1, (36, 42, 48) * 2)):
                rows += [(k, x, 6 * math.exp(level + 0.03 * rng.normal()) * (x - 3), year) for x in at]
        drift = compare_lots(
            log([(f"L{k}", x, grams, str(2024 + year)) for k, x, grams, year in rows]), BOX
        ).seasons.drift
        lot, x, grams, year = map(np.array, zip(*rows, strict=True))

        def fitted(x, dead, drift, *levels, lot=lot, year=year):
            return np.array(levels)[lot] + np.log(x - dead) + drift * year

        found, covariance = optimize.curve_fit(fitted, x, np.log(grams), p0=[3, 0, *[1.8] * 6])
        half = special.stdtrit(len(x) - 8, 0.975) * math.sqrt(covariance[1, 1])
        apart.append(math.log(math.log(drift.upper / drift.lower) / 2 / half))
        assert math.log(drift.ratio) == pytest.approx(found[1], abs=half / 20)
    assert np.mean(apart) == pytest.approx(0, abs=0.045)


def test_a_lot_that_moved_by_itself_is_named_and_is_no_drift():
    """Only L4 flows 20 % less in 2026; a drift that is judged by lots in seasons does not show it as one."""
    rng, rows = np.random.default_rng(3), []
    for lot, year in ((lot, year) for lot in range(6) for year in (2024, 2025, 2026)):
        height = 0.1 * (lot % 3) + math.log(0.8) * (lot == 4 and year == 2026)
        rows += [
            (f"L{lot}", x, 6 * (x - 3) * math.exp(height + 0.02 * rng.normal()), str(year)) for x in (20, 30, 30, 40)
        ]
    found = compare_lots(log(rows), BOX)
    (moved,) = found.seasons.apart
    assert (moved.lot, moved.season, moved.since) == ("L4", "2026", ("2024", "2025"))
    assert moved.lower < 0.8 < moved.upper
    assert not found.seasons.drift.shown
    assert found.to_dict()["seasons"]["apart"][0]["since"] == ["2024", "2025"]
    said = " ".join(season_sentences(found))
    assert "Lot L4 flowed" in said
    assert "in 2026" in said
    assert "that is this lot in that season, not the drill." in said


def test_lots_that_all_moved_alike_are_not_named():
    frame = made_up([0, 0.1, -0.1, 0.05, 0.2], per_lot=9, season=lambda k, i: 2022 + i % 3, drift=-0.06)
    assert compare_lots(frame, BOX).seasons.apart == ()


def test_limits_of_a_change_hold_what_an_assumed_dead_setting_leaves_open():
    """Each season was caught at one setting only, so its change rests on the dead setting that is assumed.

    Worked by hand: from 20 to 40 a proportional output doubles; a dead setting of 4 makes that (40 - 4)/(20 - 4).
    """
    rows = [
        (f"L{k}", x, 5 * x * (1 + 0.01 * i + 0.02 * k), year)
        for k in range(3)
        for x, year in ((20, "2025"), (40, "2026"))
        for i in (-1, 0, 1)
    ]
    change = compare_lots(log(rows), BOX).seasons.table[1].change
    assert change.lower < 2 / (36 / 16) < 1 < change.upper
