"""The cards for the cab: the settings with what is behind them, and what to do after the next catch."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from predictor.advice.result import Advice
from predictor.domain.drill import Drill
from predictor.domain.seed import BoxPlan
from predictor.field.filling import Refill
from predictor.job.stage import Stage
from predictor.pages.blocks import Block, Heading, Items, Lines, NewSheet, Page, Panel, Paper, Text
from predictor.text import cards, cautions
from predictor.text.advice import standing_note
from predictor.text.answer import Answer, answer
from predictor.text.doing import given_line
from predictor.units import Units

OLD = "advice.old_catches"


@dataclass(frozen=True)
class CardBox:
    """What a setting card says of one box."""

    stage: Stage
    plan: BoxPlan | None
    refill: Refill


# Points of plain text, by how many boxes a large sheet is to hold; a small one has the smallest letters to be read in
# a cab: capitals of 2.5 mm. There three boxes take the front of one sheet.
LEAST_POINTS = 10.6
LARGE: dict[Paper, tuple[float, ...]] = {"a4": (14.8, 14.8, 14.8, 13.0, 11.5), "letter": (13.8, 13.8, 13.8, 12.3, 11.0)}


def setting_page(drill: Drill, boxes: Sequence[CardBox], units: Units, paper: Paper) -> Page:
    """The setting card: on the front the settings, on the other side the cautions and what is behind each setting."""
    stages = [each.stage for each in boxes]
    advices, answers = [each.advice for each in stages], [answer(each) for each in stages]
    day = last_day(advices)
    blocks: list[Block] = [Text(cards.how_many(sum(each.ready for each in answers), len(boxes)), strong=True)]
    blocks += [Text(f"Catches to {day}.")] if day else []
    blocks += old(stages)
    blocks += [_panel(each, found, drill, units) for each, found in zip(boxes, answers, strict=True)]
    blocks += [Items((cards.FIRST, cards.START)), Lines(("Set by, date", "Checked by, date"))]
    blocks += [NewSheet(), Heading("Cautions"), Items(cautions.CAUTIONS), Heading("Behind each setting")]
    for each, found in zip(boxes, answers, strict=True):
        said = cards.behind(each.stage, found, each.plan, each.refill, drill, units)
        blocks += [Heading(_name(found), 3), Text(" ".join(said))]
    refills = {each.stage.box: each.refill for each in boxes}
    shared = cards.behind_all([each.plan for each in boxes], refills, drill, units)
    ahead = [each.advice for each in stages if each.reached != "planted"]
    blocks.append(Text(" ".join(filter(None, (shared, given_line(ahead, short=True), standing_note(advices))))))
    sizes = LARGE.get(paper, ())
    points = sizes[len(boxes) - 1] if len(boxes) <= len(sizes) else LEAST_POINTS
    return Page(f"Settings: {drill.name}", tuple(blocks), paper, date=day, points=points)


def _name(found: Answer) -> str:
    return f"{found.box}: {found.lot}" if found.lot else found.box


def _panel(box: CardBox, found: Answer, drill: Drill, units: Units) -> Panel:
    """The setting of a box and what goes with it."""
    done, setting = found.doing, found.doing.setting
    in_force = box.stage.setting or box.stage.advice.advised
    drive = f"on {in_force.drive}" if in_force is not None and in_force.drive else ""
    value = setting.removesuffix(f" {drive}") if drive else setting
    if found.ready:
        lines = cards.ready(box.stage, found, box.plan, box.refill, drill, units)
    else:
        lines = cards.not_ready(box.stage, found)
    return Panel(
        name=found.box,
        more_name=found.lot,
        verb=done.verb.upper(),
        value=value,
        with_value=drive if value != setting else "",
        where=done.where,
        then="" if done.other else done.then.upper(),
        joint=done.joint,
        dark="" if found.ready else cards.NOT_READY,
        weight=found.target if setting else "",
        lines=lines,
    )


def last_day(advices: Sequence[Advice]) -> str:
    """Day of the last catch; "" where none has one."""
    return max(itertools.chain(*(each.trials.date.tolist() for each in advices)), default="")


def old(stages: Sequence[Stage]) -> list[Block]:
    """A line for each box whose catches are of another season, unless it was planted or checked in the field since."""
    advised = [each.advice for each in stages if each.doing == "advised"]
    found = [(each.box, remark) for each in advised for remark in each.remarks if remark.code == OLD]
    return [Text(f"{box}: {remark}", strong=True) for box, remark in found]
