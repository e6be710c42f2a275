"""The operating characteristics are those of the whole procedure, with a look after each catch."""

import json

import numpy as np
import pytest

from predictor.domain.control import Lever, Sprockets
from predictor.study.characteristics import (
    COVER_CATCHES,
    PARTS,
    ROWS,
    Coverage,
    Result,
    Setup,
    Study,
    coverage,
    hand_rule,
    study,
    whole_study,
)
from predictor.study.drills import Log, MadeUpLot, Shape
from predictor.text.study import study_words
from tests import golden
from tests.study.test_drills import BOX


def named(results):
    return {result.rule: result for result in results}


@pytest.mark.slow
@pytest.mark.parametrize(("cv", "holds"), [(0.03, "free-flowing"), (0.12, "chaffy")])
def test_advice_is_right_where_the_hand_rule_is_not(cv, holds):
    """In 120 runs a share of 0.95 has a Monte Carlo error of 0.020. The test allows two of them."""
    results = named(study(Setup(cv, holds), 120, 11))
    assert results["advice"].right >= 0.95 - 2 * 0.020
    assert results["advice"].right >= results["one-catch"].right
    if cv == 0.12:
        assert results["one-catch"].right < 0.80


@pytest.mark.slow
def test_history_saves_catches_and_stays_right():
    cold = named(study(Setup(0.05), 80, 5, rules=("advice", "oracle")))
    warm = named(study(Setup(0.05, earlier_lots=6), 80, 5, rules=("advice",)))
    assert warm["advice"].catches < cold["advice"].catches
    assert warm["advice"].catches <= 1.15 * cold["oracle"].catches + 2 * cold["oracle"].catches_error
    assert warm["advice"].right >= 0.95 - 2 * np.sqrt(0.95 * 0.05 / 80)


@pytest.mark.slow
def test_sprockets_and_a_coarse_lever_are_calibrated_too():
    chain = Sprockets({str(k): 0.3 + 0.07 * k for k in range(8)})
    for control in (chain, Lever(0, 20, 1)):
        result = named(study(Setup(0.05, control=control), 60, 7, rules=("advice",)))["advice"]
        assert result.right >= 0.95 - 2 * np.sqrt(0.95 * 0.05 / 60)


@pytest.mark.slow
def test_rows_that_differ_do_not_make_the_advice_sure_of_the_wrong_thing():
    result = named(study(Setup(0.05, row_spread=0.05), 80, 9, rules=("advice",)))["advice"]
    assert result.right >= 0.95 - 2 * np.sqrt(0.95 * 0.05 / 80)


@pytest.mark.slow
def test_intervals_cover_what_they_say():
    """400 runs over mixed truths have a Monte Carlo error of 0.011. The test allows three of them around 0.95."""
    cover = coverage(5, 400, 1)
    for share in (cover.mean, cover.next, cover.setting):
        assert abs(share - 0.95) <= 3 * cover.error


@pytest.mark.parametrize(
    ("confirm", "opening", "locked"), [(False, 50.0, True), (True, 50.0, False)], ids=["one catch", "two catches"]
)
def test_the_hand_rule_stops_at_a_catch_inside_tolerance_or_makes_one_more(confirm, opening, locked):
    log = Log(MadeUpLot(BOX, Shape("line", 0.0), 2.0, 1e-9))
    log.add(np.random.default_rng(1), 50.0)
    rule = hand_rule(BOX, 0.1, confirm)
    assert rule(log.trials(), 1.05) == (opening, locked)
    assert rule(log.trials(), 1.5) == (75.0, False)
    log.add(np.random.default_rng(1), 50.0)
    assert rule(log.trials(), 1.05) == (50.0, True)


def test_a_result_is_never_surer_than_its_runs():
    found = Result.of("advice", [2, 4, 3, 3], [True] * 4)
    assert (found.catches, found.right) == (3.0, 1.0)
    assert found.catches_error == pytest.approx(np.sqrt(0.5) / 2)
    assert found.right_error == pytest.approx(np.sqrt(0.9 * 0.1) / 2)


@pytest.mark.slow
def test_a_whole_study_has_every_row_cold_and_with_history(run):
    done = run("simulate", "--study", "--runs", "10", "--seed", "4", "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert list(found) == ["schema", "runs", "seed", "rows", "cover"]
    assert [(row["repeatability"], row["holds"]) for row in found["rows"]] == [*ROWS, *ROWS]
    assert [row["earlier_lots"] for row in found["rows"]] == [0] * len(ROWS) + [6] * len(ROWS)
    assert [len(row["rules"]) for row in found["rows"]] == [4] * len(ROWS) + [1] * len(ROWS)
    assert list(found["rows"][0]["rules"][0]) == ["rule", "catches", "catches_error", "right", "right_error"]
    assert [each["catches"] for each in found["cover"]] == list(COVER_CATCHES)
    assert list(found["cover"][0]) == ["catches", "mean", "next", "setting", "error"]


@pytest.mark.slow
def test_a_study_is_told_run_by_run():
    ticks = []
    whole_study(2, 1, 0.1, 0.02, 0.05, lambda: ticks.append(1))
    assert len(ticks) == 2 * PARTS


def test_words_of_a_study():
    """The figures are invented. README has those of a real study."""
    rules = [Result("one-catch", 2.25, 0.11, 0.94, 0.01), Result("two-catch", 3.32, 0.11, 0.963, 0.008)]
    rules += [Result("oracle", 2.0, 0.01, 0.998, 0.002), Result("advice", 2.7, 0.02, 1.0, 0.001)]
    warm = Setup(0.03, earlier_lots=6), (Result("advice", 2.1, 0.02, 0.985, 0.005),)
    rows = ((Setup(0.03), tuple(rules)), warm)
    lines = study_words(Study(600, 1, 0.1, rows, (Coverage(2, 0.948, 0.953, 0.95, 0.009),)))
    golden.check("study", "\n".join(lines))
    assert max(len(line) for line in "\n".join(lines).splitlines()) <= 90
