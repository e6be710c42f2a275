"""The cards for the cab: the settings with what is behind them, and what to do after the next catch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from predictor.advice.ranges import Table
from predictor.advice.result import Advice
from predictor.domain.drill import Drill
from predictor.domain.seed import BoxPlan
from predictor.field.filling import Refill
from predictor.pages.blocks import Block, Facts, Frame, Grid, Items, Lines, Page, Paper, Sign, Text
from predictor.text import cards, cautions
from predictor.text.advice import headline
from predictor.units import Units


@dataclass(frozen=True)
class CardBox:
    """What a setting card says of one box."""

    advice: Advice
    plan: BoxPlan | None
    refill: Refill


def setting_page(drill: Drill, boxes: Sequence[CardBox], *, units: Units, paper: Paper, date: str) -> Page:
    """The setting card."""
    ready = all(each.advice.decision == "lock" for each in boxes)
    blocks: tuple[Block, ...] = (
        *(() if ready else (Text(cards.NOT_LOCKED, strong=True),)),
        *(_frame(each, drill, units) for each in boxes),
        Items((*cautions.CAUTIONS, cards.START)),
        Lines(("Set by, date", "Checked by, date")),
    )
    return Page(f"Settings: {drill.name}", blocks, paper, one=True, footer=_footer(date), date=date)


def _frame(box: CardBox, drill: Drill, units: Units) -> Frame:
    advice = box.advice
    chance = cards.chance(advice)
    facts = [("Chance", chance)] if chance else []
    facts.append(("Target catch", cards.target_catch(advice, drill)))
    if box.plan is not None:
        facts += cards.plan_facts(box.plan, drill, units)
    facts.append(("Refill", cards.refill(box.refill)))
    name = f"{advice.box}: {advice.lot}" if advice.lot else advice.box
    return Frame((Sign(name, headline(advice)), Facts(tuple(facts))))


def decision_page(
    drill: Drill, tables: Sequence[Table], done: Sequence[Advice], *, paper: Paper, date: str, tolerance: float
) -> Page:
    """The decision card; `done` are the boxes that need no further catch."""
    blocks: list[Block] = [
        Text(f"{advice.box}, {advice.lot}: {headline(advice)}. {advice.reason}", strong=True) for advice in done
    ]
    for table in tables:
        step = drill.catch.scale_resolution_g
        rows = [
            (cards.weight_words(each, step), cards.range_words(each, table), cards.likely_words(each))
            for each in table.ranges
        ]
        columns = 3 if any(row[2] for row in rows) else 2  # before any catch nothing shows what is likely
        header = ("Weight", "Do", "Likely")[:columns]
        shown = tuple(row[:columns] for row in rows)
        blocks.append(Grid(header, shown, frozenset({2}), cards.table_title(table, drill)))
    blocks += [Text(cards.how_to_use(tables, tolerance), small=True), Items(cautions.CAUTIONS)]
    title = f"What to do after the next catch: {drill.name}"
    return Page(title, tuple(blocks), paper, footer=_footer(date), date=date)


def _footer(date: str) -> str:
    return f"Catches to {date}." if date else ""
