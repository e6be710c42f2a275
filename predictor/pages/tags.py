"""The tags of the seed, as blocks of the season's record: of what was planted as of that day, else of the plan."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from predictor.domain.planted import PlantedLine, PlantedLot
from predictor.domain.seed import LotPlan
from predictor.format import figures
from predictor.job.record import Record
from predictor.pages.blocks import Block, Grid, Heading, Items, Text
from predictor.text import planted as planted_words, record as words, tag
from predictor.units import GRAMS, RATE_UNIT, Units, rate_in

# What a tag says beside the live seed, in per cent.
REST = ("Other crop %", "Weed %", "Inert %", "Coating %")


def tag_blocks(record: Record, units: Units) -> list[Block]:
    """The tags of what was planted, those of what is to be planted, and the rates of the plan."""
    plan, lines = record.job.plan, record.planting.lines
    blocks: list[Block] = [Heading("Seed tags"), *_planted(lines, units)]
    if plan is None:
        return [*blocks, Text(words.NO_PLAN)]
    done = {(each.box.name, each.lot.lower()) for each in lines}
    to_plant = [each for entry in plan.boxes if (entry.box.name, entry.lot.lower()) not in done for each in entry.lots]
    blocks += _of_plan(to_plant)
    blocks += [_rates(plan.lots, units), Text(words.plan_note(plan, units), small=True)]
    return blocks + ([Items(tuple(map(str, plan.remarks)))] if plan.remarks else [])


def _of_plan(lots: Sequence[LotPlan]) -> list[Block]:
    """The tags of lots that are still to be planted."""
    header = ("Box", "Lot", "Species", "Pure %", "Germ. %", "Dormant %", "Hard %", "PLS %", "Tested")
    rows = tuple(
        (lot.box, words.lot_name(lot), lot.species, *_shares(lot, words.alive(lot)), lot.test_date) for lot in lots
    )
    names = ((lot, (lot.box, words.lot_name(lot))) for lot in tag.table(lots))
    rest = _rest(("Box", "Lot"), names, "The rest of the tags")
    return (
        [Grid(header, rows, frozenset(range(3, 8)), "Tags of what is to be planted", named=True), *rest] if rows else []
    )


def _shares(lot: LotPlan, alive: str) -> tuple[str, ...]:
    """Purity, germination, dormant and hard seed of a tag, and its live seed; "" without a tag."""
    if not lot.tagged:
        return "", alive, "", "", ""
    return (percents(lot.purity), alive, percents(lot.dormant), percents(lot.hard), f"{100 * lot.pls:.1f}")


def _rates(lots: Sequence[LotPlan], units: Units) -> Grid:
    """Planned rates, and how many seeds a weight of each lot has."""
    unit = RATE_UNIT[units]
    header = (
        *("Box", "Lot", "Species", f"PLS {unit}", f"Bulk {unit}"),
        *("Seeds/lb" if units == "us" else "Seeds/g", "Count from"),
    )
    rows = tuple(
        (
            *(lot.box, words.lot_name(lot), lot.species),
            *(figures(rate_in(each, units)) if each == each else "" for each in (lot.pls_rate, lot.bulk_rate)),
            *words.seeds(lot, units),
        )
        for lot in lots
    )
    return Grid(header, rows, frozenset({3, 4, 5}), "Planned rates and seed counts", named=True)


def _planted(lines: Sequence[PlantedLine], units: Units) -> list[Block]:
    """The tags as they were when the lines were written."""
    weight, name = (GRAMS["lb"], "lb") if units == "us" else (1.0, "g")
    header = (
        *("Lot", "Species", "Bag", "Pure %", "Germ. %", "Dormant %", "Hard %", "Live by"),
        *("Tested", f"Seeds/{name}"),
    )
    lots = [lot for each in lines if each.evidence for lot in each.evidence.lots]
    rows = tuple(
        dict.fromkeys(
            (
                *(", ".join(filter(None, (lot.lot, tag.treatment(lot)))), lot.species, lot.bag, percents(lot.purity)),
                f"{percents(lot.tz)} TZ" if lot.tz == lot.tz else percents(lot.germination),
                *(percents(lot.dormant), percents(lot.hard), planted_words.rule(lot), lot.test_date),
                "" if math.isnan(lot.seeds_per_g) else f"{lot.seeds_per_g * weight:,.0f}",
            )
            for lot in lots
        )
    )
    rest = _rest(("Lot",), ((lot, (lot.lot,)) for lot in tag.table(lots)), "The rest of those tags")
    grid = Grid(header, rows, frozenset({3, 4, 5, 6, 9}), "Tags of what was planted", named=True)
    return [grid, *rest] if rows else []


def _rest(
    first: tuple[str, ...], lots: Iterable[tuple[LotPlan | PlantedLot, tuple[str, ...]]], caption: str
) -> list[Block]:
    """What else the tags say, where they do."""
    rows = tuple(
        dict.fromkeys(
            (*names, lot.species, lot.variety, lot.origin, *tag.percents(lot), lot.noxious) for lot, names in lots
        )
    )
    header = (*first, "Species", "Variety", "Origin", *REST, "Noxious seed")
    numeric = frozenset(header.index(each) for each in REST)
    return [Grid(header, rows, numeric, caption, named=True)] if rows else []


def percents(fraction: float) -> str:
    """A share of a tag in per cent, as the tag gives it; "" where it gives none."""
    return "" if math.isnan(fraction) else f"{100 * fraction:.4g}"
