"""A page as one HTML file: no script, no link, nothing outside it."""

from __future__ import annotations

import re
from html import escape
from importlib import resources
from string import Template

from predictor.pages import blocks, panels
from predictor.pages.blocks import PAPERS, Block, Grid, Page, Panel
from predictor.unseen import visible

# Black on white and near it: the contrast is at least 7 : 1 everywhere, and no colour carries a meaning of its own.
INK, FAINT, PAPER, SHADE = "#000000", "#3d3d3d", "#ffffff", "#ececec"


def to_html(page: Page) -> str:
    """The page as HTML."""
    wide, tall = PAPERS[page.paper]
    body = [_block(block, f"p{k}-") for k, block in enumerate(page.blocks)]
    if page.footer:
        body.append(_block(blocks.Text(page.footer, small=True), ""))
    colours = {"ink": INK, "faint": FAINT, "paper": PAPER, "shade": SHADE}
    more = ""
    if any(isinstance(each, Panel) for each in page.blocks):
        more = _template("panel.css").substitute(colours, back=f"{panels.BACK:g}")
    return _template("page.html").substitute(
        {**colours, "wide": f"{wide:g}", "tall": f"{tall:g}", "more": more},
        width="760" if page.small else "1000",
        points=f"{page.points or (7.7 if page.small else 9.5):g}",
        title=_safe(page.title),
        body="\n".join(body),
    )


def _template(name: str) -> Template:
    return Template(resources.files("predictor.pages").joinpath(name).read_text("utf-8"))


def _safe(text: str) -> str:
    """User text with its markup escaped and without invisible characters."""
    return escape(visible(text, lines=True), quote=True)


def _block(block: Block, prefix: str) -> str:
    """One block; names inside its drawings begin with `prefix`, so that no two drawings share one."""
    match block:
        case blocks.Heading(text, level):
            return f"<h{level}>{_safe(text)}</h{level}>"
        case blocks.Text(text, strong, small):
            inner = f"<strong>{_safe(text)}</strong>" if strong else _safe(text)
            return f'<p class="s">{inner}</p>' if small else f"<p>{inner}</p>"
        case blocks.Items(items):
            return "<ul>" + "".join(f"<li>{_safe(each)}</li>" for each in items) + "</ul>"
        case blocks.Facts(rows):
            return "<dl>" + "".join(f"<dt>{_safe(a)}</dt><dd>{_safe(b)}</dd>" for a, b in rows) + "</dl>"
        case blocks.Sign(label, value):
            return f'<div class="l">{_safe(label)}</div><div class="v">{_safe(value)}</div>'
        case blocks.Panel():
            return _panel(block)
        case blocks.NewSheet():
            return '<div class="b"></div>'
        case blocks.Lines(labels):
            return '<div class="w">' + "".join(f"<span>{_safe(each)}</span>" for each in labels) + "</div>"
        case blocks.Picture(figure, alt):
            from predictor.plots.style import render

            svg = render(figure, "svg").decode("utf-8")
            return f'<figure role="img" aria-label="{_safe(alt)}">{_inline(svg, prefix)}</figure>'
        case blocks.Frame(inside):
            return "<section>\n" + "\n".join(_block(each, prefix) for each in inside) + "\n</section>"
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


def _grid(grid: Grid) -> str:
    def row(cells: tuple[str, ...], tag: str) -> str:
        kinds = ("n" if k in grid.numeric else "k" if _whole(cell) else "" for k, cell in enumerate(cells))
        opened = (f"{tag} class={kind}" if kind else tag for kind in kinds)
        return f"<tr>{''.join(f'<{a}>{_safe(b)}</{tag}>' for a, b in zip(opened, cells, strict=True))}</tr>"

    caption = f"<caption>{_safe(grid.caption)}</caption>" if grid.caption else ""
    head = f"<thead>{row(grid.header, 'th')}</thead>"
    body = "".join(row(each, "td") for each in grid.rows)
    return f'<div class="t"><table>{caption}{head}<tbody>{body}</tbody></table></div>'


def _whole(cell: str) -> bool:
    """Whether a cell is short and may hold a label such as 3-5, which must not be broken at its hyphen."""
    return "-" in cell and len(cell) <= 28


def _inline(svg: str, prefix: str) -> str:
    """One of our own SVG drawings without its declarations, and without its metadata, which hold links."""
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg[svg.index("<svg") :], flags=re.DOTALL)
    svg = re.sub(r'(?<= id=")(?=[^"]+")', prefix, svg)
    return re.sub(r"(?<=url\(#)|(?<=href=\"#)", prefix, svg)
