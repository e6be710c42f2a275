"""What a log makes one say before it is used: catches of other drills, and lots whose names are nearly one."""

import re

import numpy as np

from predictor.domain.codes import as_they_appear, codes_of
from predictor.domain.result import Remark
from predictor.domain.trials import Trials

_SIGNS = re.compile(r"[\W_]+")
_ASCII_SIGNS = bytes(each for each in range(128) if _SIGNS.match(chr(each)) and each != ord("\n"))


def other_drills(trials: Trials) -> list[Remark]:
    """A remark on catches that name another drill than the one whose controls they are read by."""
    own = "" if trials.drill is None else trials.drill.name
    names, code = codes_of(trials, "drill_name")
    first, row = as_they_appear(code)
    named = dict(zip((names[k] for k in code[first].tolist()), np.bincount(row).tolist(), strict=True))
    others = [name for name in named if name and name.lower() != own.lower()]
    if not own or not others:
        return []
    catches = sum(map(named.__getitem__, others))
    return [Remark("files.other_drill", {"catches": catches, "names": tuple(others[:5]), "drill": own})]


def similar_lots(trials: Trials) -> list[Remark]:
    """A remark for lots of a box whose names differ only in capitals, spaces or signs."""
    (boxes, box), (lots, lot) = codes_of(trials, "box"), codes_of(trials, "lot")
    plain = _without_signs(lots)
    if len(set(plain)) == len(plain):
        return []
    names: dict[tuple[str, str], list[str]] = {}
    first = as_they_appear(box * len(lots) + lot)[0]
    for i, k in zip(box[first].tolist(), lot[first].tolist(), strict=True):
        names.setdefault((boxes[i], plain[k]), []).append(lots[k])
    return [
        Remark("files.similar_lots", {"box": of_box, "lots": tuple(alike)})
        for (of_box, _), alike in names.items()
        if len(alike) > 1
    ]


def _without_signs(names: list[str]) -> list[str]:
    """Names in small letters without signs, each as it is where nothing else is in it."""
    text = "\n".join(names).lower()
    bare = text.encode().translate(None, _ASCII_SIGNS).decode().split("\n") if text.isascii() else []
    if len(bare) != len(names):
        bare = [_SIGNS.sub("", name.lower()) for name in names]
    return [each or name for each, name in zip(bare, names, strict=True)]
