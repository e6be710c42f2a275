"""An audit of a whole job: what prior knowledge is worth, seasons of all lots, readings, and which lots are shown."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student

from predictor import as_trials, fit_curve, read_job
from predictor.audit import lots
from predictor.audit.audit import audit_job, groups
from predictor.audit.lots import audit_box
from predictor.audit.prior import worth
from predictor.audit.readings import readings
from predictor.domain.control import Lever, Sprockets
from predictor.domain.drill import SeedBox
from predictor.lots.apart import in_seasons
from predictor.lots.catches import select
from predictor.lots.shapes import fit_common
from tests.conftest import SAMPLE

BOX = SeedBox("small", "small", Lever(0, 60, 1))


def log(rng, shifts, *, number=4, cv=0.03, each=(12, 18, 24, 12, 24)):
    """A made-up log of lots in two seasons; `shifts` gives how each lot's output changes, as a logarithm."""
    rows = {name: [] for name in ("box", "lot", "season", "setting", "catch_g", "turns", "rows")}
    for lot in range(number):
        level = rng.normal(0, 0.1)
        for season, moved in (("2025", 0.0), ("2026", shifts[lot])):
            for setting in each:
                grams = (setting - 4) * 3 * math.exp(level + moved + rng.normal(0, cv))
                for name, value in zip(rows, ("small", f"L{lot}", season, setting, grams, 20, 3), strict=True):
                    rows[name].append(value)
    return as_trials(pd.DataFrame(rows))


def seasons(shifts, seed=1):
    return audit_box(log(np.random.default_rng(seed), shifts), BOX).season


def test_a_change_of_all_lots_is_told_from_one_of_a_single_lot():
    """10 % more in all four lots is seen; 40 % more in one of them is no change of all."""
    assert seasons([0.1, 0.1, 0.1, 0.1]).p < 0.01
    found = seasons([0.35, 0.0, 0.0, 0.0])
    assert (found.df1, found.df2) == (1, 3)
    assert found.p > 0.2


def test_seasons_without_lots_in_both_are_not_tested():
    data = log(np.random.default_rng(1), [0.0] * 4)
    one_each = data.where((data.lot == "L0") == (data.season == "2025"))
    found = audit_box(one_each, BOX).season
    assert found.p is None
    assert found.reason.code == "audit.no_link"


@pytest.mark.slow
def test_seasons_of_lots_that_shift_are_wrong_as_often_as_promised():
    """Six lots that each shift 5 % between seasons, 600 logs: 5 % are wrong, within three Monte Carlo errors."""
    rng, sets = np.random.default_rng(5), 600
    below = 0
    for _ in range(sets):
        catches = in_seasons(select(log(rng, rng.normal(0, 0.05, 6), number=6), BOX))
        below += lots._season(fit_common(catches, 0.95))[0].p < 0.05
    assert abs(below / sets - 0.05) < 3 * math.sqrt(0.05 * 0.95 / sets), below


def test_knowledge_that_doubles_the_catches_is_worth_as_many():
    """Each of 60 made-up catches twice is as good as 60 more, but for the degrees of freedom."""
    rng = np.random.default_rng(2)
    x = np.repeat([10.0, 14, 18, 22, 26, 30], 10)
    y = 0.02 * (x - 3) * (1 + rng.normal(0, 0.05, 60))
    once, twice = (fit_curve(np.tile(x, k), np.tile(y, k), prior=None) for k in (1, 2))
    free, more = (student.ppf(0.8413, 60 * k - 2) ** 2 / (60 * k - 2) for k in (1, 2))
    assert worth(twice, once, 0.3) == pytest.approx(60 * (free / more - 1), rel=0.01)
    assert worth(once, once, 0.3) == pytest.approx(0, abs=1e-9)


def test_the_view_with_history_is_what_recommend_says():
    job = read_job(SAMPLE)
    found = {(each.box, each.lot): each for each in audit_job(job).lots}
    for task in job.in_hand():
        advice, mine = job.advice(task), found[task.box.name, task.lot]
        view = mine.views[0]
        assert view.name == "history"
        assert mine.target_output == task.target_output
        known = advice.curve.setting_for(task.target_output)
        assert (view.ideal, view.lower, view.upper) == pytest.approx((known.estimate, known.lower, known.upper))
        assert view.at == advice.advised.text
        assert view.chance == pytest.approx(advice.chance)
        assert mine.catches == advice.catches_used


def test_without_history_there_is_no_view_of_earlier_lots():
    job = read_job(SAMPLE, use_history=False)
    names = {view.name for each in audit_job(job).lots for view in each.views}
    assert names == {"default", "classical"}


def test_the_line_is_the_classical_one_on_the_catches_that_count():
    job = read_job(SAMPLE)
    mine = job.trials.of(box="grain", lot="VW-25")
    mine = mine.where(mine.counts)
    line = fit_curve(mine.opening, mine.output, prior=None)
    (found,) = audit_job(job, "GRAIN", "vw-25").lots
    assert (found.line.intercept, found.line.slope) == pytest.approx(tuple(line.params.values()))
    known = line.setting_for(found.target_output)
    assert (found.line.setting_lower, found.line.setting_upper) == pytest.approx((known.lower, known.upper))


def test_readings_of_a_lever_that_gives_more_downwards_keep_their_order():
    control = Lever(0, 50, 1, more_is="lower")
    assert readings(control, 30.0, 20.0, math.inf) == ("20.0", "no limit", "30.0")
    assert readings(Lever(0, 50, 0.5), 30.0, -math.inf, 31.0) == ("30.00", "no limit", "31.00")
    assert readings(Sprockets({"1": 0.5, "2": 0.75}), 0.6, 0.5, 0.7) == ("0.6000", "0.5000", "0.7000")


def test_lots_are_shown_by_box_and_season_and_undated_ones_once():
    data = log(np.random.default_rng(1), [0.0] * 4)
    found = list(groups(data, (BOX,), None, None))
    assert [(each.season, each.last) for each in found] == [("2025", False)] * 4 + [("2026", True)] * 4
    assert [each.lot for each in groups(data, (BOX,), "SMALL", "l2")] == ["L2", "L2"]
    assert not list(groups(data, (BOX,), "other", None))


def test_catches_that_contradict_the_rest_are_left_out_and_named(job):
    """The catch of 44.0 g was made again since, so the advice sets it aside, and the audit with it."""
    rows = [(14, 23.1), (16, 26.6), (18, 44.0), (18, 30.2), (20, 33.6), (16, 26.9), (14, 23.5), (20, 33.1)]
    head = "date,season,box,lot,setting,turns,rows,catch_g,charged,use\n"
    text = "".join(f"2026-11-0{k + 1},2026,small,A,{x},28,3,{g},yes,yes\n" for k, (x, g) in enumerate(rows))
    (job / "trials.csv").write_text(head + text, encoding="utf-8")
    (found,) = audit_job(read_job(job)).lots
    assert found.set_aside == (4,)
    assert found.catches == 7


def test_a_curve_that_is_not_where_least_squares_leads_is_told():
    """A bend that is off by a hundredth: the sum of squares is less elsewhere, and the audit says so."""
    data = log(np.random.default_rng(1), [0.0] * 4)
    curves = fit_common(in_seasons(select(data, BOX)), 0.95)
    found, _ = lots._ratios(curves, 0)
    assert found.why.code == "audit.levels"
    assert found.digits >= 9
    bend = curves.bend * 1.01
    x = (curves.catches.opening - curves.middle[0]) / (1 + bend[0] * (curves.catches.opening - curves.middle[0]))
    z = curves.catches.log_output - np.log1p(bend[0] * (curves.catches.opening - curves.middle[0])) + bend[0] * x
    found, _ = lots._ratios(replace(curves, bend=bend, x=x, z=z), 0)
    assert found.why.code == "audit.levels_off"
    assert found.figure("bend").digits < 6
