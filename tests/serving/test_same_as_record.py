"""Catches that are tapped end where the same catches end that are typed into `record`."""

from __future__ import annotations

import csv
import json
import shutil

import numpy as np
import pytest

from tests import running
from tests.conftest import ROOT
from tests.serving.person import Person
from tests.slips.asked import Technician

# What boxes made up for these tests drop, grams per row and turn at a setting: a dead setting, a level and a bend. Of a
# chain it is the drive ratio that counts, which is about a sixth of the label here.
DROPS = {"chaffy": (0.0, 0.165, 0.9), "grain": (2.0, 0.0095, 1.0), "small": (1.5, 0.0225, 1.05)}
MOST_CATCHES = 12
# What only one of the two ways notes.
OWN = ("entry", "tare_g", "charged", "operator", "note")


@pytest.fixture
def folders(tmp_path):
    """Two folders of one new job: for the page, and for `record`."""
    found = [tmp_path / name for name in ("tapped", "typed")]
    for each in found:
        each.mkdir()
        for name in ("drill.toml", "plan.csv"):
            shutil.copy(ROOT / "sample_trials" / name, each / name)
    return found


def in_metric(folder):
    """The same drill, measured in centimetres and metres: such a file is metric."""
    drill = folder / "drill.toml"
    text = drill.read_text()
    for us, metric in (
        ("row_spacing_in = 7.5", "row_spacing_cm = 19"),
        ("_circumference_ft = 7.2", "_circumference_m = 2.2"),
    ):
        assert us in text
        text = text.replace(us, metric)
    drill.write_text(text)


def weight(rng, box, shown):
    """What a scale that shows tenths of a gram shows of a catch as it is asked for."""
    dead, level, bend = DROPS[box]
    opening = float(shown["setting"])
    grams = level * max(opening - dead, 0.0) ** bend * float(shown["turns"]) * float(shown["rows"])
    return f"{grams * np.exp(rng.normal(0, 0.03)):.1f}"


def record(folder, box, shown, grams):
    """The same catch, typed into `record` by somebody who answers what is asked."""
    row = {"box": box, "lot": shown["lot"], "setting": shown["setting"], "catch_g": grams}
    size = ["--turns", shown["turns"], "--rows", shown["rows"]]
    done = running.run("record", folder, "--json", *size, stdin=Technician(row, None))
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def rows(folder):
    with open(folder / "trials.csv", newline="", encoding="utf-8") as file:
        return [{name: cell for name, cell in row.items() if name not in OWN} for row in csv.DictReader(file)]


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
