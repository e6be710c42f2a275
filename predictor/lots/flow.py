"""Flow of each lot against the reference lot, with limits that hold together."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from predictor.domain.codes import coded
from predictor.domain.control import Floats
from predictor.lots.bends import BendNoise
from predictor.lots.limits import Critical, PartlyKnown, many_to_one_critical
from predictor.lots.parallel import sums_of
from predictor.lots.season_levels import SeasonNoise
from predictor.lots.shapes import LotCurves


@dataclass(frozen=True)
class Asked:
    """What lots are compared with."""

    reference: int  # Index of the reference lot
    usual: float  # Opening that it was caught at most
    log_output: float | None  # Wanted; None for the reference lot's own at that opening
    level: float  # Probability of the limits


@dataclass(frozen=True, eq=False)
class Flow:
    """Log ratios to the reference lot, arrays of shape (L,); NaN where a figure has no value."""

    log_ratio: Floats  # Estimate, and half the width of its limits
    half: Floats
    season_half: Floats  # The same of a lot in its season alone, as if lots did not shift between seasons
    at: Floats  # Opening at which a ratio holds; NaN where it holds at any setting
    critical: Critical | None  # Of the ratios' limits; None without limits


def compare_flow(
    curves: LotCurves, asked: Asked, noise: SeasonNoise | None = None, bends: BendNoise | None = None
) -> Flow:
    """Compare every lot with the reference lot.

    Where lots share one curve shape a ratio holds at every setting. Where they do not it holds at a named one: the
    setting that the reference lot was caught at most where the lot was caught on both sides of it, else the nearest
    end of what the lot was caught at. `noise` tells how much a lot shifts from season to season, `bends` how much lots
    may differ in shape where they share one.
    """
    r, lots = asked.reference, len(curves.bend)
    at = np.full(lots, asked.usual)
    if not (curves.shared or curves.borrowed[r]):
        at = np.clip(at, *curves.catches.ends)
    return _compared_at(at, curves, asked, noise, bends)


def either_shape(curves: LotCurves, others: LotCurves, asked: Asked, noise: SeasonNoise | None = None) -> Flow:
    """Compare lots on these curves, with limits wide enough to hold on the others as well.

    One of the two has one shape and the other several. Estimates on one shape do not depend on what the test of it
    says where it is true, so these limits hold also where the test rejects it by chance or misses what is there.
    """
    flow = compare_flow(curves, asked, noise)
    other = _compared_at(np.where(np.isnan(flow.at), asked.usual, flow.at), others, asked, noise)
    apart = np.abs(other.log_ratio - flow.log_ratio)
    return replace(
        flow,
        half=np.maximum(flow.half, apart + other.half),
        season_half=np.maximum(flow.season_half, apart + other.season_half),
    )


def _compared_at(
    at: Floats, curves: LotCurves, asked: Asked, noise: SeasonNoise | None, bends: BendNoise | None = None
) -> Flow:
    r, lots = asked.reference, len(curves.bend)
    height, answer = curves.at(slice(None), at)
    height_r, answer_r = curves.at(r, at)
    shift = None if noise is None or curves.variance is None else _Shift(curves, noise, asked.level)
    half, season_half, critical = np.full(lots, np.nan), np.full(lots, np.nan), None
    if curves.variance is not None and lots > 1:
        others = np.arange(lots) != r
        catch = max(curves.variance, 1e-24)
        noisy = catch / curves.lines.count
        # a bend of its own adds to a lot's scatter; a shared one moves the lot and the reference together
        own = noisy if curves.shared else noisy + answer**2 * curves.bend_var
        moved = answer - answer_r if curves.shared else answer_r
        shared = np.column_stack([np.full(lots, math.sqrt(noisy[r])), moved * math.sqrt(curves.bend_var[r])])
        total = own + (shared**2).sum(axis=1)
        critical = many_to_one_critical(own[others], shared[others], df=curves.lines.df, level=asked.level)
        half[others] = season_half[others] = critical.value * np.sqrt(total)[others]
        if shift is not None:
            more = shift.typical * shift.share
            first = np.full(lots, math.sqrt(noisy[r] + more[r]))
            joint = many_to_one_critical(
                (own + more)[others],
                np.column_stack([first, shared[:, 1]])[others],
                df=shift.known.df,
                level=asked.level,
            )
            half[others] = shift.known.half(total, shift.share + shift.share[r], joint.value)[others]
        if bends is not None and curves.shared:
            known = PartlyKnown(bends.variance, bends.catch, bends.weight, bends.df, catch, asked.level)
            wide = known.half(total, bends.of_difference(answer, float(answer[r]), r), critical.value)
            more = np.maximum(wide**2 - critical.value**2 * total, 0.0)
            half, season_half = np.sqrt(half**2 + more), np.sqrt(season_half**2 + more)
    named = np.full(lots, np.nan) if curves.shared else at
    return Flow(height - height_r, half, season_half, named, critical)


class _Shift:
    """How much limits widen because lots shift from season to season, by a variance that is known in part."""

    def __init__(self, curves: LotCurves, noise: SeasonNoise, level: float):
        base = max(curves.variance or 0.0, 1e-24)
        catch = noise.catch if curves.shared else np.full_like(noise.catch, base)
        weight, season = noise.expected(catch), noise.ratio * catch
        #: what is known of the variance of a lot in a season
        self.known = PartlyKnown(season, catch, weight, noise.df, base, level)
        self.typical = float(weight @ season)
        catches = curves.catches
        key, of_catch = coded(catches.lot * len(catches.seasons) + catches.season)
        lot, count = key // len(catches.seasons), np.bincount(of_catch).astype(float)
        #: part of the variance of a lot in a season that is in each row's level
        self.share = sums_of(count**2, lot) / sums_of(count, lot) ** 2
