"""The loading sheet for the tailgate: a card for each box at each stop, with lines to fill in."""

from __future__ import annotations

from collections.abc import Sequence

from predictor.domain.drill import Drill
from predictor.field.loading import BoxLoad, Loading
from predictor.job.loading import LoadingSheet
from predictor.job.stage import Stage
from predictor.pages.blocks import Block, Facts, Frame, Grid, Heading, Items, Lines, Page, Paper, Sign, Text
from predictor.text import loading as words
from predictor.units import WEIGHT_UNIT

# To be ticked by hand, and the head of its column.
TICK, TICKED = "\u2610", "Done"


def loading_page(drill: Drill, sheet: LoadingSheet, paper: Paper, stages: Sequence[Stage] = ()) -> Page:
    """The loading sheet; where something has to be looked at before a box can be set, that stands first."""
    blocks: list[Block] = [Text(each, strong=True) for each in words.first(stages)]
    blocks.append(Text(words.headline(sheet), strong=True))
    blocks += [Text(each) for each in (words.field_names(sheet), *words.planted_words(sheet)) if each]
    for loading in sheet.passes:
        blocks += _pass(loading, sheet)
    if sheet.in_turn:
        blocks.append(Text(words.in_turn_note(sheet)))
        blocks += [_in_turn(each, sheet) for each in sheet.in_turn]
    if sheet.in_hand:
        said = tuple(words.in_hand_words(each, sheet.units) for each in sheet.in_hand)
        blocks += [Heading("Seed that is there"), Items(said)]
    if sheet.passes:
        blocks += [Heading("In all"), _totals(sheet)]
    blocks += [Heading("What to know"), Items((*words.notes(sheet), words.WEIGH, words.TOO_EARLY))]
    blocks += [Heading("While you load"), Items(tuple(words.care(sheet))), Lines(("Loaded by, date", "Tags kept by"))]
    return Page(f"Loading sheet: {drill.name}", tuple(blocks), paper)


def _pass(loading: Loading, sheet: LoadingSheet) -> list[Block]:
    """The stops of boxes that go over the same ground, and what they hold at the end of each field."""
    units = sheet.units
    blocks: list[Block] = []
    if said := " ".join(filter(None, (words.pass_words(loading, sheet), words.stops_note(loading)))):
        blocks.append(Text(said))
    if stops := tuple(words.order(loading, units)):
        blocks.append(Facts(stops))
    for k, stop in enumerate(loading.stops):
        done, where = words.stop_words(stop, loading, units)
        name = done if k == 0 else f"Stop {k}: {done[0].lower()}{done[1:]}"
        blocks.append(Heading(", ".join(filter(None, (name, where)))))
        blocks += [_fill(load, number, sheet) for load, number in stop.fills]
    unit = WEIGHT_UNIT[units]
    for name, left in words.left_in_boxes(loading, units):
        rows = tuple((box, f"{weight} left") for box, weight in left)
        blocks.append(Frame((Text(name, strong=True), Facts(rows), Lines(tuple(f"{box}, {unit}" for box, _ in rows)))))
    return blocks


def _fill(load: BoxLoad, k: int, sheet: LoadingSheet) -> Frame:
    """One box at one stop."""
    units, weight = sheet.units, load.fills[k].weight_g
    sign = Sign(words.box_name(load.plan), f"{'Load' if k == 0 else 'Add'} {words.box_weight(weight, load, units)}")
    rows = tuple(
        (
            TICK,
            words.part_name(part),
            words.weight(part.weights[k], part.step_g, units),
            words.bags_words(part, k, units),
        )
        for part in load.parts
    )
    does = ", ".join(words.fill_words(load, k, units))
    header: tuple[str, ...] = (TICKED, "Weigh out", "Weight", "Bags")
    last = len(header) if any(row[-1] for row in rows) else -1
    grid = Grid(header[:last], tuple(row[:last] for row in rows), frozenset({2}))
    lines = Lines((f"Loaded, {WEIGHT_UNIT[units]}", "By, time"))
    return Frame((sign, Text(f"{does[0].upper()}{does[1:]}."), grid, lines))


def _in_turn(load: BoxLoad, sheet: LoadingSheet) -> Frame:
    """One full box of a lot that comes after another one, or before it."""
    first, *rest = words.in_turn_facts(load, sheet)
    rows = tuple(
        (TICK, words.part_name(part), words.weight(part.weights[0], part.step_g, sheet.units)) for part in load.parts
    )
    said = ". ".join(each[0].upper() + each[1:] for each in rest)
    return Frame(
        (Sign(load.plan.box.name, first), Text(f"{said}."), Grid((TICKED, "Weigh out", "Weight"), rows, frozenset({2})))
    )


def _totals(sheet: LoadingSheet) -> Grid:
    """All that is to be loaded, lot by lot."""
    units = sheet.units
    rows: list[tuple[str, ...]] = []
    for load in sheet.loads:
        for part in load.parts:
            weight = words.weight(part.total_g, part.step_g, units)
            rows.append((load.plan.box.name, words.part_name(part), weight, words.all_bags(part, units)))
        if len(load.parts) > 1:
            rows.append((load.plan.box.name, "together", words.box_weight(load.total_g, load, units), ""))
    header: tuple[str, ...] = ("Box", "What", "Weight", "Bags")
    last = len(header) if any(row[-1] for row in rows) else -1
    return Grid(header[:last], tuple(row[:last] for row in rows), frozenset({2}), "Weights of all fills", named=True)
