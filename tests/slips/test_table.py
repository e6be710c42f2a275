"""No slip of the table passes in silence again: a job for each, with a clear size."""

from __future__ import annotations

import pytest

from tests.slips.jobs import made_up_job
from tests.slips.playing import Outcome, play
from tests.slips.table import SLIPS

# Heard of by file, on a lever at a scatter of 3 per cent.
BY_FILE = (
    "ounces as grams, one",
    "pounds as grams, one",
    "kilograms as grams, one",
    "12 rows caught, 3 written, one",
    "setting and catch swapped",
    "another box's catch",
    "a decimal lost",
    "a plugged row, rows weighed",
    "a premixed bag for each species",
    "an unused column",
    "last year's date",
)
BY_TYPING = (
    "ounces as grams, all",
    "12 rows caught, 3 written, one",
    "setting off the steps",
    "a row twice",
    "a letter missing in the lot",
)


def played(folder, name: str, way: str, *, run: int = 2, box: str = "grain", first: int = 1) -> Outcome:
    """What becomes of a slip, or of a clean job, in a job at a scatter of 3 per cent."""
    return play(made_up_job(box, history=False, seed=4, run=run, cv=0.03), SLIPS.get(name), way, folder, first)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", BY_FILE)
def test_a_slip_in_a_file_is_heard_of(tmp_path, name):
    assert played(tmp_path, name, "file").result in ("found", "asked", "said")


@pytest.mark.parametrize("name", BY_TYPING)
def test_a_slip_that_is_typed_is_heard_of(tmp_path, name):
    assert played(tmp_path, name, "typed").result in ("found", "asked", "said")


@pytest.mark.parametrize("way", ["file", "typed"])
@pytest.mark.parametrize("box", ["chaffy", "grain", "small"])
def test_a_clean_job_is_locked_on_target_and_raises_nothing(tmp_path, way, box):
    outcome = played(tmp_path, "", way, box=box)
    assert outcome.alarms == []
    assert outcome.lost == ""
    assert outcome.end in ("lock", "offer")
    assert not outcome.wrong
