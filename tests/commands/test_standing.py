"""A chance is that of the standing drill, and every page says so once."""

import html
import re

import pytest

from predictor.text.field import standing_note
from tests import golden

PAGES = {
    "recommend": ("recommend", "{job}/trials.csv"),
    "setting card": ("card", "{job}/trials.csv", "--out", "{job}/page.html"),
    "decision card": ("card", "{job}/trials.csv", "--decision", "--box", "small", "--out", "{job}/page.html"),
    "report": ("report", "--job", "{job}", "--out", "{job}/page.html"),
}


@pytest.mark.slow
@pytest.mark.parametrize("checked", [True, False], ids=["checked", "unchecked"])
@pytest.mark.parametrize("page", PAGES)
def test_a_page_says_once_that_its_chances_are_those_of_the_standing_drill(run, job, page, checked):
    """What comes on top is named only where no check corrects the targets."""
    if not checked:
        (job / "field.csv").unlink()
    done = run(*(each.format(job=job) for each in PAGES[page]))
    assert done.returncode == 0, done.stderr
    shown = (job / "page.html").read_text("utf-8") if "--out" in PAGES[page] else done.stdout
    text = " ".join(html.unescape(re.sub("<[^>]+>", " ", shown)).split())
    assert text.count("Chances are those of the standing drill") == 1
    assert text.count("Slip and jolting in the field come on top") == (0 if checked else 1)


def test_the_words_on_standing_and_field():
    cases = [([], 3), (["grain", "small"], 3), (["small"], 1), (["grain"], 2, [], ["small"]), ([], 1, [], ["small"])]
    golden.check("standing", "\n".join(standing_note(*each) for each in cases))
