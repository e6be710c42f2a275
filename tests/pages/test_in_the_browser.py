"""Pages as a real browser shows them: on a phone, on a desk, enlarged, and with the colours of the reader.

Contrast is that of WCAG 2.2, 1.4.6 (7 : 1); reflow at 320 CSS pixels is 1.4.10, and 640 is a window of 1280 at 200 %.
"""

import pytest

from tests.pages import screen
from tests.pages.made import of

pytestmark = pytest.mark.browser
PHONE, DESK = (360, 740), (1280, 900)


def test_axe_finds_nothing(browser, made):
    page = browser.open(made.html, PHONE, script=True)
    assert browser.findings(page) == []
    page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
    assert browser.findings(page) == []


def test_nothing_reaches_over_the_edge(browser, made):
    page = browser.open(made.html)
    for wide in (320, 360, 640, 1280):
        page.set_viewport_size({"width": wide, "height": 740})
        assert screen.too_wide(page) <= 0, wide
        assert screen.beside(page) == [], wide


@pytest.mark.slow
def test_what_scrolls_is_reached_by_tab_and_has_a_name(browser, made):
    assert screen.out_of_reach(browser.open(made.html, (320, 740))) == []


@pytest.mark.slow
def test_every_text_stands_out_from_its_ground(browser, made):
    page = browser.open(made.html)
    assert screen.pale(page) == []
    page.emulate_media(forced_colors="active")
    assert screen.pale(page) == []


@pytest.mark.slow
def test_every_text_stands_out_in_the_dark_colours_of_a_reader(browser, made):
    page = browser.open(made.html, DESK)
    assert not any(each.cut for each in screen.texts(page))
    page.emulate_media(forced_colors="active", color_scheme="dark")
    assert screen.pale(page) == []


@of("setting")
def test_the_settings_of_three_boxes_are_on_one_screen_of_a_phone(browser, made):
    shown = screen.texts(browser.open(made.html, PHONE))
    for each in made.results()[:3]:
        large = [text for text in shown if text.text == each.figure and text.size >= 32]
        # figures stand on the base line, a fifth of their size or more above the end of their box
        assert any(text.bottom - 0.2 * text.size <= PHONE[1] for text in large), each


@pytest.mark.slow
@of("setting", "decision", "report")
def test_a_page_says_the_settings_and_weights_that_recommend_says(browser, made):
    parts = screen.parts(browser.open(made.html, DESK))
    results = made.results()
    for each in results:
        others = [other.lot for other in results if other.lot not in each.lot]
        mine = [text for text in parts if screen.has(text, each.box) and screen.has(text, each.lot)]
        mine = [text for text in mine if not any(screen.has(text, lot) for lot in others)]
        assert any(screen.has(text, each.figure) for text in mine), each
        # a decision card weighs what is left to catch, and a report what was caught
        if {"decision": not each.ready, "report": each.caught}.get(made.kind, True):
            assert any(screen.has(text, each.figure) and each.shows(text) for text in mine), each


@of("report")
def test_a_report_is_small_enough_to_send_over_a_thin_line(made):
    assert made.html.stat().st_size <= 100_000 * len(made.results())
