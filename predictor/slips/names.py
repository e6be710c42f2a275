"""Names that are so near to another that one may have been meant for the other."""

from __future__ import annotations

import re
from collections.abc import Iterable

_SIGNS = re.compile(r"[\W_]+")
# Of shorter names every second one is near another.
SHORTEST = 3


def near_name(name: str, known: Iterable[str]) -> str | None:
    """The first known name that differs from a name by capitals, signs, one character, or two that changed places.

    >>> near_name("K-62", ["CW-26", "K-26"]), near_name("K26", ["K-26"]), near_name("forbs", ["tall mix"])
    ('K-26', 'K-26', None)
    """
    mine = _bare(name)
    for each in known:
        other = _bare(each)
        if each != name and (mine == other or (min(len(mine), len(other)) >= SHORTEST and _one_apart(mine, other))):
            return each
    return None


def _bare(name: str) -> str:
    return _SIGNS.sub("", name.lower()) or name


def _one_apart(one: str, other: str) -> bool:
    """Whether two texts differ by one character that was changed, left out or added, or by two that changed places."""
    short, long = sorted((one, other), key=len)
    if len(long) - len(short) > 1:
        return False
    k = next((i for i, (a, b) in enumerate(zip(short, long, strict=False)) if a != b), len(short))
    if len(short) < len(long):
        return short[k:] == long[k + 1 :]
    return short[k + 1 :] == long[k + 1 :] or (
        short[k : k + 2] == long[k : k + 2][::-1] and short[k + 2 :] == long[k + 2 :]
    )
