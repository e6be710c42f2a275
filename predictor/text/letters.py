"""What is said of letters that a PDF cannot show."""

from __future__ import annotations

from collections.abc import Sequence

# What stands in a PDF for a letter that it cannot show.
BOX = "\u25af"
# More letters than this are counted, not listed.
MOST_LISTED = 12


def in_pdf(letters: Sequence[str]) -> str:
    """The sentence in the PDF itself, which can only name the letters by their numbers."""
    return _sentence(letters, [f"U+{ord(each):04X}" for each in letters])


def beside_pdf(letters: Sequence[str]) -> str:
    """The sentence of the command that writes the PDF."""
    return _sentence(letters, letters)


def _sentence(letters: Sequence[str], names: Sequence[str]) -> str:
    listed, more = ", ".join(names[:MOST_LISTED]), len(names) - MOST_LISTED
    rest = f" and {more} more" if more > 0 else ""
    count = len(letters)
    if count == 1:
        return f"The PDF cannot show one letter and has {BOX} in its place: {listed}. The web page shows it."
    return f"The PDF cannot show {count} letters and has {BOX} in their place: {listed}{rest}. The web page shows them."
