"""A person with a real browser at a job that is really served: opens the page, taps weights, answers what is asked."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from tests.browser import PHONE, Browser
from tests.pages import screen
from tests.serving.served import Served
from tests.serving.tapping import APART_MS, look, queued, said, save, tap, type_weight

MOST_QUESTIONS = 40
MOST_ROUNDS = 300
# What the page shows at the end of a save, or of one round of it.
ASKED, SAVED = "#ask:visible button:enabled:not(#give-up)", "#said p"
CHOICES = "#choices button:visible"
Hand = Callable[[Any, str], None]


def enter(browser: Browser, server: Served, size: tuple[int, int] = PHONE, **options: Any) -> Any:
    """Let one more device in by the address that is shown now; its page with the keys."""
    shown = len(server.addresses())
    page = browser.open_address(server.addresses()[-1], size, **options)
    page.get_by_role("button").click()
    page.wait_for_url("**/")
    server.wait_for(re.escape(f":{server.port}/in/"), times=shown + 1)
    said(page, "Keep the drill hitched")
    return page


def click(page: Any, name: str) -> None:
    """Click the button of the view that begins so, with a mouse."""
    page.wait_for_timeout(APART_MS)
    page.locator("main:visible button:visible").filter(has_text=re.compile(rf"^\s*{re.escape(name)}")).first.click()


def shown(page: Any) -> dict[str, str]:
    """What the keys ask for, as a person reads it."""
    setting, lot, size = (page.inner_text(each) for each in ("#setting", "#lot", "#size"))
    found = re.match(r"([\d.]+) turns, (\d+) rows", size)
    assert found, size
    return {"setting": setting, "lot": lot.split(", ", 1)[1], "turns": found[1], "rows": found[2]}


def settled(page: Any) -> str:
    """Wait for what becomes of an entry: the text of the next question, or nothing once it is saved."""
    page.locator(f"{ASKED}, {SAVED}:text-matches('Saved as line|unused|not to be used')").first.wait_for()
    return page.inner_text("#ask-text") if page.locator("#ask").is_visible() else ""


def answer(page: Any, choose: Callable[[str], str] = lambda text: "", hand: Hand = tap) -> list[str]:
    """Answer what is asked until the entry is saved; the questions.

    `choose` gives the button to tap or the text to type for a question; nothing stands for the first choice, or for
    the usual answer where it is typed.
    """
    asked: list[str] = []
    while text := settled(page):
        asked.append(text)
        assert len(asked) < MOST_QUESTIONS, asked
        answer_one(page, choose(text), hand)
    return asked


def answer_one(page: Any, wanted: str = "", hand: Hand = tap) -> None:
    """Answer the question that is shown: by a choice, by what is typed, or by the first choice or the usual answer."""
    choices = page.locator(CHOICES).all_inner_texts()
    if wanted in choices or not wanted:
        hand(page, wanted or (choices[0] if choices else "OK"))
    else:
        _typed(page, wanted, hand)


def _typed(page: Any, text: str, hand: Hand) -> None:
    """Type an answer on the keys of a question, or into its field."""
    if page.locator("#field input").is_visible():
        page.fill("#field input", text)
    else:
        type_weight(page, text)
    hand(page, "OK")


def tap_weight(page: Any, text: str, choose: Callable[[str], str] = lambda text: "") -> list[str]:
    """Tap a weight, save it and answer what is asked; the questions."""
    save(page, text)
    return answer(page, choose)


def drain(page: Any) -> list[str]:
    """Answer what is asked until nothing waits in the browser any more, always by the first choice; the questions."""
    asked: list[str] = []
    for _ in range(MOST_ROUNDS):
        waiting = queued(page)
        if not waiting:
            return asked
        if not waiting[0].get("question"):
            look(page)
            page.wait_for_timeout(100)
        elif page.locator("#ask").is_visible():
            asked.append(page.inner_text("#ask-text"))
            answer_one(page)
        elif page.locator("#keypad").is_visible():
            page.locator("#strip button").tap()
        else:
            page.go_back()
    raise AssertionError(f"still waits: {queued(page)}")


def posts(page: Any) -> list[str]:
    """The requests that write, in a list that grows."""
    found: list[str] = []
    page.on("request", lambda each: found.append(each.url) if each.method == "POST" else None)
    return found


def scrolls(page: Any) -> list[str]:
    """What of the page could be scrolled: the document, or anything in it."""
    tall = page.evaluate("document.scrollingElement.scrollHeight - document.scrollingElement.clientHeight")
    sides = [name for name, more in (("down", tall), ("sideways", screen.too_wide(page))) if more > 0]
    return sides + [str(each) for each in page.evaluate(screen.SCROLLERS)]


def smallest_key(page: Any) -> float:
    """The shortest side of all keys and SAVE, CSS pixels."""
    boxes = [each.bounding_box() for each in page.locator("#keys button, #save").all()]
    assert len(boxes) == 16
    return min(min(each["width"], each["height"]) for each in boxes)


def letter_height(page: Any) -> float:
    """How high the signs of the setting are, CSS pixels."""
    return page.evaluate(
        """() => {
          const setting = document.getElementById("setting"), style = getComputedStyle(setting);
          const paper = new OffscreenCanvas(9, 9).getContext("2d");
          paper.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
          return paper.measureText(setting.textContent).actualBoundingBoxAscent;
        }"""
    )
