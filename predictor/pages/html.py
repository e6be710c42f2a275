"""A page as one HTML file: no script, no link, nothing outside it."""

from __future__ import annotations

import re
from html import escape

from predictor.pages.blocks import (
    PAPERS,
    Block,
    Facts,
    Frame,
    Grid,
    Heading,
    Items,
    Lines,
    Page,
    Picture,
    Sign,
    Text,
    visible,
)

# Black on white and near it: at least 7 : 1 everywhere, and nothing is told by colour alone.
INK, FAINT, PAPER, SHADE = "#000000", "#3d3d3d", "#ffffff", "#ececec"

_STYLE = f"""
*{{box-sizing:border-box}}
body{{margin:0 auto;padding:12px;max-width:BODYpx;background:{PAPER};color:{INK};font:17px/1.4 system-ui,sans-serif}}
h1{{font-size:1.35em;margin:0 0 .4em}}h2{{font-size:1.15em;margin:1.1em 0 .3em}}h3{{font-size:1em;margin:.8em 0 .2em}}
main{{overflow-wrap:anywhere}}td,th{{overflow-wrap:normal}}
p{{margin:.3em 0}}ul{{margin:.3em 0;padding-left:1.2em}}.s{{font-size:.85em;color:{FAINT}}}
section{{border:3px solid {INK};padding:8px 10px;margin:0 0 12px;break-inside:avoid}}section h2{{margin:0 0 .2em}}
.l{{font-size:.95em;font-weight:700;letter-spacing:.04em}}.v{{font-size:2.1em;line-height:1.1;font-weight:800}}
dl{{margin:.3em 0;display:grid;grid-template-columns:minmax(7em,auto) 1fr;gap:.12em .8em}}
dt{{color:{FAINT}}}dd{{margin:0;font-weight:600;overflow-wrap:anywhere}}
.t{{overflow-x:auto}}table{{border-collapse:collapse;width:100%;font-size:.92em;margin:.3em 0}}
caption{{text-align:left;font-weight:700;padding:.2em 0}}
th,td{{border-bottom:1px solid {FAINT};padding:.22em .45em;text-align:left;vertical-align:top}}
th{{background:{SHADE}}}.n{{text-align:right;font-variant-numeric:tabular-nums}}td.n,td.k{{white-space:nowrap}}
svg{{max-width:100%;height:auto;display:block}}figure{{margin:.5em 0;break-inside:avoid}}
.w{{display:flex;gap:1em;margin-top:1.6em}}.w span{{flex:1;border-top:1px solid {INK};font-size:.8em;padding-top:.1em}}
@media print{{body{{padding:0;max-width:none;font-size:SIZEpt}}
section{{border-width:1.5pt;margin-bottom:5pt;padding:2pt 6pt}}
h1{{margin:0}}.v{{font-size:1.75em}}dl,ul{{margin:0}}p{{margin:1pt 0}}
body,dl{{line-height:1.22}}.w{{margin-top:15pt}}.t{{overflow:visible}}
tr{{break-inside:avoid}}td:not(.n),th{{overflow-wrap:anywhere}}@page{{size:WIDEmm TALLmm;margin:9mm}}}}
"""


def to_html(page: Page) -> str:
    """The page as HTML."""
    wide, tall = PAPERS[page.paper]
    style = (
        _STYLE.replace("SIZE", "7.7" if page.small else "9.5").replace("WIDE", f"{wide:g}").replace("TALL", f"{tall:g}")
    )
    style = style.replace("BODY", "760" if page.small else "1000")
    body = "\n".join(_block(block, f"p{k}-") for k, block in enumerate(page.blocks))
    footer = f'\n<p class="s">{_safe(page.footer)}</p>' if page.footer else ""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width,initial-scale=1">\n'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
        'img-src data:">\n'
        f"<title>{_safe(page.title)}</title>\n<style>{style}</style>\n</head>\n<body>\n<main>\n"
        f"<h1>{_safe(page.title)}</h1>\n{body}{footer}\n</main>\n</body>\n</html>\n"
    )


def _safe(text: str) -> str:
    """User text as text: markup escaped, characters that cannot be seen left out."""
    return escape(visible(text), quote=True)


def _block(block: Block, prefix: str) -> str:
    """One block; names inside its drawings begin with `prefix`, so that no two drawings share one."""
    match block:
        case Heading(text, level):
            return f"<h{level}>{_safe(text)}</h{level}>"
        case Text(text, strong, small):
            inner = f"<strong>{_safe(text)}</strong>" if strong else _safe(text)
            return f'<p class="s">{inner}</p>' if small else f"<p>{inner}</p>"
        case Items(items):
            return "<ul>" + "".join(f"<li>{_safe(each)}</li>" for each in items) + "</ul>"
        case Facts(rows):
            return "<dl>" + "".join(f"<dt>{_safe(a)}</dt><dd>{_safe(b)}</dd>" for a, b in rows) + "</dl>"
        case Sign(label, value):
            return f'<div class="l">{_safe(label)}</div><div class="v">{_safe(value)}</div>'
        case Lines(labels):
            return '<div class="w">' + "".join(f"<span>{_safe(each)}</span>" for each in labels) + "</div>"
        case Picture(figure, alt):
            from predictor.plots.style import render

            svg = render(figure, "svg").decode("utf-8")
            return f'<figure role="img" aria-label="{_safe(alt)}">{_inline(svg, prefix)}</figure>'
        case Frame(blocks):
            return "<section>\n" + "\n".join(_block(each, prefix) for each in blocks) + "\n</section>"
        case Grid():
            return _grid(block)
    raise TypeError(f"No such block: {type(block).__name__}.")


def _grid(grid: Grid) -> str:
    def row(cells: tuple[str, ...], tag: str) -> str:
        return (
            "<tr>"
            + "".join(
                f"<{tag}{' class=n' if k in grid.numeric else ' class=k' if _whole(cell) else ''}>{_safe(cell)}</{tag}>"
                for k, cell in enumerate(cells)
            )
            + "</tr>"
        )

    caption = f"<caption>{_safe(grid.caption)}</caption>" if grid.caption else ""
    head = f"<thead>{row(grid.header, 'th')}</thead>"
    body = "".join(row(each, "td") for each in grid.rows)
    return f'<div class="t"><table>{caption}{head}<tbody>{body}</tbody></table></div>'


def _whole(cell: str) -> bool:
    """Whether a cell is short and holds a label such as 3-5, which is not to be broken at its hyphen."""
    return "-" in cell and len(cell) <= 28


def _inline(svg: str, prefix: str) -> str:
    """An SVG of our own making without what stands before and about it: declarations, and metadata with links."""
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg[svg.index("<svg") :], flags=re.DOTALL)
    svg = re.sub(r'(?<= id=")(?=[^"]+")', prefix, svg)
    return re.sub(r"(?<=url\(#)|(?<=href=\"#)", prefix, svg)
