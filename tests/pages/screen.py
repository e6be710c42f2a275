"""What a browser shows of a page: its texts with place, colour and ground, and what scrolls."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass

import matplotlib.image
import numpy as np

# Each piece of text that has ink, with its lines; a picture's letters grow and shrink with it.
TEXTS = """() => {
  const found = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node; node = walk.nextNode(); ) {
    const inside = node.parentElement, style = getComputedStyle(inside), range = document.createRange();
    range.selectNodeContents(node);
    const rects = [...range.getClientRects()].filter(each => each.width * each.height > 4)
      .map(each => [each.x + scrollX, each.y + scrollY, each.width, each.height]);
    if (!node.data.trim() || !rects.length || style.visibility != "visible") continue;
    const scroller = inside.closest("[tabindex]"), frame = scroller && scroller.getBoundingClientRect();
    const picture = inside.closest("svg"), matrix = picture && inside.getScreenCTM();
    found.push({
      text: node.data.replace(/\\s+/g, " ").trim(),
      rects,
      colour: picture ? style.fill : style.color,
      size: parseFloat(style.fontSize) * (picture ? Math.hypot(matrix.c, matrix.d) : 1),
      picture: !!picture,
      tag: inside.tagName.toLowerCase(),
      scrolled: !!scroller,
      cut: !!frame && rects.map(([x, y, wide]) => [x - scrollX, wide])
        .some(([x, wide]) => x < frame.left - 1 || x + wide > frame.right + 1),
    });
  }
  return found;
}"""
# What can be scrolled sideways or down inside the page, by what names it.
SCROLLERS = """() => [...document.querySelectorAll("body *")].filter(each => {
    const style = getComputedStyle(each);
    return (each.scrollWidth > each.clientWidth + 1 && /auto|scroll/.test(style.overflowX))
      || (each.scrollHeight > each.clientHeight + 1 && /auto|scroll/.test(style.overflowY));
  }).map(each => {
    each.dataset.scroller = [...document.querySelectorAll("*")].indexOf(each);
    return {
      number: each.dataset.scroller, tabs: each.getAttribute("tabindex"), role: each.getAttribute("role"),
      name: each.getAttribute("aria-label") || each.getAttribute("aria-labelledby"),
    };
  })"""
FOCUS = """() => {
  const at = document.activeElement, style = getComputedStyle(at);
  return {number: at.dataset.scroller, ring: style.outlineStyle != "none" && parseFloat(style.outlineWidth) >= 1};
}"""


@dataclass(frozen=True)
class Shown:
    """A piece of text on the screen."""

    text: str
    rects: list[list[float]]  # left, top, width, height of each line, CSS pixels from the page's corner
    colour: str
    size: float
    picture: bool
    tag: str
    scrolled: bool
    cut: bool  # whether a part of it is out of sight in what it scrolls in

    @property
    def bottom(self) -> float:
        """Where it ends, CSS pixels from the page's top."""
        return max(top + high for _, top, _, high in self.rects)


def texts(page) -> list[Shown]:
    """Every text of a page."""
    return [Shown(**each) for each in page.evaluate(TEXTS)]


def parts(page) -> list[str]:
    """The text of each part that may hold an answer: a panel, a row, a table, a paragraph."""
    return page.evaluate(
        "[...document.querySelectorAll('section, tr, table, p, li, figure')].map(each => each.innerText)"
    )


def has(text: str, word: str) -> bool:
    """Whether a text has this word or name, by itself."""
    return re.search(rf"(?<![\w.-]){re.escape(word)}(?![\w-]|\.\d)", text) is not None


def too_wide(page) -> float:
    """By how many CSS pixels the page scrolls sideways."""
    return page.evaluate("document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth")


def beside(page) -> list[str]:
    """Texts that reach over the edge of the window, and are in nothing that scrolls."""
    wide = page.viewport_size["width"]
    return [
        each.text
        for each in texts(page)
        if not each.scrolled and any(left < -0.5 or left + across > wide + 0.5 for left, _, across, _ in each.rects)
    ]


def out_of_reach(page) -> list[str]:
    """What scrolls inside the page, but has no name, or is not reached by Tab with a ring that shows it."""
    scrollers = page.evaluate(SCROLLERS)
    reached = {}
    for _ in range(len(scrollers) + 40):
        page.keyboard.press("Tab")
        focus = page.evaluate(FOCUS)
        reached.setdefault(focus.get("number"), focus["ring"])
    return [
        str(each)
        for each in scrollers
        if each["tabs"] != "0" or not (each["role"] and each["name"]) or not reached.get(each["number"])
    ]


def pale(page, least: float = 7.0) -> list[str]:
    """Texts wholly in sight whose contrast with what is painted behind them is less than `least`, by WCAG 2."""
    shot = matplotlib.image.imread(io.BytesIO(page.screenshot(full_page=True)))[:, :, :3]
    dots = shot.shape[1] / page.viewport_size["width"]
    found = []
    for each in (each for each in texts(page) if not each.cut):
        text = light(np.array([[[float(part) for part in re.findall(r"[\d.]+", each.colour)[:3]]]]) / 255).item()
        left, top, wide, high = (round(part * dots) for part in each.rects[0])
        ground = _grounds(light(shot[max(top, 0) : top + high, max(left, 0) : left + wide]), text)
        worst = min((_contrast(text, behind) for behind in ground), default=1.0)
        if ground.size and worst < least:
            found.append(f"{worst:.1f}: {each.text}")
    return found


def _grounds(seen: np.ndarray, text: float) -> np.ndarray:
    """Light of what takes a good part of the place of a text, but for the ink of its own letters."""
    shades, count = np.unique(np.round(seen, 2), return_counts=True)
    ink = np.abs(shades - text) < 0.02
    much = (count >= 0.15 * seen.size) & ~ink
    # where nothing but its own colour is seen, it has no contrast at all
    return shades[much] if much.any() else shades[ink]


def light(colour: np.ndarray) -> np.ndarray:
    """Relative luminance of colours by WCAG 2; each part is 0 to 1."""
    parts = np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)
    return parts @ np.array([0.2126, 0.7152, 0.0722])


def _contrast(first: float, second: float) -> float:
    return (max(first, second) + 0.05) / (min(first, second) + 0.05)
