"""What was planted, on the page and in the table of the season's record. All lots and weights are invented."""

import csv
import io

import pytest

from predictor import read_job
from predictor.job.planting import planting
from predictor.job.record import make_record
from predictor.pages.blocks import Heading, Page
from predictor.pages.html import to_html
from predictor.pages.planted import planted_blocks
from predictor.pages.report import report_page
from predictor.pages.table import COLUMNS, settings_csv
from tests import golden

BY_HAND = "2026-11-24,South,grain,Other 26,17,6,17,2,yes,,"


@pytest.fixture
def planted(job, run):
    """The sample job with two lines of the program and one written by hand."""
    assert run("plant", job, "--box", "chaffy", "--area-ac", "8", "--loaded", "120", "--left", "19.5").returncode == 0
    by_name = ["--operator", "Made-up Name", "--note", "dry soil", "--yes"]
    assert run("plant", job, "--box", "small", "--area-ac", "6", "--setting", "15", *by_name).returncode == 0
    with (job / "planted.csv").open("a", encoding="utf-8") as stream:
        stream.write(BY_HAND + "<i>by hand</i>" + "," * 8 + "\n")
    return job


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_words_of_what_was_planted(planted, units):
    blocks = planted_blocks(planting(read_job(planted).planted.lines), units)
    golden.check(f"report-planted-{units}", golden.words(to_html(Page("Planted", tuple(blocks)))))


def test_user_text_of_a_line_is_no_markup(planted):
    blocks = planted_blocks(planting(read_job(planted).planted.lines), "us")
    assert "<i>by hand" not in to_html(Page("Planted", tuple(blocks)))


def test_what_was_planted_stands_first_and_advice_on_it_is_for_next_time(planted):
    record = make_record(read_job(planted))
    page = report_page(record, units="us", paper="letter")
    titles = [each.text for each in page.blocks if isinstance(each, Heading)]
    assert titles[:4] == ["Planted", "Settings", "For next time", "Seed"]
    said = golden.words(to_html(page))
    assert "Planted on | 2026-11-24 to 2026-11-25" in said
    assert "Made-up Name" in said
    after = said[said.index("For next time") :]
    assert "chaffy | tall mix | LOCK AT 4" in after
    assert "grain | CW-26 | LEAVE IT AT 17" in said[said.index("Settings") : said.index("For next time")]


def test_the_table_has_a_row_for_each_lot_and_line_and_one_for_a_lot_of_no_plan(planted):
    text = settings_csv(make_record(read_job(planted)), "us")
    assert text.startswith(",".join(COLUMNS))
    rows = list(csv.DictReader(io.StringIO(text)))
    # what was planted is in the one column of settings, and the day tells that it is no advice
    chaffy = [each for each in rows if each["box"] == "chaffy"]
    assert [(each["setting"], each["planted_on"]) for each in chaffy] == [("4", "2026-11-25")] * 3
    # the parts of the blend are as the plan mixed them, and make up what went out of the box
    assert sum(float(each["planted_used_lb"]) for each in chaffy) == pytest.approx(100.5)
    small = [each for each in rows if each["box"] == "small"]
    assert {(each["setting"], each["planted_on"], each["planted_used_lb"]) for each in small} == {
        ("15", "2026-11-25", "")
    }
    other = next(each for each in rows if each["lot"] == "Other 26")
    assert (other["planted_used_lb"], other["decision"]) == ("15", "")
    assert next(each for each in rows if each["lot"] == "CW-26")["planted_on"] == ""
