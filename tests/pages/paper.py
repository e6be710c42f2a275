"""What is on the sheets of a PDF, measured: its letters in millimetres, its lines and words, and what is black."""

from __future__ import annotations

import ctypes
import itertools
import math
import re
from dataclasses import dataclass

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium

MM, POINTS_A_MM = 25.4 / 72, 72 / 25.4
# Fonts as high as these letters stand: capitals and digits.
TALL = re.compile(r"[A-Z0-9]")


@dataclass(frozen=True)
class Letter:
    """A letter: height of its ink, its width and base line in millimetres from the top left, its size in points."""

    text: str
    left: float
    top: float
    right: float
    bottom: float
    base: float
    points: float
    upright: bool

    @property
    def high(self) -> float:
        """Height of its ink, millimetres."""
        return self.bottom - self.top


class Line(list[Letter]):
    """The letters on one base line from left to right, with a space wherever there is a gap between two words."""

    @property
    def text(self) -> str:
        """The line as text."""
        return "".join(each.text for each in self)

    @property
    def bottom(self) -> float:
        """Where it ends, millimetres from the top of the sheet."""
        return max(each.bottom for each in self)


@dataclass(frozen=True)
class Sheet:
    """One page of a PDF: its size in millimetres, its letters and lines, and how it looks in grey."""

    wide: float
    tall: float
    letters: list[Letter]  # all that have ink
    lines: list[Line]  # of those that are upright, from top to bottom
    grey: np.ndarray  # 1 white, 0 black, as light
    dots: float  # a millimetre

    def around(self, letter: Letter, more: float = 1.0) -> np.ndarray:
        """The picture of a letter with this margin in millimetres."""
        top, left = (max(0, int((each - more) * self.dots)) for each in (letter.top, letter.left))
        bottom, right = (int((each + more) * self.dots) + 1 for each in (letter.bottom, letter.right))
        return self.grey[top:bottom, left:right]


def sheets(data: bytes, dots: float = 6) -> list[Sheet]:
    """The pages of a PDF."""
    document = pypdfium2.PdfDocument(data)
    try:
        return [_sheet(document[k], dots) for k in range(len(document))]
    finally:
        document.close()


def tagged(data: bytes) -> bool:
    """Whether a PDF says what is heading, paragraph, table and figure in it."""
    document = pypdfium2.PdfDocument(data)
    try:
        return bool(pdfium.FPDFCatalog_IsTagged(document))
    finally:
        document.close()


def _sheet(page: pypdfium2.PdfPage, dots: float) -> Sheet:
    wide, tall = (each * MM for each in page.get_size())
    text = page.get_textpage()
    letters = [each for each in (_letter(text, k, tall) for k in range(text.count_chars())) if each.text.strip()]
    grey = page.render(scale=dots * MM, grayscale=True).to_numpy().squeeze() / 255.0
    text.close()
    page.close()
    return Sheet(wide, tall, letters, _lines(letters), _light(grey), dots)


def _letter(text: pypdfium2.PdfTextPage, k: int, tall: float) -> Letter:
    _, bottom, _, top = (each * MM for each in text.get_charbox(k))
    left, _, right, _ = (each * MM for each in text.get_charbox(k, loose=True))  # with the white beside its ink
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFText_GetMatrix(text, k, ctypes.byref(matrix))
    points = pdfium.FPDFText_GetFontSize(text, k) * math.hypot(matrix.c, matrix.d)
    x, y = ctypes.c_double(), ctypes.c_double()
    pdfium.FPDFText_GetCharOrigin(text, k, ctypes.byref(x), ctypes.byref(y))
    letter = chr(pdfium.FPDFText_GetUnicode(text, k)).replace("\x02", "-")  # a hyphen at the end of a line
    upright = abs(matrix.b) < 1e-3 * abs(matrix.d)
    return Letter(letter, left, tall - top, right, tall - bottom, tall - y.value * MM, points, upright)


def _lines(letters: list[Letter]) -> list[Line]:
    """The letters by base line."""
    found: list[Line] = []
    for each in sorted((each for each in letters if each.upright), key=lambda each: (round(each.base, 1), each.left)):
        if not found or each.base - found[-1][0].base > 0.25:
            found.append(Line())
        found[-1].append(each)
    return [_spaced(sorted(line, key=lambda each: each.left)) for line in found]


def _spaced(letters: list[Letter]) -> Line:
    """Letters of a line with spaces between words, which are wider than a sixth of an em."""
    line = Line(letters[:1])
    for last, each in itertools.pairwise(letters):
        if each.left - last.right > 0.16 * MM * min(each.points, last.points):
            line.append(Letter(" ", last.right, each.top, each.left, each.bottom, each.base, each.points, True))
        line.append(each)
    return line


def _light(grey: np.ndarray) -> np.ndarray:
    """Light of a shade of a screen, as WCAG 2 has it."""
    return np.where(grey <= 0.04045, grey / 12.92, ((grey + 0.055) / 1.055) ** 2.4)


def contrast(light: np.ndarray) -> float:
    """Contrast between the lightest and the darkest place, by WCAG 2: 1 to 21."""
    return float((light.max() + 0.05) / (light.min() + 0.05))


def words(text: str) -> list[str]:
    """The words of a text; one with hyphens, dashes or slashes may go on in the next line after each of them."""
    return [word for word in re.split(r"[\s\u00a0\u2009\u202f]+|(?<=[-–—/])", text.replace("\u00ad", "")) if word]
