"""What all pictures share: colours, short names, and how a picture becomes a file."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Literal

import numpy as np

from predictor.domain.control import Floats

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Blue and orange differ to colour-blind eyes too, and everything differs by mark or line besides. Each contrasts with
# white by 7 to 1 or more, as text has to, but the orange of lines and the green: by 3 to 1 or more, as marks have to.
BLUE, ORANGE, ORANGE_TEXT, GREEN, GREY, DARK = "#004A75", "#B04600", "#7E3000", "#009E73", "#444444", "#222222"
# Pale areas, solid: what lies on them has to contrast with them as with white.
ZONE, BAND, BOTH = "#FBE3CC", "#CBE0EF", "#E2D5C8"
# Letters that are less important, and what lies behind marks.
FAINT, PALE = "#555555", "#d9d9d9"
# More marks than this are thinned: one a cell of a grid of so many cells each way, less than a mark is wide.
MOST_MARKS, CELLS = 500, 200
# Where an SVG file turns a text by nothing.
_LEVEL = re.compile(rb' transform="rotate\(-0 [-0-9. ]+\)"')
# Places in an SVG file, and numbers in them.
_PLACES, _MANY_DIGITS = re.compile(rb'(?<= (?:d|x|y)=")[^"]++'), re.compile(rb"-?[0-9]++\.[0-9]++")
# Where an SVG file names a shape, or refers to one.
_SHAPE = re.compile(rb'(?:(?<=id=")|(?<=url\(#)|(?<=ref="#))\w?[0-9a-f]{10}(?=["\)])')


def new_figure(wide: float, high: float, dpi: float = 120) -> Figure:
    """An empty figure of this size in inches, made without a window."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(wide, high), layout="constrained", dpi=dpi)
    FigureCanvasAgg(figure)
    return figure


def axes_or_new(axes: Axes | None, wide: float, high: float) -> Axes:
    """The axes given, or those of a new figure of this size in inches that a notebook shows."""
    if axes is not None:
        return axes
    from matplotlib import pyplot

    return pyplot.figure(figsize=(wide, high), layout="constrained").subplots()


def dress(axes: Axes, title: str, *, strong: bool = True) -> None:
    """Put the title at the left, and take away the frame at the top and on the right."""
    axes.set_title(title, loc="left", fontsize=11 if strong else 10, fontweight="bold" if strong else "normal")
    axes.spines[["top", "right"]].set_visible(False)


def told_apart(x: Floats, y: Floats, cells: int = CELLS) -> tuple[Floats, Floats]:
    """Points of a picture; of very many, one of those whose marks would cover each other, so that no file is huge."""
    if len(x) <= MOST_MARKS:
        return x, y
    cell = [np.round((each - each.min()) / (np.ptp(each) or 1.0) * cells).astype(int) for each in (x, y)]
    _, first = np.unique(cell[0] * (cells + 1) + cell[1], return_index=True)
    return x[np.sort(first)], y[np.sort(first)]


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a text in points, whatever the figure is drawn with."""
    import warnings

    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(size=size, weight="bold" if bold else "normal")
    with warnings.catch_warnings():
        # a letter that the font lacks is drawn as a box
        warnings.filterwarnings("ignore", message="Glyph")
        return float(text_to_path.get_text_width_height_descent(text, font, ismath=False)[0])


def short(name: str, most: int = 44) -> str:
    """A name cut to fit a heading."""
    return name if len(name) <= most else name[: most - 3] + "..."


@contextmanager
def settled(figure: Figure) -> Iterator[None]:
    """A figure ready to be drawn, the same each time: its layout is worked out once only."""
    import warnings

    from matplotlib.text import Text

    for artist in figure.findobj():  # a dollar sign in a lot's name does not begin a formula
        if isinstance(artist, Text) and not artist.get_text().startswith("$\\mathdefault"):
            artist.set_parse_math(False)
    with warnings.catch_warnings():
        # a letter that the font lacks is drawn as a box, and needs no warning on the screen
        warnings.filterwarnings("ignore", message="Glyph")
        layout = figure.get_layout_engine()
        if layout is not None and figure.axes:
            layout.execute(figure)
            figure.set_layout_engine("none")
        yield


def render(figure: Figure, form: Literal["png", "svg"], dpi: float | None = None, alt: str = "") -> bytes:
    """The bytes of a PNG or SVG file with this figure, described by `alt`; text in an SVG file stays text."""
    import io

    import matplotlib

    out = io.BytesIO()
    # by this a picture is known as one of ours, which may be drawn again over itself
    metadata = {"Date": None, "Creator": "predictor"} if form == "svg" else {"Software": "predictor"}
    metadata |= {"Description": alt} if alt else {}
    # a text in an SVG file names every font that is given here, again and again
    fonts = ["DejaVu Sans", "Verdana"]
    with (
        matplotlib.rc_context({"svg.fonttype": "none", "svg.hashsalt": "predictor", "font.sans-serif": fonts}),
        settled(figure),
    ):
        figure.savefig(out, format=form, metadata=metadata, dpi=dpi or "figure")
    return _rounded(_numbered(_LEVEL.sub(b"", out.getvalue()))) if form == "svg" else out.getvalue()


def _rounded(svg: bytes) -> bytes:
    """An SVG file with places to a hundredth of a point, which nobody can see, on as few lines as it takes."""
    return _PLACES.sub(lambda found: _MANY_DIGITS.sub(_two, found[0].replace(b"\n", b"")), svg)


def _two(found: re.Match[bytes]) -> bytes:
    return b"%s" % f"{float(found[0]):.2f}".rstrip("0").rstrip(".").encode()


def _numbered(svg: bytes) -> bytes:
    """An SVG file with its shapes numbered: matplotlib names some by their address in memory, which changes."""
    names: dict[bytes, bytes] = {}
    for name in re.findall(rb'(?<= id=")\w?[0-9a-f]{10}(?=")', svg):
        names.setdefault(name, b"n%d" % (len(names) + 1))
    return _SHAPE.sub(lambda found: names.get(found[0], found[0]), svg)
