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


def look(seen: Seen) -> tuple[Finding, ...]:
    """The catches made between two steps of the lever; each of its own, since each is another reading."""
    if not isinstance(seen.control, Lever) or seen.control.span > MOST_STEPS * seen.control.step:
        return ()
    found, settings = [], [seen.control.at(each) for each in seen.used.opening.tolist()]
    steps = (seen.used.opening - seen.control.lowest_opening) / seen.control.step
    between = np.abs(steps - np.round(steps)) > ROUNDED
    for i in np.flatnonzero(between & ~seen.used.confirmed).tolist():
        others = seen.used.where(np.arange(len(seen.used)) != i)
        waits = not len(others) or spoils_lock(seen, seen.refit(others))
        values = {"setting": settings[i].text, "step": seen.control.step}
        lines = (int(seen.used.line[i]),)
        found.append(Finding("between_steps", seen.box.name, seen.lot, lines, MISREAD, waits, values))
    return tuple(found)
