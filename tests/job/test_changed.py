"""A target that changed after catches were recorded is said until someone confirms the change."""

import shutil

import pytest

from predictor import read_job
from predictor.files.kinds import TRIALS
from predictor.files.log import confirm
from tests.conftest import SAMPLE
from tests.running import TODAY

HEAD = "date,box,lot,setting,turns,rows,catch_g,wanted_g,confirmed\n"


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(SAMPLE, tmp_path / "job")
    (tmp_path / "job" / "field.csv").unlink()
    return tmp_path / "job"


def target(folder):
    (folder / "trials.csv").write_text(HEAD + "2026-11-24,small,forb mix,14,28,3,23,,\n")
    return read_job(folder, today=TODAY).tasks("small")[0].target_output * 84


def said(folder, *wanted, confirmed=()):
    rows = [f"2026-11-24,small,forb mix,14,28,3,23,{each:.4g},\n" for each in wanted]
    (folder / "trials.csv").write_text(HEAD + "".join(rows))
    if confirmed:
        confirm(TRIALS, folder / "trials.csv", confirmed)
    return [each for each in read_job(folder, today=TODAY).messages if "was recorded" in each]


def test_a_change_in_the_middle_of_a_calibration_stays_said_until_it_is_confirmed(folder):
    now = target(folder)
    assert said(folder, now, now) == []
    assert said(folder, now * 1.005) == []  # rounding, or a tag read to another figure
    for wanted, line in (((0.8 * now,), 2), ((0.8 * now, now), 2), ((now, 1.1 * now, now), 3)):
        (each,) = said(folder, *wanted)
        assert f"line {line}" in each
        assert said(folder, *wanted, confirmed=[line]) == []


def test_a_target_that_a_field_check_corrected_is_not_blamed_on_the_plan(folder):
    now = target(folder)
    shutil.copy(SAMPLE / "field.csv", folder)
    assert said(folder, now) == []
