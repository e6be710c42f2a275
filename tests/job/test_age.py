"""Catches of another season say so on the advice itself, wherever it is shown."""

import datetime
import json

import pytest

from predictor import read_job
from predictor.files.entry import SAME_SEASON_DAYS
from tests import golden

CODE = "advice.old_catches"
LAST = datetime.date(2026, 4, 18)
LOG = """box,lot,setting,catch_g,date,target_g
small,A,15,22.0,2026-04-17,22
small,A,15,22.3,2026-04-18,22
small,A,15,21.9,2026-04-18,22
"""


@pytest.fixture
def old(job):
    """A job with one lot, whose catches were made half a year before the day of the tests."""
    (job / "trials.csv").write_text(LOG)
    for name in ("plan.csv", "field.csv"):
        (job / name).unlink()
    return job


def codes(folder, days):
    """The remarks on the lot so many days after its last catch."""
    job = read_job(folder, today=LAST + datetime.timedelta(days=days))
    (task,) = job.tasks("small", "A")
    return [each.code for each in job.advice(task).remarks]


def test_only_catches_of_another_season_are_named(old):
    assert CODE not in codes(old, -3)
    assert CODE not in codes(old, SAME_SEASON_DAYS)
    assert codes(old, SAME_SEASON_DAYS + 1)[0] == CODE


def test_a_later_catch_of_the_lot_or_one_without_a_date_takes_it_back(old):
    (old / "trials.csv").write_text(LOG + "small,A,15,22.1,2026-11-20,22\n".replace("2026-11-20", ""))
    assert CODE not in codes(old, 200)
    (old / "trials.csv").write_text(LOG + "small,A,15,22.1,2026-06-01,22\n")
    assert CODE not in codes(old, SAME_SEASON_DAYS + 20)


def test_every_output_says_it_itself(run, old):
    """On standard output and on the pages, not only beside them."""
    shown = run("recommend", old)
    assert shown.returncode == 0
    assert "The last catch is of 2026-04-18." in shown.stdout
    assert "2026-04-18" not in shown.stderr
    for name in ("recommend", "card"):
        (found,) = json.loads(run(name, old, "--json").stdout)["results"]
        assert any("2026-04-18" in each for each in found["warnings"])
    for arguments in (("card",), ("card", "--decision"), ("report",)):
        page = old / f"{arguments[-1].strip('-')}.html"
        assert run(arguments[0], old, *arguments[1:], "--out", page).returncode == 0
        assert "The last catch is of 2026-04-18." in golden.words(page.read_text(encoding="utf-8"))
    # the report of what was done that day does not look back at it
    assert run("report", old, "--on", "2026-04-20", "--out", old / "then.html").returncode == 0
    assert "The last catch is of" not in golden.words((old / "then.html").read_text(encoding="utf-8"))


def test_a_catch_of_today_makes_the_lot_one_of_this_season(run, old):
    catch = ("--box", "small", "--lot", "A", "--setting", "15", "--catch", "22.1", "--yes", "--json")
    assert "2026-04-18" not in " ".join(json.loads(run("record", old, *catch).stdout)["results"][0]["warnings"])
