"""Taps on the page at the drill, as slow as a hand."""

from __future__ import annotations

import re
from typing import Any

# the page takes a second tap within 150 ms for a slip
APART_MS = 170


def button(page: Any, name: str) -> Any:
    """The button or link whose text begins so, in the view that is shown."""
    shown = page.locator("main:visible")
    return shown.locator("button:visible, a:visible").filter(has_text=re.compile(rf"^\s*{re.escape(name)}")).first


def tap(page: Any, name: str) -> None:
    """Tap the button with this text in the view that is shown."""
    page.wait_for_timeout(APART_MS)
    button(page, name).tap()


def type_weight(page: Any, text: str) -> None:
    """Tap a weight on the keys; `o` is the key for ounces."""
    for sign in text:
        page.wait_for_timeout(APART_MS)
        page.locator(f"main:visible .keys [data-sign='{'oz' if sign == 'o' else sign}']").tap()


def save(page: Any, text: str) -> None:
    """Tap a weight and save it."""
    type_weight(page, text)
    tap(page, "SAVE")


def said(page: Any, text: str) -> None:
    """Wait until the view that is shown says something."""
    page.locator("main:visible").get_by_text(text).first.wait_for()


def look(page: Any) -> None:
    """Let the page look at the state at once, as it does when the network is back."""
    page.evaluate("dispatchEvent(new Event('online'))")


def queued(page: Any) -> list[dict[str, Any]]:
    """What waits in the browser."""
    found = "Object.keys(localStorage).filter(each => each.startsWith('queue:')).map(each => localStorage[each])"
    return page.evaluate(f"{found}.flatMap(each => JSON.parse(each))")


def sent(page: Any) -> None:
    """Wait until nothing waits in the browser."""
    for _ in range(60):
        if not queued(page):
            return
        page.wait_for_timeout(200)
    raise AssertionError(f"still waits: {queued(page)}")
