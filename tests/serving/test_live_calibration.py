"""Whole calibrations tapped in a real browser at a job that is served, held against `record` fed the same weights."""

import csv
import re

import numpy as np
import pytest

from tests.serving import live
from tests.serving.made_up import DROPS, MOST_CATCHES, in_metric, new_job, record, rows, weight
from tests.serving.served import ON_THE_DAY, serving
from tests.serving.tapping import button, tap

pytestmark = [pytest.mark.browser, pytest.mark.slow]
# A CSS pixel of a phone is 1/160 inch: 11 mm and 15 mm.
KEY, LETTERS = 70, 95
LOCKS = re.compile("LOCK AT|LEAVE IT AT|PLANT AT")


def as_promised(page, size):
    """At the keys nothing scrolls, and a gloved hand hits each one."""
    assert live.scrolls(page) == []
    assert live.smallest_key(page) >= KEY
    if size == (360, 740):
        assert live.letter_height(page) >= LETTERS


def locked(page):
    """Whether the answer that is shown ends the catches of its box."""
    return bool(LOCKS.match(page.inner_text("#decision .head b")))


def calibrate(page, box, typed, size, rng, catches=MOST_CATCHES):
    """Tap catches of a box until it is locked; the same ones go into the folder `typed` by `record`."""
    tap(page, box)
    for _ in range(catches):
        as_promised(page, size)
        asked = live.shown(page)
        grams = weight(rng, box, asked)
        live.tap_weight(page, grams)
        answer = record(typed, box, asked, grams)["results"][0]
        assert locked(page) == (answer["decision"] == "lock")
        assert page.locator("#decision .head").get_attribute("class") == ("head ready" if locked(page) else "head")
        done = locked(page)
        tap(page, "NEXT CATCH" if button(page, "NEXT CATCH").is_visible() else "TO THE KEYS")
        page.locator("#keypad").wait_for()
        as_promised(page, size)
        if done:
            return True
    return False


def measured(text):
    """What was measured in the field, by the question; nothing where the first choice is right."""
    wanted = {"Area": "14", "Seed loaded": "40", "Seed left": "5"}
    return next((amount for what, amount in wanted.items() if what in text.splitlines()[-1]), "")


def written_down(page, box, what, folder, name):
    """Tap a planted line or a field check of a box; its row."""
    tap(page, box)
    tap(page, "MORE")
    tap(page, what)
    asked = live.answer(page, measured)
    assert all(any(what in each for each in asked) for what in ("Area", "Seed loaded", "Seed left"))
    tap(page, "MORE")
    tap(page, "BACK")
    page.locator("#keypad").wait_for()
    with open(folder / name, newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(each for each in file if each[:1] != "#")
    assert row["box"] == box
    assert re.fullmatch("[0-9a-f]{32}", row["entry"])
    return row


@pytest.mark.parametrize("units", ["us", "metric"])
def test_three_boxes_are_tapped_to_the_same_locks_then_planted_and_checked(browser, tmp_path, units):
    tapped, typed = (new_job(tmp_path / name) for name in ("tapped", "typed"))
    if units == "metric":
        for each in (tapped, typed):
            in_metric(each)
    size, rng = (360, 740), np.random.default_rng(5)
    with serving(tapped, before=ON_THE_DAY) as server:
        page = live.enter(browser, server, size)
        for box in DROPS:
            assert calibrate(page, box, typed, size, rng), box
        assert rows(tapped) == rows(typed)
        assert all(LOCKS.match(each) for each in page.locator("#tabs small").all_inner_texts())
        line = written_down(page, "small", "PLANTED", tapped, "planted.csv")
        assert (line["setting"], line["evidence"] != "") == (rows(tapped)[-1]["setting"], True)
        check = written_down(page, "small", "FIELD CHECK", tapped, "field.csv")
        assert check["setting"] == line["setting"]
        as_promised(page, size)


@pytest.mark.parametrize("size", [(740, 360), (320, 568), (568, 320), (1280, 800)])
def test_a_calibration_begins_alike_on_every_screen(browser, tmp_path, size):
    tapped, typed = (new_job(tmp_path / name) for name in ("tapped", "typed"))
    rng = np.random.default_rng(6)
    with serving(tapped, before=ON_THE_DAY) as server:
        page = live.enter(browser, server, size)
        for box in DROPS:
            calibrate(page, box, typed, size, rng, catches=1)
    assert len(rows(tapped)) == len(DROPS)
    assert rows(tapped) == rows(typed)


def test_a_calibration_on_the_laptop_takes_mouse_and_keyboard(browser, tmp_path):
    tapped, typed = (new_job(tmp_path / name) for name in ("tapped", "typed"))
    size, rng = (1280, 800), np.random.default_rng(7)
    with serving(tapped, before=ON_THE_DAY) as server:
        page = live.enter(browser, server, size, has_touch=False)
        live.click(page, "grain")
        page.locator("#setting").click()  # the focus is on no button
        for _ in range(2):
            asked = live.shown(page)
            grams = weight(rng, "grain", asked)
            page.keyboard.type(grams)
            page.keyboard.press("Enter")
            live.answer(page, hand=live.click)
            record(typed, "grain", asked, grams)
            live.click(page, "NEXT CATCH")
            page.locator("#save:enabled").wait_for()
            as_promised(page, size)
    assert rows(tapped) == rows(typed)
