"""Catches that are tapped end where the same catches end that are typed into `record`."""

from __future__ import annotations

import json

import numpy as np
import pytest

from tests import running
from tests.conftest import ROOT
from tests.serving.made_up import DROPS, MOST_CATCHES, in_metric, new_job, record, rows, weight
from tests.serving.person import Person


@pytest.fixture
def folders(tmp_path):
    """Two folders of one new job: for the page, and for `record`."""
    return [new_job(tmp_path / name) for name in ("tapped", "typed")]


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("seed", [1, 2])
def test_three_boxes_end_in_the_same_locks(folders, units, seed):
    if units == "metric":
        for each in folders:
            in_metric(each)
    tapped, typed = folders
    person, rng = Person(tapped), np.random.default_rng(seed)
    for box in DROPS:
        for _ in range(MOST_CATCHES):
            shown = person.box(box)["catch"]
            grams = weight(rng, box, shown)
            saved = person.catch(box, grams, shown)
            assert saved["result"] == "saved", saved
            answer = record(typed, box, shown, grams)
            mine = next(each for each in saved["state"]["results"] if each["box"] == box)
            assert mine == answer["results"][0]
            assert saved["state"]["next"] == answer["next"]
            if mine["decision"] in ("lock", "unreachable"):
                break
    assert rows(tapped) == rows(typed)
    assert [each["decision"] for each in person.state()["results"]] == ["lock"] * 3


# A log with seasons behind it is slow to work out again: of the thousand weights so many go into the sample log.
IN_A_LONG_LOG = 100
HEADER = 2  # Its first line is a comment


@pytest.mark.slow
@pytest.mark.parametrize("part", range(10))
def test_a_thousand_weights_are_answered_as_recommend_answers_them(folders, part):
    rng, folder = np.random.default_rng([7, part]), folders[0]
    lines = (ROOT / "sample_trials" / "trials.csv").read_text().splitlines(keepends=True)
    for k in range(100):
        if k % 5 == 0:  # a few catches go on from each other; then another log begins
            kept = int(rng.integers(20, len(lines) + 1)) if 100 * part < IN_A_LONG_LOG else HEADER
            (folder / "trials.csv").write_text("".join(lines[:kept]))
            person = Person(folder)
        box = str(rng.choice(list(DROPS)))
        target = float(person.box(box)["catch"]["target"].removesuffix(" g"))
        grams = f"{target * np.exp(rng.normal(0, 0.5)):.{rng.integers(0, 3)}f}"
        saved = person.catch(box, grams)
        assert saved["result"] == "saved", saved
        mine = next(each for each in saved["state"]["results"] if each["box"] == box)
        done = running.run("recommend", folder, "--box", box, "--lot", mine["lot"], "--json")
        assert mine == json.loads(done.stdout)["results"][0], grams
