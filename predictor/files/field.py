"""Reads field.csv: what was sown on how much ground, or how many seeds were counted in how much row."""

import os

import numpy as np

from predictor.domain.checks import FieldCheck, FieldChecks, Part
from predictor.domain.control import Floats
from predictor.domain.drill import Drill
from predictor.files.columns import Columns, Measure, box_of
from predictor.files.settings import read_setting
from predictor.files.table import Header, Table, read_table
from predictor.format import count
from predictor.numbers import Range
from predictor.units import GRAMS, METRES, SQUARE_METRES

# The limits are larger than any field check; beyond them the unit was wrong. Common practice.
_FEET = {"ft": METRES["ft"], "m": 1.0}
_AREAS = Measure.of("area", SQUARE_METRES, 2e7)
_DISTANCES = Measure.of("distance", _FEET, 1e6)
_USED = Measure.of("seed_used", {"lb": GRAMS["lb"], "kg": GRAMS["kg"]}, 5e7)
_ROW_LENGTHS = Measure.of("row_length", _FEET, 1e5)
HEADER = Header(
    words=frozenset({"date", "box", "lot", "setting", "note"}),
    numbers=frozenset({"seeds_counted", *_AREAS, *_DISTANCES, *_USED, *_ROW_LENGTHS}),
    required=(("date",), ("box",), ("lot",), ("setting",)),
)


def read_field(path: str | os.PathLike[str], drill: Drill) -> FieldChecks:
    """Read a file of field checks."""
    table = read_table(path, HEADER)
    checks = _Reader(table, drill).checks()
    table.problems.check()
    return FieldChecks(tuple(checks), table.problems.file, table.assumed, table.digest)


class _Reader(Columns):
    """Turns the columns of a table into field checks."""

    def __init__(self, table: Table, drill: Drill):
        super().__init__(table)
        self.drill = drill
        for group in (_USED, _ROW_LENGTHS):
            self.only(group)

    def checks(self) -> list[FieldCheck]:
        """The checks of all rows without a problem."""
        date, parts = self.dates("date"), self.parts()
        area, distance = self.measures(_AREAS, "an area"), self.measures(_DISTANCES, "a distance")
        used, length = self.measures(_USED, "a weight"), self.measures(_ROW_LENGTHS, "a length of row")
        seeds = self.numbers("seeds_counted", "a number of seeds", Range(0, 1e6))
        self.whole_pairs(area, distance, used, length, seeds)
        widths = [max((self.drill.width_of(part.box) for part in each), default=np.nan) for each in parts]
        area = np.where(np.isnan(area), distance * np.array(widths, dtype=float), area)
        note = self.texts("note")
        columns = (date, parts, area.tolist(), used.tolist(), seeds.tolist(), length.tolist(), note, self.table.lines)
        return [FieldCheck(*row) for i, row in enumerate(zip(*columns, strict=True)) if i not in self.wrong_rows]

    def whole_pairs(self, area: Floats, distance: Floats, used: Floats, length: Floats, seeds: Floats) -> None:
        """Note the rows that do not fill exactly one pair: area and seed used, or seeds counted and row length."""
        filled = ((~np.isnan(values)).tolist() for values in (area, distance, used, seeds, length))
        for i, (in_area, in_distance, weighed, counted, in_row) in enumerate(zip(*filled, strict=True)):
            if i in self.wrong_rows:
                continue
            if counted and seeds[i] != int(seeds[i]):
                self.wrong(i, "seeds_counted", f"{seeds[i]:g} seeds cannot be counted. Write a whole number.")
            if in_area and in_distance:
                self.wrong(i, None, "Area and distance say the same thing. Keep one of them.")
            if not (in_area or in_distance) == weighed != counted == in_row:
                self.wrong(
                    i,
                    None,
                    "A check needs either an area (or a distance) and the seed used, or the seeds counted and the "
                    "length of row. Fill both cells of one pair, and leave the other pair empty.",
                )

    def parts(self) -> list[tuple[Part, ...]]:
        """The boxes of each row, each with its lot and setting; empty where something is wrong."""
        own = {box.name.lower() for box in self.drill.boxes}
        columns = [self.texts(name) for name in ("box", "lot", "setting")]
        found: list[tuple[Part, ...]] = []
        for i, texts in enumerate(zip(*columns, strict=True)):
            # a box's own name may contain a plus sign
            split = [[text] if texts[0].lower() in own else text.split("+") for text in texts]
            found.append(self.parts_of(i, [[piece.strip() for piece in each] for each in split]) if all(texts) else ())
        return found

    def parts_of(self, i: int, columns: list[list[str]]) -> tuple[Part, ...]:
        """The boxes of one row."""
        names, lots, settings = columns
        if not len(names) == len(lots) == len(settings):
            counts = (
                f"{count(len(names), 'box', 'boxes')}, {count(len(lots), 'lot')} and {count(len(settings), 'setting')}"
            )
            self.wrong(i, "box", f"There are {counts} here. Write as many of each, joined by +, in the same order.")
            return ()
        parts: list[Part] = []
        for name, lot, setting in zip(names, lots, settings, strict=True):
            column = "box"
            try:
                box = box_of(self.drill, name)
                column = "setting"
                if not lot:
                    self.wrong(i, "lot", "A lot has no name. Write one for each box, joined by +.")
                found = read_setting(setting, box.control, box.name, decimal=self.table.signs.decimal)
                parts.append(Part(box, lot, found))
            except ValueError as error:
                self.wrong(i, column, str(error))
        if len({part.box.name for part in parts}) < len(parts):
            self.wrong(i, "box", "A box appears twice in this row. Write each once.")
        return tuple(parts)
