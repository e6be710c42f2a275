"""The decision card: what it shows, and that it is one small file."""

import json

import pytest

from predictor import Drill, Lever, SeedBox
from predictor.advice.ranges import Range, Table
from predictor.domain.result import Remark
from predictor.text.cards import range_words, weight_words
from tests.pages.checking import self_contained

BOX = SeedBox("small", "small", Lever(0, 60))
DRILL = Drill("made up", 12, 0.19, 2.2, (BOX,))
AT = BOX.control.at(14.0)


def page(path):
    """A page that was written, checked to need nothing outside it."""
    text = path.read_text(encoding="utf-8")
    self_contained(text)
    return text


def test_the_decision_card_and_its_json_are_of_the_same_tables(run, job):
    done = run("card", job / "trials.csv", "--decision", "--out", job / "d.html", "--json")
    assert done.returncode == 0
    text, tables = page(job / "d.html"), json.loads(done.stdout)["tables"]
    assert tables[0]["after"] is None
    assert text.count("<table") == len(tables) >= 1
    assert text.count("<tr>") == sum(1 + len(each["ranges"]) for each in tables)
    assert [each["box"] for each in json.loads(done.stdout)["done"]] == ["chaffy", "grain"]


def test_before_any_catch_no_range_is_called_likely(run, job):
    (job / "trials.csv").unlink()
    (job / "field.csv").unlink()
    assert run("card", job / "trials.csv", "--box", "chaffy", "--decision", "--out", job / "d.html").returncode == 0
    assert "<th class=n>Likely</th>" not in page(job / "d.html")


@pytest.mark.parametrize(
    ("low", "high", "step", "words"),
    [
        (None, None, 0.1, "any weight"),
        (None, 9.9, 0.1, "up to 9.9 g"),
        (10.0, None, 0.1, "10.0 g or more"),
        (10.0, 10.0, 0.5, "10.0 g"),
        (10.0, 12.0, 1.0, "10 to 12 g"),
    ],
)
def test_weights_are_shown_to_the_step_of_the_scale(low, high, step, words):
    assert weight_words(Range(low, high, "move", None, 28, 3, Remark("advice.more-likely"), None), step) == words


@pytest.mark.parametrize(("likely", "words"), [(None, ()), (0.009, ("rare",)), (0.126, ("13 %",))])
def test_how_likely_a_range_is_follows_what_to_do(likely, words):
    found = Range(None, None, "lengthen", AT, 56, 3, Remark("advice.more-turns"), likely)
    table = Table("small", "A", AT, 28, 3, 60.0, None, (found,))
    assert range_words(found, table, DRILL) == ("any weight", "stay at 14, larger catches: 56 turns, 3 rows", *words)
