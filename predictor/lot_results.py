"""Results of a comparison of lots."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from predictor.drill import Control
from predictor.lot_ratios import CommonCurve, OwnCurves
from predictor.lot_spread import Spread
from predictor.ratios import FTest
from predictor.seasons import Seasons

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Lot:
    """One lot against the reference lot.

    Attributes
    ----------
    lot : str
    seasons : tuple of str
    catches : int
    settings : tuple of (float or str)
        Lowest and highest setting it was caught at, as the control shows them, from less seed to more.
    ratio, lower, upper : float or None
        Its output as a multiple of the reference lot's at one setting, with limits; None where nothing can be said,
        and the limits of the reference itself.
    at_setting : float, str or None
        The setting the ratio holds at; None where it holds at every setting.
    setting, setting_lower, setting_upper : float, str or None
        Where to start with this lot for the wanted output, with limits. None off the scale, or not bounded.
    against_average : float or None
        Its output as a multiple of the average lot's, drawn towards 1 as far as its catches are few (BLUP).
    unusual : bool
        Whether it stands apart from the other lots by more than chance among so many lots.
    dead_opening : float or None
        Opening of its own dead setting, where lots do not share one.
    notes : tuple of str
        What weakens the figures of this lot.
    """

    lot: str
    seasons: tuple[str, ...]
    catches: int
    settings: tuple[float | str, float | str]
    ratio: float | None
    lower: float | None
    upper: float | None
    at_setting: float | str | None
    setting: float | str | None
    setting_lower: float | str | None
    setting_upper: float | str | None
    against_average: float | None
    unusual: bool
    dead_opening: float | None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class CurveShape:
    """Whether lots share one curve shape, that is one dead setting.

    Attributes
    ----------
    same : bool or None
        None where it cannot be tested; one shape is then assumed.
    test : FTest or None
    dead_opening, lower, upper : float or None
        The common dead setting, as an opening, with limits; None on a side that is not bounded.
    assumed : bool
        The dead setting was taken from the control, not from the catches.
    reason : str
        Why it cannot be tested; empty where it can.
    """

    same: bool | None
    test: FTest | None
    dead_opening: float | None
    lower: float | None
    upper: float | None
    assumed: bool
    reason: str = ""


@dataclass(frozen=True)
class LeftOut:
    """Catches left out, why, and on which lines of the file.

    Attributes
    ----------
    reason : str
    catches : int
    lines : tuple of int
        Those known.
    """

    reason: str
    catches: int
    lines: tuple[int, ...]


@dataclass(frozen=True)
class LotComparison:
    """What a log knows about the lots of one box.

    Attributes
    ----------
    box : str
    reference : str or None
        The lot the others are compared with; None where no catch counts.
    reference_setting : float, str or None
        The setting the reference lot is used at: its own for the wanted output.
    target_output : float or None
        The output, grams per row per turn, that `Lot.setting` gives.
    target_given : bool
        Whether that output was asked for; else it is the reference lot's at the setting it was caught at most.
    level : float
        Probability of all limits.
    adjustment : str
        How the limits of the ratios are made to hold together: "Dunnett", "Sidak", "Bonferroni", "none" (one ratio)
        or "" (no limits).
    cv, cv_lower, cv_upper : float or None
        Repeatability over all lots.
    df : int
    shape : CurveShape or None
    spread : Spread or None
        Lots as random effects.
    seasons : Seasons or None
    lots : tuple of Lot
        By first season, then by name.
    catches_used : int
    left_out : tuple of LeftOut
    warnings : tuple of str
    curves : Curves or None
        For drawing; no part of `to_dict`.
    """

    box: str
    reference: str | None
    reference_setting: float | str | None
    target_output: float | None
    target_given: bool
    level: float
    adjustment: str
    cv: float | None
    cv_lower: float | None
    cv_upper: float | None
    df: int
    shape: CurveShape | None
    spread: Spread | None
    seasons: Seasons | None
    lots: tuple[Lot, ...]
    catches_used: int
    left_out: tuple[LeftOut, ...]
    warnings: tuple[str, ...]
    curves: Curves | None = field(default=None, repr=False, compare=False)

    def lot(self, name: str) -> Lot:
        """The row of a lot.

        Parameters
        ----------
        name : str
            As the trials write it.

        Returns
        -------
        Lot

        Raises
        ------
        KeyError
            No such lot among those compared.
        """
        for row in self.lots:
            if row.lot == name:
                return row
        raise KeyError(f"Box {self.box} has no lot {name!r} with catches that count.")

    def to_dict(self) -> dict[str, Any]:
        """All but the curves, as plain values for JSON; what is not a finite number is None."""
        values = asdict(replace(self, curves=None))
        del values["curves"]
        return _plain(values)

    def frame(self) -> pd.DataFrame:
        """The lots as a pandas DataFrame, one row a lot, indexed by `lot`."""
        import pandas as pd

        names = list(Lot.__dataclass_fields__)
        return pd.DataFrame([[getattr(row, name) for name in names] for row in self.lots], columns=names).set_index(
            "lot"
        )


@dataclass(frozen=True)
class Curves:
    """Catches and fitted curves behind a comparison, for drawing.

    Attributes
    ----------
    opening, output : ndarray of float, shape (n,)
    lot : ndarray of int, shape (n,)
        Index into `names`.
    names : tuple of str
    common : CommonCurve
    own : OwnCurves or None
        Given where lots do not share one shape.
    control : Lever, Sprockets or None
    """

    opening: np.ndarray
    output: np.ndarray
    lot: np.ndarray
    names: tuple[str, ...]
    common: CommonCurve
    own: OwnCurves | None
    control: Control | None

    def mean(self, lot: int, opening: np.ndarray) -> np.ndarray:
        """Fitted output of a lot at openings; NaN at and below its dead setting.

        Parameters
        ----------
        lot : int
            Index into `names`.
        opening : array_like
            Any shape.

        Returns
        -------
        ndarray, shape of `opening`
            Grams per row per turn.
        """
        if self.own is not None and not math.isnan(self.own.shape.bend[lot]):
            level, middle, bend = (
                self.own.shape.lines.level[lot],
                self.own.shape.middle[lot],
                self.own.shape.bend[lot],
            )
        else:
            level, middle, bend = self.common.level[lot], self.common.middle, self.common.bend
        rise = 1 + bend * (np.asarray(opening, dtype=float) - middle)
        return np.where(rise > 0, np.exp(level) * rise, np.nan)


def _plain(value: Any) -> Any:
    """Nested plain values; numbers that are not finite become None."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_plain(each) for each in value]
    if isinstance(value, np.generic):
        value = value.item()
    return None if isinstance(value, float) and not math.isfinite(value) else value
