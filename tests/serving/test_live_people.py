"""Two phones, a terminal, two tabs, double taps, the back button, reloads and clocks that jump."""

import datetime
import signal
import subprocess
import sys
from collections import Counter

import pytest

from tests.running import ROOT
from tests.serving import live
from tests.serving.made_up import ids, new_job, rows
from tests.serving.served import ON_THE_DAY, serving
from tests.serving.tapping import button, look, queued, said, save, tap, type_weight

pytestmark = [pytest.mark.browser, pytest.mark.slow]
SILENT = ("Failed to load resource",)
# The clock of the laptop jumps to the next day when it is told to.
NEXT_DAY = """
import datetime, signal
import tests.running
def jump(*_): tests.running.TODAY += datetime.timedelta(days=1)
signal.signal(signal.SIGUSR1, jump)
"""
RECORD = f"{ON_THE_DAY}\nfrom predictor.__main__ import main\nmain(__import__('sys').argv[1:])"


@pytest.fixture
def job(tmp_path):
    return new_job(tmp_path / "job")


@pytest.fixture
def server(job):
    with serving(job, before=ON_THE_DAY + NEXT_DAY) as server:
        yield server


def caught(job):
    """Box and weight of each row of the log, in order."""
    return [(each["box"], each["catch_g"]) for each in rows(job)]


def twice(page, name, apart_ms=0):
    """Tap the same place twice, whatever is there by then."""
    button(page, name).scroll_into_view_if_needed()
    page.wait_for_timeout(500)
    box = button(page, name).bounding_box()
    middle = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.touchscreen.tap(*middle)
    page.wait_for_timeout(apart_ms)
    page.touchscreen.tap(*middle)


@pytest.mark.parametrize("apart_ms", [0, 60, 220])
def test_a_double_tap_on_save_saves_once_and_answers_nothing(browser, job, server, apart_ms):
    page = live.enter(browser, server)
    tap(page, "grain")
    type_weight(page, "22.4")
    twice(page, "SAVE", apart_ms)
    live.settled(page)
    page.wait_for_timeout(700)
    assert "Setting" in page.inner_text("#ask-text")
    assert queued(page)[0]["answers"] == {}
    live.answer(page)
    assert caught(job) == [("grain", "22.4")]


@pytest.mark.parametrize("apart_ms", [0, 60, 220])
def test_a_double_tap_on_next_catch_saves_nothing_that_was_typed_before(browser, job, server, apart_ms):
    page = live.enter(browser, server)
    tap(page, "small")
    type_weight(page, "7")
    tap(page, "grain")
    live.tap_weight(page, "22.4")
    tap(page, "MORE")
    tap(page, "BACK")
    tap(page, "small")
    page.go_forward()
    said(page, "Saved")
    written = live.posts(page)
    twice(page, "NEXT CATCH", apart_ms)
    page.wait_for_timeout(700)
    assert written == []
    assert queued(page) == []
    assert caught(job) == [("grain", "22.4")]


def test_two_fingers_are_quick_on_two_keys(browser, job, server):
    page = live.enter(browser, server)
    tap(page, "grain")
    page.wait_for_timeout(300)
    places = [page.locator(f"#keys [data-sign='{sign}']").bounding_box() for sign in "1234"]
    taps = [(box["x"] + 30, box["y"] + 30) for box in places]
    began = page.evaluate("performance.now()")
    for each in taps:
        page.touchscreen.tap(*each)
    assert page.evaluate("performance.now()") - began < 600
    assert page.inner_text("#typed") == "1234 g"
    assert queued(page) == []


def test_two_phones_at_one_box_keep_both_catches(browser, job, server):
    first, second = live.enter(browser, server), live.enter(browser, server)
    for page in (first, second):
        tap(page, "small")
        type_weight(page, "40.6" if page is first else "40.4")
    second.route("**/state", lambda route: route.fulfill(status=304))  # nothing new: it does not hear of the other
    tap(first, "SAVE")
    live.answer(first)
    tap(second, "SAVE")
    asked = live.answer(second)
    second.unroute("**/state")
    assert any("the page showed SET 20" in each for each in asked)  # by now it is advised elsewhere
    assert caught(job) == [("small", "40.6"), ("small", "40.4")]
    assert [each["setting"] for each in rows(job)] == ["20", "20"]
    for page in (first, second):
        tap(page, "NEXT CATCH")
        look(page)
    second.locator("#tabs").wait_for()
    first.wait_for_timeout(500)
    assert live.shown(first) == live.shown(second)


def test_two_phones_at_two_boxes_and_a_terminal_write_one_log(browser, job, server):
    first, second = live.enter(browser, server), live.enter(browser, server)
    tap(first, "small")
    tap(second, "grain")
    words = ["record", str(job), "--box", "chaffy", "--lot", "tall mix", "--setting", "4", "--yes", "--catch"]
    for k in range(3):
        typing = subprocess.Popen([sys.executable, "-c", RECORD, *words, f"{48 + k / 10:.1f}"], cwd=ROOT)
        save(first, f"{40 + k / 10:.1f}")
        save(second, f"{22 + k / 10:.1f}")
        for page in (first, second):
            live.answer(page)
            tap(page, "TO THE KEYS" if button(page, "TO THE KEYS").is_visible() else "NEXT CATCH")
        assert typing.wait(60) == 0
        tap(first, "small")
        tap(second, "grain")
    found = caught(job)
    for box, grams in (("small", 40), ("grain", 22), ("chaffy", 48)):
        assert [weight for name, weight in found if name == box] == [f"{grams + k / 10:g}" for k in range(3)]
    assert len(found) == 9
    assert Counter(map(len, ids(job))) == {32: 6}


def views(page):
    """Bring each view onto the screen, one after another; what it is called."""
    tap(page, "grain")
    type_weight(page, "22")
    yield "keys"
    tap(page, "SAVE")
    assert live.settled(page)
    yield "question"
    live.answer(page)
    yield "answer"
    tap(page, "MORE")
    yield "more"
    tap(page, "OTHER ROWS")
    yield "choice"
    page.go_back()
    tap(page, "PLANTED")
    assert live.settled(page)
    yield "wizard"


def test_the_back_button_sends_nothing_from_any_view(browser, job, server):
    page = live.enter(browser, server)
    seen = []
    for name in views(page):
        if name != "keys":  # from there it leaves the page
            title, written, before = page.inner_text("main:visible h1"), live.posts(page), queued(page)
            page.go_back()
            page.wait_for_timeout(600)
            assert page.inner_text("main:visible h1") != title, name
            page.go_forward()
            page.wait_for_timeout(600)
            assert page.inner_text("main:visible h1") == title, name
            assert (written, queued(page)) == ([], before), name
        seen.append(name)
    assert len(seen) == 6
    assert caught(job) == [("grain", "22")]


def test_a_reload_loses_and_sends_nothing_in_any_view(browser, job, server):
    page = live.enter(browser, server)
    for name in views(page):
        shown, written, before = page.inner_text("main:visible h1"), live.posts(page), queued(page)
        page.reload()
        said(page, {"keys": "22 g", "answer": "grain, CW-26"}.get(name, shown))
        page.wait_for_timeout(600)
        assert (written, queued(page)) == ([], before), name
        if name == "answer":
            assert "CATCH AGAIN" in page.inner_text("#decision")
        else:
            assert page.inner_text("main:visible h1") == shown, name
    assert caught(job) == [("grain", "22")]


def test_the_clock_of_the_phone_counts_for_nothing(browser, job, server):
    page = live.enter(browser, server)
    for day, weight in (("2031-05-01", "22.4"), ("2019-01-01", "22.3")):
        page.clock.set_system_time(datetime.datetime.fromisoformat(day))
        tap(page, "grain")
        tap(page, "MORE")
        tap(page, "OTHER SETTING")
        type_weight(page, "30")
        tap(page, "OK")
        live.tap_weight(page, weight)
        tap(page, "NEXT CATCH")
    assert page.evaluate("new Date().getFullYear()") == 2019
    assert [(each["date"], each["catch_g"]) for each in rows(job)] == [("2026-11-25", "22.4"), ("2026-11-25", "22.3")]


def test_a_catch_that_waited_while_the_day_changed_is_of_the_day_that_is_tapped(browser, job, server):
    page = live.enter(browser, server, unheard=SILENT)
    tap(page, "grain")
    for weight, choice, day in (("22.4", "Yes", "2026-11-25"), ("22.3", "No", "2026-11-27")):
        page.context.set_offline(True)
        save(page, weight)
        said(page, "It waits here")
        server.process.send_signal(signal.SIGUSR1)
        page.context.set_offline(False)
        look(page)
        asked = live.answer(page, lambda text, choice=choice: choice if "showed the day" in text else "")
        assert any("showed the day" in each for each in asked), asked
        assert rows(job)[-1]["date"] == day
        tap(page, "NEXT CATCH")
    assert caught(job) == [("grain", "22.4"), ("grain", "22.3")]


def test_two_tabs_send_each_catch_once(browser, job, server):
    page = live.enter(browser, server, unheard=SILENT)
    other = page.context.new_page()
    other.goto(page.url)
    said(other, "SET")
    page.bring_to_front()
    tap(page, "grain")
    page.context.set_offline(True)
    save(page, "22.4")
    said(page, "It waits here")
    page.context.set_offline(False)
    for _ in range(3):
        look(other)
        look(page)
    live.drain(page)
    other.bring_to_front()
    tap(other, "small")
    save(other, "40.6")
    for each in (page, other):
        look(each)
    page.close()
    live.drain(other)
    assert caught(job) == [("grain", "22.4"), ("small", "40.6")]
    assert len(set(ids(job))) == 2
