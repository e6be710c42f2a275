"""What was taken as given of catches, in one short sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from predictor.domain.result import Remark
from predictor.text.drill import length_words, one_word
from predictor.units import METRES

MOST_RANGES = 3


def taken(remark: Remark) -> str:
    """What was taken as given, the most harmful first where it is wrong."""
    unstated, parts = remark["unstated"], list[str]()
    if "tare" in unstated:
        parts.append(f"weights of the seed alone{_where(unstated['tare'])}")
    parts += _size(remark)
    if "charged" in unstated:
        parts.append(f"meters charged{_where(unstated['charged'])}")
    parts += ["rows alike"] if remark["alike"] else []
    parts += ["carrier evenly mixed"] if remark["carrier"] else []
    if remark["undated"] is not None:
        parts.append(f"this season's catches{_where(remark['undated'])}")
    return f"Taken as given: {', '.join(parts)}."


def _size(remark: Remark) -> list[str]:
    """Turns, rows and the ground of a turn; turns and rows together where they are not stated in the same rows."""
    unstated, ground = remark["unstated"], _ground(remark)
    turns = length_words(remark["turns"], remark["counted"]) if "turns" in unstated else ""
    rows = f"{remark['rows']:g} row{'' if remark['rows'] == 1 else 's'}" if "rows" in unstated else ""
    if turns and rows and unstated["turns"] == unstated["rows"]:
        said = [f"{turns} and {rows} a catch{_where(unstated['turns'])}"]
    else:
        said = [f"{text} a catch{_where(unstated[what])}" for what, text in (("turns", turns), ("rows", rows)) if text]
    return [*said, *([f"{ground} a {one_word(remark['counted'])}"] if ground else [])]


def _ground(remark: Remark) -> str:
    """What a turn of the drive wheel covers; "" where none turns the meters."""
    if math.isnan(remark["covers_m"]):
        return ""
    unit = "ft" if remark["units"] == "us" else "m"
    return f"{remark['covers_m'] / METRES[unit]:.4g} {unit}"


def _where(lines: Sequence[int]) -> str:
    """In which lines, where it is not all of them.

    >>> _where((5, 6, 7, 9)), _where(())
    (' in lines 5 to 7, 9', '')
    """
    if not lines:
        return ""
    if 0 in lines:
        return " where nothing is said"
    starts = [lines[0], *(b for a, b in pairwise(lines) if b != a + 1)]
    ends = [*(a for a, b in pairwise(lines) if b != a + 1), lines[-1]]
    ranges = [f"{a}" if a == b else f"{a} to {b}" for a, b in zip(starts, ends, strict=True)]
    text = ", ".join(ranges[:MOST_RANGES]) + (" and others" if len(ranges) > MOST_RANGES else "")
    return f" in line{'s' if len(lines) > 1 else ''} {text}"
