"""Catches as columns: what was weighed, at which setting, and which catches count."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, Self

import numpy as np
import numpy.typing as npt

from predictor.domain.arguments import flags, kind, maybe_label, text_of
from predictor.domain.codes import Coded, Codes, codes_of, keep_codes_of_all, with_same_texts
from predictor.domain.control import Floats, Lever, Sprockets
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.drives import Controls, LeverAndDrive
from predictor.domain.made import as_read, check_columns, rows_of
from predictor.domain.result import Remark, Shown
from predictor.domain.season import season_time
from predictor.errors import InputError, Problem
from predictor.numbers import quoted

if TYPE_CHECKING:
    import pandas as pd

# Columns of `Trials` that are arrays, and what they hold. Texts are objects: in an array of `str` the longest note of a
# log would set the memory that every row takes.
KINDS: dict[str, type] = {
    **dict.fromkeys(("box", "lot", "season", "setting"), object),
    **dict.fromkeys(("opening", "catch_g", "turns", "rows", "distance_m"), float),
    **dict.fromkeys(("charged", "use", "confirmed"), bool),
    **dict.fromkeys(("fill_pct", "target_g", "wanted_g", "tare_g"), float),
    **dict.fromkeys(("date", "drill_name", "operator", "note", "stated", "source"), object),
    "line": int,
}
# Columns that trials may be made without, and what they then hold.
NOT_STATED: dict[str, Any] = {"confirmed": False, "wanted_g": np.nan, "tare_g": np.nan, "stated": "", "source": ""}
# Columns of `Trials` that hold several weights of each catch, or None.
APART = ("rows_g", "parts_g")
# A microgram is less than any seed: such a catch weighed nothing, and nothing has no logarithm.
NOTHING_G = 1e-6
MOST_SETTINGS = 2000  # Of one lot: a lever of 0 to 100 in steps of 0.05 has as many, and a catch takes ten minutes
MOST_CATCHES = 10_000  # Of one lot in one season: at ten minutes each they take 1,600 hours

Texts = npt.NDArray[np.str_]
Flags = npt.NDArray[np.bool_]
# Why a catch does not enter a curve; "" where it does.
Status = Literal["", "unused", "uncharged", "nothing"]


@dataclass(frozen=True, eq=False)
class Trials(Shown):
    """Catches, one a row, as columns of equal length n, in grams, turns and rows.

    Two trials are equal where all their columns are. They cannot be hashed.

    Attributes
    ----------
    box, lot, season, setting : ndarray of str, shape (n,)
        `setting` is the text as the control shows it: a lever reading or a chain position's label.
    opening : ndarray of float, shape (n,)
        The setting on a scale that grows with output (`Lever.opening`, `Sprockets.opening`); NaN where no
        drill tells what a label means.
    catch_g : ndarray of float, shape (n,)
        Net grams over all caught rows, >= 0.
    turns, rows : ndarray of float, shape (n,)
        `turns` counts what the box counts, seconds too; of a towed catch it is as many as cover the distance.
    distance_m : ndarray of float, shape (n,)
        Distance that the drill was towed while the seed was caught; NaN where it stood.
    output : ndarray of float, shape (n,)
        catch_g / (turns x rows): grams per row per turn.
    rows_g : tuple of (tuple of float or None), length n
        Net grams of the single rows, where they were weighed apart.
    parts_g : tuple of (tuple of float or None), length n
        Net grams of the parts, where a catch was weighed in parts of equal turns over all its rows.
    charged, use, confirmed : ndarray of bool, shape (n,)
        Whether the meters were charged first; whether the operator counts the catch; whether someone was asked about
        the row, or looked at it again, and stands by it.
    fill_pct : ndarray of float, shape (n,)
        How full the box was, per cent; NaN where not recorded.
    target_g : ndarray of float, shape (n,)
        Target catch named in the row, grams over that row's turns and rows; NaN where none.
    wanted_g : ndarray of float, shape (n,)
        What a catch on target was to weigh when the row was written, grams over its turns and rows; NaN where not
        recorded. It is never a target: it shows where plan or drill file changed since.
    tare_g : ndarray of float, shape (n,)
        Weight of the empty container that was taken off `catch_g`; NaN where the row states none.
    date, drill_name, operator, note : ndarray of str, shape (n,)
        Empty where not recorded; dates as YYYY-MM-DD.
    stated : ndarray of str, shape (n,)
        What each row states itself, of "turns", "rows", "charged" and "tare", with spaces between; the rest is taken
        from the drill file, or taken as given.
    line : ndarray of int, shape (n,)
        Line of the file, as a spreadsheet numbers it; row of the DataFrame, counted from 1; 0 without either.
    source : ndarray of str, shape (n,)
        The file of each row of joined trials that is not from `file`; else empty.
    file : str
    drill : Drill or None
    assumed : tuple of Remark
        What the reader had to assume; `str(remark)` gives the sentence.
    digest : str
        SHA-256 of the bytes that were read, as 64 hexadecimal digits; "" where the trials are from no file.
    """

    box: Texts
    lot: Texts
    season: Texts
    setting: Texts
    opening: Floats
    catch_g: Floats
    turns: Floats
    rows: Floats
    distance_m: Floats
    rows_g: tuple[tuple[float, ...] | None, ...]
    parts_g: tuple[tuple[float, ...] | None, ...]
    charged: Flags
    use: Flags
    fill_pct: Floats
    target_g: Floats
    date: Texts
    drill_name: Texts
    operator: Texts
    note: Texts
    line: npt.NDArray[np.int_]
    confirmed: Flags = field(default_factory=lambda: np.zeros(0, dtype=bool))
    wanted_g: Floats = field(default_factory=lambda: np.zeros(0))
    tare_g: Floats = field(default_factory=lambda: np.zeros(0))
    stated: Texts = field(default_factory=lambda: np.zeros(0, dtype=str))
    source: Texts = field(default_factory=lambda: np.zeros(0, dtype=str))
    file: str = ""
    drill: Drill | None = None
    assumed: tuple[Remark, ...] = field(default=())
    digest: str = field(default="", compare=False)

    def __post_init__(self) -> None:
        """Nothing is confirmed or stated in trials that were made without these columns."""
        for name, nothing in NOT_STATED.items():
            if not len(getattr(self, name)):
                object.__setattr__(self, name, np.full(len(self.box), nothing, KINDS[name]))
        check_columns(self, KINDS, APART)

    def __len__(self) -> int:
        return len(self.box)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Trials):
            return NotImplemented
        names = [each.name for each in fields(self) if each.compare and each.name not in KINDS]
        return all(getattr(self, name) == getattr(other, name) for name in names) and all(
            np.array_equal(getattr(self, name), getattr(other, name), equal_nan=holds is float)
            for name, holds in KINDS.items()
            if name not in ("stated", "tare_g", "source")  # a frame of trials states all that they hold, and no tare
        )

    __hash__ = None  # type: ignore[assignment]  # how Python is told that there is no hash

    @property
    def output(self) -> Floats:
        """Grams per row per turn, shape (n,)."""
        return self.catch_g / (self.turns * self.rows)

    @property
    def towed(self) -> Flags:
        """Which catches were made while the drill was towed, so that slip is in them; bool, shape (n,)."""
        return np.isfinite(self.distance_m)

    @cached_property
    def status(self) -> Texts:
        """Why each catch does not enter a curve, shape (n,).

        "unused": marked not to be used. "uncharged": the meters were not charged. "nothing": nothing came out. ""
        where it counts.
        """
        states = np.where(self.catch_g > NOTHING_G, "", "nothing")
        return np.where(~self.use, "unused", np.where(~self.charged, "uncharged", states))

    @property
    def counts(self) -> Flags:
        """Which catches may enter a curve: in use, charged, and not of weight nothing; bool, shape (n,)."""
        return np.asarray(self.use & self.charged & (self.catch_g > NOTHING_G))

    @cached_property
    def season_times(self) -> dict[str, float]:
        """When each season was, in years, in the order of time; for sorting."""
        (seasons, season), (days_of, day) = codes_of(self, "season"), codes_of(self, "date")
        first, dated = np.full(len(seasons), len(days_of)), self.date != ""
        np.minimum.at(first, season[dated], day[dated])  # sorted texts of days are in the order of time
        times = {name: season_time(name, days_of[k : k + 1]) for name, k in zip(seasons, first.tolist(), strict=True)}
        return dict(sorted(times.items(), key=lambda pair: (pair[1], pair[0])))

    def where(self, mask: Flags) -> Self:
        """The catches that a mask picks.

        Parameters
        ----------
        mask : ndarray of bool, shape (n,)

        Returns
        -------
        Trials

        Raises
        ------
        InputError
            The mask is not one of True and False for each catch.

        Examples
        --------
        >>> import predictor
        >>> trials = predictor.read_trials("sample_trials/trials.csv")
        >>> trials.where(~trials.charged).catch_g.tolist()
        [27.5]
        """
        mask = flags(mask, "mask", len(self))
        return self if mask.all() else self._rows(np.flatnonzero(mask))

    def _rows(self, index: npt.NDArray[np.int_]) -> Self:
        """The catches in some rows."""
        return rows_of(self, index, KINDS, APART)

    @cached_property
    def _coded(self) -> dict[str, tuple[list[str], Codes]]:
        """What `codes_of` worked out."""
        return {}

    def of(self, *, box: str | None = None, lot: str | None = None, season: str | None = None) -> Self:
        """The catches of a box, a lot, a season, or any of these together.

        Parameters
        ----------
        box, lot, season : str, optional
            Names as the trials write them, capitals too; "" is a season that was not recorded.

        Returns
        -------
        Trials

        Examples
        --------
        >>> import predictor
        >>> trials = predictor.read_trials("sample_trials/trials.csv")
        >>> trials.of(box="small", lot="forb mix").catch_g.tolist()
        [32.4, 25.5]
        """
        box, lot, season = maybe_label(box, "box"), maybe_label(lot, "lot"), maybe_label(season, "season")
        wanted: dict[Coded, str | None] = {"box": box, "lot": lot, "season": season}
        found = np.ones(len(self), dtype=bool)
        for column, name in wanted.items():
            if name is not None:
                names, codes = codes_of(self, column)
                found &= codes == (names.index(name) if name in names else -1)
        return self.where(found)

    def in_box(self, box: SeedBox) -> Self:
        """The catches of a box, each with its opening on that box's control.

        Parameters
        ----------
        box : SeedBox

        Returns
        -------
        Trials

        Raises
        ------
        InputError
            Settings the control does not have.
        """
        kind(box, "box", SeedBox, "a SeedBox")
        mine = self.of(box=box.name)
        if self.drill is not None and box in self.drill.boxes:
            return mine  # read by this very control
        texts, at = codes_of(mine, "setting")
        found = [box.control.find(text) for text in texts]
        missing = np.array([each is None for each in found], dtype=bool)[at]
        if missing.any():
            raise InputError(
                [
                    Problem(
                        f"Box {box.name} has no setting {quoted(text)}.", mine.file or None, line or None, "setting"
                    )
                    for text, line in zip(mine.setting[missing].tolist(), mine.line[missing].tolist(), strict=True)
                ]
            )
        return with_same_texts(mine, "opening", np.array([np.nan if a is None else a.opening for a in found])[at])

    def on_drive(self, control: Controls, drive: str) -> Self:
        """The catches of a box with two controls as if all had been made on one drive.

        A drive twice as fast turns the meters in one turn as often as the other does in two, so the turns of a catch
        are counted as turns of the drive wanted. Catches on a drive whose ratio is not known are left out.

        Parameters
        ----------
        control : Lever, Sprockets or LeverAndDrive
            Of the box; a single control leaves the catches as they are.
        drive : str

        Returns
        -------
        Trials
        """
        if not isinstance(control, LeverAndDrive) or not len(self):
            kind(control, "control", (Lever, Sprockets, LeverAndDrive), "the control of a box")
            text_of(drive, "drive")
            return self
        drives, place = np.unique(self.drives(control), return_inverse=True)
        times = np.array([control.times(each, drive) for each in drives.tolist()])[place]
        known = np.isfinite(times)
        return replace(self.where(known), turns=(self.turns * times)[known])

    def drives(self, control: Controls) -> Texts:
        """The drive that each catch was made on, shape (n,); "" where the box has one control.

        Parameters
        ----------
        control : Lever, Sprockets or LeverAndDrive
            Of the box.

        Returns
        -------
        ndarray of str
        """
        kind(control, "control", (Lever, Sprockets, LeverAndDrive), "the control of a box")
        found = {text: control.find(text) for text in set(self.setting.tolist())}
        return np.array(["" if (each := found[text]) is None else each.drive for text in self.setting.tolist()], str)

    def frame(self) -> "pd.DataFrame":
        """The catches as a pandas DataFrame with the columns above, `output` added.

        The drill's name stands in the column `drill`, as in a trials file, a towed catch has its distance and no turns,
        and weights are net without a tare, so that `as_trials` takes it back.

        Examples
        --------
        >>> import predictor
        >>> trials = predictor.read_trials("sample_trials/trials.csv")
        >>> trials.of(lot="CW-26").frame()["output"].round(3).tolist()
        [0.163, 0.14, 0.145]
        """
        import pandas as pd

        columns = {name: getattr(self, name) for name in KINDS}
        columns["drill"] = columns.pop("drill_name")
        columns.pop("tare_g")
        columns["turns"] = np.where(self.towed, np.nan, self.turns)
        apart = {name: list(getattr(self, name)) for name in APART}
        return pd.DataFrame({**columns, **apart, "output": self.output})


def joined(several: Sequence[Trials]) -> Trials:
    """Several trials as one, in order; drill, file and what was assumed are those of the last."""
    if len(several) == 1:
        return several[0]
    columns: dict[str, Any] = {name: np.concatenate([getattr(each, name) for each in several]) for name in KINDS}
    files = ["" if each.file == several[-1].file else each.file for each in several]
    columns["source"] = np.concatenate(
        [np.where(a.source == "", b, a.source) for a, b in zip(several, files, strict=True)]
    )
    for name in APART:
        columns[name] = tuple(itertools.chain.from_iterable(getattr(each, name) for each in several))
    last = {each.name: getattr(several[-1], each.name) for each in fields(Trials)}
    whole = as_read(Trials, {**last, **columns})  # each was checked before
    keep_codes_of_all(whole, several)
    return whole


def no_trials(drill: Drill | None = None) -> Trials:
    """Trials without a catch, as before the first one."""
    columns: dict[str, Any] = {name: np.array([], dtype=holds) for name, holds in KINDS.items()}
    return Trials(**columns, rows_g=(), parts_g=(), drill=drill)


def last_season(trials: Trials) -> str:
    """Season of the last catch that has one: undated catches go with it; "" where none has."""
    return next((season for season in reversed(trials.season.tolist()) if season), "")
