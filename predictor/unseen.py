"""Invisible characters: which they are, and the one way they are shown."""

import re

# Control characters could reach a terminal as commands. Direction marks, characters without width and the halves of
# letters that a wrong encoding leaves can make a name look like another. Tabs and line ends are none of them. The two
# joiners (U+200C and U+200D) belong to the spelling of some languages.
_CONTROLS = r"\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f"
_FORMATS = r"\xad\u061c\u115f\u1160\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\u3164\ufeff\uffa0\ufff9-\ufffb"
UNSEEN = re.compile(rf"[{_CONTROLS}{_FORMATS}\U000e0000-\U000e007f\ud800-\udfff]")
# What a terminal is not sent: a carriage return would write over what stands in the line.
_NOT_SENT = re.compile(rf"\r(?!\n)|{UNSEEN.pattern}")
# What a name in a sentence must not have, which is one line.
_NOT_IN_A_LINE = re.compile(rf"[\t\n\r]|{UNSEEN.pattern}")


def visible(text: str, *, lines: bool = False) -> str:
    r"""Text with each invisible character written out; `lines` keeps tabs and line ends.

    >>> print(visible("a\x1b[31m"), visible("a\nb"), visible("\u202ea"))
    a\x1b[31m a\nb \u202ea
    """
    return (_NOT_SENT if lines else _NOT_IN_A_LINE).sub(_written, text)


def _written(found: re.Match[str]) -> str:
    """An invisible character as programmers write it."""
    return found[0].encode("unicode_escape").decode("ascii")
