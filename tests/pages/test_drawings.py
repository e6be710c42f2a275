"""Drawings in a page: small, legible on a phone, and no word of theirs changed."""

import re

import pytest

from predictor.pages.blocks import Page, Picture
from predictor.pages.drawings import LEAST_LETTERS, inline, narrowest, share_styles
from predictor.pages.html import to_html
from predictor.plots.style import new_figure, render

# A name of a lot that looks like what is taken out of a drawing.
EVIL = 'a style="fill: red" id="x" <!-- 1.23456 --> d="1.23456"'


@pytest.fixture(scope="module")
def figure():
    made = new_figure(7.0, 3.0)
    axes = made.subplots()
    axes.plot([0.0, 1.0], [0.123456, 2.0], "o-", label=EVIL)
    axes.set_title(EVIL, fontsize=8)
    return made


def letters(svg):
    """The texts of a drawing."""
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def test_a_drawing_keeps_its_words_and_loses_its_ballast(figure):
    svg = render(figure, "svg").decode()
    made, _ = share_styles(inline(svg, "p1-"))
    assert letters(made) == letters(svg)
    assert any("1.23456" in each for each in letters(made))
    tags = "".join(re.findall("<[^<>]*>", made))
    assert not re.search(r"<style|<metadata| style=|[0-9]\.[0-9]{3}", tags)
    assert len(made) < 0.6 * len(svg)


def test_what_a_drawing_refers_to_is_in_it_under_the_name_of_its_block(figure):
    made = inline(render(figure, "svg").decode(), "p1-")
    tags = "".join(re.findall("<[^<>]*>", made))
    names, used = set(re.findall(r' id="([^"]*)"', tags)), set(re.findall(r'(?:url\(|href=")#([^")]*)', tags))
    assert names == used
    assert all(each.startswith("p1-") for each in names)


def test_two_drawings_of_a_page_share_their_styles(figure):
    one = to_html(Page("t", (Picture(figure, "one"),)))
    two = to_html(Page("t", (Picture(figure, "one"), Picture(figure, "two"))))
    rules = [re.findall(r"\.d[0-9]+\{[^}]*\}", each) for each in (one, two)]
    assert len(rules[0]) == len(set(rules[0])) > 5
    assert rules[0] == rules[1]
    assert set(re.findall(r'class="(d[0-9]+)"', two)) == {each[1:].partition("{")[0] for each in rules[1]}


def test_a_drawing_is_never_narrower_than_its_letters_can_be_read(figure):
    svg = render(figure, "svg").decode()
    least = narrowest(svg)
    assert least * 8 / (7 * 72) == pytest.approx(LEAST_LETTERS, rel=0.01)  # 8 points high where it is 7 inches wide
    assert f"min-width: {least}px" in to_html(Page("t", (Picture(figure, "a"),)))
    assert narrowest('<svg viewBox="0 0 100 100"></svg>') == 0


def test_a_drawing_that_a_phone_has_to_move_is_reached_by_the_keyboard(figure):
    assert '<figure class=t role=img aria-label="what it shows" tabindex=0>' in to_html(
        Page("t", (Picture(figure, "what it shows"),))
    )
    small = new_figure(2.0, 2.0)
    small.subplots().set_title("x", fontsize=10)
    assert '<figure class=t role=img aria-label="small">' in to_html(Page("t", (Picture(small, "small"),)))
