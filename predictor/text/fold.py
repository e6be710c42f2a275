"""Text folded to a width, figures kept beside their units."""

from __future__ import annotations

import re
import textwrap
from typing import Protocol

_UNIT = re.compile(r"(?<=\d) (?=(?:g|%|lb|kg|ac|ha|lb/ac|kg/ha|turns?|seconds?|rows?)\b|%)")


class Fold(Protocol):
    """Folds text to the width of a terminal or page."""

    def __call__(self, text: str, indent: str = "  ", further: str | None = None) -> str: ...


def fold(text: str, indent: str = "  ", further: str | None = None, *, width: int = 80) -> str:
    """Text in lines no wider than `width`; the further lines are indented twice as far if not said otherwise."""
    whole = _UNIT.sub("\u00a0", text)
    return textwrap.fill(
        whole,
        width,
        initial_indent=indent,
        subsequent_indent=indent * 2 if further is None else further,
        break_long_words=True,
        break_on_hyphens=False,
    ).replace("\u00a0", " ")


def facts(wrapped: Fold, *parts: str, indent: str = "  ") -> list[str]:
    """Facts on one line where it has room for them, else one a line."""
    line = wrapped(", ".join(parts), indent)
    return [line] if "\n" not in line else [wrapped(part, indent) for part in parts]
