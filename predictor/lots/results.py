"""Results of a comparison of lots."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from predictor.domain.control import Control
from predictor.lots.against import CommonCurve, OwnCurves
from predictor.lots.ratios import FTest
from predictor.lots.seasons import Seasons
from predictor.lots.spread import Spread

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Lot:
    """One lot against the reference lot."""

    lot: str
    seasons: tuple[str, ...]
    catches: int
    settings: tuple[float | str, float | str]
    ratio: float | None
    lower: float | None
    upper: float | None
    at_setting: float | str | None  # The setting the ratio holds at; None where it holds at every setting
    setting: float | str | None
    setting_lower: float | str | None
    setting_upper: float | str | None
    against_average: float | None
    unusual: bool  # Whether it stands apart from the other lots by more than chance among so many lots
    dead_opening: float | None  # Opening of its own dead setting, where lots do not share one
    notes: tuple[str, ...] = ()  # What weakens the figures of this lot


@dataclass(frozen=True)
class CurveShape:
    """Whether lots share one curve shape, that is one dead setting."""

    same: bool | None  # None where it cannot be tested; one shape is then assumed
    test: FTest | None
    dead_opening: float | None
    lower: float | None
    upper: float | None
    assumed: bool  # The dead setting was taken from the control, not from the catches
    reason: str = ""  # Why it cannot be tested; empty where it can


@dataclass(frozen=True)
class LeftOut:
    """Catches left out, why, and on which lines of the file."""

    reason: str
    catches: int
    lines: tuple[int, ...]  # Those known


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
    """Catches and fitted curves behind a comparison, for drawing."""

    opening: np.ndarray
    output: np.ndarray
    lot: np.ndarray  # Index into `names`
    names: tuple[str, ...]
    common: CommonCurve
    own: OwnCurves | None  # Given where lots do not share one shape
    control: Control | None

    def mean(self, lot: int, opening: np.ndarray) -> np.ndarray:
        """Fitted output of a lot at openings; NaN at and below its dead setting."""
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
