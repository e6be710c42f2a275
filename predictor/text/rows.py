"""Slips that show in a row itself, or beside the other lots, the plan and the day, in plain words."""

from __future__ import annotations

from collections.abc import Callable

from predictor.domain.result import Remark
from predictor.format import listed

# Of more lines than this nobody types the numbers.
MOST_TYPED = 20


def places(remark: Remark) -> str:
    """Line 7, or lines 7, 8 and 9; the catch where it is in no file."""
    lines = [each for each in remark["lines"] if each]
    if not lines:
        return "A catch" if len(remark["lines"]) < 2 else f"{len(remark['lines'])} catches"
    return f"Line {lines[0]}" if len(lines) == 1 else f"Lines {listed(map(str, lines))}"


def _stand_by(remark: Remark, what: str = "right") -> str:
    """What to do where all is right."""
    lines, one = ",".join(str(each) for each in remark["lines"] if each), len(remark["lines"]) == 1
    lines = lines if len(remark["lines"]) <= MOST_TYPED else ""
    said = f"If {'it is' if one else 'they are'} {what}, write yes in {'its' if one else 'their'} column confirmed"
    return f"{said}, or: predictor record --confirm {lines}" if lines else f"{said}."


def _between_steps(remark: Remark) -> str:
    if len(remark["lines"]) > 1:
        return (
            f"{places(remark)}: {len(remark['lines'])} catches have settings between two steps of the lever of box "
            f"{remark['box']}, which are {remark['step']:g} apart; the first is {remark['setting']}. Is the step in "
            f"drill.toml right? Correct it, or the rows. {_stand_by(remark)}"
        )
    return (
        f"{places(remark)}: setting {remark['setting']} lies between two steps of the lever of box {remark['box']}, "
        f"which are {remark['step']:g} apart. Was it misread? Correct the row. {_stand_by(remark)}"
    )


def _days_apart(remark: Remark) -> str:
    one = len(remark["lines"]) == 1
    return (
        f"{places(remark)}: caught {'on' if one else 'up to'} {remark['before']}, {remark['days']} days before the "
        f"next catch of this season, on {remark['after']}. Correct the date, or write the other season in the column "
        "season. "
        f"{_stand_by(remark, 'of one season')}"
    )


def _season_before(remark: Remark) -> str:
    one = len(remark["lines"]) == 1
    return (
        f"{places(remark)}: caught {'on' if one else 'up to'} {remark['day']}, though {'it is' if one else 'they are'} "
        f"written below catches of this lot of {remark['latest']}. The season of the last row is taken as the one in "
        f"hand. Correct the date, or put the rows in the order of the catches. {_stand_by(remark)}"
    )


def _future(remark: Remark) -> str:
    return f"{places(remark)}: the day {remark['day']} has not come yet. Correct the date."


def _no_target(remark: Remark) -> str:
    planned = listed(remark["planned"])
    one = len(remark["lines"]) == 1
    meant = f"Was {remark['lot']} meant?" if remark["near"] else f"The plan has {planned} in this box."
    correct = "Correct the name in the log or in the plan."
    if remark["elsewhere"]:
        meant, correct = f"The plan has it in box {remark['elsewhere']}: was that the box?", "Correct box or lot."
    return (
        f"{places(remark)}: lot {remark['name']} of box {remark['box']} has no target in the plan, so "
        f"{'this catch counts' if one else 'these catches count'} for no setting. {meant} {correct} "
        f"{_stand_by(remark)}"
    )


def _few_of_a_name(remark: Remark) -> str:
    return (
        f"{places(remark)}: lot {remark['name']} of box {remark['box']} was read as another lot than {remark['lot']}. "
        f"Was {remark['lot']} meant? Correct the name. {_stand_by(remark)}"
    )


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "between_steps": _between_steps,
    "days_apart": _days_apart,
    "season_before": _season_before,
    "future": _future,
    "no_target": _no_target,
    "few_of_a_name": _few_of_a_name,
}
