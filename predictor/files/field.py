"""Reads field.csv: what was sown on how much ground, or how many seeds were counted in how much row."""

import os

import numpy as np

from predictor.domain.checks import FieldCheck, FieldChecks, Part
from predictor.domain.control import Floats
from predictor.domain.drill import Drill
from predictor.files.columns import Columns, Measure, box_of
from predictor.files.possible import check_checks
from predictor.files.settings import read_setting
from predictor.files.table import Header, Table, read_table
from predictor.format import count
from predictor.numbers import Range
from predictor.units import GRAMS, METRES, SQUARE_METRES

_FEET = {"ft": METRES["ft"], "m": 1.0}
_WEIGHTS = {"lb": GRAMS["lb"], "kg": GRAMS["kg"]}


def _measured(name: str, units: dict[str, float], most: float) -> dict[str, Measure]:
    """Columns of a quantity from 0 on: what a 0 in them means is said in words of its own."""
    return {f"{name}_{unit}": Measure(factor, Range(0, most / factor)) for unit, factor in units.items()}


# The limits are larger than any field check; beyond them the unit was wrong. Common practice.
AREAS = _measured("area", SQUARE_METRES, 2e7)
DISTANCES = _measured("distance", _FEET, 1e6)
USED = _measured("seed_used", _WEIGHTS, 5e7)
LOADED = _measured("seed_loaded", _WEIGHTS, 5e7)
LEFT = _measured("seed_left", _WEIGHTS, 5e7)
ROW_LENGTHS = _measured("row_length", _FEET, 1e5)
MOST_SEEDS = 1e6
HEADER = Header(
    words=frozenset({"date", "field", "box", "lot", "setting", "use", "operator", "note", "entry"}),
    numbers=frozenset({"seeds_counted", *AREAS, *DISTANCES, *USED, *LOADED, *LEFT, *ROW_LENGTHS}),
    required=(("date",), ("box",), ("lot",), ("setting",)),
)
OTHERWISE = "Correct it, or write no in the column use."
NOTHING = {
    "area": "An area of 0 gives no rate. Write the area that was sown.",
    "distance": "A distance of 0 gives no rate. Write the distance that was drilled.",
    "seed_used": f"No seed was used, so there is no rate. Was the box in drive, with its gate open? {OTHERWISE}",
    "seed_loaded": f"No seed was loaded. Write what was in the box at the start, with all refills. {OTHERWISE}",
    "row_length": "A row of length 0 holds no seed. Write the length of row in which the seeds were counted.",
}
PAIRS = (
    "A check needs an area (or a distance) and the seed used, or the seeds counted and the length of row. Fill one of "
    "these pairs and leave the other empty. The seed loaded and the seed left also give the seed used."
)


def read_field(path: str | os.PathLike[str], drill: Drill) -> FieldChecks:
    """Read a file of field checks."""
    return field_of(read_table(path, HEADER), drill)


def field_of(table: Table, drill: Drill) -> FieldChecks:
    """The field checks that a table holds."""
    checks = _Reader(table, drill).checks()
    used, taken_back = ([each for each in checks if each.use is use] for use in (True, False))
    check_checks(used, table.problems)
    table.problems.check()
    return FieldChecks(tuple(used), table.problems.file, table.assumed, table.digest, tuple(taken_back))


class _Reader(Columns):
    """Turns the columns of a table into field checks."""

    def __init__(self, table: Table, drill: Drill):
        super().__init__(table)
        self.drill = drill
        for group in (USED, LOADED, LEFT, ROW_LENGTHS):
            self.only(group)
        self.use = self.flags("use", True)

    def checks(self) -> list[FieldCheck]:
        """The checks of all rows without a problem."""
        date, parts = self.dates("date"), self.parts()
        area, distance = self.amounts("area", AREAS, "an area"), self.amounts("distance", DISTANCES, "a distance")
        used, loaded = self.amounts("seed_used", USED, "a weight"), self.amounts("seed_loaded", LOADED, "a weight")
        left, length = self.measures(LEFT, "a weight"), self.amounts("row_length", ROW_LENGTHS, "a length of row")
        seeds = self.numbers("seeds_counted", "a number of seeds", Range(0, MOST_SEEDS))
        self.whole_pairs(area, distance, np.where(np.isnan(used), loaded - left, used), length, seeds)
        used = self.all_used(used, loaded, left)
        widths = [max((self.drill.width_of(part.box) for part in each), default=np.nan) for each in parts]
        area = np.where(np.isnan(area), distance * np.array(widths, dtype=float), area)
        texts = [self.texts(name) for name in ("field", "operator")]
        numbers = [each.tolist() for each in (area, used, seeds, length)]
        weights = [each.tolist() for each in (loaded, left)]
        columns = (date, parts, *numbers, self.texts("note"), self.table.lines, *weights, *texts, self.use.tolist())
        return [FieldCheck(*row) for i, row in enumerate(zip(*columns, strict=True)) if i not in self.wrong_rows]

    def amounts(self, name: str, units: dict[str, Measure], what: str) -> Floats:
        """A quantity that must be above 0 in a check in use."""
        values = self.measures(units, what)
        for i in np.flatnonzero(values == 0).tolist():
            if self.use[i]:
                column = next(each for each in units if self.cell(i, each))
                self.wrong(i, column, NOTHING[name])
        return values

    def all_used(self, used: Floats, loaded: Floats, left: Floats) -> Floats:
        """The seed used, weighed in one or as what was loaded less what was left."""
        for i, (weighed, start, end) in enumerate(zip(*np.isfinite([used, loaded, left]).tolist(), strict=True)):
            if i in self.wrong_rows or not self.use[i]:
                continue
            if weighed and (start or end):
                self.wrong(
                    i, None, "The seed used is here twice: in one weight, and as seed loaded and left. Keep one."
                )
            elif start and end and left[i] >= loaded[i]:
                self.wrong(i, self.column_of(i, LEFT), self.too_much_left(i, left[i] == loaded[i]))
        return np.where(np.isnan(used), loaded - left, used)

    def too_much_left(self, i: int, equal: bool) -> str:
        """What a weight left over that is no smaller than the weight loaded means."""
        before, after = self.column_of(i, LOADED), self.column_of(i, LEFT)
        loaded, left = (f"{self.cell(i, name)} {name.rpartition('_')[2]}" for name in (before, after))
        if equal:
            return f"{left} was left of {loaded}, so no seed was used. Weigh what is left in the box. {OTHERWISE}"
        return (
            f"{left} is more than the {loaded} that was loaded. Were the two weights swapped, or is a refill missing? "
            f"{OTHERWISE}"
        )

    def column_of(self, i: int, units: dict[str, Measure]) -> str:
        """Which column of a quantity a row fills."""
        return next((each for each in units if self.cell(i, each)), next(iter(units)))

    def whole_pairs(self, area: Floats, distance: Floats, used: Floats, length: Floats, seeds: Floats) -> None:
        """Note the rows that do not fill exactly one pair: area and seed used, or seeds counted and row length."""
        filled = ((~np.isnan(values)).tolist() for values in (area, distance, used, seeds, length))
        for i, (in_area, in_distance, weighed, counted, in_row) in enumerate(zip(*filled, strict=True)):
            if i in self.wrong_rows or not self.use[i]:
                continue
            if counted and seeds[i] != int(seeds[i]):
                self.wrong(i, "seeds_counted", f"{seeds[i]:g} seeds cannot be counted. Write a whole number.")
            if in_area and in_distance:
                self.wrong(i, None, "Area and distance say the same thing. Keep one of them.")
            if not (in_area or in_distance) == weighed != counted == in_row:
                self.wrong(i, None, self.half_weighed(i) or PAIRS)

    def half_weighed(self, i: int) -> str:
        """What is missing where one weight of seed loaded and left is filled in; "" where both or none are."""
        loaded, left = (any(self.cell(i, each) for each in units) for units in (LOADED, LEFT))
        if loaded == left:
            return ""
        if loaded:
            return "The seed left is missing. Weigh what is left in the box. Write 0 only if the box is empty."
        return "The seed loaded is missing. Write what was in the box at the start, with all refills."

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
            # among several settings in one cell, a point is the decimal sign too: the program writes them so
            decimal = "." if len(names) > 1 and "," not in setting else self.table.signs.decimal
            column = "box"
            try:
                box = box_of(self.drill, name)
                column = "setting"
                if not lot:
                    self.wrong(i, "lot", "A lot has no name. Write one for each box, joined by +.")
                found = read_setting(setting, box.control, box.name, decimal=decimal)
                parts.append(Part(box, lot, found))
            except ValueError as error:
                self.wrong(i, column, str(error))
        if len({part.box.name for part in parts}) < len(parts):
            self.wrong(i, "box", "A box appears twice in this row. Write each once.")
        return tuple(parts)
