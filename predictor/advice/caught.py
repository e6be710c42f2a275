"""The catches of an advice in the units of its next catch: which count, and which are in doubt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from predictor.advice.result import Advice
from predictor.domain.control import Floats
from predictor.domain.drives import OnDrive
from predictor.domain.trials import Flags, Trials

# A finding about more than this share of the catches puts none of them in doubt: then none stands out.
MOST_IN_DOUBT = 0.5


@dataclass(frozen=True)
class Doubt:
    """Catches that contradict the rest, and what became of them."""

    lines: tuple[int, ...]
    state: str


@dataclass(frozen=True)
class Caught:
    """All catches of a lot; arrays of one length."""

    trials: Trials  # As if made on the drive in hand
    opening: Floats
    grams: Floats  # Over the turns and rows of the next catch
    used: Flags
    doubts: dict[int, Doubt]  # By the index of each catch that contradicts the rest


def caught(advice: Advice) -> Caught:
    """The catches of an advice: those on other drives and those of the standing drill as its curve has them."""
    mine = advice.trials
    if isinstance(advice.control, OnDrive):
        mine = mine.on_drive(advice.seed_box.control, advice.control.drive)
    slip = advice.aim.slip[0] if advice.towed and advice.aim.slip else 1.0
    grams = mine.output * np.where(mine.towed, 1.0, slip) * advice.next_turns * advice.next_rows
    groups = doubtful(advice)
    lines = mine.line.tolist()
    doubts = {i: group for group in groups for i, line in enumerate(lines) if line in group.lines}
    used = mine.counts & ~np.isin(mine.line, [line for line in advice.set_aside if line])
    return Caught(mine, mine.opening, grams, used, doubts)


def doubtful(advice: Advice) -> list[Doubt]:
    """Catches that contradict the rest, those that belong together in one."""
    found = dict[tuple[int, ...], str]()
    for slip in advice.slips:
        if (slip.waits or slip.code == "odd") and len(slip.lines) <= max(MOST_IN_DOUBT * len(advice.trials), 1):
            found[slip.lines] = "in doubt"
    if advice.why.code in ("advice.contradicted", "advice.plugged"):
        found[(advice.why["line"],)] = "in doubt"
    found |= {(line,): "set aside" for line in advice.set_aside}
    return [Doubt(lines, state) for lines, state in found.items() if all(lines)]
