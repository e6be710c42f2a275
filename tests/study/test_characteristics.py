"""A study has all its parts, goes into JSON and back, and reads in words."""

import json

import numpy as np
import pytest

from predictor.study.characteristics import BOXES, GENERAL, PARTS, Coverage, Study, general_rows, whole_study
from predictor.study.general import COVER_CATCHES, WAYS
from predictor.study.own_boxes import ROWS, RULES, Result, Setup
from predictor.study.tally import BINS, Mean, Record, Share
from predictor.study.technician import Ending
from predictor.study.truths import FACTORS
from predictor.text.study import study_in_short, study_words
from tests import golden


@pytest.mark.slow
def test_a_whole_study_has_every_row(run):
    done = run("simulate", "--study", "--runs", "10", "--seed", "4", "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert list(found) == ["schema", "runs", "seed", "tolerance", "rows", "general", "cover"]
    assert [(row["repeatability"], row["holds"]) for row in found["rows"]] == [*ROWS, *ROWS]
    assert [row["earlier_lots"] for row in found["rows"]] == [0] * len(ROWS) + [6] * len(ROWS)
    assert [len(row["rules"]) for row in found["rows"]] == [len(RULES)] * len(ROWS) + [1] * len(ROWS)
    assert list(found["rows"][0]["rules"][0]) == ["rule", "catches", "catches_error", "right", "right_error"]
    whole = [row for row in found["general"] if not row["factor"]]
    assert [(row["way"], row["boxes"]) for row in whole] == [(way, 10 * BOXES) for way in GENERAL]
    for factor in FACTORS:
        parts = [row["boxes"] for row in found["general"] if (row["way"], row["factor"]) == (GENERAL[0], factor)]
        assert sum(parts) == 10 * BOXES
    assert [each["catches"] for each in found["cover"]] == [*COVER_CATCHES, *COVER_CATCHES]
    assert json.loads(json.dumps(Study.from_dict(found).to_dict())) == found


@pytest.mark.slow
def test_a_study_is_told_run_by_run():
    ticks = []
    whole_study(2, 1, 0.1, 0.02, 0.05, lambda: ticks.append(1))
    assert len(ticks) == 2 * PARTS


def test_the_ways_of_a_study_are_those_of_its_table():
    assert [each for each in WAYS if each in GENERAL] == list(GENERAL)
    assert len(GENERAL) == 5


def record(k, end="lock", right=True, within=True):
    """One of several made-up endings."""
    labels = {factor: levels[k % len(levels)] for factor, levels in FACTORS.items()}
    return Record(labels, within, Ending(end, 50.0, 0.96, 2 + k % 3, 2.0 + k % 3), right, 2 if within else None)


def made_up_study():
    """A study whose figures are invented. README has those of a real one."""
    rules = [Result("one-catch", 2.25, 0.11, 0.94, 0.01), Result("two-catch", 3.32, 0.11, 0.963, 0.008)]
    rules += [Result("oracle", 2.0, 0.01, 0.998, 0.002), Result("advice", 2.7, 0.02, 1.0, 0.001)]
    rules += [Result("advice-parts", 2.4, 0.02, 0.99, 0.004)]
    warm = Setup(0.03, earlier_lots=6), (Result("advice", 2.1, 0.02, 0.985, 0.005),)
    records = [record(k, right=k % 20 > 0) for k in range(100)]
    records += [record(k, "unreachable", False, k % 5 == 0) for k in range(20)]
    records += [record(k, "offer", k % 4 > 0) for k in range(8)] + [record(k, "going", False) for k in range(2)]
    general = [row for way in GENERAL for row in general_rows(way, records)]
    held = Share.count(np.arange(400) % 20 > 0)
    cover = tuple(Coverage(special, catches, held, held, held) for special in (False, True) for catches in (2, 12))
    return Study(600, 1, 0.1, ((Setup(0.03), tuple(rules)), warm), tuple(general), cover)


def test_words_of_a_study():
    lines = "\n".join(study_words(made_up_study()))
    golden.check("study", lines)
    assert max(map(len, lines.splitlines())) <= 90


def test_a_study_in_short():
    golden.check("study-in-short", "\n".join(study_in_short(made_up_study())))


def test_a_study_comes_back_from_its_json():
    study = made_up_study()
    assert Study.from_dict(json.loads(json.dumps(study.to_dict()))) == study


def test_bins_of_claims_hold_every_lock():
    whole = made_up_study().general[0]
    assert [claim.low for claim in whole.endings.claims] == list(BINS[:-1])
    assert sum(claim.right.of for claim in whole.endings.claims) == 108


def test_no_case_is_no_share():
    assert Share.count([]) == Share(None, None, 0)
    assert Mean.over([]) == Mean(None, None, 0)
