"""What was taken as given of the catches of a lot, since the numbers cannot show it."""

from __future__ import annotations

import math

import numpy as np

from predictor.domain.catch import CatchSize, catch_size
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.slips.repeats import equal_rows


def taken_as_given(catches: Trials, box: SeedBox, drill: Drill | None, *, carrier: bool = False) -> Remark | None:
    """What was taken as given of the catches that count, for one line; None where there is nothing to say.

    Each is a fact that the numbers cannot show. The tare of a row says whether a container was weighed along. Turns,
    rows and charging are said even where rows state them: a number that is written may be wrong, and only who made the
    catch can see it.
    """
    used = catches.where(catches.counts)
    if not len(used):
        return None
    tare = _lines(used, ~states(used, "tare"))
    fed = None if drill is None else drill.rows_of(box)
    single = any(each is not None and len(each) > 1 for each in used.rows_g)
    values = {
        "box": box.name,
        # lines of which each is taken as given: () where it is all
        "facts": {
            **({} if tare is None else {"tare": tare}),
            **({"taken_off": ()} if (used.tare_g > 0).any() else {}),
            **dict.fromkeys(("turns", "rows", "charged", "setting"), ()),
            **({"filling": ()} if np.isnan(used.fill_pct).all() else {}),
            # a row that says what it was to weigh shows a target that changed since
            **({"target": ()} if np.isnan(used.wanted_g).any() else {}),
        },
        "taken_off_g": tuple(dict.fromkeys(used.tare_g[used.tare_g > 0].tolist())),
        "sizes": _sizes(used, box, drill),
        "counted": "wheel turns" if drill is None else drill.catch_of(box).counted,
        "covers_m": math.nan if drill is None or used.towed.all() else _covers(drill, box),
        "spacing_m": math.nan if drill is None else drill.spacing_of(box),
        "units": "us" if drill is None else drill.units,
        "alike": fed is not None and not single and bool((used.rows < fed).all()),
        "carrier": carrier,
        "equal": equal_rows(used.where(~used.confirmed)),
        "undated": _lines(used, used.date == "") if len(used) > 1 and (used.date != "").any() else None,
    }
    return Remark("slips.given", values)


def _sizes(used: Trials, box: SeedBox, drill: Drill | None) -> tuple[CatchSize, ...]:
    """The sizes of the catches, each once, as people count them."""
    columns = used.turns.tolist(), used.rows.tolist(), used.towed.tolist()
    return tuple(catch_size(*each[:2], drill, box, each[2]) for each in dict.fromkeys(zip(*columns, strict=True)))


def states(catches: Trials, what: str) -> np.ndarray:
    """Which catches state something: "turns", "rows", "charged" or "tare"; bool, shape (n,)."""
    stated = catches.stated.tolist()
    holds = {text: what in text.split() for text in set(stated)}
    return np.array([holds[text] for text in stated], dtype=bool)


def _covers(drill: Drill, box: SeedBox) -> float:
    """Metres that a turn or second of a box covers; NaN where nobody gave them."""
    each = drill.catch_of(box).each_covers_m
    each = drill.rolling_circumference_m if each is None else each
    return math.nan if each is None else each


def _lines(used: Trials, mask: np.ndarray) -> tuple[int, ...] | None:
    """Lines of some catches: none where they are all of them, and None where there is no such catch."""
    if not mask.any():
        return None
    return () if mask.all() else tuple(used.line[mask].tolist())
