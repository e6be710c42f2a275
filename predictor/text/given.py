"""What was taken as given of catches, in one short sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from predictor.domain.result import Remark
from predictor.text.drill import length_words, one_word
from predictor.units import METRES

MOST_RANGES, MOST_SIZES = 3, 3


def taken(remark: Remark) -> str:
    """What was taken as given, the most harmful first where it is wrong."""
    facts, apart = remark["facts"], _length(remark, "spacing_m", "in", "cm")
    parts = [f"weights of the seed alone{_where(facts['tare'])}"] if "tare" in facts else []
    if "taken_off" in facts:
        several = [f"{each:.4g}" for each in remark["taken_off_g"][:MOST_SIZES]]
        parts.append(f"a container of {' or '.join(several)} g taken off")
    parts += [_size(remark), "meters charged", "settings as written"]
    parts += ["filled alike"] if "filling" in facts else []
    turn = _length(remark, "covers_m", "ft", "m")
    parts += [f"{turn} a {one_word(remark['counted'])}"] if turn else []
    parts += [f"rows {apart} apart{' and alike' if remark['alike'] else ''}"] if apart else []
    parts += ["carrier evenly mixed"] if remark["carrier"] else []
    if remark["undated"] is not None:
        parts.append(f"this season's catches{_where(remark['undated'])}")
    parts += ["today's target"] if "target" in facts else []
    return f"Taken as given: {', '.join(parts)}."


def _size(remark: Remark) -> str:
    """Turns and rows of the catches; those of several sizes together."""
    sizes = remark["sizes"][-MOST_SIZES:]
    rows = list(dict.fromkeys(f"{each.rows:g}" for each in sizes))
    lengths = list(dict.fromkeys(length_words(each.length, each.counted) for each in sizes))
    many = " and others" if len(remark["sizes"]) > MOST_SIZES else ""
    return f"{' or '.join(lengths)} and {' or '.join(rows)} row{'' if rows == ['1'] else 's'} a catch{many}"


def _length(remark: Remark, name: str, us: str, metric: str) -> str:
    """A length in the drill's unit; "" where it is not known."""
    if math.isnan(remark[name]):
        return ""
    unit = us if remark["units"] == "us" else metric
    return f"{remark[name] / METRES[unit]:.4g} {unit}"


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
