"""Reads trials.csv, or a DataFrame of the same columns: every cell is checked and turned into columns of `Trials`."""

from __future__ import annotations

import contextlib
import gc
import itertools
import os
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from predictor.domain.control import read_setting
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.domain.trials import KINDS, Trials
from predictor.errors import InputError, Problem
from predictor.files.cells import EMPTY, MOST_PROBLEMS, Table, first_problems, near, one_line, yes_no
from predictor.files.table import frame_table, read_table
from predictor.numbers import quoted
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
# Numbers that can be read in one way only, whatever else the file holds; their digits fit a double.
_PLAIN = r"[0-9]{1,15}(?:\.[0-9]{1,15})?"
_PLAIN_NUMBERS = re.compile(rf"(?:{_PLAIN}\n)*")
_PLAIN_ROWS = re.compile(rf"(?:(?:{_PLAIN}(?:;{_PLAIN})*)?\n)*")
_SIGNS = re.compile(r"[\W_]+")
# A tonne in one catch is a slip of the unit, whatever the drill.
LARGEST_CATCH_G = 1e6
LARGEST_TURNS = 1e5
LARGEST_ROWS = 500
# The single rows were weighed apart: sum and whole differ by rounding and by a few seeds, not by more.
ROWS_AGREE = 0.02

# Without the drill's own file nothing else is known; common practice.
_DEFAULTS = CatchDefaults()


def read_trials(path: str | os.PathLike[str], drill: Drill | None = None) -> Trials:
    """Read a trials file.

    Parameters
    ----------
    path : str or path
        CSV with the columns `box, lot, setting` and `catch_g` (or `_oz`, `_lb`, `_kg`), and optionally
        `turns, rows, date, season, drill, rows_g, tare_g, target_g, charged, fill_pct, use, operator, note`.
        "-" is standard input. With a tare, `catch_g` is the weight with the container.
    drill : Drill, optional
        Gives the defaults for turns and rows, and checks boxes and settings. Without one a setting that is a
        number is its own opening, and a label has none (NaN).

    Returns
    -------
    Trials

    Raises
    ------
    InputError
        All problems of the file, each with line, column, what was found and what to do.

    Examples
    --------
    >>> import predictor
    >>> trials = predictor.read_trials("sample_trials/trials.csv")
    >>> len(trials), int(trials.counts.sum())
    (42, 37)
    """
    problems: list[Problem] = []
    with _no_collection():
        table = read_table(path, known=COLUMNS, required=REQUIRED, words=WORDS, problems=problems)
        return _trials_of(table, drill, problems)


@contextlib.contextmanager
def _no_collection() -> Iterator[None]:
    """Pause the garbage collector: it would walk all rows again and again, half the time of a large file."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def as_trials(data: Any, drill: Drill | None = None) -> Trials:
    """Trials as they are, or a DataFrame with the columns of a trials file read by the same checks.

    Parameters
    ----------
    data : Trials or DataFrame
        Settings as numbers or text; `use` and `charged` as booleans or yes and no; None, NaN and "" are
        empty.
    drill : Drill, optional
        As for `read_trials`.

    Returns
    -------
    Trials
        With `file` "" and the rows of a DataFrame counted from 1 in `line`.

    Raises
    ------
    InputError
        All problems of the frame; its rows are counted from 1.
    TypeError
        Something that has no columns.

    Examples
    --------
    >>> import predictor
    >>> import pandas as pd
    >>> frame = pd.DataFrame({"box": "small", "lot": "A", "setting": [30, 38], "catch_g": [48.0, 61.0]})
    >>> predictor.as_trials(frame.assign(turns=28, rows=3)).output.round(3).tolist()
    [0.571, 0.726]
    """
    if isinstance(data, Trials):
        return data
    if not hasattr(data, "columns"):
        raise TypeError(f"Trials are a Trials or a DataFrame; got {type(data).__name__}.")
    problems: list[Problem] = []
    table = frame_table(data, known=COLUMNS, required=REQUIRED, problems=problems)
    return _trials_of(table, drill, problems)


def _trials_of(table: Table, drill: Drill | None, problems: list[Problem]) -> Trials:
    """Check every row and turn the table into columns; raise all problems together."""
    columns = read_columns(table, drill, problems)
    if problems:
        raise InputError(sorted(problems, key=lambda problem: problem.line or 0))
    trials = Trials(**columns, file=table.file, drill=drill, digest=table.digest)
    return replace(trials, assumed=(*table.assumed, *_other_drills(trials), *_lots_alike(trials)))


def _other_drills(trials: Trials) -> list[str]:
    """A sentence for catches that name another drill than the one whose controls they are read by."""
    own = "" if trials.drill is None else trials.drill.name
    others = [name for name in dict.fromkeys(trials.drill_name.tolist()) if name and name.lower() != own.lower()]
    if not own or not others:
        return []
    count = int(np.isin(trials.drill_name, others).sum())
    return [
        f"{count} {'catch names' if count == 1 else 'catches name'} the drill {', '.join(map(quoted, others[:5]))} and "
        f"{'was' if count == 1 else 'were'} read as made with {quoted(own)}. Keep a file for each drill."
    ]


def _lots_alike(trials: Trials) -> list[str]:
    """A sentence for lots of a box whose names differ in capitals, blanks or signs only."""
    names: dict[tuple[str, str], dict[str, None]] = {}
    for box, lot in dict.fromkeys(zip(trials.box.tolist(), trials.lot.tolist(), strict=True)):
        names.setdefault((box, _SIGNS.sub("", lot.lower()) or lot), {})[lot] = None
    return [
        f"Box {box}: {' and '.join(map(quoted, lots))} were taken as different lots. If they are one, "
        "write the name in one way."
        for (box, _), lots in names.items()
        if len(lots) > 1
    ]


def read_columns(table: Table, drill: Drill | None, problems: list[Problem]) -> dict[str, Any]:
    """Check every cell of a table and turn it into the columns of `Trials`."""
    columns = _Reader(table, drill, problems).columns()
    if problems:
        first_problems(problems, table.file)
        return {}
    return {
        name: tuple(columns[name]) if kind is None else np.asarray(columns[name], dtype=kind)
        for name, kind in KINDS.items()
    }


class _Reader:
    """Turns the columns of a table into those of trials; each different text of a column is read once."""

    def __init__(self, table: Table, drill: Drill | None, problems: list[Problem]):
        self.table, self.drill, self.problems = table, drill, problems
        self.defaults = _DEFAULTS if drill is None else drill.catch
        self.weights: dict[str, tuple[str, float] | None] = {}
        for name in _WEIGHTS:
            there = [unit for unit in _WEIGHT_UNITS if f"{name}_{unit}" in table.columns]
            self.weights[name] = (f"{name}_{there[0]}", GRAMS[there[0]]) if there else None
            if len(there) > 1 and name != "catch":  # of the catch the header check has said so
                both = " and ".join(f"{name}_{unit}" for unit in there)
                problems.append(Problem(f"{both} say the same thing. Keep one of them.", table.file))

    def columns(self) -> dict[str, Any]:
        """The columns by name, in the order in which problems of one row are to be told."""
        box, boxes = self.boxes()
        lot = self.texts("lot")
        setting, opening = self.settings(box, boxes)
        turns = self.numbers(
            "turns", default=self.defaults.turns, above=0, high=LARGEST_TURNS, what="a number of turns"
        )
        rows = self.row_counts()
        fill = self.numbers("fill_pct", low=0, high=150, what="a filling in per cent")
        date = self.each("date", self.table.date, "")
        season = self.texts("season")
        season = [named or day[:4] for named, day in zip(season, date, strict=True)]
        charged, use = (self.each(name, yes_no, True) for name in ("charged", "use"))
        drill, operator = self.texts("drill"), self.texts("operator")
        net = self.net_grams()
        return {
            "box": box,
            "lot": lot,
            "season": season,
            "setting": setting,
            "opening": opening,
            "catch_g": net,
            "turns": turns,
            "rows": rows,
            "rows_g": self.single_rows(rows, net),
            "charged": charged,
            "use": use,
            "fill_pct": fill,
            "target_g": self.grams("target", "a target weight", above=0),
            "date": date,
            "drill_name": drill,
            "operator": operator,
            "note": self.texts("note"),
            "line": self.table.lines,
        }

    # -- whole columns ----------------------------------------------------------------------------------------------

    def wrong(self, column: str | None, messages: Iterable[tuple[int, str]]) -> None:
        """Note problems with rows of a column, given as the row's index and a sentence; no more than anyone reads."""
        for i, message in itertools.islice(messages, MOST_PROBLEMS + 1):
            self.problems.append(Problem(message, self.table.file, self.table.lines[i], column))

    def each(self, column: str, read: Callable[[str], Any], empty: Any) -> list[Any]:
        """Every cell of a column as `read` has it, `empty` where there is nothing or the cell is wrong."""
        texts = self.table.cells.get(column)
        if texts is None:
            return [empty] * len(self.table)
        return self.each_of(texts, read, column, {"": empty}, empty)

    def each_of(self, keys: list, read: Callable[[Any], Any], column: str, known: dict, empty: Any) -> list[Any]:
        """What `read` makes of each key; `known` says what is known without reading, and takes what was read."""
        different = dict.fromkeys(keys)
        wrong = {"": EMPTY} if "" in different and column in self.table.required else {}
        for key in different:
            if key in known:
                continue
            if len(wrong) > MOST_PROBLEMS:  # nobody reads more, and every message takes its time
                known[key] = empty
                continue
            try:
                known[key] = read(key)
            except ValueError as error:
                known[key], wrong[key] = empty, str(error)
        if wrong:
            self.wrong(column, ((i, wrong[key]) for i, key in enumerate(keys) if key in wrong))
        return list(map(known.__getitem__, keys))

    def texts(self, column: str) -> list[str]:
        """Texts of a column, line breaks as spaces."""
        return self.each(column, one_line, "")

    def numbers(
        self,
        column: str,
        *,
        default: float = np.nan,
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
        what: str,
    ) -> np.ndarray:
        """Numbers of a column, shape (n,); `default` where a cell is empty, NaN where it is wrong."""
        texts = self.table.cells.get(column)
        if texts is None:
            return np.full(len(self.table), default)
        if self.readable_at_once(texts, _PLAIN_NUMBERS):
            # nothing in them that could be read in two ways: all at once
            values = np.array(texts, dtype=float)
            beyond = (
                (low is not None and (values < low).any())
                or (high is not None and (values > high).any())
                or (above is not None and (values <= above).any())
            )
            if not beyond:
                return values

        def read(text: str) -> float:
            return self.table.number(text, column, low=low, high=high, above=above, what=what)

        return np.array(self.each_of(texts, read, column, {"": default}, np.nan), dtype=float)

    def readable_at_once(self, texts: list[str], pattern: re.Pattern[str]) -> bool:
        """Whether the pattern holds for every text, and no sign in them can be read in two ways."""
        if self.table.decimal != "." or self.table.undecided:
            return False
        lines = "\n".join([*texts, ""])
        return lines.count("\n") == len(texts) and pattern.fullmatch(lines) is not None

    # -- what the columns hold --------------------------------------------------------------------------------------

    def boxes(self) -> tuple[list[str], dict[str, SeedBox | None]]:
        """Names of the boxes, and the drill's box of each name."""
        if self.drill is None:
            return self.texts("box"), {}
        by_name = {box.name.lower(): box for box in self.drill.boxes}
        found: dict[str, SeedBox | None] = {"": None}

        def read(text: str) -> str:
            name = one_line(text)
            box = by_name.get(name.lower())
            if box is None:
                names = [each.name for each in self.drill.boxes]
                meant = near(name, names)
                hint = f"Did you mean {meant}?" if meant else f"Its boxes are {', '.join(names)}."
                raise ValueError(f"The drill has no box {quoted(name)}. {hint}")
            found[box.name] = box
            return box.name

        return self.each("box", read, ""), found

    def settings(self, names: list[str], boxes: dict[str, SeedBox | None]) -> tuple[list[str], np.ndarray]:
        """Settings as the control shows them, and their openings."""
        texts = self.texts("setting")

        def read(key: tuple[str, str]) -> tuple[str, float]:
            name, text = key
            box = boxes.get(name)
            if not text or (box is None and self.drill is not None):
                return text, np.nan  # empty, or of an unknown box: said already
            found = read_setting(text, None if box is None else box.control, name, decimal=self.table.decimal)
            return found.text, found.opening

        pairs = self.each_of(list(zip(names, texts, strict=True)), read, "setting", {}, ("", np.nan))
        return [shown for shown, _ in pairs], np.array([opening for _, opening in pairs], dtype=float)

    def row_counts(self) -> np.ndarray:
        """How many rows were caught."""
        rows = self.numbers("rows", default=self.defaults.rows, above=0, high=LARGEST_ROWS, what="a number of rows")
        most = LARGEST_ROWS if self.drill is None else self.drill.rows
        none = np.flatnonzero((rows != np.floor(rows)) & ~np.isnan(rows) | (rows > most))
        drills = f" of the drill's {self.drill.rows}" if self.drill is not None else ""
        self.wrong(
            "rows", ((i, f"{rows[i]:g} rows cannot be caught. Write how many rows{drills} were caught.") for i in none)
        )
        return rows

    def grams(self, weight: str, what: str, above: float | None = None) -> np.ndarray:
        """A weight in grams; NaN where the file has no such column or the cell is empty or wrong."""
        column = self.weights[weight]
        if column is None:
            return np.full(len(self.table), np.nan)
        name, factor = column
        values = self.numbers(name, low=0 if above is None else None, above=above, what=what)
        grams = values * factor
        heavy = np.flatnonzero(grams > LARGEST_CATCH_G)
        unit = name.rpartition("_")[2]
        words = "is more than a tonne. Check the unit in the header."
        self.wrong(name, ((i, f"{values[i]:g} {unit} {words}") for i in heavy))
        grams[heavy] = np.nan
        return grams

    def net_grams(self) -> np.ndarray:
        """Net weights of the catches."""
        catch, tare = self.grams("catch", "a weight"), np.nan_to_num(self.grams("tare", "a weight"))
        net = catch - tare
        below = np.flatnonzero(net < 0)
        if len(below):
            self.wrong(
                self.weights["tare"][0],
                ((i, f"The tare ({tare[i]:g} g) is more than the catch ({catch[i]:g} g). Check both.") for i in below),
            )
        return net

    def single_rows(self, rows: np.ndarray, net: np.ndarray) -> list[tuple[float, ...] | None]:
        """Weights of the single rows, checked against their number and their sum."""
        column = self.weights["rows"]
        if column is None:
            return [None] * len(self.table)
        name, factor = column
        texts = self.texts(name)
        plain = factor == 1 and self.readable_at_once(texts, _PLAIN_ROWS)
        found: list[tuple[float, ...] | None] = []
        wrong: list[tuple[int, str]] = []
        for i, (text, count, weight) in enumerate(zip(texts, rows.tolist(), net.tolist(), strict=True)):
            if not text or len(wrong) > MOST_PROBLEMS:
                found.append(None)
                continue
            if plain:
                grams = tuple(map(float, text.split(";")))
                if len(grams) == count and abs(sum(grams) - weight) <= ROWS_AGREE * weight:
                    found.append(grams)
                    continue
            try:
                found.append(self.weights_of_rows(text, name, factor, count, weight))
            except ValueError as error:
                found.append(None)
                wrong.append((i, str(error)))
        self.wrong(name, wrong)
        return found

    def weights_of_rows(self, text: str, name: str, factor: float, rows: float, net: float) -> tuple[float, ...]:
        """The single rows of one catch; a ValueError with a sentence where they cannot be."""
        parts = text.replace(";", " ").replace("+", " ").replace("/", " ").split()
        values = [self.table.number(part, name, low=0, what="the weight of one row") for part in parts]
        grams = tuple([value * factor for value in values])
        total = sum(grams)
        if rows == rows and len(grams) != rows:
            raise ValueError(
                f"There are {len(grams)} weights for {rows:g} rows. Write one a row, as 61.2;59.8;60.4, "
                "or how many rows were caught in the column rows."
            )
        if net == net and abs(total - net) > ROWS_AGREE * max(net, total):
            # half a step of the scale for each weight; the most exact one shows how it was read
            decimals = max((len(part.partition(self.table.decimal)[2]) for part in parts), default=0)
            step = max(factor * 10.0**-decimals, self.defaults.scale_resolution_g)
            if abs(total - net) > ROWS_AGREE * max(net, total) + step * (len(parts) + 1) / 2:
                raise ValueError(
                    f"The single rows add up to {total:.5g} g and the catch is {net:.5g} g. Check both "
                    "(rows are written net of the tare)."
                )
        return grams
