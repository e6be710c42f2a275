"""What a box and lot have reached, and the next step of the job, in sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from predictor.domain.planted import PlantedLine
from predictor.domain.result import Remark
from predictor.format import chances, listed
from predictor.job.stage import Stage
from predictor.text import doing, verdict as verdict_text

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def headline(stage: Stage) -> str:
    """What to do or what was done, all but settings and fields in capitals: the same in every output."""
    return doing_of(stage).text()


def doing_of(stage: Stage) -> doing.Doing:
    """What to do or what was done, in pieces."""
    if stage.doing == "advised":
        return doing.doing(stage.advice)
    if stage.doing == "planted":
        return _planted(stage)
    assert stage.verdict is not None  # as `doing` says
    return verdict_text.doing(stage.verdict)


def _planted(stage: Stage) -> doing.Doing:
    """Where and when a lot was planted at its last setting, and that it may stay there."""
    last = stage.planted[-1].setting
    lines = [each for each in stage.planted if each.setting == last]
    where = listed(dict.fromkeys(each.field for each in lines if each.field))
    told = f"({', '.join(filter(None, (where, _days(lines))))})"
    return doing.Doing("planted at", last.text, told, "leave it" if stage.left_there else "")


def _days(lines: Sequence[PlantedLine]) -> str:
    """The days of lines, as 18 Nov or 18 Nov to 2 Dec."""
    first, last = lines[0].date, lines[-1].date
    return _day(first) if first == last else f"{_day(first)} to {_day(last)}"


def _day(date: str) -> str:
    _, month, day = map(int, date.split("-"))
    return f"{day} {MONTHS[month - 1]}"


def next_time(stage: Stage) -> str:
    """What the catches advise of a box that is planted or was checked in the field."""
    start = "For next time" if stage.reached == "planted" else "The catches say"
    advice = stage.advice
    said = f"{start}: {doing.headline(advice, capitals=False)}."
    if advice.decision != "lock":  # a box that is planting needs no reason to plant
        said += f" {advice.reason}"
    if without := doing.without_slip(advice):
        return f"{said} {without}"
    if advice.chance is None or advice.decision == "unreachable":
        return said
    return f"{said} {chances(advice.chance)} that {doing.on_target(advice)}."


def _move(remark: Remark) -> str:
    moves = listed(f"box {box} to {setting}" for box, setting in remark["moves"])
    before = listed(f"{box} planted at {setting}" for box, setting in remark["before"])
    then = f"Note what {before}, and check again." if before else "Check again there."
    return f"Next: set {moves} for the rest. {then}"


def _catch(remark: Remark) -> str:
    boxes = _boxes(remark)
    if not remark["begun"]:
        return "Next: catch each box at its first setting, and record each catch."
    if remark["others"]:
        if len(remark["boxes"]) > 1:
            return f"Next: {boxes} are left. Make their next catches, and record each."
        return f"Next: {boxes} is left. Make the catch, and record it."
    if len(remark["boxes"]) > 1:
        return f"Next: make the next catches of {boxes}, and record each."
    return "Next: make the catch, and record it."


def _boxes(remark: Remark) -> str:
    names = remark["boxes"]
    return f"box {names[0]}" if len(names) == 1 else f"boxes {verdict_text.named(names)}"


def _plant(remark: Remark) -> str:
    if not remark.values.get("begun"):
        return "Next: plant, and note what was planted in each field."
    where = f" in {remark['field']}" if remark["field"] else ""
    return f"Next: plant with {_boxes(remark)}{where}, and note it."


def _check_log(remark: Remark) -> str:
    lines = remark["lines"]
    rows = f"line {lines[0]}" if len(lines) == 1 else f"lines {listed(map(str, lines))}"
    return f"Next: look at {rows} of the log, and correct what is wrong. If all is right, say so with:"


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    **dict.fromkeys(("advised", "leave", "move", "weigh", "planted"), lambda remark: headline(remark["stage"])),
    "next_weigh": lambda remark: (
        f"Next: weigh or count {_boxes(remark)} again, and add what you find. --undo takes the last check back."
    ),
    **dict.fromkeys(("next_move", "next_moved"), _move),
    "next_check_files": lambda remark: f"Next: correct {listed(remark['files'])}, and look again:",
    "next_check_log": _check_log,
    "next_catch": _catch,
    "next_next_lot": "Next: lot {lot} is to follow in box {boxes[0]}. Make its catch, and record it.",
    "next_change": "Next: change what the box drops (carrier, drive, rate) in plan.csv or drill.toml, and look again.",
    "next_card": "Next: lock the settings, and take them into the cab.",
    "next_load": "Next: see what to load into each box.",
    "next_plant": _plant,
    "next_check": lambda remark: (
        f"Next: see how much seed {_boxes(remark)} planted on a known area, before you plant the rest."
    ),
    "next_report": "Next: the record for the file.",
}
