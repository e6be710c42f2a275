"""Catches as columns: what was weighed, at which setting, and which catches count."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from predictor.drill import CatchDefaults, Drill, Lever, SeedBox, Sprockets
from predictor.errors import InputError, Problem
from predictor.tables import Cells, Table, frame_table, near, quoted, read_table
from predictor.units import GRAMS

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Trials:
    """Catches, one a row, as columns of equal length n. Grams, turns and rows throughout.

    Attributes
    ----------
    box, lot, season, setting : ndarray of str, shape (n,)
        `setting` is the text as written: a lever reading or a chain position's label.
    opening : ndarray of float, shape (n,)
        The setting on a scale that grows with output (`Lever.opening`, `Sprockets.opening`); NaN where no drill
        tells what a label means.
    catch_g : ndarray of float, shape (n,)
        Net grams over all caught rows, >= 0.
    turns, rows : ndarray of float, shape (n,)
    output : ndarray of float, shape (n,)
        catch_g / (turns x rows): grams per row per turn.
    rows_g : tuple of (tuple of float or None), length n
        Net grams of the single rows, where they were weighed apart.
    charged, use : ndarray of bool, shape (n,)
        Whether the meters were charged first; whether the operator counts the catch.
    fill_pct : ndarray of float, shape (n,)
        How full the box was, per cent; NaN where not recorded.
    target_g : ndarray of float, shape (n,)
        Target catch named in the row, grams over that row's turns and rows; NaN where none.
    date, drill_name, operator, note : ndarray of str, shape (n,)
        Empty where not recorded; dates as YYYY-MM-DD.
    line : ndarray of int, shape (n,)
        Line of the file, as a spreadsheet numbers it; 0 where there is no file.
    file : str
    drill : Drill or None
    assumed : tuple of str
        What the reader had to assume, in sentences.
    """

    box: np.ndarray
    lot: np.ndarray
    season: np.ndarray
    setting: np.ndarray
    opening: np.ndarray
    catch_g: np.ndarray
    turns: np.ndarray
    rows: np.ndarray
    rows_g: tuple[tuple[float, ...] | None, ...]
    charged: np.ndarray
    use: np.ndarray
    fill_pct: np.ndarray
    target_g: np.ndarray
    date: np.ndarray
    drill_name: np.ndarray
    operator: np.ndarray
    note: np.ndarray
    line: np.ndarray
    file: str = ""
    drill: Drill | None = None
    assumed: tuple[str, ...] = field(default=())

    def __len__(self) -> int:
        return len(self.box)

    @property
    def output(self) -> np.ndarray:
        """Grams per row per turn, shape (n,)."""
        return self.catch_g / (self.turns * self.rows)

    @property
    def counts(self) -> np.ndarray:
        """Which catches may enter a curve: in use, charged, and above zero; bool, shape (n,)."""
        return self.use & self.charged & (self.catch_g > 0)

    def where(self, mask: np.ndarray) -> Trials:
        """The catches for which `mask`, bool of shape (n,), is true."""
        index = np.flatnonzero(mask)
        columns = {
            f.name: getattr(self, f.name)[index]
            for f in fields(self)
            if isinstance(getattr(self, f.name), np.ndarray)
        }
        return replace(self, rows_g=tuple(self.rows_g[i] for i in index), **columns)

    def of(self, *, box: str | None = None, lot: str | None = None, season: str | None = None) -> Trials:
        """The catches of a box, a lot, a season, or any of these together."""
        mask = np.ones(len(self), dtype=bool)
        for name, wanted in (("box", box), ("lot", lot), ("season", season)):
            if wanted is not None:
                mask &= getattr(self, name) == wanted
        return self.where(mask)

    def in_box(self, box: SeedBox) -> Trials:
        """The catches of a box, each with its opening on that box's control.

        Raises
        ------
        InputError
            Settings the control does not have.
        """
        mine = self.of(box=box.name)
        opening, problems = np.empty(len(mine)), []
        for i, setting in enumerate(mine.setting.tolist()):
            value = _opening_of(box.control, setting)
            if value is None:
                message = f"Box {box.name} has no setting {quoted(setting)}."
                problems.append(Problem(message, mine.file or None, int(mine.line[i]) or None, "setting"))
            opening[i] = np.nan if value is None else value
        if problems:
            raise InputError(problems)
        return replace(mine, opening=opening)

    def frame(self) -> pd.DataFrame:
        """The catches as a pandas DataFrame with the columns above, `output` added."""
        import pandas as pd

        columns = {
            f.name: getattr(self, f.name)
            for f in fields(self)
            if isinstance(getattr(self, f.name), np.ndarray)
        }
        return pd.DataFrame({**columns, "rows_g": list(self.rows_g), "output": self.output})


def joined(parts: Sequence[Trials]) -> Trials:
    """Several trials as one, in order; drill and file are those of the last."""
    if len(parts) == 1:
        return parts[0]
    columns = {
        f.name: np.concatenate([getattr(part, f.name) for part in parts])
        for f in fields(Trials)
        if isinstance(getattr(parts[0], f.name), np.ndarray)
    }
    return replace(parts[-1], rows_g=sum((part.rows_g for part in parts), ()), **columns)


_WEIGHTS = ("g", "oz", "lb")
REQUIRED: tuple[str | tuple[str, ...], ...] = ("box", "lot", "setting", ("catch_g", "catch_oz", "catch_lb"))
WORDS = frozenset({"box", "lot", "setting", "date", "season", "drill", "charged", "use", "operator", "note"})
COLUMNS = WORDS | {"turns", "rows", "fill_pct"} | {
    f"{name}_{unit}" for name in ("catch", "tare", "target", "rows") for unit in _WEIGHTS
}
# A ton in one catch is a slip of the unit, whatever the drill.
LARGEST_CATCH_G = 1e6
LARGEST_TURNS = 1e5
LARGEST_ROWS = 500
# The single rows were weighed apart: sum and whole may differ by rounding and by a grain, not by more.
ROWS_AGREE = 0.02

# Without the drill's own file nothing else is known; common practice.
_DEFAULTS = CatchDefaults()

_MONTHS = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec"
_DATE_LIKE = re.compile(
    rf"\d{{4}}-\d{{1,2}}-\d{{1,2}}.*|\d{{1,2}}[/.]\d{{1,2}}[/.]\d{{2,4}}|\d{{1,2}}[- ](?:{_MONTHS})[a-z]*.*|(?:{_MONTHS})[a-z]*[- ]\d+",
    re.IGNORECASE,
).fullmatch


def read_trials(path: str | os.PathLike[str], drill: Drill | None = None) -> Trials:
    """Read a trials file.

    Parameters
    ----------
    path : str or path
        CSV with the columns `box, lot, setting` and `catch_g` (or `catch_oz`, `catch_lb`), and optionally `turns, rows,
        date, season, drill, rows_g, tare_g, target_g, charged, fill_pct, use, operator, note`. "-" is standard input.
    drill : Drill, optional
        Gives the defaults for turns and rows, and checks boxes and settings. Without one a setting must be a number.

    Returns
    -------
    Trials

    Raises
    ------
    InputError
        All problems of the file, each with line, column, what was found and what to do.
    """
    problems: list[Problem] = []
    table = read_table(path, known=COLUMNS, required=REQUIRED, words=WORDS, problems=problems)
    return _trials_of(table, drill, problems)


def as_trials(data: Any, drill: Drill | None = None) -> Trials:
    """Trials as they are, or a DataFrame with the columns of a trials file read by the same checks.

    Parameters
    ----------
    data : Trials or DataFrame
    drill : Drill, optional
        As for `read_trials`.

    Returns
    -------
    Trials

    Raises
    ------
    InputError
        All problems of the frame; its rows are counted from 1.
    TypeError
        Something that has no columns.
    """
    if isinstance(data, Trials):
        return data
    if not hasattr(data, "columns"):
        raise TypeError(f"Trials are a Trials or a DataFrame; got {type(data).__name__}.")
    # a frame that `Trials.frame` made has further columns, worked out from these
    problems: list[Problem] = []
    table = frame_table(data, known=COLUMNS, required=REQUIRED, problems=problems)
    return _trials_of(table, drill, problems)


def _trials_of(table: Table, drill: Drill | None, problems: list[Problem]) -> Trials:
    """Check every row and turn the table into columns; raise all problems together."""
    for name in ("tare", "target", "rows"):
        there = [f"{name}_{unit}" for unit in _WEIGHTS if f"{name}_{unit}" in table.columns]
        if len(there) > 1:
            problems.append(Problem(f"{' and '.join(there)} say the same thing. Keep one of them.", table.file))
    weights = {
        name: next(((f"{name}_{u}", GRAMS[u]) for u in _WEIGHTS if f"{name}_{u}" in table.columns), None)
        for name in ("catch", "tare", "target", "rows")
    }
    boxes = {} if drill is None else {box.name.lower(): box for box in drill.boxes}
    records = [_record(Cells(table, row, problems), weights, drill, boxes) for row in table.rows]
    if problems:
        raise InputError(sorted(problems, key=lambda problem: problem.line or 0))
    columns = list(zip(*records, strict=True)) if records else [()] * 18
    names = [f.name for f in fields(Trials)][:18]
    kinds: dict[str, Any] = {
        **dict.fromkeys(("box", "lot", "season", "setting", "date", "drill_name", "operator", "note"), str),
        **dict.fromkeys(("opening", "catch_g", "turns", "rows", "fill_pct", "target_g"), float),
        **dict.fromkeys(("charged", "use"), bool),
        "line": int,
    }
    arrays = {
        name: tuple(values) if name == "rows_g" else np.array(values, dtype=kinds[name])
        for name, values in zip(names, columns, strict=True)
    }
    return Trials(**arrays, file=table.file, drill=drill, assumed=table.assumed)


def _record(cells: Cells, weights: dict, drill: Drill | None, boxes: dict[str, SeedBox]) -> tuple:
    """One catch, in the order of Trials' columns."""
    defaults = _DEFAULTS if drill is None else drill.catch
    name = cells.text("box")
    box = boxes.get(name.lower())
    if drill is not None and name and box is None:
        meant = near(name, [each.name for each in drill.boxes])
        hint = f"Did you mean {meant}?" if meant else f"Its boxes are {', '.join(b.name for b in drill.boxes)}."
        cells.wrong("box", f"The drill has no box {quoted(name)}. {hint}")
    setting, opening = _setting(cells, box, drill)
    turns = cells.number("turns", default=defaults.turns, above=0, high=LARGEST_TURNS, what="a number of turns")
    rows = cells.number("rows", default=defaults.rows, above=0, high=LARGEST_ROWS, what="a number of rows")
    if rows is not None and (rows != int(rows) or (drill is not None and rows > drill.rows)):
        most = f" of the drill's {drill.rows}" if drill is not None else ""
        cells.wrong("rows", f"{rows:g} rows cannot be caught. Write how many rows{most} were caught.")
    catch_g = _grams(cells, weights["catch"], "a weight")
    tare_g = _grams(cells, weights["tare"], "a weight") or 0.0
    net = None if catch_g is None else catch_g - tare_g
    if net is not None and net < 0:
        cells.wrong(weights["tare"][0], f"The tare ({tare_g:g} g) is more than the catch ({catch_g:g} g). Check both.")
    rows_g = _rows_g(cells, weights["rows"], rows, net, tare_g)
    target = _grams(cells, weights["target"], "a target weight")
    fill = cells.number("fill_pct", low=0, high=150, what="a filling in per cent")
    date = cells.date("date")
    return (
        name if box is None else box.name,
        cells.text("lot"),
        cells.text("season") or date[:4],
        setting,
        opening,
        net if net is not None else 0.0,
        turns or 1.0,
        rows or 1.0,
        rows_g,
        cells.yes_no("charged", True),
        cells.yes_no("use", True),
        np.nan if fill is None else fill,
        target or np.nan,
        date,
        cells.text("drill"),
        cells.text("operator"),
        cells.text("note"),
        cells.row.line,
    )


def _grams(cells: Cells, column: tuple[str, float] | None, what: str) -> float | None:
    """A weight in grams, or None where the file has no such column or the cell is empty or wrong."""
    if column is None:
        return None
    name, factor = column
    value = cells.number(name, low=0, what=what)
    if value is not None and value * factor > LARGEST_CATCH_G:
        cells.wrong(name, f"{value:g} is more than a ton. Write it in the unit the header names.")
        return None
    return None if value is None else value * factor


def _rows_g(
    cells: Cells, column: tuple[str, float] | None, rows: float | None, net: float | None, tare_g: float
) -> tuple[float, ...] | None:
    """Weights of the single rows, checked against their number and their sum."""
    text = "" if column is None else cells.text(column[0])
    if not text:
        return None
    name, factor = column
    parts = [part for part in re.split(r"[;+/ ]+", text) if part]
    values = [cells.number_in(part, name, low=0, what="the weight of one row") for part in parts]
    if any(value is None for value in values):
        return None
    grams = tuple(value * factor for value in values)
    if rows is not None and len(grams) != rows:
        cells.wrong(name, f"There are {len(grams)} weights for {rows:g} rows. Write one for each row, as 61.2;59.8;60.4.")
    elif net is not None and abs(sum(grams) - net) > ROWS_AGREE * max(net, sum(grams)) + 0.5:
        cells.wrong(
            name,
            f"The single rows add up to {sum(grams):.5g} g and the catch is {net:.5g} g. Check both "
            "(rows are written net of the tare).",
        )
    return grams


def _setting(cells: Cells, box: SeedBox | None, drill: Drill | None) -> tuple[str, float]:
    """The setting as the control shows it, and its opening."""
    text = cells.text("setting")
    if not text:
        return "", np.nan
    if box is None:
        if drill is not None:  # the box is wrong already; nothing can be said of its settings
            return text, np.nan
        try:
            return text, float(text)
        except ValueError:
            return text, np.nan
    control = box.control
    if _DATE_LIKE(text) and not control.has(_label(control, text) or -np.inf):
        cells.wrong(
            "setting",
            f"{quoted(text)} is a date. Spreadsheets turn a setting such as 3-5 into one: write the setting again, with the "
            "cell's format set to text.",
        )
        return text, np.nan
    if isinstance(control, Sprockets):
        label = _label(control, text)
        if label is None:
            cells.wrong("setting", f"Box {box.name} has no chain position {quoted(text)}. It has {_listed(control.settings)}.")
            return text, np.nan
        return label, control.opening(label)
    value = cells.number("setting", what="a lever reading")
    if value is None:
        return text, np.nan
    if not control.has(value):
        cells.wrong(
            "setting",
            f"{quoted(text)} is off the scale of box {box.name}, which runs from {control.lowest:g} to "
            f"{control.highest:g}. Read the lever again.",
        )
        return text, np.nan
    return control.show(value), control.opening(value)


def _opening_of(control: Lever | Sprockets, setting: str) -> float | None:
    """Opening of a setting written as text; None where the control does not have it."""
    if isinstance(control, Sprockets):
        label = _label(control, setting)
        return None if label is None else control.opening(label)
    try:
        value = float(setting)
    except ValueError:
        return None
    return control.opening(value) if control.has(value) else None


def _label(control: Lever | Sprockets, text: str) -> str | None:
    """The chain position a text names; "1.0" and "01" are position 1 where nothing else is meant by them."""
    if isinstance(control, Lever):
        return None
    if control.has(text):
        return text
    same = [label for label in control.settings if label.lower() == text.lower() or _as_number(label) == _as_number(text)]
    return same[0] if len(same) == 1 else None


def _as_number(text: str) -> float | str:
    return float(text) if re.fullmatch(r"[0-9]+(?:\.[0-9]*)?", text) else text


def _listed(labels: Sequence[str]) -> str:
    return ", ".join(labels[:20]) + (" ..." if len(labels) > 20 else "")
