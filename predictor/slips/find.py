"""Every check for slips in the catches of one lot."""

from __future__ import annotations

from collections.abc import Callable

from predictor.slips import days, level, offset, order, repeats, rows, runs, sizes, steps
from predictor.slips.finding import Finding
from predictor.slips.seen import Seen

# A module each, with a function `look`.
CHECKS: tuple[Callable[[Seen], tuple[Finding, ...]], ...] = (
    level.look,
    runs.look,
    steps.look,
    days.look,
    offset.look,
    order.look,
    repeats.look,
    rows.look,
    sizes.look,
)


def find(seen: Seen, besides: tuple[Finding, ...] = ()) -> tuple[Finding, ...]:
    """What looks like a slip in a lot, the likeliest first; what a person has confirmed is left out.

    `besides` is what the caller found: single catches that contradict the rest, and what shows in the whole log. What
    is part of a larger finding goes with it.
    """
    if not len(seen.used):
        return ()
    open_lines = set(seen.used.line[~seen.used.confirmed].tolist())
    found = [each for look in CHECKS for each in look(seen)]
    found += [
        other
        for other in besides
        if not any(each.chance >= other.chance and set(other.lines) <= set(each.lines) for each in found)
    ]
    left = [each for each in found if not each.lines or open_lines.intersection(each.lines)]
    return tuple(sorted(left, key=lambda each: -each.chance))
