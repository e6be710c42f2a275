"""What is looked at from the page: the log, the picture, the cards and the record are those of the commands."""

import re
from unittest import mock

import pytest

from predictor.errors import InputError
from predictor.job.place import Place
from predictor.serving import views
from predictor.serving.book import Book
from tests.running import that_day

ITEM = re.compile(r"<li(?P<out>( [^>]*)?)>(?P<inside>.*?)</li>", re.DOTALL)


SHEETS = {"us": ("139.7mm 215.9mm", "215.9mm 279.4mm"), "metric": ("148mm 210mm", "210mm 297mm")}


@pytest.fixture(autouse=True)
def day():
    with that_day():
        yield


@pytest.fixture
def book(job):
    return Book(Place(job))


def add(job, row):
    with (job / "trials.csv").open("a", encoding="utf-8") as stream:
        stream.write(f"{row}\n")


def items(page):
    """Each catch of a log page: whether it is marked as left out, and its paragraphs."""
    found = [(each["out"] != "", re.findall(r"<p[^>]*>(.*?)</p>", each["inside"])) for each in ITEM.finditer(page)]
    assert found
    return found


def test_a_log_has_the_newest_catch_first_with_what_was_weighed(book):
    first, second, *_ = items(views.log_page(book, "small"))
    last = "Line 44, 2026-11-15, R."
    assert first == (False, ["25.5 g at 15", "8.6 + 8.6 + 8.3 g", "28 turns, 3 rows", "forb mix", "Used", last])
    assert second[1][0] == "32.4 g at 20"


def test_a_log_lists_every_catch_of_its_box_and_no_other(book, job):
    page = views.log_page(book, "chaffy")
    lines = [int(re.search(r"Line (\d+)", said[-1])[1]) for _, said in items(page)]
    rows = (job / "trials.csv").read_text(encoding="utf-8").splitlines()
    assert not any(out for out, _ in items(views.log_page(book, "small")))  # those of earlier lots neither
    assert lines == [k for k, row in enumerate(rows, 1) if ",chaffy," in row and not row.startswith("#")][::-1]


def test_a_catch_that_does_not_count_says_why(book, job):
    add(job, "2026-11-16,2026,small,forb mix,14,28,3,3.1,,yes,,no,R.,spilled")
    add(job, "2026-11-16,2026,small,forb mix,14,28,3,23.1,,no,,yes,R.,")
    uncharged, spilled, used, *_ = items(views.log_page(book, "small"))
    assert uncharged[0]
    assert "Left out: not charged" in uncharged[1]
    assert spilled[0]
    assert "Left out: spilled" in spilled[1]
    assert not used[0]


def test_a_catch_that_the_others_contradict_is_set_aside(book, job):
    """Invented weights: the fourth bridged, and was made again twice."""
    settings, grams = (30, 38, 38, 38, 40, 40, 40, 38), (48, 61, 60.9, 30.2, 64, 64.5, 64.1, 60.8)
    rows = [f"grain,made up,2026,{at},{each},61" for at, each in zip(settings, grams, strict=True)]
    (job / "trials.csv").write_text("\n".join(["box,lot,season,setting,catch_g,target_g", *rows, ""]), encoding="utf-8")
    found = {said[0]: (out, said[-2]) for out, said in items(views.log_page(book, "grain"))}
    assert found["30.2 g at 38"] == (True, "Not used: the others contradict it, or it was made again")
    assert [out for out, _ in found.values()].count(True) == 1
    assert "not used: the others contradict it" in views.record(book)


def test_only_the_lot_in_its_box_is_pictured(book, job):
    """Both lots of the season have a target, of which the second one was caught last."""
    rows = [f"small,{lot},2026,{at},{each},24" for lot, at, each in (("A", 14, 23), ("B", 15, 26))]
    (job / "trials.csv").write_text("\n".join(["box,lot,season,setting,catch_g,target_g", *rows, ""]), encoding="utf-8")
    page = views.log_page(book, "small")
    assert re.findall(r'src="([^"]*)"', page) == ["/picture?box=small&amp;lot=B"]
    assert len(items(page)) == 2


def test_a_log_shows_the_picture_of_the_lot_in_its_box_in_words(book):
    page = views.log_page(book, "small")
    assert '<img src="/picture?box=small&amp;lot=forb+mix" alt="Catches of box small, lot forb mix. SET 14' in page


def test_a_log_without_a_catch_says_so(book, job):
    (job / "trials.csv").unlink()
    page = views.log_page(book, "small")
    assert "There is no catch yet." in page
    assert "<img" not in page


def test_rows_that_can_be_read_are_listed_below_what_is_wrong_with_the_others(book, job):
    add(job, "2026-11-16,2026,small,forb mix,14,28,3,a lot,,yes,,yes,R.,")
    page = views.log_page(book, "small")
    problem = re.search(r'<p class="problem">(.*?)</p>', page)[1]
    assert "line 45, column catch_g" in problem
    assert items(page)[0][1][0] == "25.5 g at 15"


def test_a_long_log_lists_its_last_catches_and_says_so(book, job):
    for k in range(views.MOST_LISTED):
        add(job, f"2026-11-16,2026,small,forb mix,14,28,3,{23 + k / 100:.2f},,yes,,no,R.,made up {k}")
    page = views.log_page(book, "small")
    assert len(items(page)) == views.MOST_LISTED
    assert items(page)[0][1][0] == "24.99 g at 14"
    assert "The last 200 catches are listed here. 11 more are in the log." in page


def test_names_and_notes_are_never_markup(book, job):
    add(job, """2026-11-16,2026,small,"<script>alert(1)</script>""onload=x",14,28,3,23.1,,yes,,no,<b>R.</b>,<i>x</i>""")
    page = views.log_page(book, "small")
    assert "<script" not in page
    assert "<b>" not in page
    assert "<i>" not in page
    assert "&lt;script&gt;" in page


def test_invisible_characters_are_written_out(book):
    """No reader of files lets one through, so it is put straight into the template."""
    page = views._filled("log.html", box="a\u202eb", rows=[], note="", pictures=[], problems=["\x1b"])
    assert r"<h1>Catches of a\u202eb</h1>" in page
    assert not set("\u202e\x1b") & set(page)


def test_markup_as_the_name_of_the_lot_in_hand_stays_in_the_words_of_the_picture(book, job):
    for name in ("plan.csv", "trials.csv"):
        path = job / name
        path.write_text(path.read_text(encoding="utf-8").replace("forb mix,", "<img src=x> & 'mix',"), encoding="utf-8")
    page = views.log_page(book, "small")
    assert page.count("<img") == 1
    address = re.search(r'src="/picture\?([^"]*)"', page)[1]
    assert not set(address) & set("<>' ")


def test_a_box_that_is_not_there_is_named_with_those_that_are(book):
    with pytest.raises(InputError, match="Its boxes are: chaffy, grain, small"):
        views.log_page(book, "../etc/passwd")


def test_a_picture_is_the_one_that_recommend_draws(book, job, run, tmp_path):
    run("recommend", job, "--box", "small", "--lot", "forb mix", "--plot", tmp_path / "small.svg")
    assert views.picture(book, "small", "forb mix") == (tmp_path / "small.svg").read_bytes()


def test_a_picture_is_drawn_once_until_a_file_changes(book, job):
    with mock.patch("predictor.plots.style.render", side_effect=[b"first", b"other lot", b"second", b"third"]):
        assert [views.picture(book, "small", "forb mix") for _ in range(3)] == [b"first"] * 3
        assert views.picture(book, "Small", "FORB mix") == b"first"
        assert views.picture(book, "grain", "CW-26") == b"other lot"
        add(job, "2026-11-16,2026,small,forb mix,14,28,3,23.1,,yes,,yes,R.,")
        assert views.picture(book, "small", "forb mix") == b"second"
        (job / "drill.toml").write_text((job / "drill.toml").read_text() + "# seen\n")
        assert views.picture(book, "small", "forb mix") == b"third"


def test_a_lot_that_is_not_there_has_no_picture(book):
    with pytest.raises(InputError, match="no catches and no target for small made up"):
        views.picture(book, "small", "made up")


@pytest.mark.parametrize("units", [None, "us", "metric"])
@pytest.mark.parametrize(
    ("view", "command"),
    [(views.card, ["card"]), (views.decision, ["card", "--decision"]), (views.record, ["report"])],
    ids=["card", "decision", "record"],
)
def test_a_page_is_the_very_one_that_its_command_writes(job, run, tmp_path, view, command, units):
    options = ["--units", units] if units else []
    name, *more = command
    done = run(name, job, *more, *options, "--out", tmp_path / "page.html")
    assert done.returncode == 0, done.stderr
    assert view(Book(Place(job), units=units)) == (tmp_path / "page.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("view", [views.card, views.decision, views.record])
def test_a_page_is_that_of_the_files_that_were_named(job, run, tmp_path, view):
    log, drill, earlier = (str(job / name) for name in ("other.csv", "other.toml", "earlier.csv"))
    (job / "trials.csv").rename(log)
    (job / "drill.toml").rename(drill)
    rows = ("box,lot,setting,catch_g,season", *(f"small,made up,{k},{1.7 * k},2024" for k in (12, 14, 16, 18)), "")
    (job / "earlier.csv").write_text("\n".join(rows), encoding="utf-8")
    name, *more = {views.card: ["card"], views.decision: ["card", "--decision"], views.record: ["report"]}[view]
    for options, book in (
        (["--history", earlier], Book(Place(job, log), drill, (earlier,))),
        (["--no-history"], Book(Place(job, log), drill, use_history=False)),
    ):
        done = run(name, log, *more, "--drill", drill, *options, "--out", tmp_path / "page.html")
        assert done.returncode == 0, done.stderr
        assert view(book) == (tmp_path / "page.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("units", ["us", "metric"])
def test_cards_are_small_and_records_large(job, units):
    """Half of US Letter or A5, and the whole sheets, millimetres."""
    book, (small, large) = Book(Place(job), units=units), SHEETS[units]
    found = [re.search(r"size:([0-9.]+mm [0-9.]+mm)", view(book))[1] for view in (views.card, views.decision)]
    assert [*found, re.search(r"size:([0-9.]+mm [0-9.]+mm)", views.record(book))[1]] == [small, small, large]


def test_what_is_planted_needs_no_further_catch(book, job):
    assert "<caption>small, forb mix" in views.decision(book)
    line = "date,box,lot,setting,area_ac\n2026-11-20,small,forb mix,14,14\n"
    (job / "planted.csv").write_text(line, encoding="utf-8")
    page = views.decision(book)
    assert "<caption>small, forb mix" not in page
    assert "PLANTED" in page


@pytest.mark.parametrize("view", [views.card, views.decision, views.record])
def test_a_page_of_files_that_cannot_be_read_says_what_to_correct(book, job, view):
    add(job, "2026-11-16,2026,small,forb mix,14,28,3,<b>a lot</b>,,yes,,yes,R.,")
    page = view(book)
    assert "This page cannot be made yet" in page
    assert "line 45, column catch_g" in page
    assert "<b>a lot" not in page


@pytest.mark.parametrize("view", [views.card, views.decision, views.record])
def test_a_page_of_a_job_before_its_first_catch_is_made(book, job, view):
    (job / "trials.csv").unlink()
    assert "cannot be made" not in view(book)
