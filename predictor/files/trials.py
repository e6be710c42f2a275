"""Reads trials.csv, or a DataFrame of the same columns: every cell is checked and turned into columns of `Trials`."""

import itertools
import os
import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from predictor.domain.arguments import kind, path_of, refuse
from predictor.domain.codes import CODED, keep_codes, with_same_texts
from predictor.domain.control import Floats
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.domain.made import as_read
from predictor.domain.result import Remark
from predictor.domain.trials import APART, KINDS, Flags, Trials
from predictor.errors import MOST_PROBLEMS, Problems, WrongKind
from predictor.files.assumed import other_drills, similar_lots
from predictor.files.cells import Cells, indexed, uncollected
from predictor.files.columns import Columns, Measure
from predictor.files.possible import check_catches, check_settings
from predictor.files.settings import read_setting
from predictor.files.table import Header, Table, frame_table, read_table
from predictor.files.text import one_line
from predictor.files.usual import check_usual
from predictor.format import count, plain
from predictor.numbers import Range
from predictor.units import GRAMS, METRES

if TYPE_CHECKING:
    import pandas as pd

# Units a weight may be written in, after the name of its column.
_WEIGHT_UNITS = ("g", "oz", "lb", "kg")
_WEIGHTS = {
    name: tuple(f"{name}_{unit}" for unit in _WEIGHT_UNITS)
    for name in ("catch", "tare", "target", "wanted", "rows", "parts")
}
# No catch is towed further than this: the unit was wrong. Common practice.
DISTANCES = Measure.of("distance", {"ft": METRES["ft"], "m": 1.0}, 5e3)
# Columns that nothing reads and that seem to say how long a catch was, with the number in a cell of them.
_OTHER_LENGTHS = re.compile(
    r"(?:dist|distance|towed|length|feet|foot|yards?|yd|met(?:er|re)s?|rev|revs|revolutions?|seconds?|secs?"
    r"|(?:wheel|crank|motor)_turns)(?:_(?:towed|ft|feet|yd|yards?|m|met(?:er|re)s?|in|cm|km|mi|s))?"
).fullmatch
_A_NUMBER = re.compile(r"\s*\.?[0-9]").match
NOT_READ = (
    "The program does not read this column, so the catch would count with the usual length of the drill file. Write "
    "the distance of a towed catch in distance_ft or distance_m, and turns or seconds in turns."
)
NO_DRILL = "A towed catch needs the drill: its file says how the rows are spaced. Keep drill.toml beside the trials."
HEADER = Header(
    words=frozenset(
        {"box", "lot", "setting", "date", "season", "drill", "charged", "use", "confirmed", "operator", "note", "entry"}
    ),
    numbers=frozenset({"turns", "rows", "fill_pct", *DISTANCES}.union(*_WEIGHTS.values())),
    required=(("box",), ("lot",), ("setting",), _WEIGHTS["catch"]),
    made=frozenset({"opening", "output", "line", "stated"}),  # of `Trials.frame`
)
# What a row may state itself, and the columns it does so in.
STATED = {"turns": ("turns", *DISTANCES), "rows": ("rows",), "charged": ("charged",), "tare": _WEIGHTS["tare"]}
# No drill drops a tonne in one catch: the unit is wrong.
LARGEST_CATCH_G = 1e6
TURNS = Range(0, 1e5, above=True)
LARGEST_ROWS = 500
# Single rows and parts were weighed apart: sum and whole differ by rounding and by a few seeds, not by more.
SUMS_AGREE = 0.02
# A part is of equal turns, and one alone is the whole catch.
FEWEST_PARTS = 2

# What `numbers` gives for an empty cell of a column whose values are above 0.
EMPTY = 0.0

# Used where there is no drill file; common practice.
_DEFAULTS = CatchDefaults()


def read_trials(path: str | os.PathLike[str], drill: Drill | None = None) -> Trials:
    """Read a trials file.

    Parameters
    ----------
    path : str or path
        CSV with the columns `box, lot, setting` and `catch_g` (or `_oz`, `_lb`, `_kg`), and optionally
        `turns` (or `distance_ft`, `distance_m` of a towed catch), `rows, date, season, drill, rows_g, parts_g, tare_g,
        target_g, wanted_g, charged, fill_pct, use, confirmed, operator, note, entry`.
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
    path_of(path, "path")
    kind(drill, "drill", (Drill, type(None)), "a Drill, as `read_drill` gives, or None")
    with uncollected():
        return trials_of(read_table(path, HEADER), drill)


def as_trials(data: "Trials | pd.DataFrame", drill: Drill | None = None) -> Trials:
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
        All problems of the frame; its rows are counted from 1. Or catches that do not say their turns or rows were read
        as of another number than the drill makes. Something that has no columns is a TypeError too.

    Examples
    --------
    >>> import predictor
    >>> import pandas as pd
    >>> frame = pd.DataFrame({"box": "small", "lot": "A", "setting": [30, 38], "catch_g": [48.0, 61.0]})
    >>> predictor.as_trials(frame.assign(turns=28, rows=3)).output.round(3).tolist()
    [0.571, 0.726]
    """
    kind(drill, "drill", (Drill, type(None)), "a Drill, as `read_drill` gives, or None")
    if isinstance(data, Trials):
        check_usual(data, drill)
        return data
    if not hasattr(data, "columns") or not hasattr(data, "iloc"):
        refuse("trials", "a Trials, as `read_trials` gives, or a DataFrame", data, WrongKind)
    return trials_of(frame_table(data, HEADER), drill)


def trials_of(table: Table, drill: Drill | None) -> Trials:
    """Check every cell of a table and turn it into trials; raise all problems together."""
    columns = _Reader(table, drill).columns()
    table.problems.check()
    values: dict[str, Any] = {name: np.asarray(columns[name], dtype=kind) for name, kind in KINDS.items()}
    values |= {name: tuple(columns[name]) for name in APART}
    about = {"file": table.problems.file, "drill": drill, "assumed": (), "digest": table.digest}
    trials = as_read(Trials, {**values, **about})
    for name in CODED:
        keep_codes(trials, name, columns[name].different, columns[name].which)
    return checked(trials, table.assumed)


def checked(trials: Trials, assumed: Sequence[Remark]) -> Trials:
    """Trials with what had to be assumed; raises an InputError where no person can have made all the catches."""
    problems = Problems(trials.file)
    check_settings(trials, problems)
    check_catches(trials, problems)
    problems.check()
    return with_same_texts(trials, "assumed", (*assumed, *other_drills(trials), *similar_lots(trials)))


class _Reader(Columns):
    """Turns the columns of a table into those of trials."""

    def __init__(self, table: Table, drill: Drill | None):
        super().__init__(table)
        self.drill = drill
        self.defaults = _DEFAULTS if drill is None else drill.catch
        # the header check has reported it if there are several columns for the catch
        catch = next((name for name in _WEIGHTS["catch"] if name in table.columns), None)
        self.weights = {name: self.only(names) if name != "catch" else catch for name, names in _WEIGHTS.items()}

    def columns(self) -> dict[str, Any]:
        """The columns by name."""
        box = self.boxes(self.drill)
        rows, (net, tare), date = self.row_counts(box), self.net_and_tare(), self.dates("date")
        setting, opening = self.settings(box)
        return {
            **{name: self.texts(name) for name in ("lot", "operator", "note")},
            **{name: self.flags(name, True) for name in ("charged", "use")},
            "confirmed": self.flags("confirmed", False),
            "stated": self.stated(),
            "box": box,
            "season": self.seasons(date),
            "setting": setting,
            "opening": opening,
            "catch_g": net,
            **self.sizes(box),
            "rows": rows,
            "rows_g": self.weighed_apart("rows", net, rows),
            "parts_g": self.weighed_apart("parts", net),
            "fill_pct": self.numbers("fill_pct", "a filling in per cent", Range(0, 150)),
            "target_g": self.grams("target", "a target weight", Range(0, above=True)),
            "wanted_g": self.grams("wanted", "a weight", Range(0, above=True)),
            "tare_g": tare,
            "date": date,
            "drill_name": self.texts("drill"),
            "line": self.table.lines,
            "source": Cells([""], np.zeros(len(self), dtype=np.intc)),
        }

    def seasons(self, date: Cells) -> Cells:
        """The season of each row, which is the year of its date where no other is named."""
        pairs, which = self.texts("season").beside(date)
        return Cells.of_codes([named or day[:4] for named, day in pairs], which)

    def stated(self) -> Cells:
        """What each row states itself, of turns, rows, charging and tare."""
        which = np.zeros(len(self), dtype=np.intc)
        for k, columns in enumerate(STATED.values()):
            which += np.any([self.filled(column) for column in columns], axis=0).astype(np.intc) << k
        chosen = range(2 ** len(STATED))
        return Cells([" ".join(name for k, name in enumerate(STATED) if each >> k & 1) for each in chosen], which)

    def filled(self, column: str) -> Flags:
        """Which rows fill a column."""
        cells = self.table.cells.get(column)
        if cells is None:
            return np.zeros(len(self), dtype=bool)
        return np.array(list(map(bool, cells.different)), dtype=bool)[cells.which]

    def settings(self, names: Cells) -> tuple[Cells, Floats]:
        """Settings as the control shows them, and their openings."""
        controls = {} if self.drill is None else {box.name: box.control for box in self.drill.boxes}

        def read(key: tuple[str, str]) -> tuple[str, float]:
            name, text = key
            if not text or (name not in controls and self.drill is not None):
                return text, np.nan  # empty, or of an unknown box: that problem is noted already
            found = read_setting(text, controls.get(name), name, decimal=self.table.signs.decimal)
            return found.text, found.opening

        pairs, which = names.beside(self.texts("setting"))
        found = self.values_of(pairs, which, read, "setting", {}, ("", np.nan))
        openings = np.array([opening for _, opening in found], dtype=float)
        return Cells.of_codes([shown for shown, _ in found], which), openings[which]

    def of_box(self, names: Cells, value: Callable[[SeedBox], float], otherwise: float) -> Floats:
        """A value of each row's box; `otherwise` where there is no drill, or no such box in it."""
        boxes = () if self.drill is None else self.drill.boxes
        known = {box.name: value(box) for box in boxes}
        return np.array([known.get(name, otherwise) for name in names.different], dtype=float)[names.which]

    def sizes(self, names: Cells) -> dict[str, Floats]:
        """How long each catch was, in turns or seconds, and the distance of one that was towed."""
        drill, turns = self.drill, self.numbers("turns", "a number of turns", TURNS, EMPTY)
        usual = np.full(len(self), self.defaults.turns)
        if drill is not None:
            usual = self.of_box(names, lambda box: drill.catch_of(box).turns, drill.catch.turns)
        distance = self.measures(DISTANCES, "a distance")
        towed, column = np.isfinite(distance), next((name for name in DISTANCES if name in self.table.columns), "")
        both = "A catch that was towed has a distance, and one of the standing drill has turns. Empty one of the cells."
        self.all_wrong(np.flatnonzero(towed & (turns != EMPTY)), column, lambda _: both)
        self.no_other_length(np.flatnonzero(~towed & (turns == EMPTY)).tolist())
        turns = np.where(turns == EMPTY, usual, turns)
        if drill is None:
            self.all_wrong(np.flatnonzero(towed), column, lambda _: NO_DRILL)
        elif towed.any():
            turns = np.where(towed, distance / self.of_box(names, drill.covers_of, np.nan), turns)
        return {"turns": turns, "distance_m": distance}

    def no_other_length(self, rows: list[int]) -> None:
        """Note rows without turns and distance that have a length in a column of another name: it must not be lost."""
        for name in filter(_OTHER_LENGTHS, self.table.own):
            cells = self.table.cells[name]
            self.all_wrong((i for i in rows if _A_NUMBER(cells[i])), name, lambda _: NOT_READ)

    def row_counts(self, names: Cells) -> Floats:
        """How many rows were caught."""
        drill = self.drill
        rows = self.numbers("rows", "a number of rows", Range(0, LARGEST_ROWS, above=True), EMPTY)
        most = np.full(len(self), float(LARGEST_ROWS))
        usual = np.full(len(self), float(self.defaults.rows))
        if drill is not None:
            most = self.of_box(names, drill.rows_of, drill.rows)
            usual = np.minimum(usual, most)
        rows = np.where(rows == EMPTY, usual, rows)
        wrong = np.flatnonzero((rows != np.floor(rows)) & ~np.isnan(rows) | (rows > most))

        def message(i: int) -> str:
            of_them = "rows" if drill is None else f"of the drill's {drill.rows} rows"
            if drill is not None and most[i] < drill.rows:
                of_them = f"of the {most[i]:g} rows that box {names[i]} feeds"
            return f"{rows[i]:g} rows cannot be caught. Write how many {of_them} were caught."

        self.all_wrong(wrong, "rows", message)
        return rows

    def grams(self, weight: str, what: str, allowed: Range) -> Floats:
        """A weight in grams; NaN where the file has no such column or the cell is empty or wrong."""
        column = self.weights[weight]
        if column is None:
            return np.full(len(self), np.nan)
        values, unit = self.numbers(column, what, allowed), column.rpartition("_")[2]
        grams = values * GRAMS[unit]
        heavy = np.flatnonzero(grams > LARGEST_CATCH_G)
        words = "is more than a tonne. Check the unit in the header."
        self.all_wrong(heavy, column, lambda i: f"{plain(values[i])} {unit} {words}")
        grams[heavy] = np.nan
        return grams

    def net_and_tare(self) -> tuple[Floats, Floats]:
        """Net weights of the catches, and the containers taken off; NaN where none is stated."""
        catch, tare = (self.grams(name, "a weight", Range(0)) for name in ("catch", "tare"))
        net: Floats = catch - np.nan_to_num(tare)
        words = "The tare ({:g} g) is more than the catch ({:g} g). Check both."
        self.all_wrong(np.flatnonzero(net < 0), self.weights["tare"] or "", lambda i: words.format(tare[i], catch[i]))
        return net, tare

    def weighed_apart(self, what: str, net: Floats, rows: Floats | None = None) -> list[tuple[float, ...] | None]:
        """Weights of the single rows or of the parts, checked against their number and their sum."""
        column = self.weights[what]
        if column is None:
            return [None] * len(self)
        factor = GRAMS[column.rpartition("_")[2]]
        cells = self.table.cells[column].changed(one_line)
        found: list[tuple[float, ...] | None] = [None] * len(self)
        look_at = np.flatnonzero(self.filled(column)).tolist()
        each = self.plain_weights(cells.different) if factor == 1 else None
        if each is not None:
            found = cells.given(each)
            numbers = np.array([0 if weights is None else len(weights) for weights in each])[cells.which]
            sums = np.array([0.0 if weights is None else sum(weights) for weights in each])[cells.which]
            others = numbers < FEWEST_PARTS if rows is None else (numbers != rows) & (rows == rows)
            look_at = np.flatnonzero((numbers > 0) & (others | (np.abs(sums - net) > SUMS_AGREE * net))).tolist()
        wrong: dict[int, str] = {}
        for i in look_at:
            if len(wrong) > MOST_PROBLEMS:
                break
            try:
                found[i] = self.weights_of(cells[i], column, net[i], None if rows is None else rows[i])
            except ValueError as error:
                wrong[i] = str(error)
        self.all_wrong(wrong, column, wrong.__getitem__)
        return found

    def plain_weights(self, texts: list[str]) -> list[tuple[float, ...] | None] | None:
        """The weights in each text, all at once; None where one of them is written in another way."""
        numbers, which = indexed(itertools.chain.from_iterable(text.split(";") for text in texts if text))
        if not self.at_once(numbers):
            return None
        weights = map(list(map(float, numbers)).__getitem__, which.tolist())
        return [tuple(itertools.islice(weights, text.count(";") + 1)) if text else None for text in texts]

    def weights_of(self, text: str, column: str, net: float, rows: float | None) -> tuple[float, ...]:
        """The rows of one catch, or its parts; raises a ValueError with a sentence where they do not fit the catch."""
        signs, unit = self.table.signs, column.rpartition("_")[2]
        one = "the weight of one part" if rows is None else "the weight of one row"
        texts, factor = text.replace(";", " ").replace("+", " ").replace("/", " ").split(), GRAMS[unit]
        grams = tuple([signs.number(each, one, Range(0), unit) * factor for each in texts])
        if rows is None and len(grams) < FEWEST_PARTS:
            raise ValueError(
                f"This cell has {count(len(grams), 'weight')}. Write one for each part of equal turns, as "
                "7.1;7.3;6.9;7.2, or leave the cell empty."
            )
        if rows is not None and rows == rows and len(grams) != rows:
            raise ValueError(
                f"This cell has {count(len(grams), 'weight')} for {rows:g} rows. Write one for each row, as "
                "61.2;59.8;60.4, or how many rows were caught in the column rows."
            )
        total = sum(grams)
        if net == net and abs(total - net) > SUMS_AGREE * max(net, total):
            # half a step of the scale for each weight; the most exact one shows how it was read
            decimals = max((len(each.partition(signs.decimal)[2]) for each in texts), default=0)
            step = max(factor * 10.0**-decimals, self.defaults.scale_resolution_g)
            if abs(total - net) > SUMS_AGREE * max(net, total) + step * (len(texts) + 1) / 2:
                short, whole = ("parts", "The parts") if rows is None else ("rows", "The single rows")
                raise ValueError(
                    f"{whole} add up to {total:.5g} g and the catch is {net:.5g} g. Check both "
                    f"({short} are written net of the tare)."
                )
        return grams
