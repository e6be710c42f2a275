"""What was planted, as blocks of the season's record: from the lines and the evidence that each keeps, nothing else."""

from __future__ import annotations

import math
from collections.abc import Sequence

from predictor.domain.planted import PlantedLine
from predictor.format import figures, percent
from predictor.job.planting import Amount, Planting
from predictor.pages.blocks import Block, Grid, Heading, Text
from predictor.text import planted as words
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
    """Where, at which setting and how near to target was planted; lines of seasons before are only named."""
    said = [words.earlier_seasons(before)] if before else []
    if not found.lines:
        return [Heading("Planted"), *(Text(each) for each in (words.NOTHING_YET, *said))]
    return [Heading("Planted"), _lines(found.lines, units), *(Text(each, small=True) for each in (*said, words.NOTE))]


def used_blocks(found: Planting, units: Units) -> list[Block]:
    """Seed used by box and lot, and live seed by species; nothing before the first line."""
    if not found.lines:
        return []
    return [Heading("Seed used and live seed"), _used(found, units), *_live(found, units)]


def _lines(lines: Sequence[PlantedLine], units: Units) -> Grid:
    """Where and at what setting, how near to target that was, and what was used; a phone shows the first."""
    header = (
        *("Field", "Box", "Lot", "Setting", "% of target", "Date"),
        *(f"Area {AREA_UNIT[units]}", f"Used {WEIGHT_UNIT[units]}", f"Rate {RATE_UNIT[units]}", "Line"),
    )
    rows = tuple(_row(each, units) for each in lines)
    return Grid(header, rows, frozenset({4, 6, 7, 8, 9}), "Planted, field by field", named=True)


def _row(line: PlantedLine, units: Units) -> tuple[str, ...]:
    ratio = math.nan if line.evidence is None else line.rate / line.evidence.target
    return (
        *(line.field or words.NO_FIELD, line.box.name, line.lot, line.setting.text),
        "" if math.isnan(ratio) else percent(ratio),
        line.date,
        _area(line.area_m2, units),
        _weight(line.used_g, units),
        "" if math.isnan(line.rate) else figures(rate_in(line.rate, units)),
        str(line.line),
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
    return _without_empty(Grid(header, tuple(rows), frozenset(range(3, 7)), "Seed used", named=True))


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
    grid = Grid(header, rows, frozenset(range(1, 4)), "Live seed planted", named=True)
    return [*([_without_empty(grid)] if rows else []), *(Text(each) for each in words.unknown_words(found))]


def _without_empty(grid: Grid) -> Grid:
    """A table without its last column where that has nothing to say."""
    if any(row[-1] for row in grid.rows):
        return grid
    return Grid(grid.header[:-1], tuple(row[:-1] for row in grid.rows), grid.numeric, grid.caption, named=grid.named)


def _area(area_m2: float, units: Units) -> str:
    return figures(area_m2 / SQUARE_METRES[AREA_UNIT[units]])


def _weight(grams: float, units: Units) -> str:
    """A weight; empty where it is not known."""
    return "" if math.isnan(grams) else figures(grams / GRAMS[WEIGHT_UNIT[units]])
