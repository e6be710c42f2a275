"""A page as one HTML file: no script, no link, nothing outside it."""

from __future__ import annotations

import re
from html import escape
from importlib import resources
from string import Template

from predictor.pages import blocks, panels
from predictor.pages.blocks import PAPERS, Block, Grid, Page, Panel, Picture
from predictor.pages.drawings import STROKES, inline, narrowest, share_styles
from predictor.unseen import visible

# Black on white and near it: the contrast is at least 7 : 1 everywhere, and no colour carries a meaning of its own.
INK, FAINT, PAPER, SHADE = "#000000", "#3d3d3d", "#ffffff", "#ececec"
# The narrowest screen has so many CSS pixels beside the margins.
PHONE = 336
# A word of up to so many letters is never broken; a longer one may be, or no sheet would be wide enough.
LONGEST = 32
# A table of up to so many rows stays on one sheet.
SHORT_TABLE = 14
# A table of so many columns has smaller letters on paper.
WIDE_TABLE = 9
# On a phone a column is wide enough for so many letters of a cell, each about so many times as wide as they are high.
LETTERS, WIDTH_EM = 16, 0.56


def to_html(page: Page) -> str:
    """The page as HTML."""
    wide, tall = PAPERS[page.paper]
    parts = [_block(block, f"p{k}-") for k, block in enumerate(page.blocks)]
    if page.footer:
        parts.append(_block(blocks.Text(page.footer, small=True), ""))
    body, rules = share_styles("\n".join(parts))
    colours = {"ink": INK, "faint": FAINT, "paper": PAPER, "shade": SHADE}
    points = f"{page.points or (7.7 if page.small else 9.5):g}"
    more = f"{STROKES}{rules}" if rules else ""
    if any(isinstance(each, Panel) for each in page.blocks):
        more += _template("panel.css").substitute(colours, back=f"{panels.BACK:g}", points=points)
    return _template("page.html").substitute(
        {**colours, "wide": f"{wide:g}", "tall": f"{tall:g}", "more": more},
        width="760" if page.small else "1000",
        points=points,
        title=_safe(page.title),
        head=_words(page.title),
        body=body,
    )


def _template(name: str) -> Template:
    return Template(resources.files("predictor.pages").joinpath(name).read_text("utf-8"))


def _safe(text: str) -> str:
    """User text with its markup escaped and without invisible characters."""
    return escape(visible(text, lines=True), quote=True)


def _words(text: str) -> str:
    """User text to be read: a label such as FM-26 or 2026-11-25 is not broken at its hyphens."""
    if "-" not in text:
        return _safe(text)
    parts = re.split(r"(\s)", text)
    return "".join(f"<span class=k>{_safe(each)}</span>" if _is_label(each) else _safe(each) for each in parts)


def _is_label(word: str) -> bool:
    return "-" in word.strip("-") and len(word) <= LONGEST and any(each.isdigit() for each in word)


def _block(block: Block, prefix: str) -> str:
    """One block; names inside its drawings begin with `prefix`, so that no two drawings share one."""
    match block:
        case blocks.Heading(text, level):
            return f"<h{level}>{_words(text)}</h{level}>"
        case blocks.Text(text, strong, small):
            inner = f"<strong>{_words(text)}</strong>" if strong else _words(text)
            return f'<p class="s">{inner}</p>' if small else f"<p>{inner}</p>"
        case blocks.Items(items):
            return "<ul>" + "".join(f"<li>{_words(each)}</li>" for each in items) + "</ul>"
        case blocks.Facts(rows):
            return "<dl>" + "".join(f"<dt>{_words(a)}</dt><dd>{_words(b)}</dd>" for a, b in rows) + "</dl>"
        case blocks.Sign(label, value):
            return f'<div class="l">{_words(label)}</div><div class="v">{_words(value)}</div>'
        case blocks.Panel():
            return _panel(block)
        case blocks.NewSheet():
            return '<div class="b"></div>'
        case blocks.Lines(labels):
            return '<div class="w">' + " ".join(f"<span>{_words(each)}</span>" for each in labels) + "</div>"
        case blocks.Frame(inside):
            return "<section>\n" + "\n".join(_block(each, prefix) for each in inside) + "\n</section>"
        case Picture():
            return _picture(block, prefix)
        case Grid():
            return _grid(block)
    raise TypeError(f"No such block: {type(block).__name__}.")


def _panel(panel: Panel) -> str:
    """A panel: its name first, for who listens; the style sheet puts the setting before it."""
    found = panels.layout(panel)
    kind = " ".join(filter(None, ("p", "d" if panel.dark else "", "" if found.column else "a")))
    size = f"--s:{found.size:.3g}em;--c:{found.column:.3g}em;--n:{found.wide:.3g}"

    def span(name: str, text: str, more: str = "") -> str:
        return f'<span class="{name}">{_safe(text)}{more}</span>' if text else ""

    # the setting and what follows are seen on lines of their own, and heard in a sentence
    joint = span("h", panel.joint) if panel.then else ""
    pieces = [("u", panel.verb), ("x", panel.value), ("y", panel.with_value), ("o", panel.where)]
    *first, last = [each for each in pieces if each[1]]
    shown = " ".join([*(span(*each) for each in first), span(*last, joint), span("u", panel.then)]).strip()
    dark = f"<p>{_safe(panel.dark)}</p>" if panel.dark else ""
    weight = f'<p class="g">{_safe(panel.weight)}</p>' if panel.weight else ""
    more = f" {span('o', panel.more_name)}" if panel.more_name else ""
    return (
        f'<section class="{kind}" style="{size}">\n<h2>{_safe(panel.name)}{more}</h2>\n'
        f'<div class="q"><p>{shown}</p>{dark}</div>\n'
        f'<div class="r">{weight}{"".join(f"<p>{_safe(each)}</p>" for each in panel.lines)}</div>\n</section>'
    )


def _picture(picture: Picture, prefix: str) -> str:
    """A drawing; one whose letters would be too small on a phone moves sideways instead, by finger or by keyboard."""
    from predictor.plots.style import render

    svg = inline(render(picture.figure, "svg").decode("utf-8"), prefix)
    least = narrowest(svg)
    svg = svg.replace("<svg", f'<svg style="min-width: {least}px"', 1) if least else svg
    moved = " tabindex=0" if least > PHONE else ""
    return f'<figure class=t role=img aria-label="{_safe(picture.alt)}"{moved}>{svg}</figure>'


def _grid(grid: Grid) -> str:
    """A table; one with a caption is a place that the keyboard reaches, so that it can be moved sideways."""
    head = "".join(_cell(text, "th scope=col", k in grid.numeric) for k, text in enumerate(grid.header))
    marks = (" class=i" if k in grid.inverse else "" for k in range(len(grid.rows)))
    body = "".join(f"<tr{mark}>{_row(row, grid)}</tr>" for mark, row in zip(marks, grid.rows, strict=True))
    caption, where = "", ""
    if grid.caption:
        caption = f"<caption>{_words(grid.caption)}</caption>"
        where = f' role=region tabindex=0 aria-label="{_safe(grid.caption)}"'
    kinds = ["whole"] if len(grid.rows) <= SHORT_TABLE else []
    kinds += ["wide"] if len(grid.header) >= WIDE_TABLE else []
    opened = f'<table class="{" ".join(kinds)}"' if kinds else "<table"
    table = f'{opened} style="--w:{_least_width(grid):.0f}em">'
    return f"<div class=t{where}>{table}{caption}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"


def _least_width(grid: Grid) -> float:
    """The width below which the cells of a table would be folded into many lines, in heights of its letters."""
    if grid.folds:
        return 0.0
    letters = [max(map(len, text.split()), default=0) for text in grid.header]
    for row in grid.rows:
        letters = [max(most, min(len(text), LETTERS)) for most, text in zip(letters, row, strict=True)]
    return WIDTH_EM * sum(each + 1 for each in letters)


def _row(row: tuple[str, ...], grid: Grid) -> str:
    kinds = ("th scope=row" if grid.named and k == 0 else "td" for k in range(len(row)))
    return "".join(_cell(text, kind, k in grid.numeric) for k, (text, kind) in enumerate(zip(row, kinds, strict=True)))


def _cell(text: str, opened: str, numeric: bool) -> str:
    """A cell: a figure at the right, a label in one piece, a word that no column could hold broken where need be."""
    tag = opened.split()[0]
    label = _is_label(text) and not any(each.isspace() for each in text)
    long = len(text) > LONGEST and max(map(len, text.split())) > LONGEST
    kind = "n" if numeric else "k" if label else "cut" if long else ""
    inside = _safe(text) if label else _words(text)
    return f"<{opened}{f' class={kind}' if kind else ''}>{inside}</{tag}>"
