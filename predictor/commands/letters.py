"""Letters that were typed where the terminal's character set does not have them: UTF-8 is taken for what it is."""

from __future__ import annotations

import contextlib
import os
import sys

# What stands for a letter that was lost on the way here: it must reach no file.
LOST = "\ufffd"


def as_typed(line: str, encoding: str | None) -> str | None:
    """A line that was read in `encoding`, by its bytes as UTF-8 where they are; None where a letter is lost."""
    # what is not UTF-8 is in the character set of the terminal, if that has all of its letters
    with contextlib.suppress(UnicodeError, LookupError):
        line = line.encode(encoding or "utf-8", "surrogateescape").decode("utf-8")
    return None if LOST in line or any("\ud800" <= letter <= "\udfff" for letter in line) else line


def argument(text: str) -> str | None:
    """An argument of the command line, as `as_typed`; None also for the name of a file that cannot be opened here."""
    found = as_typed(text, sys.getfilesystemencoding())
    return None if found != text and os.path.lexists(text) else found
