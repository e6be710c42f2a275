"""What was taken as given of catches, in one short sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from predictor.domain.result import Remark
from predictor.text.drill import length_words, one_word
from predictor.units import METRES

MOST_RANGES, MOST_SIZES = 3, 3
# The most harmful first where it is wrong.
ORDER = [
    "tare",
    "taken_off",
    "size",
    "charged",
    "setting",
    "filling",
    "turn",
    "apart",
    "alike",
    "equal",
    "carrier",
    "undated",
    "target",
]
OF_WEIGHING = 4


def taken(remark: Remark) -> str:
    """What was taken as given, the most harmful first where it is wrong."""
    return together([remark])


def together(remarks: Sequence[Remark], *, short: bool = False) -> str:
    """What was taken as given of several boxes, each thing once; in short, only what concerns the weighing."""
    found: dict[str, list[str]] = {name: [] for name in (ORDER[:OF_WEIGHING] if short else ORDER)}
    for remark in remarks:
        for name, text in _parts(remark).items():
            if text and name in found and text not in found[name]:
                found[name].append(text)
    return f"Taken as given: {', '.join(' or '.join(texts[:MOST_SIZES]) for texts in found.values() if texts)}."


def _parts(remark: Remark) -> dict[str, str]:
    """Each thing that was taken as given; "" for what was not."""
    facts, apart, turn = (
        remark["facts"],
        _length(remark, "spacing_m", "in", "cm"),
        _length(remark, "covers_m", "ft", "m"),
    )
    off = " or ".join(f"{each:.4g}" for each in remark["taken_off_g"][:MOST_SIZES])
    return {
        "tare": f"seed alone{_where(facts['tare'])}" if "tare" in facts else "",
        "taken_off": f"a container of {off} g taken off" if "taken_off" in facts else "",
        "size": _size(remark),
        "charged": "charged",
        "setting": "settings as written",
        "filling": "box equally full" if "filling" in facts else "",
        "turn": f"{turn} a {one_word(remark['counted'])}" if turn else "",
        "apart": f"rows {apart} apart" if apart else "",
        "alike": "rows alike" if apart and remark["alike"] else "",
        "equal": _equal(remark["equal"]),
        "carrier": "carrier evenly mixed" if remark["carrier"] else "",
        "undated": f"catches of this season{_where(remark['undated'])}" if remark["undated"] is not None else "",
        "target": "target as it is now" if "target" in facts else "",
    }


def _size(remark: Remark) -> str:
    """Turns and rows of the catches; those of several sizes together."""
    sizes = remark["sizes"][-MOST_SIZES:]
    rows = list(dict.fromkeys(f"{each.rows:g}" for each in sizes))
    lengths = list(dict.fromkeys(length_words(each.length, each.counted) for each in sizes))
    many = " and others" if len(remark["sizes"]) > MOST_SIZES else ""
    return f"{' or '.join(lengths)}, {' or '.join(rows)} row{'' if rows == ['1'] else 's'}{many}"


def _equal(pairs: Sequence[tuple[int, int]]) -> str:
    """Rows that are alike in all cells: each counts as a catch of its own."""
    lines = sorted({line for pair in pairs for line in pair if line})
    return f"alike rows{_where(lines)} as catches of their own" if lines else ""


def _length(remark: Remark, name: str, us: str, metric: str) -> str:
    """A length in the drill's unit; "" where it is not known."""
    if math.isnan(remark[name]):
        return ""
    unit = us if remark["units"] == "us" else metric
    return f"{remark[name] / METRES[unit]:.4g} {unit}"


def _where(lines: Sequence[int]) -> str:
    """In which lines, where it is not all of them.

    >>> _where((5, 6, 7, 9)), _where((43, 44)), _where(())
    (' in lines 5 to 7 and 9', ' in lines 43 and 44', '')
    """
    if not lines:
        return ""
    if 0 in lines:
        return " where nothing is said"
    starts = [lines[0], *(b for a, b in pairwise(lines) if b != a + 1)]
    ends = [*(a for a, b in pairwise(lines) if b != a + 1), lines[-1]]
    ranges = [
        text
        for a, b in zip(starts, ends, strict=True)
        for text in ([f"{a} to {b}"] if b > a + 1 else dict.fromkeys([f"{a}", f"{b}"]))
    ]
    *others, last = [*ranges[:MOST_RANGES], *(["others"] if len(ranges) > MOST_RANGES else [])]
    return f" in line{'s' if len(lines) > 1 else ''} {' and '.join(filter(None, (', '.join(others), last)))}"
