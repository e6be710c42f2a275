"""Straight lines with a level for each lot and a slope that lots may share, by least squares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from predictor.domain.codes import Codes, coded
from predictor.domain.control import Floats


@dataclass(frozen=True, eq=False)
class ParallelLines:
    """Lines of responses z on x with a level for each lot and a slope for each group of lots."""

    level: Floats  # Level of each lot at x = 0
    count: Codes  # Catches of each lot
    centre: Floats  # Mean x of each lot
    slope: Floats  # Slope of each group; NaN where none of its lots was caught at two values of x
    spread: Floats  # Sum of squares of x about the lots' means, by group
    residual: Floats
    ss: float  # Residual sum of squares
    df: int  # Its degrees of freedom: catches - lots - slopes


def sums_of(values: Floats, code: Codes, groups: int = 0) -> Floats:
    """Sum of the values in each group of a code."""
    return np.bincount(code, weights=values, minlength=groups).astype(np.float64, copy=False)


@dataclass(frozen=True, eq=False)
class Alike:
    """Catches of one lot at one opening as one, by lot: what a curve leaves of them differs only by their mean."""

    value: Floats  # Mean, about the mean of the lot
    openings: Floats  # The different openings, sorted
    place: Codes  # Index of each one's opening among them
    lot: Codes
    weight: Floats  # How many catches each stands for
    starts: Codes  # Where each lot begins
    count: Floats  # Catches of each lot

    @classmethod
    def of(cls, value: Floats, openings: Floats, place: Codes, lot: Codes) -> Alike:
        """The means of values at openings, by the place of each one's opening among all."""
        lots = np.bincount(lot).astype(float)
        held, code = coded(lot * len(openings) + place)
        weight = np.bincount(code).astype(float)
        of_lot, of_cell = np.divmod(held, len(openings))
        starts = np.flatnonzero(np.diff(of_lot, prepend=-1))
        centred = value - lot_means(value, lot, lots)[lot]
        return cls(sums_of(centred, code) / weight, openings, of_cell, of_lot, weight, starts, lots)

    def of_lots(self, lots: Codes) -> Alike:
        """Those of some lots, which get numbers of their own."""
        number = np.full(len(self.count), -1)
        number[lots] = np.arange(len(lots))
        keep = number[self.lot] >= 0
        of_lot = number[self.lot[keep]]
        starts = np.flatnonzero(np.diff(of_lot, prepend=-1))
        kept = (self.value[keep], self.openings, self.place[keep], of_lot, self.weight[keep])
        return Alike(*kept, starts, self.count[lots])

    def sums(self, values: Floats) -> Floats:
        """Sum over the catches of each lot of what is given for each lot and opening."""
        return np.asarray(np.add.reduceat(self.weight * values, self.starts))

    def centred(self, values: Floats) -> Floats:
        """What is given for each lot and opening, less its mean over the catches of the lot."""
        return np.asarray(values - (self.sums(values) / self.count)[self.lot])


def lot_means(values: Floats, lot: Codes, count: Codes | Floats) -> Floats:
    """Mean of the values in each lot, with one correction step for large offsets."""
    mean = sums_of(values, lot, len(count)) / count
    return mean + sums_of(values - mean[lot], lot, len(count)) / count


def parallel_lines(z: npt.ArrayLike, x: npt.ArrayLike, lot: npt.ArrayLike, group: npt.ArrayLike) -> ParallelLines:
    """Fit a level per lot and a slope per group of lots.

    Source: Finney (1978), Statistical Method in Biological Assay, chapters 4 and 5 (parallel-line assays).
    """
    zs, xs = np.asarray(z, dtype=float), np.asarray(x, dtype=float)
    lots, groups = np.asarray(lot, dtype=np.intp), np.asarray(group, dtype=np.intp)
    count = np.bincount(lots)
    z_mean, centre = lot_means(zs, lots, count), lot_means(xs, lots, count)
    z_in, x_in = zs - z_mean[lots], xs - centre[lots]
    spread = sums_of(x_in * x_in, groups)
    tells = spread > 1e-20 * sums_of(xs * xs, groups)
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = np.where(tells, sums_of(x_in * z_in, groups) / spread, np.nan)
    used = np.where(tells, slope, 0.0)
    group_of = np.zeros(len(count), dtype=np.intp)
    group_of[lots] = groups
    residual = z_in - used[groups] * x_in
    df = len(zs) - len(count) - int(tells.sum())
    return ParallelLines(
        z_mean - used[group_of] * centre, count, centre, slope, spread, residual, float(residual @ residual), df
    )
