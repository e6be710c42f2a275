"""Reads planted.csv: what was planted where, on how much ground, with the evidence as it was on that day."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any

import numpy as np

from predictor.domain.control import Floats, Setting
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.planted import Evidence, Planted, PlantedLine
from predictor.files.columns import Columns, Measure
from predictor.files.evidence import read_evidence
from predictor.files.field import LEFT
from predictor.files.settings import read_setting
from predictor.files.table import Header, Table, read_table
from predictor.format import plain
from predictor.numbers import Range
from predictor.units import GRAMS, RATES, SQUARE_METRES

# The limits are those of field checks: beyond them the unit was wrong. A box may end empty.
AREAS = Measure.of("area", SQUARE_METRES, 2e7)
LOADED = Measure.of("seed_loaded", {"lb": GRAMS["lb"], "kg": GRAMS["kg"]}, 5e7)
# Written for people and not read: rates of the evidence.
RATES_SHOWN = {
    name: {f"{name}_{unit}": Measure(factor, Range(0)) for unit, factor in RATES.items()}
    for name in ("target_rate", "expected_rate")
}
HEADER = Header(
    words=frozenset({"date", "field", "box", "lot", "setting", "use", "operator", "note", "evidence", "entry"}),
    numbers=frozenset({*AREAS, *LOADED, *LEFT}),
    required=(("date",), ("box",), ("lot",), ("setting",), tuple(AREAS)),
    # what a person reads of the evidence: written by the program, which itself reads the column `evidence`
    made=frozenset({"decision", "chance", "catches", "field_factor", "program"}).union(*RATES_SHOWN.values()),
)


def read_planted(path: str | os.PathLike[str], drill: Drill) -> Planted:
    """Read a file of what was planted."""
    table = read_table(path, HEADER)
    lines = planted_of(table, drill)
    return Planted(lines, table.problems.file, table.assumed, table.digest)


def planted_of(table: Table, drill: Drill) -> tuple[PlantedLine, ...]:
    """Check every cell of a table and turn it into lines; raise all problems together."""
    lines = _Reader(table, drill).lines()
    table.problems.check()
    return tuple(lines)


class _Reader(Columns):
    """Turns the columns of a table into lines."""

    def __init__(self, table: Table, drill: Drill):
        super().__init__(table)
        self.drill = drill
        for group in (LOADED, LEFT):
            self.only(group)

    def lines(self) -> list[PlantedLine]:
        """The lines of all rows without a problem."""
        boxes = {box.name: box for box in self.drill.boxes}
        box = [boxes.get(name) for name in self.boxes(self.drill)]
        setting = self.settings(box)
        area, loaded, left = (
            self.measures(units, what) for units, what in ((AREAS, "an area"), (LOADED, "a weight"), (LEFT, "a weight"))
        )
        self.more_left(loaded, left)
        columns: tuple[Sequence[Any], ...] = (
            *(self.dates("date"), self.texts("field"), box, self.texts("lot"), setting),
            *(area.tolist(), loaded.tolist(), left.tolist(), self.texts("operator"), self.texts("note")),
            *(self.flags("use", True).tolist(), self.evidence(box, setting), list(self.table.lines)),
        )
        return [PlantedLine(*row) for i, row in enumerate(zip(*columns, strict=True)) if i not in self.wrong_rows]

    def settings(self, boxes: list[SeedBox | None]) -> list[Setting | None]:
        """The setting of each row; None where it or its box is wrong."""
        texts, decimal = self.texts("setting"), self.table.signs.decimal

        def read(key: tuple[SeedBox | None, str]) -> Setting | None:
            box, text = key
            return read_setting(text, box.control, box.name, decimal=decimal) if box and text else None

        return self.each_of(zip(boxes, texts, strict=True), read, "setting", None)

    def more_left(self, loaded: Floats, left: Floats) -> None:
        """Note the rows in which more was left than was loaded."""
        wrong = np.flatnonzero(left > loaded).tolist()
        column = next((name for name in LEFT if name in self.table.columns), "")
        grams, unit = GRAMS[column.rpartition("_")[2] or "lb"], column.rpartition("_")[2]

        def words(i: int) -> str:
            less, more = (f"{plain(each[i] / grams)} {unit}" for each in (loaded, left))
            return f"{more} is left, which is more than the {less} that was loaded. Check both."

        self.all_wrong(wrong, column, words)

    def evidence(self, boxes: list[SeedBox | None], settings: list[Setting | None]) -> list[Evidence | None]:
        """The evidence of each row; None in a row written by hand."""
        found: list[Evidence | None] = []
        for i, (box, setting) in enumerate(zip(boxes, settings, strict=True)):
            text, lot = self.cell(i, "evidence"), self.cell(i, "lot")
            try:
                # what is wrong in a box, setting or lot is noted already
                found.append(read_evidence(text, setting, box, lot) if text and box and setting and lot else None)
            except ValueError as error:
                self.wrong(i, "evidence", str(error))
                found.append(None)
        return found
