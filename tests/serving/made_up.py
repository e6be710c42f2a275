"""Catches made up for tests that compare the page with `record`: what boxes drop, and the same catch typed in."""

from __future__ import annotations

import csv
import json
import shutil

import numpy as np

from tests import running
from tests.conftest import ROOT
from tests.slips.asked import Technician

# What boxes made up for these tests drop, grams per row and turn at a setting: a dead setting, a level and a bend. Of a
# chain it is the drive ratio that counts, which is about a sixth of the label here.
DROPS = {"chaffy": (0.0, 0.165, 0.9), "grain": (2.0, 0.0095, 1.0), "small": (1.5, 0.0225, 1.05)}
MOST_CATCHES = 12
# What only one of the two ways notes.
OWN = ("entry", "tare_g", "charged", "operator", "note")


def new_job(folder):
    """A job without catches."""
    folder.mkdir()
    for name in ("drill.toml", "plan.csv"):
        shutil.copy(ROOT / "sample_trials" / name, folder / name)
    return folder


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
    """The rows of the log, but for what only one of the two ways notes."""
    return [{name: cell for name, cell in row.items() if name not in OWN} for row in _rows(folder)]


def ids(folder):
    """The ids that the page gave to rows of the log, in order."""
    return [row["entry"] for row in _rows(folder) if row.get("entry")]


def _rows(folder):
    with open(folder / "trials.csv", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(each for each in file if each[:1] != "#"))
