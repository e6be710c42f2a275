"""The same bags as in an earlier season say more of the level than another lot does."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from predictor.advice.history import SLIP_SPREAD, learn_history
from predictor.advice.pooled import SEASON_SPREAD, season_variance
from predictor.domain.trials import joined
from tests.advice.learning import BOX, DRILL, calibrate, level_of, log_of, lots_of


def made(rng, cv=0.02, level=1.5, name="new", dead=0.08):
    """Three other lots and one lot in season 1."""
    return joined([lots_of(rng, dead, cv, 3, DRILL), log_of(rng, level_of(rng, dead, cv, level), name, "1")])


def test_the_level_is_that_of_the_same_lot():
    log = made(np.random.default_rng(1))
    same = learn_history(log, BOX, before=("NEW", "2"))  # in capitals or not
    assert same.same_lot == "1"
    assert same.prior.level == pytest.approx(np.log(1.5 * (same.prior.level_at - 0.08)), abs=0.03)
    assert SEASON_SPREAD < same.prior.level_spread < 1.3 * SEASON_SPREAD
    assert same.level_known == same.prior.level_spread
    other = learn_history(log, BOX, before=("another", "2"))
    assert other.same_lot == ""
    assert other.prior.level_spread > 1.5 * same.prior.level_spread
    assert replace(same.prior, level=0.0, level_spread=1.0) == replace(other.prior, level=0.0, level_spread=1.0)


def test_a_reused_name_is_a_lot_like_others():
    log = made(np.random.default_rng(1))
    reused = learn_history(log, BOX, before=("new", "2"), reused=True)
    assert (reused.same_lot, reused.reused, reused.remark["reused"]) == ("", True, True)
    assert reused.prior == learn_history(log, BOX, before=("another", "2")).prior
    assert not learn_history(log, BOX, before=("another", "2"), reused=True).reused


def test_the_latest_season_of_the_lot_is_taken():
    rng = np.random.default_rng(2)
    log = joined([made(rng), log_of(rng, level_of(rng, 0.08, 0.02, 1.0), "new", "2")])
    assert learn_history(log, BOX, before=("new", "3")).same_lot == "2"
    assert learn_history(log, BOX, before=("new", "2")).same_lot == "1"


def test_what_seasons_differ_by_is_beyond_what_their_catches_leave_open():
    """Three pairs, worked out by hand: squares of the changes, less the noise of each mean, with the usual for two."""
    lots = [SimpleNamespace(lot=name) for name in ("A", "B", "C", "a", "b", "c")]
    table = SimpleNamespace(lots=lots, n=np.array([2.0, 4.0, 5.0, 10.0, 4.0, 20.0]))
    levels = np.array([0.0, 0.0, 0.0, 0.3, -0.2, 0.1])
    noise = 0.01 * ((1 / 2 + 1 / 10) + (1 / 4 + 1 / 4) + (1 / 5 + 1 / 20))
    expected = (2 * SEASON_SPREAD**2 + (0.09 + 0.04 + 0.01) - noise) / 5
    assert season_variance(table, levels, 0.01) == pytest.approx(expected, rel=1e-12)
    # two pairs are too few
    table = SimpleNamespace(lots=[lots[k] for k in (0, 1, 3, 4)], n=table.n[[0, 1, 3, 4]])
    assert season_variance(table, levels[[0, 1, 3, 4]], 0.01) == SEASON_SPREAD**2


@pytest.mark.parametrize(("change", "spread"), [(0.0, 0.8), (0.3, 1.5)])
def test_lots_seen_in_two_seasons_say_how_much_seasons_differ(change, spread):
    rng, parts = np.random.default_rng(3), []
    for k in range(8):
        lot = level_of(rng, 0.08, 0.02)
        later = replace(lot, level=lot.level * np.exp(change * (-1) ** k))
        parts += [log_of(rng, lot, f"L{k}", "1"), log_of(rng, later, f"L{k}", "2")]
    found = learn_history(joined(parts), BOX, before=("L0", "3"))
    few = learn_history(joined(parts[:4]), BOX, before=("L0", "3"))
    assert (found.prior.level_spread > spread * SEASON_SPREAD) == (change > 0)
    assert few.prior.level_spread == pytest.approx(SEASON_SPREAD, rel=0.15)


def test_slip_lies_between_a_lot_that_stood_and_the_same_lot_towed():
    log = made(np.random.default_rng(4))
    mine = log.lot == "new"
    towed = replace(log, distance_m=np.where(mine, 20.0, np.nan))
    now = replace(log.where(mine), season=np.full(int(mine.sum()), "2"))
    apart = learn_history(joined([towed, now]), BOX, before=("new", "2"))
    assert apart.level_known > SLIP_SPREAD
    alike = learn_history(joined([log, now]), BOX, before=("new", "2"))
    assert alike.level_known < 1.3 * SEASON_SPREAD


RUNS = 120


def _case(change, kind):
    def make(rng):
        old = level_of(rng, 0.08, 0.05)
        lot = replace(old, level=old.level * float(np.exp(change * rng.standard_normal())))
        log = joined([lots_of(rng, 0.08, 0.05, 3, DRILL), log_of(rng, old, "new", "1")])
        return lot, learn_history(log, BOX, before=("new", "2"), reused=kind == "another lot")

    return make


@pytest.mark.slow
def test_first_settings_come_nearer_with_the_same_bags():
    """Over 120 lots that change by 8 % between seasons, the first setting is off by half as much; locks stay right."""
    same, other = (calibrate(_case(0.08, kind), RUNS) for kind in ("same", "another lot"))
    assert same.first_off[0] + 3 * same.first_off[1] < 0.7 * (other.first_off[0] - 3 * other.first_off[1]) + 0.03
    assert same.first_off[0] < 0.12
    assert same.catches[0] <= other.catches[0]
    assert same.right[0] > 0.95 - 3 * np.sqrt(0.95 * 0.05 / RUNS)


@pytest.mark.slow
@pytest.mark.parametrize("change", [0.16, 0.3])
def test_bags_that_changed_more_than_usual_do_not_make_settings_wrong(change):
    """Changes of twice and nearly four times the usual: at least 95 % of 120 end right, within three errors (2.0 %)."""
    assert calibrate(_case(change, "same"), RUNS).right[0] > 0.95 - 3 * np.sqrt(0.95 * 0.05 / RUNS)


@pytest.mark.slow
def test_limits_of_the_level_hold_what_they_say():
    """Over 400 lots that change by 8 %, 95 % limits hold 95 %, within three Monte Carlo errors (1.1 %)."""
    runs, inside = 400, 0
    for run in range(runs):
        rng = np.random.default_rng([11, run])
        lot, history = _case(0.08, "same")(rng)
        prior = history.prior
        truth = np.log(lot.mean(100 * prior.level_at))
        inside += abs(truth - prior.level) < 1.96 * prior.level_spread
    assert abs(inside / runs - 0.95) < 3 * np.sqrt(0.95 * 0.05 / runs)
