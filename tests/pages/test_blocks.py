"""Pages as HTML and PDF: self-contained, legible, the same bytes again, and user text never markup."""

import gc
import re
import sys

import pytest
from fpdf import FPDF

from predictor.pages.blocks import Facts, Frame, Grid, Heading, Items, Lines, Page, Sign, Text
from predictor.pages.html import FAINT, INK, LONGEST, PAPER, SHADE, to_html
from predictor.pages.pdf import to_pdf
from tests.pages.checking import self_contained

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


@pytest.mark.slow
def test_a_card_of_many_boxes_takes_a_second_sheet():
    frames = tuple(Frame((Sign(f"box {k}", "LOCK 4"), Facts((("Chance", "97 in 100"),) * 6))) for k in range(9))
    made = to_pdf(Page("many", frames, "half-letter", one=True))
    assert len(re.findall(rb"/Type /Page\b", made)) == 2


@pytest.mark.slow
def test_a_pdf_leaves_no_file_open():
    """The library keeps the font files of a document open; a warning of it would fail some other test, at random."""
    seen, before = [], sys.unraisablehook
    sys.unraisablehook = seen.append
    try:
        to_pdf(Page("x", tuple(Text("word " * 80) for _ in range(30)), "a5", one=True))
        gc.collect()
    finally:
        sys.unraisablehook = before
    assert seen == []


def test_braces_in_a_name_are_letters_in_a_pdf():
    page = to_pdf(Page("{nb}", (Sign("box", "LOCK AT {nb}"),)))
    assert FPDF().str_alias_nb_pages == "{nb}"  # what the library would do by itself
    assert page == to_pdf(Page("{nb}", (Sign("box", "LOCK AT {nb}"),)))
    assert page != to_pdf(Page("{nb}", (Sign("box", "LOCK AT 1"),)))


def test_a_label_with_a_hyphen_is_not_broken():
    grid = Grid(("Do",), (("LOCK AT 3-5",), ("3-5",)))
    text = to_html(Page("t", (grid, Text("On 2026-11-25: far-off."))))
    assert "<td>LOCK AT <span class=k>3-5</span></td>" in text
    assert "<td class=k>3-5</td>" in text
    assert "<p>On <span class=k>2026-11-25:</span> far-off.</p>" in text


def test_only_a_word_that_no_column_could_hold_is_broken():
    rows = (("word " * 20, "y" * LONGEST, "x" * (LONGEST + 1)),)
    cells = re.findall(r"<td[^>]*>", to_html(Page("t", (Grid(("a", "b", "c"), rows),))))
    assert cells == ["<td>", "<td>", "<td class=cut>"]


def test_heads_of_tables_say_what_they_head_and_the_keyboard_reaches_a_table_with_a_name():
    grid = Grid(("Box", "Net g"), (("grain", "12.5"),), frozenset({1}), "What was caught", named=True)
    text = to_html(Page("t", (grid,)))
    assert '<div class=t role=region tabindex=0 aria-label="What was caught"><table' in text
    assert "<th scope=col>Box</th><th scope=col class=n>Net g</th>" in text
    assert "<tr><th scope=row>grain</th><td class=n>12.5</td></tr>" in text
