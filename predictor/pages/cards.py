"""The cards for the cab: the settings with what is behind them, and what to do after the next catch."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from predictor.advice.ranges import Table
from predictor.advice.result import Advice
from predictor.domain.drill import Drill
from predictor.domain.seed import BoxPlan
from predictor.field.filling import Refill
from predictor.job.stage import Stage
from predictor.pages.blocks import Block, Facts, Frame, Grid, Items, Lines, Page, Paper, Sign, Text
from predictor.text import cards, cautions
from predictor.text.advice import standing_note
from predictor.text.doing import given_line
from predictor.text.stage import headline
from predictor.units import Units

OLD = "advice.old_catches"


@dataclass(frozen=True)
class CardBox:
    """What a setting card says of one box."""

    stage: Stage
    plan: BoxPlan | None
    refill: Refill


def setting_page(drill: Drill, boxes: Sequence[CardBox], units: Units, paper: Paper) -> Page:
    """The setting card, made to fit on one sheet."""
    stages = [each.stage for each in boxes]
    advices = [each.advice for each in stages]
    blocks: list[Block] = [_frame(each, drill, units) for each in boxes]
    if any(each.reached == "testing" for each in stages):
        blocks.insert(0, Text(cards.NOT_LOCKED, strong=True))
    blocks[:0] = _old(stages)
    ahead = [each.advice for each in stages if each.reached != "planted"]
    blocks.append(Text(" ".join(filter(None, (given_line(ahead, short=True), standing_note(advices)))), small=True))
    blocks += [Items((*cautions.CAUTIONS, cards.START)), Lines(("Set by, date", "Checked by, date"))]
    return _card(f"Settings: {drill.name}", blocks, advices, paper, one=True)


def _card(title: str, blocks: list[Block], advices: Sequence[Advice], paper: Paper, *, one: bool = False) -> Page:
    """A card with the day of its last catch at the foot."""
    day = max(itertools.chain(*(each.trials.date.tolist() for each in advices)), default="")
    return Page(title, tuple(blocks), paper, one, footer=f"Catches to {day}." if day else "", date=day)


def _old(stages: Sequence[Stage]) -> list[Block]:
    """A line for each box whose catches are of another season, unless it was planted or checked in the field since."""
    advised = [each.advice for each in stages if each.doing == "advised"]
    found = [(each.box, remark) for each in advised for remark in each.remarks if remark.code == OLD]
    return [Text(f"{box}: {remark}", strong=True) for box, remark in found]


def _frame(box: CardBox, drill: Drill, units: Units) -> Frame:
    advice = box.stage.advice
    chance = cards.chance(box.stage)
    facts = [("Look at", each) for each in cards.look_at(box.stage)]
    facts += [("Chance", chance)] if chance else []
    facts.append(("Target catch", cards.target_catch(advice, drill)))
    if box.plan is not None:
        facts += cards.plan_facts(box.plan, drill, units)
    facts.append(("Refill", cards.refill(box.refill)))
    name = f"{advice.box}: {advice.lot}" if advice.lot else advice.box
    return Frame((Sign(name, headline(box.stage)), Facts(tuple(facts))))


def decision_page(
    drill: Drill, tables: Sequence[Table], done: Sequence[Stage], stages: Sequence[Stage], paper: Paper
) -> Page:
    """The decision card of these stages; `done` are those that need no further catch."""
    advices = [each.advice for each in stages]
    blocks = [*_old(stages), *(Text(cards.done(each), strong=True) for each in done)]
    for table in tables:
        rows = tuple(cards.range_words(each, table, drill) for each in table.ranges)
        header = ("Weight", "Do", "Likely")[: len(rows[0])]
        blocks.append(Grid(header, rows, frozenset({2}), cards.table_title(table, drill)))
    how = [cards.how_to_use(tables, advices[0].tolerance)] if tables else []
    blocks += [Text(" ".join([*how, standing_note(advices)]), small=True), Items(cautions.CAUTIONS)]
    return _card(f"What to do after the next catch: {drill.name}", blocks, advices, paper)
