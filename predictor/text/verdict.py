"""What a field check means for the box that is planting, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from predictor.domain.result import Remark
from predictor.field.verdict import Verdict
from predictor.format import count, in_100, percent


def named(boxes: Sequence[str]) -> str:
    """Names of boxes in one phrase."""
    return " and ".join([", ".join(boxes[:-1]), boxes[-1]]) if len(boxes) > 1 else boxes[0]


def _unsure(remark: Remark) -> str:
    more = remark["more"]
    if remark["counted"]:
        again = f"{count(more, 'more count', 'more counts')} of as much row as all counts so far"
    else:
        again = f"{count(more, 'more check')} over at least as much ground"
    return (
        f"The limits still reach beyond the tolerance. {again[0].upper()}{again[1:]} would likely bring them within it."
    )


SENTENCES = {
    "leave": "The limits are within the tolerance.",
    "leave_unsure": _unsure,
    "leave_near_edge": (
        "The rate may lie near the edge of the tolerance, and a few more checks would hardly settle that. Leave it and "
        "check again at the next fill."
    ),
    "leave_no_better": (
        "The rate at {setting} is likely out of tolerance, but no other setting of this control is clearly better. Ask "
        "predictor recommend what would bring the target into range."
    ),
    "move": "At {setting} the rate is more likely out of tolerance than within it, and {to} is clearly better.",
    "move_fault": (
        "Two checks agree that the rate at {setting} is out of tolerance and far from what the drill gave standing. "
        "Look for the cause first: plugged tubes, a slipping or wrong chain, a gate out of place. If you find none, go "
        "to {to}."
    ),
    "no_seed": "No seed was found. Look for a plugged tube or an empty box, then count again.",
    "leave_together": lambda remark: (
        f"Boxes {named(remark['boxes'])} were weighed together and their total is within tolerance. Nothing shows how "
        "it divides between them."
    ),
    "weigh_alone": lambda remark: (
        f"The total of boxes {named(remark['boxes'])} is likely out of tolerance, and nothing shows which of them is "
        "off. Weigh one box alone before you move any."
    ),
}


def headline(verdict: Verdict) -> str:
    """What to do, in capitals."""
    if verdict.answer == "weigh":
        return "CHECK THAT WEIGHING FIRST"
    if verdict.answer == "move" and verdict.move_to is not None:
        return f"MOVE FROM {verdict.setting.text} TO {verdict.move_to.text} FOR THE REST"
    return f"LEAVE IT AT {verdict.setting.text}"


def verdict_words(verdict: Verdict) -> list[str]:
    """What to do with a box, its rate in the field with limits and the reason."""
    low, high = percent(verdict.ratio_lower), percent(verdict.ratio_upper)
    what = "total" if verdict.together else "field rate"
    known = f"Its {what} there is {percent(verdict.ratio)} % of the target ({low} to {high} %, all that is known)"
    chance = f"{in_100(verdict.chance)} chances in 100 that it is within {percent(verdict.tolerance)} %"
    said = [f"{verdict.box}, {verdict.lot}: {headline(verdict)}. {verdict.why}", f"{known}: {chance}."]
    if verdict.move_to is not None and verdict.chance_there is not None:
        there = f"{in_100(verdict.chance_there)} chances in 100"
        said.append(f"At {verdict.move_to.text} there are {there} that it is. Check again there.")
    return said
