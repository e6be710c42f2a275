"""The next useful step of a whole job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from predictor.domain.result import Remark
from predictor.job.planting import ToPlant, noted
from predictor.job.stage import Stage

Code = Literal[
    "weigh",
    "move",
    "moved",
    "check_files",
    "check_log",
    "catch",
    "next_lot",
    "change",
    "card",
    "load",
    "plant",
    "check",
    "report",
]
# Which file a slip is in that no row of the log shows.
FILE_OF = {"example_drill": "drill.toml", "example_lots": "plan.csv"}
# What follows a lock, once the command before it is done.
AFTER_A_LOCK: dict[str, Code] = {"card": "load", "load": "plant", "plant": "plant", "check": "plant"}


@dataclass(frozen=True)
class Step:
    """The next useful step, and the boxes it is about; `str(step.why)` gives the sentence."""

    code: Code
    boxes: tuple[str, ...] = ()
    values: dict[str, Any] = field(default_factory=dict, compare=False)

    @property
    def why(self) -> Remark:
        """What to do and for which boxes."""
        return Remark(f"stage.next_{self.code}", {"boxes": self.boxes, **self.values})

    def to_dict(self) -> dict[str, Any]:
        """The step as plain values for JSON."""
        return {"step": self.code, "boxes": list(self.boxes), "sentence": str(self.why)}


def next_step(stages: Sequence[Stage], left: Sequence[ToPlant], done: str = "") -> Step | None:
    """The next useful step after the command `done`; None where nothing is left to do.

    Parameters
    ----------
    stages : sequence of Stage
        Of every box and lot.
    left : sequence of ToPlant
        What the boxes in hand have still to plant.
    done : str
        Name of the command that was run.

    Returns
    -------
    Step or None
    """
    mine = [each for each in stages if each.in_hand]
    return _in_the_field(mine) or _testing(mine, stages, left) or _planting(mine, left, done)


def _names(stages: Sequence[Stage]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(each.box for each in stages))


def _in_the_field(mine: Sequence[Stage]) -> Step | None:
    """What a field check asks for."""
    weigh = [each for each in mine if each.doing == "weigh"]
    if weigh:
        return Step("weigh", _names(weigh))
    move = [each for each in mine if each.doing == "move"]
    if not move:
        return None
    # what a box planted before the move is noted first, else it would seem planted where it was moved to
    before = [
        (each.box, str(each.verdict.setting)) for each in move if each.verdict and not noted(each.verdict, each.planted)
    ]
    moves = tuple((each.box, str(each.setting)) for each in move)
    return Step("move" if before else "moved", _names(move), {"moves": moves, "before": tuple(before)})


def _testing(mine: Sequence[Stage], stages: Sequence[Stage], left: Sequence[ToPlant]) -> Step | None:
    """The catches that are still to be made."""
    testing = [each for each in mine if each.reached == "testing"]
    unreachable = [each for each in testing if each.advice.decision == "unreachable"]
    slips = [(each.box, each.advice.waiting) for each in testing if each.advice.waiting is not None]
    files = [each for each in slips if each[1].code in FILE_OF]
    if files:
        names = tuple(dict.fromkeys(FILE_OF[each.code] for _, each in files))
        return Step("check_files", tuple(dict.fromkeys(box for box, _ in files)), {"files": names})
    if slips:
        lines = sorted({line for _, each in slips for line in each.lines if line})
        return Step("check_log", tuple(dict.fromkeys(box for box, _ in slips)), {"lines": lines})
    catch = [each for each in testing if each not in unreachable]
    if catch:
        begun = any(each.task.season is not None for each in mine)
        return Step("catch", _names(catch), {"begun": begun, "others": len(mine) > len(testing)})
    if unreachable:
        return Step("change", _names(unreachable))
    waiting = [each for each in stages if _waits(each, mine, left)]
    return Step("next_lot", (waiting[0].box,), {"lot": waiting[0].lot}) if waiting else None


def _waits(stage: Stage, mine: Sequence[Stage], left: Sequence[ToPlant]) -> bool:
    """Whether a lot of the plan is to follow the planted one in its box."""
    before = next((each for each in mine if each.box == stage.box), None)
    fields = [each for each in left if each.field]
    room = not fields or any(each.box == stage.box for each in fields)
    return (
        before is not None
        and before.reached == "planted"
        and stage.task.season is None
        and not stage.in_hand
        and stage.reached == "testing"
        and room
    )


def _planting(mine: Sequence[Stage], left: Sequence[ToPlant], done: str) -> Step | None:
    """What comes after the locks."""
    planted = [each for each in mine if each.reached == "planted"]
    checked = any(each.verdict is not None for each in mine)
    if not mine:
        return None
    if planted and not left:
        return None if done == "report" else Step("report")
    # nothing is gained before planting where a box has nothing left to plant
    ahead = [each for each in planted or mine if each.box in {one.box for one in left}]
    unchecked = [each for each in ahead if each.verdict is None]
    if checked and unchecked:
        return Step("check", _names(unchecked))
    if not planted:
        code = "plant" if checked else AFTER_A_LOCK.get(done, "card")
        # a loading sheet needs the areas of the fields
        known = any(each.field for each in left)
        return Step("check" if code == "load" and not known else code, _names(mine))
    last = max((line for each in planted for line in each.planted), key=lambda line: (line.date, line.line))
    here = [each for each in left if each.field.lower() == last.field.lower()]
    if not here and not checked and done != "check":
        return Step("check", _names(ahead or planted))
    boxes = tuple(dict.fromkeys(each.box for each in here or left))
    return Step("plant", boxes, {"field": (here or left)[0].field, "begun": True})
