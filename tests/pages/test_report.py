"""The record of a season as page and table: whole, self-contained, and user text never markup or formula."""

import csv
import hashlib
import io
import itertools
import re
from dataclasses import replace

import numpy as np
import pytest

from predictor.job import record
from predictor.job.read import read_job
from predictor.job.record import Particulars, make_record
from predictor.pages.blocks import Grid, Heading, Items, Picture, Text
from predictor.pages.html import to_html
from predictor.pages.report import report_page
from predictor.pages.table import _cell
from predictor.text import record as words
from predictor.text.answer import answer
from tests.conftest import ROOT, SAMPLE
from tests.golden import alike
from tests.pages.checking import self_contained

RECORD = make_record(read_job(SAMPLE))


@pytest.fixture
def evil(job):
    """A job whose names try to be markup, formulas and commands of a terminal."""
    for name in ("trials.csv", "plan.csv", "field.csv"):
        path = job / name
        text = path.read_text(encoding="utf-8").replace("forb mix", "<b>$x^2$ {0} %s &amp;</b>")
        path.write_text(text.replace("purple prairie clover", "=HYPERLINK(1)"), encoding="utf-8")
    path = job / "drill.toml"
    path.write_text(path.read_text().replace("Made-up shed drill", "<i onclick='x'>drill</i>"))
    return job


def headings(page):
    return [block.text for block in page.blocks if isinstance(block, Heading)]


def texts(page):
    return {block.text for block in page.blocks if isinstance(block, Text)}


def grids(page, first):
    """The tables whose first column has this header."""
    return [block for block in page.blocks if isinstance(block, Grid) and block.header[0] == first]


def captioned(page, caption):
    """The table with this caption."""
    return next(block for block in page.blocks if isinstance(block, Grid) and block.caption == caption)


def caught(page):
    """The rows of all tables of catches, in the order of the log."""
    return sorted((row for each in grids(page, "Line") for row in each.rows), key=lambda row: int(row[0]))


def test_every_part_of_the_record_is_on_the_page():
    page = report_page(RECORD, units="us", paper="letter")
    assert len(caught(page)) == len(RECORD.job.trials)
    assert len(captioned(page, "Where each box is").rows) == len(RECORD.results) == 3
    pictures = [block for block in page.blocks if isinstance(block, Picture)]
    assert len(pictures) == len(RECORD.results) + len(RECORD.comparisons)
    assert all(len(block.rows) == len(RECORD.budgets[k].sources) + 1 for k, block in enumerate(_budgets(page)))
    assert page.date == "2026-11-18"


def test_decisions_come_first_and_are_those_of_every_other_screen():
    page = report_page(RECORD, units="us", paper="letter")
    assert headings(page)[:3] == ["Planted", "Decided", "Evidence"]
    answers = [answer(each) for each in RECORD.stages]
    rows = captioned(page, "Where each box is").rows
    assert [row[:4] for row in rows] == [(each.box, each.lot, each.headline, each.sure) for each in answers]
    # each has a part of its own
    parts = [block.text for block in page.blocks if isinstance(block, Heading) and block.level == 3]
    assert parts[:3] == [f"{each.box}, {each.lot}: {each.headline}" for each in answers]


def test_no_level_of_headings_is_left_out_and_every_table_has_a_name_of_its_own():
    page = report_page(RECORD, units="us", paper="letter")
    levels = [1, *(block.level for block in page.blocks if isinstance(block, Heading))]
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    names = [block.caption for block in page.blocks if isinstance(block, Grid)]
    assert all(names)
    assert len(names) == len(set(names))


def test_a_field_check_is_beside_the_box_and_lot_that_it_is_of():
    page = report_page(RECORD, units="us", paper="letter")
    titles = [k for k, block in enumerate(page.blocks) if isinstance(block, Heading)]
    parts = {page.blocks[k].text: page.blocks[k:end] for k, end in itertools.pairwise([*titles, len(page.blocks)])}
    said = {
        title: [item for block in part if isinstance(block, Items) for item in block.items if "Field rate over" in item]
        for title, part in parts.items()
    }
    checks = RECORD.job.field.checks
    assert len(said["grain, CW-26: LEAVE IT AT 17"]) == sum(each.lots == ("CW-26",) for each in checks) == 2
    assert len(said["Field checks of other lots"]) == len(checks) - 2


def test_a_weight_of_the_log_has_the_decimals_of_the_scale():
    page = report_page(RECORD, units="us", paper="letter")
    for table in grids(page, "Line"):
        weights = [row[table.header.index("Net g")] for row in table.rows]
        assert all(re.fullmatch(r"[0-9]+\.[0-9]", each) for each in weights)


def test_the_record_of_three_boxes_is_a_small_file():
    page = to_html(report_page(RECORD, units="us", paper="letter"))
    assert len(page.encode()) <= 300_000


def test_a_box_of_one_lot_in_two_seasons_is_compared(job):
    path = job / "trials.csv"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    head = next(line for line in lines if not line.startswith("#"))
    mine = [line for line in lines if ",small,forb mix," in line]
    last = []
    for line in mine:
        cells = line.replace(",2026,", ",2025,").replace("2026-", "2025-").split(",")
        cells[7] = f"{0.75 * float(cells[7]):.1f}"  # catch_g: the lot flowed slower last year
        cells[8] = ""  # rows_g
        last.append(",".join(cells))
    path.write_text("".join([head, *last, *mine]), encoding="utf-8")
    made = make_record(read_job(job))
    (compared,) = made.comparisons
    assert [row.name for row in compared.lots] == ["forb mix (2025)", "forb mix (2026)"]
    blocks = report_page(made, units="us", paper="letter").blocks
    items = [item for block in blocks if isinstance(block, Items) for item in block.items]
    assert any(item.startswith("Lot forb mix ") and "each season is compared" in item for item in items)


def _budgets(page):
    return [block for block in page.blocks if isinstance(block, Grid) and block.header[0] == "Source"]


def test_particulars_are_shown_and_what_is_missing_is_left_to_fill_in():
    told = Particulars("A made-up trust", "north field", area_m2=14 * 4046.8564224, planted="2026-11-20")
    facts = dict(words.particulars(replace(RECORD, particulars=told), "us"))
    assert (facts["For"], facts["Place"]) == ("A made-up trust", "north field")
    assert facts["Area"] == "14.0 ac"
    assert facts["Depth of seed"] == words.TO_FILL
    assert facts["Operator"] == "R."  # as the sample's catches have it


def test_a_catch_counts_as_used_only_in_the_season_in_hand():
    uses, trials = RECORD.uses(), RECORD.job.trials
    assert [use for use in uses if use not in ("used", "earlier", "set aside")] == [
        status for status in trials.status.tolist() if status
    ]
    advised = {each.box: each for each in RECORD.results}
    for use, box, lot, season in zip(uses, trials.box, trials.lot, trials.season, strict=True):
        if use == "used":
            assert (lot, season) == (advised[box].lot, advised[box].season)
    assert uses.count("used") == sum(each.catches_used for each in RECORD.results)


def test_of_a_log_too_long_to_read_the_last_catches_of_the_lots_in_hand_are_listed(monkeypatch):
    rows = caught(report_page(RECORD, units="us", paper="letter"))
    monkeypatch.setattr("predictor.pages.report.MOST_LISTED", 5)
    page = report_page(RECORD, units="us", paper="letter")
    assert [row[0] for row in caught(page)] == [row[0] for row in rows if row[-1] != "earlier lot"][-5:]
    assert words.not_listed(5, len(RECORD.job.trials) - 5, in_hand=True) in texts(page)


def test_catches_without_a_season_go_with_any():
    trials = RECORD.job.trials
    undated = replace(RECORD.job, trials=replace(trials, season=np.full(len(trials), "")))
    assert make_record(undated).uses().count("used") == RECORD.uses().count("used")


def test_the_digests_are_those_of_the_bytes_that_were_read(run, job, monkeypatch):
    """A file that is replaced while the report is made is not vouched for by the digest of its successor."""
    names, real = ("drill.toml", "plan.csv", "trials.csv", "field.csv"), record.make_record
    before = {name: hashlib.sha256((job / name).read_bytes()).hexdigest() for name in names}

    def make(*arguments, **options):
        for name in names:
            (job / name).write_text("replaced\n", encoding="utf-8")
        return real(*arguments, **options)

    monkeypatch.setattr(record, "make_record", make)
    assert run("report", "--job", job, "--out", job / "r.html").returncode == 0
    text = (job / "r.html").read_text(encoding="utf-8")
    for name, digest in before.items():
        assert f"<th scope=row>{name}</th><td>{digest[:32]} {digest[32:]}</td>" in text


def test_a_record_of_a_job_just_begun_says_what_is_missing(job):
    for name in ("trials.csv", "field.csv"):
        (job / name).unlink()
    page = report_page(make_record(read_job(job)), units="us", paper="letter")
    assert {words.NO_CATCH, words.no_check(read_job(job).drill), words.NO_BUDGET, words.NO_LOTS} <= texts(page)
    (job / "plan.csv").unlink()
    page = report_page(make_record(read_job(job)), units="metric", paper="a4")
    assert words.NO_PLAN in texts(page)
    assert captioned(page, "Where each box is").rows == ()


def test_remarks_of_plan_advice_and_checks_are_listed():
    page = report_page(RECORD, units="us", paper="letter")
    listed = {item for block in page.blocks if isinstance(block, Items) for item in block.items}
    said = [*map(str, RECORD.job.plan.remarks), *map(str, RECORD.job.field.remarks)]
    said += [warning for each in RECORD.results for warning in each.warnings]
    assert len(said) >= 2
    assert set(said) <= listed


def test_budget_and_settings_of_a_record_are_of_one_tolerance():
    job = read_job(SAMPLE)
    wide = make_record(job, tolerance=0.2)
    assert {each.tolerance for each in wide.results} == {0.2}
    assert wide.budgets == tuple(job.budgets(0.2)) != tuple(job.budgets())  # another setting of the small box


def test_the_sample_report_is_the_one_the_program_makes(run, tmp_path):
    """But for versions, `reports/sample.html` is made again by the command in reports/README.md."""
    kept = (ROOT / "reports" / "sample.html").read_text(encoding="utf-8")
    client = ("--for", "nobody: this job is invented")
    assert run("report", "--job", SAMPLE, *client, "--out", tmp_path / "r.html").returncode == 0
    made = (tmp_path / "r.html").read_text(encoding="utf-8")
    self_contained(made)
    assert alike(without_pictures(made), without_pictures(kept))


def without_pictures(text):
    """A page without its pictures, style and versions."""
    text = re.sub(r"<svg.*?</svg>|<style>.*?</style>", "", text, flags=re.DOTALL)
    return re.sub(r"predictor [0-9.]+, Python [^<]*", "", text)


def test_the_table_can_be_opened_in_a_spreadsheet(run, evil):
    assert run("report", "--job", evil, "--csv", evil / "table.csv").returncode == 0
    rows = list(csv.DictReader(io.StringIO((evil / "table.csv").read_text(encoding="utf-8"))))
    assert len(rows) == 11
    assert rows[5]["species"] == "'=HYPERLINK(1)"
    for row in rows:
        assert not [value for value in row.values() if value[:1] in ("=", "+", "-", "@")]
    assert float(rows[3]["planned_pls_lb_ac"]) == pytest.approx(2.3)
    assert float(rows[3]["planned_bulk_lb_ac"]) == pytest.approx(2.3 / 0.94 / 0.88)


def test_a_negative_setting_stays_a_number_in_the_table():
    assert [_cell(text) for text in ("-6", "-6.5", "=1", "-A", "+1")] == ["-6", "-6.5", "'=1", "'-A", "'+1"]


@pytest.mark.slow
def test_names_that_try_to_be_markup_stay_text_everywhere(run, evil):
    assert run("report", "--job", evil, "--out", evil / "r.html", "--pdf", evil / "r.pdf").returncode == 0
    assert run("card", evil / "trials.csv", "--out", evil / "c.html").returncode == 0
    assert run("card", evil / "trials.csv", "--decision", "--out", evil / "d.html").returncode == 0
    assert run("recommend", evil / "trials.csv", "--plot", evil / "p.svg").returncode == 0
    assert run("compare", evil / "trials.csv", "--plot", evil / "l.svg").returncode == 0
    for name in ("r.html", "c.html", "d.html"):
        text = (evil / name).read_text(encoding="utf-8")
        found = self_contained(text)
        assert not found.tags & {"b", "i"}
        assert "&lt;b&gt;$x^2$ {0} %s &amp;amp;&lt;/b&gt;" in text
    for name in ("p.svg", "l.svg"):
        text = (evil / name).read_text(encoding="utf-8")
        assert "<b>" not in text
        assert "&lt;b&gt;$x^2$" in text
