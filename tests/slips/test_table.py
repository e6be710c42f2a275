"""No slip of the table passes in silence again: a job for each, with a clear size."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.bench_slips import cells, played
from tests.slips.checks import SLIPS as CHECKS, play_check
from tests.slips.jobs import made_up_job
from tests.slips.playing import Outcome, play
from tests.slips.table import LISTED, SLIPS

# Share of jobs with a slip of the table that may end silent and locked out of tolerance.
WRONG = 0.05
# Heard of by file, on a lever at a scatter of 3 per cent.
BY_FILE = (
    "container in the weight, all",
    "ounces as grams, all",
    "ounces as grams, one",
    "pounds as grams, all",
    "pounds as grams, one",
    "kilograms as grams, all",
    "kilograms as grams, one",
    "12 rows caught, 3 written, one",
    "half or double the turns, one",
    "setting and catch swapped",
    "setting off the steps",
    "another box's catch",
    "a part named, not the blend",
    "two seasons in one file",
    "a decimal lost",
    "digits swapped",
    "a plugged row, rows weighed",
    "rows that differ lastingly",
    "scale read the wrong way",
    "tyres changed",
    "the template's figures",
    "a premixed bag for each species",
    "another species' seed count",
    "an unused column",
    "last year's date",
    "a letter missing in the lot",
    "container not emptied before",
)
BY_TYPING = (
    "container in the weight, all",
    "ounces as grams, all",
    "12 rows caught, 3 written, one",
    "not charged, all",
    "setting off the steps",
    "a row twice",
    "a letter missing in the lot",
)


def one(folder, name: str, way: str, *, run: int = 2, box: str = "grain", first: int = 1) -> Outcome:
    """What becomes of a slip, or of a clean job, in a job at a scatter of 3 per cent."""
    return play(made_up_job(box, history=False, seed=4, run=run, cv=0.03), SLIPS.get(name), way, folder, first)  # type: ignore[arg-type]


def quick_and_slow(names: tuple[str, ...], every: int = 4) -> list[object]:
    """The names as parameters: one in so many is quick, the rest are marked slow."""
    return [pytest.param(name, marks=[pytest.mark.slow] if k % every else []) for k, name in enumerate(names)]


@pytest.mark.parametrize("name", quick_and_slow(BY_FILE))
def test_a_slip_in_a_file_is_heard_of(tmp_path, name):
    assert one(tmp_path, name, "file").result in ("found", "asked", "said")


@pytest.mark.parametrize("name", quick_and_slow(BY_TYPING))
def test_a_slip_that_is_typed_is_heard_of(tmp_path, name):
    assert one(tmp_path, name, "typed").result in ("found", "asked", "said")


@pytest.mark.parametrize(
    ("way", "box"),
    [
        ("file", "chaffy"),
        ("typed", "grain"),
        pytest.param("file", "small", marks=pytest.mark.slow),
        pytest.param("typed", "chaffy", marks=pytest.mark.slow),
    ],
)
def test_a_clean_job_is_locked_on_target_and_raises_nothing(tmp_path, way, box):
    outcome = one(tmp_path, "", way, box=box)
    assert outcome.alarms == []
    assert outcome.lost == ""
    assert outcome.end in ("lock", "offer")
    assert not outcome.wrong


@pytest.mark.parametrize("name", quick_and_slow(tuple(CHECKS)))
def test_a_slip_in_a_field_check_is_heard_of(tmp_path, name):
    made = made_up_job("grain", history=False, seed=4, run=2, cv=0.03)
    assert play_check(made, name, tmp_path).result in ("found", "said")


@pytest.mark.slow
def test_hardly_any_slip_of_the_table_is_silent_and_wrong():
    # 3 jobs a slip, some 120 by file: one standard error of a share of 3 in 100 is 1.6
    todo = cells([each.name for each in LISTED], jobs=3, typed=3)
    ended = [played(todo, 1, i) for i in range(len(todo)) if todo[i].way == "file"]
    wrong = sum(each.result == "silent" and each.wrong for each in ended)
    assert wrong / len(ended) < WRONG + 3 * np.sqrt(WRONG * (1 - WRONG) / len(ended))
