"""What is behind the decision on each box, as blocks of the season's record."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from predictor.domain.planted import PlantedLine
from predictor.field.budget import Budget
from predictor.field.results import CheckResult
from predictor.format import percent
from predictor.job.record import Record
from predictor.job.stage import Stage
from predictor.pages.blocks import Block, Facts, Grid, Heading, Items, Picture, Text
from predictor.plots.advice import plot_boxes
from predictor.text import field, planted, record as words
from predictor.text.budget import budget_words, size
from predictor.text.caught import catch_picture
from predictor.text.doing import look_at
from predictor.text.stage import headline, next_time
from predictor.units import Units

# From so many degrees of freedom on their number says nothing more.
MANY, ENDLESS = 100, 1e4


def evidence_blocks(record: Record, units: Units) -> list[Block]:
    """A part for each box and lot, with what was planted first; then the checks that are of none of them."""
    blocks: list[Block] = [Heading("Evidence")] if record.stages or record.planting.lines else []
    for stage in record.stages:
        blocks += _stage(record, stage, units)
    places = {_place(each.box, each.lot) for each in record.stages}
    others = [each for each in record.planting.lines if _place(each.box.name, each.lot) not in places]
    for box, lot in dict.fromkeys((each.box.name, each.lot) for each in others):
        mine = [each for each in others if (each.box.name, each.lot) == (box, lot)]
        blocks += [Heading(f"{box}, {lot}", 3), *_lines(mine, units)]
    blocks.append(Text(words.BUDGET_NOTE, small=True) if record.budgets else Text(words.NO_BUDGET))
    return [*blocks, *_other_checks(record, places, units)]


def _stage(record: Record, stage: Stage, units: Units) -> list[Block]:
    """One box and lot: what was planted, the catches as a picture and in words, field checks and uncertainty."""
    advice = stage.advice
    blocks: list[Block] = [Heading(f"{stage.box}, {stage.lot}: {headline(stage)}", 3)]
    # every line of this record, also where later catches make the lot one of another season
    place = _place(stage.box, stage.lot)
    blocks += _lines([each for each in record.planting.lines if _place(each.box.name, each.lot) == place], units)
    if advice.catches_used:
        blocks.append(Picture(plot_boxes([stage]), catch_picture(stage)))
    if stage.doing != "advised":
        blocks.append(Text(next_time(stage)))
    blocks.append(Facts(words.facts(record, stage)))
    blocks += items([*look_at(advice), *advice.warnings, *words.as_given(advice)])
    blocks += _checks(_of_place(record, place), units)
    for budget in record.budgets:
        if (budget.box, budget.lot) == (stage.box, stage.lot):
            blocks += [_budget(budget), Text(" ".join(budget_words(budget)))]
    return blocks


def _lines(lines: Sequence[PlantedLine], units: Units) -> list[Block]:
    """On what evidence some lines were planted."""
    return items(planted.evidence_of_line(each, units) for each in lines)


def _place(box: str, lot: str) -> tuple[str, str]:
    return box, lot.lower()


def _places(check: CheckResult) -> set[tuple[str, str]]:
    return {_place(box, lot) for box, lot in zip(check.boxes, check.lots, strict=True)}


def _of_place(record: Record, place: tuple[str, str]) -> list[CheckResult]:
    """The field checks of a box and lot."""
    return [each for each in record.job.field.checks if place in _places(each)] if record.job.field else []


def _checks(checks: Sequence[CheckResult], units: Units) -> list[Block]:
    said = items(" ".join(field.check_words(each, units)) for each in checks)
    return [Text(words.CHECKS, strong=True), *said] if said else []


def _other_checks(record: Record, places: set[tuple[str, str]], units: Units) -> list[Block]:
    """The field checks of lots that have no part of their own, and what all checks cannot tell apart."""
    found = record.job.field
    if found is None:
        return [Heading("Field checks"), Text(words.no_check(record.job.drill))]
    others = [each for each in found.checks if not _places(each) & places]
    said = items([*(" ".join(field.check_words(each, units)) for each in others), *map(str, found.remarks)])
    return [Heading("Field checks of other lots" if others else "Field checks"), *said] if said else []


def _budget(budget: Budget) -> Grid:
    header = ("Source", "Basis", "Standard uncertainty", "Share", "Degrees of freedom")
    sources = [(str(each.title), str(each.basis), each.u, budget.share(each), each.dof) for each in budget.sources]
    rows = tuple(
        (name, basis, size(u), f"{percent(share)} %", _dof(dof))
        for name, basis, u, share, dof in [*sources, ("all together", "", budget.combined, 1.0, budget.dof)]
    )
    caption = f"Uncertainty of the planted live seed of {budget.box}, {budget.lot}"
    return Grid(header, rows, frozenset({2, 3, 4}), caption, named=True)


def _dof(dof: float) -> str:
    return "no limit" if dof > ENDLESS else f"over {MANY}" if dof > MANY else f"{dof:.0f}"


def items(sentences: Iterable[str]) -> list[Block]:
    """A list of sentences; nothing where there is none."""
    found = tuple(sentences)
    return [Items(found)] if found else []
