"""Catches from a table of text: every cell of a trials file checked and turned into columns."""

from __future__ import annotations

from typing import Any

import numpy as np

from predictor.cells import Cells, Table, enough, near
from predictor.drill import CatchDefaults, Drill, SeedBox
from predictor.errors import Problem
from predictor.numbers import quoted
from predictor.settings import read_setting
from predictor.units import GRAMS

# Units a weight may be written in, after the name of its column.
_WEIGHT_UNITS = ("g", "oz", "lb", "kg")
_WEIGHTS = ("catch", "tare", "target", "rows")
REQUIRED: tuple[str | tuple[str, ...], ...] = (
    "box",
    "lot",
    "setting",
    tuple(f"catch_{unit}" for unit in _WEIGHT_UNITS),
)
WORDS = frozenset({"box", "lot", "setting", "date", "season", "drill", "charged", "use", "operator", "note"})
COLUMNS = frozenset(
    {*WORDS, "turns", "rows", "fill_pct", *(f"{name}_{unit}" for name in _WEIGHTS for unit in _WEIGHT_UNITS)}
)
_RECURRING = (WORDS - {"note"}) | {"turns", "rows", "fill_pct"}
# A tonne in one catch is a slip of the unit, whatever the drill.
LARGEST_CATCH_G = 1e6
LARGEST_TURNS = 1e5
LARGEST_ROWS = 500
# The single rows were weighed apart: sum and whole differ by rounding and by a few seeds, not by more.
ROWS_AGREE = 0.02

# Without the drill's own file nothing else is known; common practice.
_DEFAULTS = CatchDefaults()

# Columns of `Trials` and what they hold.
KINDS: dict[str, Any] = {
    **dict.fromkeys(("box", "lot", "season", "setting"), str),
    **dict.fromkeys(("opening", "catch_g", "turns", "rows"), float),
    "rows_g": None,
    **dict.fromkeys(("charged", "use"), bool),
    **dict.fromkeys(("fill_pct", "target_g"), float),
    **dict.fromkeys(("date", "drill_name", "operator", "note"), str),
    "line": int,
}


def read_columns(table: Table, drill: Drill | None, problems: list[Problem]) -> dict[str, Any]:
    """Check every row of a table and turn it into the columns of `Trials`.

    Parameters
    ----------
    table : Table
    drill : Drill or None
        Gives the defaults for turns and rows, and checks boxes and settings.
    problems : list of Problem
        Takes what is wrong; the columns are of use only if it stays empty.

    Returns
    -------
    dict of str to ndarray
        The columns by the names that `Trials` gives them; `rows_g` is a tuple.
    """
    reader = _Reader(table, drill, problems)
    records = []
    for row in table.rows:
        if problems and enough(problems, table.file):
            break
        records.append(reader.record(Cells(table, row, problems)))
    if problems:
        return {}
    columns = zip(*records, strict=True) if records else [()] * len(KINDS)
    return {
        name: tuple(values) if kind is None else np.array(values, dtype=kind)
        for (name, kind), values in zip(KINDS.items(), columns, strict=True)
    }


class _Reader:
    """Turns rows of a table into catches; what recurs from row to row is looked up once."""

    def __init__(self, table: Table, drill: Drill | None, problems: list[Problem]):
        self.drill = drill
        self.defaults = _DEFAULTS if drill is None else drill.catch
        self.boxes = {} if drill is None else {box.name.lower(): box for box in drill.boxes}
        self.decimal = table.decimal
        self.columns = sorted(_RECURRING.intersection(table.columns))
        self.seen: dict[tuple[str | None, ...], tuple] = {}
        self.settings: dict[tuple[str, str], tuple[str, float] | str] = {}
        self.unknown: dict[str, str] = {}
        self.weights: dict[str, tuple[str, float] | None] = {}
        for name in _WEIGHTS:
            there = [unit for unit in _WEIGHT_UNITS if f"{name}_{unit}" in table.columns]
            self.weights[name] = (f"{name}_{there[0]}", GRAMS[there[0]]) if there else None
            if len(there) > 1 and name != "catch":  # of the catch the header check has said so
                both = " and ".join(f"{name}_{unit}" for unit in there)
                problems.append(Problem(f"{both} say the same thing. Keep one of them.", table.file))

    def record(self, cells: Cells) -> tuple:
        """One catch, in the order of `KINDS`."""
        recurring = self.recurring(cells)
        box, lot, season, setting, opening, turns, rows, charged, use, fill, date, drill, operator = recurring
        catch_g = self.grams(cells, "catch", "a weight")
        tare_g = self.grams(cells, "tare", "a weight") or 0.0
        net = None if catch_g is None else catch_g - tare_g
        if net is not None and net < 0:
            message = f"The tare ({tare_g:g} g) is more than the catch ({catch_g:g} g). Check both."
            cells.wrong(self.weights["tare"][0], message)
        rows_g = self.rows_g(cells, rows, net)
        target = self.grams(cells, "target", "a target weight", above=0)
        target = np.nan if target is None else target
        return (
            *(box, lot, season, setting, opening, net, turns, rows, rows_g),
            *(charged, use, fill, target, date, drill, operator, cells.text("note"), cells.row.line),
        )

    def recurring(self, cells: Cells) -> tuple:
        """What rows have in common: everything but weights and note. Rows alike in it are checked once."""
        texts = tuple(map(cells.row.cells.get, self.columns))
        found = self.seen.get(texts)
        if found is not None:
            return found
        problems = len(cells.problems)
        box, name = self.box(cells)
        lot = cells.text("lot")
        setting, opening = self.setting(cells, box)
        turns = cells.number(
            "turns", default=self.defaults.turns, above=0, high=LARGEST_TURNS, what="a number of turns"
        )
        rows = self.rows(cells)
        fill = cells.number("fill_pct", low=0, high=150, what="a filling in per cent")
        date = cells.date("date")
        season = cells.text("season") or date[:4]
        found = (
            *(name, lot, season, setting, opening, turns, rows),
            *(cells.yes_no("charged", True), cells.yes_no("use", True), np.nan if fill is None else fill),
            *(date, cells.text("drill"), cells.text("operator")),
        )
        if len(cells.problems) == problems:  # what is wrong is said of every row anew
            self.seen[texts] = found
        return found

    def box(self, cells: Cells) -> tuple[SeedBox | None, str]:
        """The drill's box of that name, if there is a drill, and the name."""
        name = cells.text("box")
        if self.drill is None or not name:
            return None, name
        box = self.boxes.get(name.lower())
        if box is not None:
            return box, box.name
        if name not in self.unknown:
            names = [each.name for each in self.drill.boxes]
            meant = near(name, names)
            hint = f"Did you mean {meant}?" if meant else f"Its boxes are {', '.join(names)}."
            self.unknown[name] = f"The drill has no box {quoted(name)}. {hint}"
        cells.wrong("box", self.unknown[name])
        return None, name

    def setting(self, cells: Cells, box: SeedBox | None) -> tuple[str, float]:
        """The setting as the control shows it, and its opening."""
        text = cells.text("setting")
        if not text or (box is None and self.drill is not None):
            return text, np.nan  # empty, or of an unknown box: said already
        key = ("" if box is None else box.name, text)
        found = self.settings.get(key)
        if found is None:
            try:
                found = read_setting(text, box, decimal=self.decimal)
            except ValueError as error:
                found = str(error)
            self.settings[key] = found
        if isinstance(found, str):
            cells.wrong("setting", found)
            return text, np.nan
        return found

    def grams(self, cells: Cells, weight: str, what: str, above: float | None = None) -> float | None:
        """A weight in grams, or None where the file has no such column or the cell is empty or wrong."""
        column = self.weights[weight]
        if column is None:
            return None
        name, factor = column
        value = cells.number(name, low=0 if above is None else None, above=above, what=what)
        if value is not None and value * factor > LARGEST_CATCH_G:
            message = f"{value:g} {name.rpartition('_')[2]} is more than a tonne. Check the unit in the header."
            cells.wrong(name, message)
            return None
        return None if value is None else value * factor

    def rows(self, cells: Cells) -> float | None:
        """How many rows were caught."""
        rows = cells.number("rows", default=self.defaults.rows, above=0, high=LARGEST_ROWS, what="a number of rows")
        if rows is not None and (rows != int(rows) or (self.drill is not None and rows > self.drill.rows)):
            most = f" of the drill's {self.drill.rows}" if self.drill is not None else ""
            cells.wrong("rows", f"{rows:g} rows cannot be caught. Write how many rows{most} were caught.")
        return rows

    def rows_g(self, cells: Cells, rows: float | None, net: float | None) -> tuple[float, ...] | None:
        """Weights of the single rows, checked against their number and their sum."""
        column = self.weights["rows"]
        text = "" if column is None else cells.text(column[0])
        if not text:
            return None
        name, factor = column
        parts = text.replace(";", " ").replace("+", " ").replace("/", " ").split()
        values = [cells.number_in(part, name, low=0, what="the weight of one row") for part in parts]
        if any(value is None for value in values):
            return None
        grams = tuple([value * factor for value in values])
        # half a step of the scale for each weight; the most exact one shows how it was read
        decimals = max((len(part.partition(self.decimal)[2]) for part in parts), default=0)
        step = max(factor * 10.0**-decimals, self.defaults.scale_resolution_g)
        total = sum(grams)
        if rows is not None and len(grams) != rows:
            cells.wrong(
                name,
                f"There are {len(grams)} weights for {rows:g} rows. Write one a row, as 61.2;59.8;60.4, "
                "or how many rows were caught in the column rows.",
            )
        elif net is not None and abs(total - net) > ROWS_AGREE * max(net, total) + step * (len(parts) + 1) / 2:
            cells.wrong(
                name,
                f"The single rows add up to {total:.5g} g and the catch is {net:.5g} g. Check both "
                "(rows are written net of the tare).",
            )
        return grams
