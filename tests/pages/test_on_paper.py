"""Pages on paper: as a real browser prints them, leaving grounds white, and as the program writes them in PDF.

Heights are those of capitals and figures, as drawing standards count them (ISO 3098-1: the nominal size of letters is
the height of capitals; from memory). What is read at arm's length in a cab is 2.5 mm or more, settings 11 to 15 mm,
weights 5 to 6 mm.
"""

import operator
import re
from collections import Counter

import numpy as np
import pytest

from tests.pages import paper
from tests.pages.made import of

pytestmark = pytest.mark.browser
PAPERS = {"half-letter": (139.7, 215.9), "a5": (148.0, 210.0), "letter": (215.9, 279.4), "a4": (210.0, 297.0)}
# a number of a page at its foot
FOOT = re.compile(r"(page )?\d+( ?(of|/) ?\d+)?")


def flat(text):
    return " ".join(text.split())


def settings(sheet):
    """The words in the largest letters, from top to bottom: the letters of each setting."""
    found = [line[at.start() : at.end()] for line in sheet.lines for at in re.finditer(r"\S+", line.text)]
    return sorted((word for word in found if max(map(HIGH, word)) >= 9), key=lambda word: word[0].top)


HIGH = operator.attrgetter("high")


def weights(sheet, result):
    """How high each figure is that shows the weight of a result, without its unit."""
    for line in sheet.lines:
        for at in re.finditer(r"(?<!\S)[\d.]+ g(?!\S)", line.text):
            if result.shows(at[0]):
                yield max(map(HIGH, line[at.start() : at.end() - 2]))


@of("setting", "decision")
def test_a_card_is_one_sheet_of_the_paper_that_was_asked_for(made, on_paper):
    sides = 2 if len(made.results()) <= 3 else 4
    assert len(on_paper) <= sides
    for sheet in on_paper:
        assert (sheet.wide, sheet.tall) == pytest.approx(PAPERS[made.paper], abs=0.5)


@of("setting")
def test_settings_and_weights_are_as_high_as_they_are_read_in_the_cab(made, on_paper):
    more = 1.0 if made.paper in ("half-letter", "a5") else 1.2  # larger paper, larger letters
    shown = settings(on_paper[0])
    results = made.results()[: len(shown)]
    assert len(shown) >= min(3, len(made.results()))
    for word, each in zip(shown, results, strict=True):
        assert "".join(letter.text for letter in word) == each.figure
        assert 11 * more <= max(map(HIGH, word)) <= 15 * more**2, each
        assert any(5 * more <= high <= 6 * more**2 for high in weights(on_paper[0], each)), each


@of("setting", "decision")
def test_no_letter_of_a_card_is_too_small_for_a_cab(made, on_paper):
    letters = [letter for sheet in on_paper for letter in sheet.letters]
    capital = np.median([each.high / each.points for each in letters if paper.TALL.fullmatch(each.text)])
    small = [each for each in letters if each.points * capital < 2.5 - 0.01]
    assert "".join(each.text for each in small) == ""


@of("report", "load")
def test_no_letter_is_below_six_points(made, on_paper):
    small = [f"{each.text} {each.points:.1f}" for sheet in on_paper for each in sheet.letters if each.points < 5.95]
    assert small == []


def test_every_word_is_whole_on_paper(said, on_paper):
    found = Counter(paper.words(" ".join(line.text for sheet in on_paper for line in sheet.lines)))
    missing = Counter(paper.words(said.text)) - found
    assert sorted(each for each in missing if re.search(r"\w", each)) == []


def test_no_heading_is_alone_at_the_foot_of_a_sheet(said, on_paper):
    heads = said.heads
    found = set()
    for sheet in on_paper:
        lines = [line for line in sheet.lines if not FOOT.fullmatch(line.text.lower())]
        at = {k: head for k in range(len(lines)) for head in heads if _begins(lines[k : k + 4], head)}
        found |= set(at.values())
        plain = [line.bottom for k, line in enumerate(lines) if k not in at]
        for k, head in at.items():
            assert any(each > lines[k].bottom + 0.5 for each in plain), head
    assert found == heads


def _begins(lines, head):
    """Whether a heading begins in the first of these lines, or is the end of it, beside something else."""
    first = flat(lines[0].text)
    whole = flat(" ".join(line.text for line in lines)).startswith(head) and head.startswith(first)
    return whole or first.endswith(f" {head}")


@of("setting")
def test_what_is_not_ready_is_black_on_paper_too(made, on_paper):
    for word, each in zip(settings(on_paper[0]), made.results(), strict=False):
        around = on_paper[0].around(word[0], 0.7)
        ground = np.median(np.concatenate([around[:2].ravel(), around[-2:].ravel()]))
        assert ground > 0.8 if each.ready else ground < 0.2, each
        assert paper.contrast(around) >= 7, each


def test_every_line_stands_out_on_paper(made, on_paper):
    for sheet in on_paper:
        for line in sheet.lines:
            seen = [sheet.around(letter, 0.2) for letter in line if letter.text.strip()]
            assert max(paper.contrast(each) for each in seen if each.size) >= 7, line.text


def test_the_pdf_tells_readers_aloud_what_is_what(made):
    assert paper.tagged(made.pdf.read_bytes())
