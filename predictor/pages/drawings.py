"""Drawings inside an HTML page: our own SVG without what the page has once, or does not need."""

from __future__ import annotations

import re

# What every drawing asks for; the page says it once.
STROKES = "svg *{stroke-linejoin:round;stroke-linecap:butt}"
# Letters of a drawing are at least so many CSS pixels high, however narrow the screen.
LEAST_LETTERS = 9.0

# In our drawings "<" and ">" begin and end tags alone: those of user text are escaped, in attributes too.
_TAG = re.compile(r"<[^<>]*>")
_DRAWING = re.compile(r"<svg.*?</svg>", re.DOTALL)
_LEFT_OUT = re.compile(r"<(metadata|style)\b.*?</\1>|<!--.*?-->", re.DOTALL)
_STYLE = re.compile(r' style="([^"]*)"')
_LETTERS = re.compile(r"font(?:-size)?: (?:[a-z]++ |[0-9]++ )*+([0-9.]++)px")
_NAME = re.compile(r' id="([^"]*)"')
_USED = re.compile(r'(?:(?<=url\(#)|(?<=href="#))[^")]+')
_PLACES = re.compile(r'(?<= )(?:d|x|y|width|height|points|transform)="[^"]*"')
_LONG = re.compile(r"(?<![0-9])[0-9]++\.[0-9]{3,}")
_GAPS = re.compile(r">\s++<")
_WIDTH = re.compile(r'viewBox="0 0 ([0-9.]++)')


def inline(svg: str, prefix: str) -> str:
    """One drawing without declarations, metadata, links and styles of its own; its names begin with `prefix`.

    A name that nothing refers to is left out, and places are given to a hundredth of a point.
    """
    svg = _LEFT_OUT.sub("", svg[svg.index("<svg") :])
    known = set(_USED.findall(svg))

    def tag(found: re.Match[str]) -> str:
        text = _NAME.sub(lambda name: f' id="{prefix}{name[1]}"' if name[1] in known else "", found[0])
        text = _USED.sub(lambda name: prefix + name[0], text)
        return _PLACES.sub(lambda value: _LONG.sub(_rounded, value[0].replace("\n", "")), text)

    return _GAPS.sub("><", _TAG.sub(tag, svg)).strip()


def _rounded(number: re.Match[str]) -> str:
    return f"{float(number[0]):.2f}".rstrip("0").rstrip(".")


def narrowest(svg: str) -> int:
    """The width in CSS pixels below which the smallest letters of a drawing could not be read; 0 without letters."""
    width, sizes = _WIDTH.search(svg), [float(each) for each in _LETTERS.findall(svg)]
    return round(LEAST_LETTERS * float(width[1]) / min(sizes)) if width and sizes else 0


def share_styles(body: str) -> tuple[str, str]:
    """A page's body with a class in place of each style of its drawings, and the rules of these classes."""
    names: dict[str, str] = {}

    def tag(found: re.Match[str]) -> str:
        return _STYLE.sub(lambda style: f' class="{names.setdefault(style[1], f"d{len(names)}")}"', found[0])

    body = _DRAWING.sub(lambda drawing: _TAG.sub(tag, drawing[0]), body)
    return body, "".join(f".{name}{{{rule}}}" for rule, name in names.items())
