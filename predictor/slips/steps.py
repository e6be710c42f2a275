"""A lever setting between two steps of the control: the lever or the row was likely misread."""

from __future__ import annotations

import numpy as np

from predictor.domain.control import Lever
from predictor.slips.finding import Finding
from predictor.slips.seen import Seen
from predictor.slips.weigh import spoils_lock

# How likely a reading between two steps is a slip: some levers can be set there. Judgement.
MISREAD = 0.5
# Of finer scales nobody reads single steps: so many on the whole scale.
MOST_STEPS = 1000
# A number is on a step if it is this near to one, as a share of the step: it was rounded on the way.
ROUNDED = 0.02
# More such catches than this are one finding: the control in the drill file is likely not the one on the drill.
MOST_APART = 20


def look(seen: Seen) -> tuple[Finding, ...]:
    """The catches made between two steps of the lever; each of its own, since each is another reading."""
    if not isinstance(seen.control, Lever) or seen.control.span > MOST_STEPS * seen.control.step:
        return ()
    steps = (seen.used.opening - seen.control.lowest_opening) / seen.control.step
    between = np.abs(steps - np.round(steps)) > ROUNDED
    catches = np.flatnonzero(between & ~seen.used.confirmed).tolist()
    each = [_rests_on(seen, i) for i in catches[-MOST_APART:]]
    if len(catches) > MOST_APART:
        return (_finding(seen, seen.control, catches, any(each)),)
    return tuple(_finding(seen, seen.control, [i], waits) for i, waits in zip(catches, each, strict=True))


def _rests_on(seen: Seen, i: int) -> bool:
    """Whether a lock rests on a catch."""
    others = seen.used.where(np.arange(len(seen.used)) != i)
    return not len(others) or spoils_lock(seen, seen.refit(others))


def _finding(seen: Seen, control: Lever, catches: list[int], waits: bool) -> Finding:
    values = {"setting": control.at(float(seen.used.opening[catches[0]])).text, "step": control.step}
    lines = tuple(seen.used.line[catches].tolist())
    return Finding("between_steps", seen.box.name, seen.lot, lines, MISREAD, waits, values)
