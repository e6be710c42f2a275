"""Cards and report: self-contained, legible, the same bytes again, user text never markup."""

import csv
import html.parser
import io
import json
import re

import pytest

from predictor import __version__
from predictor.pages.blocks import Facts, Frame, Grid, Heading, Items, Lines, Page, Sign, Text
from predictor.pages.html import FAINT, INK, PAPER, SHADE, to_html
from predictor.pages.pdf import to_pdf
from predictor.text.cautions import CAUTIONS
from tests.conftest import SAMPLE
from tests.golden import alike

EVIL = "<script>alert(1)</script>\"'&=1+1"


def luminance(colour):
    """Relative luminance of WCAG 2.2 (definition of contrast ratio; from memory)."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_what_is_known_of_it():
    """WCAG 2.2: black on white is 21 : 1; #767676 on white is the lightest grey with 4.5 : 1 (from memory)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("ink", [INK, FAINT])
@pytest.mark.parametrize("ground", [PAPER, SHADE])
def test_every_text_has_a_contrast_of_seven_to_one(ink, ground):
    assert contrast(ink, ground) >= 7


def test_the_page_uses_no_other_colours():
    page = Page("t", (Sign("a", "b"), Text("x", small=True), Grid(("h",), (("1",),), frozenset({0}))))
    assert set(re.findall(r"#[0-9a-f]{3,8}\b", to_html(page))) <= {INK, FAINT, PAPER, SHADE}


class Checker(html.parser.HTMLParser):
    """Collects tags and attributes, and sees that tags are closed in order."""

    VOID = frozenset({"meta", "br", "img", "path", "use", "rect", "circle"})

    def __init__(self, text):
        super().__init__()
        self.open, self.tags, self.attributes, self.ids = [], set(), [], []
        self.feed(text)
        assert self.open == []

    def handle_starttag(self, tag, attributes):
        self.tags.add(tag)
        self.attributes += attributes
        self.ids += [value for name, value in attributes if name == "id"]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.tags.add(tag)
        self.ids += [value for name, value in attributes if name == "id"]

    def handle_endtag(self, tag):
        if tag not in self.VOID:
            assert self.open.pop() == tag


def self_contained(text):
    found = Checker(text)
    assert not found.tags & {"script", "link", "iframe", "object", "embed", "form", "img", "a", "base"}
    for name, value in found.attributes:
        assert not name.startswith("on"), name
        if name in ("src", "href", "xlink:href"):
            assert value.startswith("#"), value
    assert len(found.ids) == len(set(found.ids))
    assert "http" not in re.sub(r'xmlns(:\w+)?="[^"]*"', "", text).replace("http-equiv", "")
    return found


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


def test_the_setting_card_is_small_self_contained_and_the_same_again(run, job):
    done = run("card", job / "trials.csv", "--pdf", job / "card.pdf", "--out", job / "card.html")
    assert done.returncode == 0
    text = (job / "card.html").read_text(encoding="utf-8")
    self_contained(text)
    assert len(text.encode()) <= 40_000
    for part in (
        "LOCK AT 33",
        "Target catch",
        "28 turns, 3 rows, after 5 turns to charge",
        "seeds per foot of row",
        "Refill",
    ):
        assert part in text
    assert CAUTIONS[1] in text
    assert "Set by, date" in text
    first = (job / "card.html").read_bytes(), (job / "card.pdf").read_bytes()
    run("card", job / "trials.csv", "--pdf", job / "card.pdf", "--out", job / "card.html")
    assert ((job / "card.html").read_bytes(), (job / "card.pdf").read_bytes()) == first
    assert len(re.findall(rb"/Type /Page\b", first[1])) == 1


def test_the_card_in_metric_and_with_a_full_box(run, job):
    path = job / "drill.toml"
    path.write_text(path.read_text().replace('name = "small"', 'name = "small"\nfull_kg = 18'))
    run("card", job / "trials.csv", "--units", "metric", "--out", job / "card.html")
    text = (job / "card.html").read_text(encoding="utf-8")
    assert "kg/ha" in text
    assert "A full box" in text
    assert "2.78 ha of 18 kg" in text  # 5.78 lb/ac are 6.48 kg/ha
    assert "lb" not in re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL).replace("assembl", "")


def test_the_decision_card_tells_ranges_and_what_to_do(run, job):
    done = run("card", job / "trials.csv", "--decision", "--no-field-factor", "--out", job / "d.html", "--json")
    assert done.returncode == 0
    text = (job / "d.html").read_text(encoding="utf-8")
    self_contained(text)
    for part in (
        "next catch at 14, 28 turns, 3 rows, after 5 to charge",
        "target 22.8 g",
        "LOCK AT 14",
        ", catch again",
        "g or more",
        "up to",
    ):
        assert part in text
    assert '"after": null' in done.stdout


def test_a_card_before_any_catch_says_start_in_the_middle(run, job):
    (job / "trials.csv").unlink()
    (job / "field.csv").unlink()
    assert run("card", job / "trials.csv", "--decision", "--out", job / "d.html").returncode == 0
    assert "grain, CW-26: next catch at 30" in (job / "d.html").read_text(encoding="utf-8")


def test_the_report_holds_what_a_programme_asks_for(run, job):
    told = ("report", "--job", job, "--for", "A made-up trust", "--place", "north field", "--area-ac", "14")
    done = run(*told, "--out", job / "r.html")
    assert done.returncode == 0
    text = (job / "r.html").read_text(encoding="utf-8")
    self_contained(text)
    for part in (
        *("A made-up trust", "north field", "14 ac", "Made-up shed drill: 12 rows", "little bluestem", "2026-08-12"),
        *("left out: bridged over row 2", "left out: not charged", "Field factor of grain", "Degrees of freedom"),
        *(
            "compared with lot",
            "Signed",
            "SHA-256",
            f"predictor {__version__}, Python",
            "would reduce it most",
            "PLS counts germination alone",
        ),
    ):
        assert part in text, part
    assert text.count("<tr>") > 44  # every catch
    again = run(
        "report",
        "--job",
        job,
        "--for",
        "A made-up trust",
        "--place",
        "north field",
        "--area-ac",
        "14",
        "--out",
        job / "2.html",
    )
    assert again.returncode == 0
    assert (job / "2.html").read_text(encoding="utf-8") == text


def test_the_as_planted_table_can_be_opened_in_a_spreadsheet(run, evil):
    assert run("report", "--job", evil, "--csv", evil / "planted.csv").returncode == 0
    rows = list(csv.DictReader(io.StringIO((evil / "planted.csv").read_text(encoding="utf-8"))))
    assert len(rows) == 6
    assert rows[5]["species"] == "'=HYPERLINK(1)"
    for row in rows:
        assert not [value for value in row.values() if value[:1] in ("=", "+", "-", "@")]
    assert float(rows[3]["planned_pls_lb_ac"]) == pytest.approx(6.0)
    assert float(rows[3]["planned_bulk_lb_ac"]) == pytest.approx(6.0 / 0.94 / 0.88)


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


def test_a_page_with_any_text_is_escaped_and_made_twice_alike():
    page = Page(
        EVIL,
        (
            *(Heading(EVIL), Text(EVIL, strong=True), Items((EVIL,)), Facts(((EVIL, EVIL),)), Sign(EVIL, EVIL)),
            *(Lines((EVIL,)), Grid((EVIL,), ((EVIL,),), caption=EVIL), Frame((Text(EVIL + "\x1b[31m\u202e"),))),
        ),
        "a5",
        footer=EVIL,
    )
    text = to_html(page)
    self_contained(text)
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert to_pdf(page) == to_pdf(page)


def test_a_card_of_many_boxes_takes_a_second_sheet():
    frames = tuple(Frame((Sign(f"box {k}", "LOCK 4"), Facts((("Chance", "97 in 100"),) * 6))) for k in range(9))
    made = to_pdf(Page("many", frames, "half-letter", one=True))
    assert len(re.findall(rb"/Type /Page\b", made)) == 2


def test_a_file_that_cannot_be_written_is_named(run, job):
    done = run("card", job / "trials.csv", "--out", job / "none" / "card.html")
    assert done.returncode == 1
    assert "It cannot be written" in done.stderr


def test_a_report_of_a_job_just_begun_says_what_is_missing(run, job):
    for name in ("trials.csv", "field.csv"):
        (job / name).unlink()
    assert run("report", "--job", job, "--out", job / "r.html").returncode == 0
    text = (job / "r.html").read_text(encoding="utf-8")
    for part in ("None yet.", "None was made", "This needs a plan and catches.", "No box has catches of two lots."):
        assert part in text


def test_the_sample_report_is_the_one_the_program_makes(run, tmp_path):
    """But for versions, `reports/sample.html` is made again by the command in reports/README.md."""
    from tests.conftest import ROOT

    kept = (ROOT / "reports" / "sample.html").read_text(encoding="utf-8")
    client = ("--for", "nobody: this job is invented")
    assert run("report", "--job", SAMPLE, *client, "--out", tmp_path / "r.html").returncode == 0
    made = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert alike(words(made), words(kept))


def words(text):
    """A page without its pictures, style and versions."""
    text = re.sub(r"<svg.*?</svg>|<style>.*?</style>", "", text, flags=re.DOTALL)
    return re.sub(r"predictor [0-9.]+, Python.*", "", text)


def test_a_page_is_never_written_over_a_file_of_the_job(run, job):
    before = {path.name: path.read_bytes() for path in job.iterdir() if path.is_file()}
    for arguments in (
        ("card", job / "trials.csv", "--out", job / "trials.csv"),
        ("card", job / "trials.csv", "--pdf", job / "plan.csv"),
        ("report", "--job", job, "--csv", job / "plan.csv"),
        ("report", "--job", job, "--out", job / "drill.toml"),
    ):
        assert run(*arguments).returncode in (1, 2)
    assert {path.name: path.read_bytes() for path in job.iterdir() if path.is_file()} == before


def test_a_pdf_leaves_no_file_open():
    """The library keeps the font files of a document open; a warning of it would fail some other test, at random."""
    import gc
    import sys

    seen, before = [], sys.unraisablehook
    sys.unraisablehook = seen.append
    try:
        to_pdf(Page("x", tuple(Text("word " * 80) for _ in range(30)), "a5", one=True))
        gc.collect()
    finally:
        sys.unraisablehook = before
    assert seen == []


def test_budget_and_settings_of_a_report_are_of_one_tolerance():
    from predictor.job.read import read_job
    from predictor.pages.report import Particulars, make_record

    files = [SAMPLE / name for name in ("drill.toml", "trials.csv", "plan.csv")]
    job = read_job(SAMPLE, use_field_factor=False)
    wide = make_record(job, files, Particulars(), tolerance=0.2)
    assert {each.tolerance for each in wide.results} == {0.2}
    assert wide.budgets == tuple(job.budgets(0.2)) != tuple(job.budgets())  # another setting of the small box


# Written only where asked, and as it was said


def test_a_log_that_is_named_must_be_there(run, job):
    done = run("card", job / "north-2027.csv", "--out", job / "a.html")
    assert done.returncode == 1
    assert "There is no such file." in done.stderr
    assert not (job / "a.html").exists()


def test_a_log_with_a_header_alone_is_a_job_without_catches(run, job):
    (job / "trials.csv").write_text("box,lot,setting,catch_g\n")
    (job / "field.csv").unlink()
    for command in (("card", job / "trials.csv", "--decision"), ("report", "--job", job), ("plan", "--job", job)):
        assert run(*command).returncode == 0


@pytest.mark.parametrize("name", ["drill.toml", "plan.csv", "trials.csv", "field.csv"])
def test_no_file_of_a_job_is_written_over(run, job, name):
    (job / "other.csv").write_bytes((job / "plan.csv").read_bytes())
    before = (job / name).read_bytes()
    (job / "link.html").symlink_to(name)
    (job / "link.svg").symlink_to(name)
    for command in (
        ("report", "--job", job, "--plan", job / "other.csv", "--csv", job / name),
        ("card", job / "trials.csv", "--out", job / "link.html"),
        ("recommend", job / "trials.csv", "--plot", job / "link.svg"),
    ):
        assert run(*command).returncode in (1, 2)
    assert (job / name).read_bytes() == before


def test_a_plan_that_was_read_is_not_written_over(run, job):
    (job / "other.csv").write_bytes((job / "plan.csv").read_bytes())
    done = run("report", "--job", job, "--plan", job / "other.csv", "--csv", job / "other.csv")
    assert done.returncode == 1
    assert "This is a file of a job. Name another." in done.stderr


def test_braces_in_a_name_are_letters_in_a_pdf():
    from fpdf import FPDF

    page = to_pdf(Page("{nb}", (Sign("box", "LOCK AT {nb}"),)))
    assert FPDF().str_alias_nb_pages == "{nb}"  # what the library would do by itself
    assert page == to_pdf(Page("{nb}", (Sign("box", "LOCK AT {nb}"),)))
    assert page != to_pdf(Page("{nb}", (Sign("box", "LOCK AT 1"),)))


def test_a_note_longer_than_a_sheet_goes_on_in_the_next_row():
    header = ("Line", "Note")
    data = to_pdf(Page("t", (Grid(header, (("1", "word " * 2000), ("2", "x" * 3000))),), paper="a4"))
    assert data.startswith(b"%PDF")


def test_a_negative_setting_stays_a_number_in_the_table(run, job):
    from predictor.pages.report import _cell

    assert [_cell(text) for text in ("-6", "-6.5", "=1", "-A", "+1")] == ["-6", "-6.5", "'=1", "'-A", "'+1"]


def test_json_is_the_same_whatever_the_terminal_can_show(run, run_program, job):
    log = job / "u.csv"
    log.write_text("box,lot,setting,catch_g\nsmall,лот-А,14,22\nsmall,лот-Б,15,26\n", encoding="utf-8")
    whole = run("compare", log, "--json").stdout
    narrow = run_program("compare", log, "--json", PYTHONIOENCODING="cp1252").stdout
    assert whole == narrow
    assert json.loads(narrow)["results"][0]["lots"][0]["lot"] == "лот-А"


def test_a_log_of_another_name_is_not_written_over(run, job):
    (job / "spare.csv").write_bytes((job / "trials.csv").read_bytes())
    assert run("report", "--job", job, "--csv", job / "spare.csv").returncode == 1
    assert (job / "spare.csv").read_bytes() == (job / "trials.csv").read_bytes()
    (job / "link.html").symlink_to("spare.csv")
    assert run("card", job / "trials.csv", "--out", job / "link.html").returncode == 1
    assert (job / "spare.csv").read_bytes() == (job / "trials.csv").read_bytes()
    for _ in range(2):  # a table of our own may be made anew
        assert run("report", "--job", job, "--csv", job / "settings.csv").returncode == 0


def test_short_words_stay_whole_beside_a_very_long_one():
    from predictor.pages.pdf import _Made

    made = _Made(Page("t", (), paper="a4"), 9.5)
    widths = made.widths([["Date", "Box", "Lot"], ["2026-11-25", "chaffy", "x" * 300]])
    made.font(0.9, bold=True)
    assert widths[0] >= made.pdf.get_string_width("2026-11-25")
    assert sum(widths) == pytest.approx(made.pdf.epw)
    assert sum(made.widths([["a" * 90] * 3])) == pytest.approx(made.pdf.epw)


def test_a_label_with_a_hyphen_is_not_broken():
    assert "<td class=k>LOCK AT 3-5</td>" in to_html(Page("t", (Grid(("Do",), (("LOCK AT 3-5",),)),)))
