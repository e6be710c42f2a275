"""What was planted, on the page and in the table of the season's record. All lots and weights are invented."""

import csv
import io

import pytest

from predictor import read_job
from predictor.job.planting import planting
from predictor.job.record import make_record
from predictor.pages.blocks import Heading, Page
from predictor.pages.evidence import evidence_blocks
from predictor.pages.html import to_html
from predictor.pages.planted import planted_blocks, used_blocks
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
    job = read_job(planted)
    found, record = planting(job.planted.lines), make_record(job)
    blocks = [*planted_blocks(found, units), *used_blocks(found, units), *evidence_blocks(record, units)]
    golden.check(f"report-planted-{units}", golden.words(to_html(Page("Planted", tuple(blocks)))))


def test_user_text_of_a_line_is_no_markup(planted):
    text = to_html(report_page(make_record(read_job(planted)), units="us", paper="letter"))
    assert "<i>by hand" not in text
    assert "&lt;i&gt;by hand&lt;/i&gt;" in text


def test_what_was_planted_stands_first_and_advice_on_it_is_for_next_time(planted):
    page = report_page(make_record(read_job(planted)), units="us", paper="letter")
    titles = [each.text for each in page.blocks if isinstance(each, Heading)]
    assert titles[:4] == ["Planted", "Decided", "Seed used and live seed", "Evidence"]
    said = golden.words(to_html(page))
    assert "Planted on: 2026-11-24 to 2026-11-25." in said
    assert "Made-up Name" in said
    decided = said[said.index("Where each box is") : said.index("Seed used and live seed")]
    assert "chaffy | tall mix | PLANTED AT 4 (25 Nov)" in decided
    assert "grain | CW-26 | LEAVE IT AT 17" in decided
    assert "For next time: lock at 4." in said[said.index("Evidence\n") :]


def test_a_lot_that_only_a_line_knows_has_a_part_of_its_own(planted):
    page = report_page(make_record(read_job(planted)), units="us", paper="letter")
    k = next(k for k, each in enumerate(page.blocks) if each == Heading("grain, Other 26", 3))
    assert page.blocks[k + 1].items[0].endswith("Written by hand: no evidence was kept with it. Note: <i>by hand</i>.")


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
