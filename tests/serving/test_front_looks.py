"""The page at the drill is read and tapped on every screen: nothing scrolls at the keys, and gloves hit each one."""

import pytest

from tests.pages import screen
from tests.serving import live
from tests.serving.laptop import ODD, asking
from tests.serving.tapping import button, said, save, tap, type_weight

pytestmark = [pytest.mark.browser, pytest.mark.slow]
SIZES = [(360, 740), (320, 568), (740, 360), (568, 320), (1280, 800)]
# A CSS pixel of a phone is 1/160 inch.
MM = 25.4 / 160
LARGE = "button:visible, a.button:visible, input:visible"
TURNS = {**ODD, "key": "turns", "text": "How many turns", "input": "number", "usual": "28", "choices": []}
LOADED = {**TURNS, "text": "Seed loaded, lb (+ between loads)", "input": "weight", "name": "loaded", "usual": ""}
FIELD = {**TURNS, "key": "field", "text": "Field", "input": "text", "choices": [{"label": "north", "answer": "north"}]}


def overflows(page):
    """What of the keypad view reaches over its own edge or the window's."""
    return page.evaluate(
        """() => [document.scrollingElement, ...document.querySelectorAll("#keypad, #keypad *")].filter(each => {
          const box = each.getBoundingClientRect(), style = getComputedStyle(each);
          const out = box.right > innerWidth + 1 || box.bottom > innerHeight + 1 || box.left < -1 || box.top < -1;
          const cut = style.overflowY != "visible"
            && (each.scrollHeight > each.clientHeight + 2 || each.scrollWidth > each.clientWidth + 2);
          return box.width && (out || cut) && style.display != "inline";
        }).map(each => `${each.tagName} ${each.id} ${each.textContent.slice(0, 40)}`)"""
    )


def covered(page):
    """Pieces of the panel that lie over each other."""
    return page.evaluate(
        """() => {
          const all = [...document.querySelectorAll("#panel > *")].map(each => [each, each.getBoundingClientRect()])
            .filter(([, box]) => box.width && box.height);
          return all.flatMap(([one, a], k) => all.slice(k + 1).filter(([, b]) =>
            Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
            && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1).map(([other]) => `${one.id} ${other.id}`));
        }"""
    )


def sizes(page, what):
    """Width and height of what can be tapped in the view that is shown, in millimetres, by its text."""
    found = page.locator("main:visible").locator(what).all()
    boxes = [(each.inner_text() or "field", each.bounding_box()) for each in found]
    return {text: (box["width"] * MM, box["height"] * MM) for text, box in boxes}


@pytest.mark.parametrize("size", SIZES)
def test_nothing_scrolls_at_the_keys_whatever_they_show(opened, laptop, size):
    laptop.box("grain").update(tab="REPEAT THE CATCH AT 14.5")
    page = opened(size)
    said(page, "28 turns")
    states = [lambda: None, lambda: type_weight(page, "22.9"), lambda: type_weight(page, "+21.5+20.4+19.8+20.3o")]
    states.append(lambda: tap(page, "chaffy"))

    def long():
        laptop.box("small")["catch"].update(setting="24 on high", lot="a mix with quite a long name, second bag")
        laptop.changed()
        said(page, "24 on high")

    def waiting():
        laptop.down = True
        tap(page, "SAVE")
        said(page, "It waits here")
        tap(page, "TO THE KEYS")
        said(page, "1 catch waits")

    for state in (*states, lambda: tap(page, "small"), long, waiting):
        state()
        assert overflows(page) == []
        assert covered(page) == []


@pytest.mark.parametrize("size", SIZES)
def test_keys_are_as_large_as_a_gloved_finger(opened, size):
    page = opened(size)
    said(page, "28 turns")
    found = sizes(page, "button")
    assert len(found) == 20
    assert min(min(each) for each in found.values()) >= 11.0


def test_the_setting_is_15_mm_high_on_a_phone(opened):
    page = opened()
    said(page, "28 turns")
    assert live.letter_height(page) * MM >= 15.0
    assert page.locator("#setting").bounding_box()["width"] < 360


@pytest.mark.parametrize("size", [(740, 360), (568, 320), (1280, 800)])
def test_in_landscape_the_keys_are_on_the_right(opened, size):
    page = opened(size)
    said(page, "28 turns")
    keys, saving = page.locator("#keys").bounding_box(), button(page, "SAVE").bounding_box()
    assert saving["x"] + saving["width"] <= keys["x"] + 1
    assert keys["x"] + keys["width"] == pytest.approx(size[0], abs=1)
    assert keys["height"] == pytest.approx(size[1], abs=1)


def to_answer(page, laptop):
    save(page, "22.9")
    said(page, "Saved as line 2")


def to_question(page, laptop):
    laptop.reply = asking(ODD, lambda entry: False)
    save(page, "99")
    said(page, ODD["text"])


def to_entry(question):
    def go(page, laptop):
        laptop.reply = asking(question, lambda entry: False)
        tap(page, "MORE")
        tap(page, "PLANTED")
        said(page, question["text"])

    return go


def to_more(page, laptop):
    laptop.box("small")["open"] = [{"text": "Lines 3 and 5 differ.", "lines": "3,5"}]
    laptop.box("small")["last"] = {"line": 7, "text": "22.9 g at 14.5"}
    laptop.state["problems"] = ["plan.csv line 3: a word is no number."]
    laptop.changed()
    tap(page, "MORE")
    said(page, "Lines 3 and 5 differ.")


def to_waiting(page, laptop):
    said(page, "28 turns")
    laptop.down = True
    save(page, "22.9")
    said(page, "It waits here")
    tap(page, "TO THE KEYS")
    tap(page, "1 catch waits")
    said(page, "What waits")


def to_choice(page, laptop):
    tap(page, "MORE")
    tap(page, "OTHER SETTING")
    said(page, "At which setting")


def to_keys(page, laptop):
    said(page, "28 turns")
    type_weight(page, "2+")  # the key for parts is of no use now


VIEWS = {
    "keys": to_keys,
    "answer": to_answer,
    "question": to_question,
    "number": to_entry(TURNS),
    "loads": to_entry(LOADED),
    "text": to_entry(FIELD),
    "more": to_more,
    "waiting": to_waiting,
    "choice": to_choice,
}


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("size", [(360, 740), (320, 568), (568, 320), (1280, 800)])
def test_each_view_is_clean_wide_enough_and_has_large_buttons(opened, browser, laptop, view, size):
    page = opened(size, bypass_csp=True)  # axe is brought along by the test
    VIEWS[view](page, laptop)
    page.wait_for_timeout(500)
    assert browser.findings(page) == []
    assert screen.too_wide(page) <= 0
    assert screen.beside(page) == []
    assert page.evaluate("document.activeElement.tagName") == "H1"  # a reader of screens is at its heading
    small = {text: each for text, each in sizes(page, LARGE).items() if min(each) < 11.0}
    assert small == {}


@pytest.mark.parametrize("view", VIEWS)
def test_each_view_is_black_on_white(opened, laptop, view):
    page = opened()
    VIEWS[view](page, laptop)
    page.wait_for_timeout(500)
    assert screen.pale(page) == []


@pytest.mark.parametrize("size", [(360, 740), (320, 568), (740, 360), (568, 320)])
def test_numbers_of_a_question_are_typed_without_scrolling(opened, laptop, size):
    page = opened(size)
    VIEWS["number"](page, laptop)
    for name in ("1", "0", "⌫", "OK"):
        box = button(page, name).bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= size[1] + 1


def test_units_that_the_keys_lack_are_typed_with_letters(opened, laptop):
    laptop.reply = asking(TURNS, lambda entry: entry["answers"])
    page = opened()
    tap(page, "MORE")
    tap(page, "FIELD CHECK")
    said(page, "How many turns")
    type_weight(page, "12")
    tap(page, "abc")
    assert page.input_value("#field input") == "12"
    page.fill("#field input", "1200 ft")
    tap(page, "OK")
    said(page, "Saved as line 2")
    assert laptop.posts[-1]["answers"] == {"turns": "1200 ft"}


def test_loads_are_added_without_parts_and_ounces(opened, laptop):
    page = opened()
    VIEWS["loads"](page, laptop)
    type_weight(page, "50")
    tap(page, "+")
    type_weight(page, "25")
    assert button(page, "OK: 50+25").is_visible()
    assert not button(page, "oz").is_visible()
