"""Earlier lots teach what the next one may do, and one wild lot spoils little of it."""

import numpy as np
import pandas as pd
import pytest

from predictor.advice.history import box_of, learn_history
from predictor.advice.recommend import recommend
from predictor.curves.prior import COLD
from predictor.domain.control import Lever
from predictor.domain.drill import Drill, SeedBox
from predictor.files.trials import as_trials

BOX = SeedBox("small", "small", Lever(0, 100, 1))


def log(lots, seed=1, cv=0.04, dead=8.0, per_lot=6):
    """Catches of lots given as (name, season, level[, dead setting]) on a line with a dead setting."""
    rng = np.random.default_rng(seed)
    rows = []
    for name, season, level, *own in lots:
        slot = own[0] if own else dead
        for at in rng.integers(30, 76, per_lot):
            rows.append((name, season, int(at), level * (at - slot) * np.exp(cv * rng.standard_normal())))
    frame = pd.DataFrame(rows, columns=["lot", "season", "setting", "catch_g"])
    return frame.assign(box="small", turns=10, rows=1)


EIGHT = [(f"L{k}", "1", 0.8 + 0.05 * k) for k in range(8)]


def test_shape_and_repeatability_of_many_lots_are_found():
    history = learn_history(log(EIGHT, per_lot=12), BOX)
    prior = history.prior
    # Dead setting and bend trade off. Where the line reaches half its middle value is well determined.
    at = np.array([0.35, 0.5, 0.7])
    learned = np.log(at - prior.dead) * prior.bend
    truth = np.log(at - 0.08)
    assert np.diff(learned) == pytest.approx(np.diff(truth), abs=0.03)
    assert prior.dead_spread < COLD.dead_spread
    assert prior.typical_cv == pytest.approx(0.04, rel=0.2)
    assert history.lot_spread == pytest.approx(np.std(np.log([each[2] for each in EIGHT]), ddof=1), rel=0.35)
    assert history.catches == 96


def test_one_wild_lot_is_left_out_and_named():
    wild = [*EIGHT[:5], ("wild", "1", 1.0, 28.0)]
    with_wild = learn_history(log(wild, per_lot=10), BOX)
    assert with_wild.left_out == ("wild (1)",)
    assert with_wild.remark["left_out"] == ("wild (1)",)
    without = learn_history(log(EIGHT[:5], per_lot=10), BOX)
    assert with_wild.prior.dead == pytest.approx(without.prior.dead, abs=0.03)


def test_tame_lots_are_not_left_out():
    out = sum(bool(learn_history(log(EIGHT[:6], seed=seed), BOX).left_out) for seed in range(30))
    assert out <= 1


def test_lots_differ_in_dead_setting_so_the_spread_says_so():
    same = learn_history(log(EIGHT, per_lot=12, cv=0.01), BOX)
    moving = [(name, season, level, 2.0 + 2.5 * k) for k, (name, season, level) in enumerate(EIGHT)]
    differing = learn_history(log(moving, per_lot=12, cv=0.01), BOX)
    assert differing.prior.dead_spread > 1.5 * same.prior.dead_spread


def test_old_seasons_count_less_when_the_meters_have_drifted():
    lots = [(f"a{k}", "2020", 1.0, 0.0) for k in range(4)] + [(f"b{k}", "2025", 1.0, 22.0) for k in range(4)]
    frame = log(lots, per_lot=10, cv=0.02)
    history = learn_history(frame, BOX)
    assert history.drifted
    assert history.remark["drifted"]
    steady = learn_history(log([*EIGHT[:4], *((n + "x", "2", lv) for n, _, lv in EIGHT[:4])]), BOX)
    assert not steady.drifted


def test_the_lot_in_hand_and_later_seasons_are_not_history():
    frame = log([("A", "2024", 1.0), ("B", "2025", 1.0), ("C", "2026", 1.0)])
    assert learn_history(frame, BOX, before=("B", "2025")).lots == ("A (2024)",)
    assert learn_history(frame, BOX, before=("A", "2024")) is None


@pytest.mark.parametrize(
    ("earlier", "later"), [("fall 2025", "spring 2026"), ("9", "10"), ("2026-2", "2026-10"), ("2025", "2026")]
)
def test_an_earlier_season_is_history_whatever_it_is_called(earlier, later):
    """Ordered as text, "fall 2025" would follow "spring 2025", and "10" would precede "9"."""
    frame = log([("A", earlier, 1.0), ("B", later, 1.0)])
    assert learn_history(frame, BOX, before=("B", later)).lots == (f"A ({earlier})",)
    assert learn_history(frame, BOX, before=("A", earlier)) is None


def test_dates_tell_which_season_was_earlier():
    frame = log([("A", "plains", 1.0), ("B", "hills", 1.0)])
    frame["date"] = frame.season.map({"plains": "2025-05-01", "hills": "2026-05-01"})
    assert learn_history(frame, BOX, before=("B", "hills")).lots == ("A (plains)",)
    assert learn_history(frame, BOX, before=("A", "plains")) is None


def test_uncharged_and_unused_catches_teach_nothing():
    frame = log([("A", "2024", 1.0)]).assign(use="no")
    assert learn_history(frame, BOX) is None


def test_one_lot_says_little_of_how_lots_differ():
    history = learn_history(log([("A", "2024", 1.0)]), BOX)
    assert history.lot_spread is None
    assert history.prior.level_spread == 0.25
    assert history.remark["lot_spread"] is None


def test_history_of_catches_at_one_setting_keeps_the_ordinary_shape():
    frame = log(EIGHT).assign(setting=50)
    prior = learn_history(frame, BOX).prior
    assert prior.dead_spread > 0.5 * COLD.dead_spread


def test_history_is_worth_no_more_than_its_cap():
    history = learn_history(log([(f"L{k}", "1", 1.0) for k in range(40)]), BOX)
    assert max(worth for _, _, worth in history.prior.repeatability) <= 30
    assert sum(share for share, _, _ in history.prior.repeatability) == pytest.approx(1.0, abs=1e-5)


def test_lots_that_differ_are_not_called_drift():
    """In 20 logs, lots differ as usual with one lot in each season. None may say that the meters have drifted."""
    rng = np.random.default_rng(5)
    for seed in range(20):
        lots = [(f"L{k}", str(2018 + k), 1.0, float(8 + 5 * rng.standard_normal())) for k in range(6)]
        assert not learn_history(log(lots, seed=seed, per_lot=8, cv=0.03), BOX).drifted


def test_catches_of_the_lot_in_hand_are_never_its_own_history(tmp_path):
    """Without another lot in the log there is no history, whether catches are dated, undated or both."""
    from predictor.job.read import read_job
    from tests.conftest import SAMPLE

    path = tmp_path / "trials.csv"
    for seasons in (("2026", "2026"), ("", ""), ("2026", ""), ("", "2026")):
        made = zip((20, 15), (31.8, 25.2), seasons, strict=True)
        rows = "".join(f"small,forb mix,{at},{grams},{season}\n" for at, grams, season in made)
        path.write_text(f"box,lot,setting,catch_g,season\n{rows}")
        job = read_job(SAMPLE, trials=path, checks=SAMPLE / "field.csv")
        (task,) = job.tasks("small")
        assert job.history(task.box, task.lot, task.season) is None
        advice = job.advice(task)
        assert (advice.catches_used, advice.history) == (2, "")


def test_seasons_with_next_to_no_repeats_are_not_said_to_drift():
    rows = [(f"L{k}", str(2024 + k % 2), 14 + k, 20.0 + k) for k in range(5)]
    frame = pd.DataFrame(rows, columns=["lot", "season", "setting", "catch_g"]).assign(box="small", turns=28, rows=3)
    assert not learn_history(frame, BOX).drifted


def test_a_box_is_found_by_its_name_in_the_trials_own_drill():
    frame = pd.DataFrame({"box": "small", "lot": "A", "setting": [14], "catch_g": [22.0], "turns": 28, "rows": 3})
    drill = Drill("invented", 12, 0.19, 2.2, (BOX,))
    assert box_of(as_trials(frame, drill), "small") is BOX
    with pytest.raises(ValueError, match="as a SeedBox"):
        box_of(as_trials(frame), "small")


def test_where_nothing_came_at_the_most_earlier_lots_send_nowhere_again():
    history = learn_history(log(EIGHT), BOX)
    nothing = pd.DataFrame({"box": "small", "lot": "new", "setting": [50, 100], "turns": 10, "rows": 1, "catch_g": 0.0})
    advice = [recommend(nothing[:n], BOX, target_output=45.0, history=history) for n in (1, 2)]
    assert [each.decision for each in advice] == ["move", "unreachable"]
    assert advice[0].setting > 50
    assert advice[1].why.code == "advice.nothing-at-most"
