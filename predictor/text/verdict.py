"""What a field check means for the box that is planting, in sentences."""

from __future__ import annotations

from collections.abc import Sequence

from predictor.domain.result import Remark
from predictor.field.results import FieldResult
from predictor.field.verdict import Verdict
from predictor.format import chances, count, percent
from predictor.text.doing import Doing


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
    return doing(verdict).text()


def doing(verdict: Verdict) -> Doing:
    """What to do, in pieces."""
    if verdict.answer == "weigh":
        counted = verdict.why.code == "verdict.no_seed" or "length" in verdict.why.values.get("causes", ())
        return Doing("check that count first" if counted else "check that weighing first")
    if verdict.answer == "move" and verdict.move_to is not None:
        return Doing(f"move from {verdict.setting.text} to", verdict.move_to.text, then="for the rest")
    return Doing("leave it at", verdict.setting.text)


def verdict_words(verdict: Verdict, found: FieldResult | None = None) -> list[str]:
    """The rate of a box in the field with its limits, what to do with the box and why.

    With `found`, what the last check of the box alone gives is said first.
    """
    given = [] if found is None else _given(verdict, found)
    what = "total of these boxes" if verdict.together else "rate in the field"
    limits = f"{percent(verdict.ratio_lower)} to {percent(verdict.ratio_upper)} %"
    rate = f"{what} is {percent(verdict.ratio)} % of target ({limits})"
    if verdict.answer == "weigh" and not verdict.together:
        return [*given, str(verdict.why), f"Without this check, the {rate}."]
    within = f"{chances(verdict.chance)} that it is within {percent(verdict.tolerance)} % of target."
    said = [*given, f"{'With all that is known, the' if given else 'The'} {rate}.", within, str(verdict.why)]
    if verdict.move_to is None or verdict.chance_there is None:
        return said
    said[-2] += f" At {verdict.move_to} there are {chances(verdict.chance_there)} that it is."
    return [*said, f"Set {verdict.move_to} for the rest, and check again there."]


def _given(verdict: Verdict, found: FieldResult) -> list[str]:
    """What the last check of a box gives."""
    place = verdict.box, verdict.lot.lower()
    mine = [each for each in found.checks if place in zip(each.boxes, map(str.lower, each.lots), strict=True)]
    last = max(mine, key=lambda each: (each.date, each.line), default=None)
    if last is None or last.ratio is None:
        return []
    return [f"The check of {last.date} gives {percent(last.ratio)} % of target."]


LATER = "Later catches, planted lines or a new season go before this check."
