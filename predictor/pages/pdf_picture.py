"""A picture in a PDF: drawn with lines, and with letters of the PDF's own font that can be searched."""

from __future__ import annotations

import math
from typing import Any

from matplotlib.backend_bases import GraphicsContextBase, RendererBase
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.path import Path
from matplotlib.transforms import Affine2D, Transform

from predictor.pages.blocks import Picture
from predictor.pages.pdf_letters import shown
from predictor.pages.pdf_sheets import Sheets
from predictor.plots.style import settled

_CAPS = {"butt": 0, "round": 1, "projecting": 2}
_JOINS = {"miter": 0, "round": 1, "bevel": 2}


def placed(sheets: Sheets, figure: Figure) -> tuple[float, float]:
    """Width and height in millimetres: those of the figure itself, or smaller where the sheet is."""
    wide, tall = (25.4 * each for each in figure.get_size_inches())
    # a heading goes on the same sheet
    scale = min(1.0, sheets.epw / wide, 0.85 * sheets.eph / tall)
    return scale * wide, scale * tall


def draw_picture(sheets: Sheets, picture: Picture) -> None:
    """The picture from here on."""
    wide, tall = placed(sheets, picture.figure)
    if not sheets.measuring:
        left, top = sheets.l_margin * sheets.k, (sheets.h - sheets.y - tall) * sheets.k
        box = f"{left:.1f} {top:.1f} {left + wide * sheets.k:.1f} {top + tall * sheets.k:.1f}"
        with sheets.tag("Figure", alt=picture.alt, attributes=f"/O /Layout /Placement /Block /BBox [{box}]"):
            _draw(sheets, picture.figure, wide / 25.4 / picture.figure.get_size_inches()[0], (left, top))
    sheets.y += tall + 0.3 * sheets.leading


def _draw(sheets: Sheets, figure: Figure, scale: float, corner: tuple[float, float]) -> None:
    """Draw a figure at a corner, in points from the lower left one of the sheet."""
    dpi = figure.dpi
    try:
        with settled(figure), sheets.local_context():
            figure.set_dpi(72)
            figure.draw(_Renderer(sheets, figure, scale, corner))
    finally:
        figure.set_dpi(dpi)


class _Renderer(RendererBase):
    """What matplotlib draws on: a place on a sheet. One of its pixels is a point of the figure."""

    def __init__(self, sheets: Sheets, figure: Figure, scale: float, corner: tuple[float, float]):
        super().__init__()
        self.sheets, self.scale = sheets, scale
        self.wide, self.tall = (72 * each for each in figure.get_size_inches())
        self.place = Affine2D().scale(scale).translate(*corner)

    def get_canvas_width_height(self) -> tuple[float, float]:
        return self.wide, self.tall

    def flipy(self) -> bool:
        return False

    def draw_path(self, gc: GraphicsContextBase, path: Path, transform: Transform, rgbFace: Any = None) -> None:
        """A line, a filled shape or both."""
        lined = gc.get_linewidth() > 0 and _opacity(gc) > 0
        filled = rgbFace is not None and _opacity(gc, rgbFace) > 0
        if not lined and not filled:
            return
        shape = " ".join(_operators(path, transform + self.place))
        paint = "B" if lined and filled else "S" if lined else "f"
        inside = f"{_colour(rgbFace)} rg" if filled else ""
        with self.sheets.local_context(
            fill_opacity=_opacity(gc, rgbFace) if filled else None, stroke_opacity=_opacity(gc) if lined else None
        ):
            self.sheets._out(f"{self._clip(gc)} {self._stroke(gc) if lined else ''} {inside} {shape} {paint}")

    def draw_text(
        self,
        gc: GraphicsContextBase,
        x: float,
        y: float,
        s: str,
        prop: FontProperties,
        angle: float,
        ismath: Any = False,
        mtext: Any = None,
    ) -> None:
        """A text, as text."""
        if ismath:
            super().draw_text(gc, x, y, s, prop, angle, ismath, mtext)
            return
        sheets, weight = self.sheets, prop.get_weight()
        bold = weight in ("bold", "heavy", "black", "extra bold", "semibold", "demibold", "demi") or (
            isinstance(weight, int) and weight >= 600
        )
        left, low = self.place.transform((x, y))
        place = left / sheets.k, sheets.h - low / sheets.k
        with sheets.local_context():
            sheets.set_font("text", "B" if bold else "", prop.get_size_in_points() * self.scale)
            sheets.set_text_color(*(round(255 * each) for each in gc.get_rgb()[:3]))
            with sheets.rotation(angle, *place):
                sheets.text(*place, shown(s))

    def _stroke(self, gc: GraphicsContextBase) -> str:
        """How a line is drawn."""
        dashes: Any = gc.get_dashes()
        offset, lengths = dashes
        pattern = " ".join(f"{each * self.scale:.2f}" for each in lengths or ())
        return (
            f"{_colour(gc.get_rgb())} RG {gc.get_linewidth() * self.scale:.2f} w {_CAPS[gc.get_capstyle()]} J"
            f" {_JOINS[gc.get_joinstyle()]} j [{pattern}] {(offset or 0) * self.scale:.2f} d"
        )

    def _clip(self, gc: GraphicsContextBase) -> str:
        """Where drawing ends."""
        found, box = "", gc.get_clip_rectangle()
        if box is not None:
            (x0, y0), (x1, y1) = self.place.transform(box.get_points())
            found = f"{x0:.2f} {y0:.2f} {x1 - x0:.2f} {y1 - y0:.2f} re W n"
        shape: Any = gc.get_clip_path()
        path, transform = shape
        if path is not None:
            found += f" {' '.join(_operators(path, transform + self.place))} W n"
        return found


def _colour(colour: Any) -> str:
    return " ".join(f"{each:.3g}" for each in colour[:3])


def _opacity(gc: GraphicsContextBase, colour: Any = None) -> float:
    """How much a colour covers; that of lines where none is given."""
    if gc.get_forced_alpha():
        return float(gc.get_alpha())
    colour = gc.get_rgb() if colour is None else colour
    return float(colour[3]) if len(colour) > 3 else 1.0


def _operators(path: Path, transform: Transform) -> list[str]:
    """A path as a PDF has it."""
    found: list[str] = []
    last = (0.0, 0.0)
    for points, code in path.iter_segments(transform, curves=True, simplify=False):
        pairs = [(float(points[k]), float(points[k + 1])) for k in range(0, len(points), 2)]
        if not all(math.isfinite(each) for each in points):
            continue
        if code == Path.CURVE3:
            (a, b), end = pairs[0], pairs[1]
            pairs = [
                (last[0] + 2 / 3 * (a - last[0]), last[1] + 2 / 3 * (b - last[1])),
                (end[0] + 2 / 3 * (a - end[0]), end[1] + 2 / 3 * (b - end[1])),
                end,
            ]
        if code == Path.CLOSEPOLY:
            found.append("h")
            continue
        name = {Path.MOVETO: "m", Path.LINETO: "l"}.get(code, "c")
        found.append(" ".join(f"{x:.2f} {y:.2f}" for x, y in pairs) + f" {name}")
        last = pairs[-1]
    return found
