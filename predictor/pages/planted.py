"""What was planted, as blocks of the season's record: from the lines and the evidence that each keeps, nothing else."""

from __future__ import annotations

import math
from collections.abc import Sequence

from predictor.domain.planted import PlantedLine, PlantedLot
from predictor.format import figures, in_100, percent
from predictor.job.planting import Amount, Planting
from predictor.pages.blocks import Block, Grid, Heading, Items, Text
from predictor.text import planted as words, tag
from predictor.units import (
    AREA_UNIT,
    GRAMS,
    RATE_UNIT,
    SQUARE_METRES,
    SQUARE_METRES_PER_SQUARE_FOOT,
    WEIGHT_UNIT,
    Units,
    rate_in,
)


def planted_blocks(found: Planting, units: Units, before: Sequence[PlantedLine] = ()) -> list[Block]:
    """The section of what was planted; nothing before the first line. Lines of seasons before are only named."""
    earlier = [Text(words.earlier_seasons(before))] if before else []
    if not found.lines:
        return [Heading("Planted"), Text(words.NOTHING_YET), *earlier] if earlier else []
    return [
        Heading("Planted"),
        *earlier,
        _lines(found.lines, units),
        _used(found, units),
        *_live(found, units),
        *_tags(found, units),
        Text(words.NOTE, small=True),
        Items(tuple(words.evidence_of_line(each, units) for each in found.lines)),
    ]


def _lines(lines: Sequence[PlantedLine], units: Units) -> Grid:
    """Where and at what setting, what was used, how near to target that was, and when; a phone shows the first."""
    header = (
        *("Field", "Box", "Lot", "Setting"),
        *(f"Area {AREA_UNIT[units]}", f"Used {WEIGHT_UNIT[units]}", f"Rate {RATE_UNIT[units]}"),
        *("% of target", "Chance then", "Date", "Line"),
    )
    return Grid(header, tuple(_row(each, units) for each in lines), frozenset({*range(4, 9), 10}))


def _row(line: PlantedLine, units: Units) -> tuple[str, ...]:
    evidence = line.evidence
    ratio, chance = (math.nan, math.nan) if evidence is None else (line.rate / evidence.target, evidence.chance)
    return (
        *(line.field, line.box.name, line.lot, line.setting.text),
        _area(line.area_m2, units),
        _weight(line.used_g, units),
        "" if math.isnan(line.rate) else figures(rate_in(line.rate, units)),
        "" if math.isnan(ratio) else percent(ratio),
        "" if math.isnan(chance) else f"{in_100(chance)} in 100",
        *(line.date, str(line.line)),
    )


def _used(found: Planting, units: Units) -> Grid:
    """Seed used by box and lot, with its carrier, and in all."""
    unit, area = WEIGHT_UNIT[units], AREA_UNIT[units]
    header = ("Box", "In the box", "Lot", f"Area {area}", f"Used {unit}", f"PLS {unit}", "% of target", "Unknown")
    rows: list[tuple[str, ...]] = []
    for filling in found.fillings:
        parts = [each for each in found.contents if each.names[:2] == filling.names]
        rows += [(*each.names, *_amounts(each, units)) for each in parts]
        carrier = [each for each in found.carrier if each.names == filling.names]
        rows += [(*each.names, words.CARRIER, *_amounts(each, units, live=False)) for each in carrier]
        if len(parts) + len(carrier) > 1:
            rows.append((*filling.names, words.IN_ALL, *_amounts(filling, units)))
    rows.append((words.IN_ALL, "", "", *_amounts(found.everything, units)))
    return Grid(header, tuple(rows), frozenset(range(3, 7)), "Seed used")


def _amounts(amount: Amount, units: Units, *, live: bool = True) -> tuple[str, ...]:
    """Area, weight used, live seed and share of the target; what is not known is empty, and said in the last cell."""
    return (
        _area(amount.area_m2, units),
        _weight(amount.used_g, units),
        _weight(amount.pls_g, units) if live else "",
        "" if math.isnan(amount.ratio) else percent(amount.ratio),
        words.unknown_part(amount, units),
    )


def _live(found: Planting, units: Units) -> list[Block]:
    """Live seed by species; lines without a tag are named."""
    square, per = (SQUARE_METRES_PER_SQUARE_FOOT, "ft2") if units == "us" else (1.0, "m2")
    header = ("Species", f"Area {AREA_UNIT[units]}", f"PLS {WEIGHT_UNIT[units]}", f"Live seeds/{per}", "Unknown")
    rows = tuple(
        (
            *each.names,
            _area(each.area_m2, units),
            _weight(each.pls_g, units),
            "" if math.isnan(each.live_per_m2) else figures(each.live_per_m2 * square),
            words.why_unknown(each),
        )
        for each in found.species
    )
    blocks: list[Block] = [Grid(header, rows, frozenset(range(1, 4)), "Live seed planted")] if rows else []
    return [*blocks, *(Text(each) for each in words.unknown_words(found))]


def _tags(found: Planting, units: Units) -> list[Block]:
    """The tags as they were when the lines were written."""
    weight, name = (GRAMS["lb"], "lb") if units == "us" else (1.0, "g")
    header = (
        *("Lot", "Species", "Bag", "Pure %", "Germ. %", "Dormant %", "Hard %", "Live by"),
        *("Tested", f"Seeds a {name}"),
    )
    lots = [lot for each in found.lines if each.evidence for lot in each.evidence.lots]
    rows = dict.fromkeys(
        (
            *(", ".join(filter(None, (lot.lot, tag.treatment(lot)))), lot.species, lot.bag, _share(lot.purity)),
            f"{_share(lot.tz)} TZ" if lot.tz == lot.tz else _share(lot.germination),
            *(_share(lot.dormant), _share(lot.hard), words.rule(lot), lot.test_date),
            "" if math.isnan(lot.seeds_per_g) else f"{lot.seeds_per_g * weight:,.0f}",
        )
        for lot in lots
    )
    if not rows:
        return []
    return [Grid(header, tuple(rows), frozenset({3, 4, 5, 6, 9}), "Tags of what was planted"), *_analysis(lots)]


def _analysis(lots: Sequence[PlantedLot]) -> list[Block]:
    """What else those tags said, where they did."""
    header = (
        *("Lot", "Species", "Variety", "Origin"),
        *("Other crop %", "Weed %", "Inert %", "Coating %", "Noxious seed"),
    )
    rows = dict.fromkeys(
        (lot.lot, lot.species, lot.variety, lot.origin, *tag.percents(lot), lot.noxious) for lot in tag.table(lots)
    )
    return [Grid(header, tuple(rows), frozenset(range(4, 8)), "The rest of those tags")] if rows else []


def _share(fraction: float) -> str:
    return "" if math.isnan(fraction) else f"{100 * fraction:.4g}"


def _area(area_m2: float, units: Units) -> str:
    return figures(area_m2 / SQUARE_METRES[AREA_UNIT[units]])


def _weight(grams: float, units: Units) -> str:
    """A weight; empty where it is not known."""
    return "" if math.isnan(grams) else figures(grams / GRAMS[WEIGHT_UNIT[units]])
