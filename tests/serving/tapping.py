"""Taps on the page at the drill, as slow as a hand."""

from __future__ import annotations

import re
from typing import Any

SIGNS = {"+": "+ row", "/": "/ part", "o": "oz"}
# the page takes a second tap within 150 ms for a slip
APART_MS = 170


def tap(page: Any, name: str) -> None:
    """Tap the button with this text in the view that is shown."""
    page.wait_for_timeout(APART_MS)
    button(page, name).tap()


def button(page: Any, name: str) -> Any:
    """The button or link whose text begins so, in the view that is shown."""
    shown = page.locator("main:visible")
    return shown.locator("button:visible, a:visible").filter(has_text=re.compile(rf"^{re.escape(name)}")).first


def type_weight(page: Any, text: str) -> None:
    """Tap a weight on the keys; `o` is the key for ounces."""
    for sign in text:
        tap(page, SIGNS.get(sign, sign))


def save(page: Any, text: str) -> None:
    """Tap a weight and save it."""
    type_weight(page, text)
    tap(page, "SAVE")
