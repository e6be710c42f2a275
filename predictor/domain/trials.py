"""Catches as columns: what was weighed, at which setting, and which catches count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from predictor.domain.control import Setting
from predictor.domain.drill import Drill, SeedBox
from predictor.errors import InputError, Problem
from predictor.numbers import quoted

if TYPE_CHECKING:
    import pandas as pd


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
# A microgram is less than any seed: such a catch weighed nothing, and nothing has no logarithm.
NOTHING_G = 1e-6


@dataclass(frozen=True)
class Trials:
    """Catches, one a row, as columns of equal length n. Grams, turns and rows throughout.

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
        Line of the file, as a spreadsheet numbers it; row of the DataFrame, counted from 1; 0 without either.
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
        """Which catches may enter a curve: in use, charged, and not of weight nothing; bool, shape (n,)."""
        return self.use & self.charged & (self.catch_g > NOTHING_G)

    def where(self, mask: np.ndarray) -> Trials:
        """The catches that a mask picks.

        Parameters
        ----------
        mask : ndarray of bool, shape (n,)

        Returns
        -------
        Trials
        """
        if mask.all():
            return self
        index = np.flatnonzero(mask)
        columns = {
            f.name: getattr(self, f.name)[index] for f in fields(self) if isinstance(getattr(self, f.name), np.ndarray)
        }
        return replace(self, rows_g=tuple(self.rows_g[i] for i in index), **columns)

    def of(self, *, box: str | None = None, lot: str | None = None, season: str | None = None) -> Trials:
        """The catches of a box, a lot, a season, or any of these together.

        Parameters
        ----------
        box, lot, season : str, optional
            Names as the trials write them; "" is a season that was not recorded.

        Returns
        -------
        Trials
        """
        mask = np.ones(len(self), dtype=bool)
        for name, wanted in (("box", box), ("lot", lot), ("season", season)):
            if wanted is not None:
                mask &= getattr(self, name) == str(wanted)
        return self.where(mask)

    def in_box(self, box: SeedBox) -> Trials:
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
        mine = self.of(box=box.name)
        if self.drill is not None and box in self.drill.boxes:
            return mine  # read by this very control
        texts = mine.setting.tolist()
        found = {text: box.control.find(text) for text in set(texts)}
        problems = [
            Problem(f"Box {box.name} has no setting {quoted(text)}.", mine.file or None, int(line) or None, "setting")
            for text, line in zip(texts, mine.line, strict=True)
            if found[text] is None
        ]
        if problems:
            raise InputError(problems)
        openings = {text: each.opening for text, each in found.items() if each is not None}
        return replace(mine, opening=np.array([openings[text] for text in texts], dtype=float))

    def frame(self) -> pd.DataFrame:
        """The catches as a pandas DataFrame with the columns above, `output` added.

        The drill's name stands in the column `drill`, as in a trials file, so that `as_trials` takes it back.
        """
        import pandas as pd

        columns = {f.name: getattr(self, f.name) for f in fields(self) if isinstance(getattr(self, f.name), np.ndarray)}
        columns["drill"] = columns.pop("drill_name")
        return pd.DataFrame({**columns, "rows_g": list(self.rows_g), "output": self.output})


def without_copies(earlier: Trials, trials: Trials) -> Trials:
    """The catches of an earlier log that do not stand in `trials` as well; repeats inside one log are kept."""

    def keys(each: Trials) -> list[tuple]:
        names = ("box", "lot", "season", "setting", "catch_g", "turns", "rows", "date")
        return list(zip(*(getattr(each, name).tolist() for name in names), strict=True))

    there = set(keys(trials))
    return earlier.where(np.array([key not in there for key in keys(earlier)], dtype=bool))


def joined(parts: Sequence[Trials]) -> Trials:
    """Several trials as one, in order; drill, file and what was assumed are those of the last."""
    if len(parts) == 1:
        return parts[0]
    columns = {
        f.name: np.concatenate([getattr(part, f.name) for part in parts])
        for f in fields(Trials)
        if isinstance(getattr(parts[0], f.name), np.ndarray)
    }
    return replace(parts[-1], rows_g=sum((part.rows_g for part in parts), ()), **columns)


def no_trials(drill: Drill | None = None) -> Trials:
    """Trials without a catch, as before the first one."""
    columns = {f.name: np.array([], dtype=kind) for f in fields(Trials) if (kind := KINDS.get(f.name)) is not None}
    return Trials(**columns, rows_g=(), drill=drill)


def last_season(trials: Trials) -> str:
    """Season of the last catch that has one: undated catches go with it; "" where none has."""
    return next((season for season in reversed(trials.season.tolist()) if season), "")


def one_catch(
    drill: Drill | None,
    box: SeedBox,
    *,
    lot: str,
    season: str,
    setting: Setting,
    catch_g: float,
    turns: float,
    rows: float,
) -> Trials:
    """Trials with one catch, as if it had been made and weighed."""
    values = {
        "box": box.name,
        "lot": lot,
        "season": season,
        "setting": setting.text,
        "opening": setting.opening,
        "catch_g": catch_g,
        "turns": turns,
        "rows": rows,
        "charged": True,
        "use": True,
        "fill_pct": np.nan,
        "target_g": np.nan,
        "line": 0,
        **dict.fromkeys(("date", "drill_name", "operator", "note"), ""),
    }
    columns = {name: np.array([values[name]], dtype=kind) for name, kind in KINDS.items() if kind is not None}
    return Trials(**columns, rows_g=(None,), drill=drill)
