"""The decision card: what to do after the next catch, for a shed without a computer."""

from __future__ import annotations

from collections.abc import Sequence

from predictor.advice.merging import MOST_ROWS
from predictor.advice.ranges import Table
from predictor.domain.drill import Drill
from predictor.job.stage import Stage
from predictor.pages.blocks import PAPERS, Block, Grid, Heading, Items, NewSheet, Page, Paper, Text
from predictor.pages.cards import last_day, old
from predictor.text import cautions, decision
from predictor.text.advice import standing_note

# Points of plain text: with the least, capitals in a table are 2.5 mm high; with the most on a small sheet and on a
# large one, each row is one line.
LEAST_POINTS, MOST_POINTS = 10.8, (10.8, 16.0)
# A sheet less tall is small, millimetres.
LARGE = 250.0
# Millimetres at the head and foot of a sheet, of a row beside its letters; and lines of a table beside its rows.
MARGINS, ROW, HEADS = 18.0, 1.4, 3.3
# Height of a line in a table, and of one of plain text, as a part of the size of plain text; millimetres in a point.
IN_TABLE, PLAIN, MM = 1.13, 1.32, 0.353
# Of three tables on a small sheet each has two rows less than most.
SEVERAL, FEWER = 3, {"half-letter": 2, "a5": 2}


def rows_for(tables: int, paper: Paper) -> int:
    """How many rows a table may have where there are several on one sheet."""
    return MOST_ROWS - (FEWER.get(paper, 0) if tables >= SEVERAL else 0)


def decision_page(
    drill: Drill, tables: Sequence[Table], done: Sequence[Stage], stages: Sequence[Stage], paper: Paper
) -> Page:
    """The decision card: on the front the tables, on the other side how to use it; `done` need no further catch."""
    advices = [each.advice for each in stages]
    day, grids = last_day(advices), [_grid(table, drill) for table in tables]
    said = [*old(stages), *(Text(decision.done(each), strong=True) for each in done)]
    note = decision.note(tables)
    blocks: list[Block] = [*said, *grids, *([Text(note)] if note else []), NewSheet()]
    how = [decision.how_to_use(tables, advices[0].tolerance)] if tables else []
    blocks += [Heading("How to use this card"), Text(" ".join([*how, standing_note(advices)])), Heading("Cautions")]
    blocks += [Items(cautions.CAUTIONS), *([Text(f"Catches to {day}.")] if day else [])]
    points = _points(grids, len(said) + bool(note), paper)
    return Page(f"Next catch: {drill.name}", tuple(blocks), paper, date=day, points=points)


def _grid(table: Table, drill: Drill) -> Grid:
    locks = frozenset(k for k, each in enumerate(table.ranges) if each.decision == "lock")
    if table.ladder:
        return Grid(*decision.ladder(table, drill), caption=decision.title(table, drill), folds=True)
    rows = tuple(decision.row(k, table, drill) for k in range(len(table.ranges)))
    return Grid(decision.HEADER, rows, frozenset({2}), decision.title(table, drill), inverse=locks)


def _points(grids: Sequence[Grid], texts: int, paper: Paper) -> float:
    """The largest letters with which the front fits on one side of a sheet, from the least on."""
    rows = sum(len(each.rows) + 1 for each in grids)
    lines = rows * IN_TABLE + (HEADS * len(grids) + 3 * texts + 2) * PLAIN
    fits = (PAPERS[paper][1] - MARGINS - rows * ROW) / max(lines * MM, 1e-9)
    return round(min(max(fits, LEAST_POINTS), MOST_POINTS[PAPERS[paper][1] >= LARGE]), 1)
