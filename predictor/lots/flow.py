"""Flow of each lot against the reference lot, and the opening each would need, with limits that hold together."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from predictor.domain.control import Floats
from predictor.lots.limits import Critical, fieller, many_to_one_critical, t_critical
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
    """Log ratios to the reference lot and openings needed, arrays of shape (L,); NaN where a figure has no value."""

    log_ratio: Floats  # Estimate, and half the width of its limits
    half: Floats
    at: Floats  # Opening at which a ratio holds; NaN where it holds at any setting
    need: Floats  # Opening that gives the wanted output, and its limits, infinite where not bounded
    need_low: Floats
    need_high: Floats
    critical: Critical | None  # Of the ratios' limits; None without limits


def compare_flow(curves: LotCurves, asked: Asked) -> Flow:
    """Compare every lot with the reference lot.

    Where lots share one curve shape a ratio holds at every setting. Where they do not it holds at a named one: the
    setting that the reference lot was caught at most where the lot was caught on both sides of it, else the nearest
    end of what the lot was caught at.
    """
    r, lots = asked.reference, len(curves.bend)
    at = np.full(lots, asked.usual)
    if not (curves.shared or curves.borrowed[r]):
        at = np.clip(at, *curves.catches.ends)
    height, answer = curves.at(slice(None), at)
    height_r, answer_r = curves.at(r, at)
    half, others, critical = np.full(lots, np.nan), np.arange(lots) != r, None
    if curves.variance is not None and lots > 1:
        noise = max(curves.variance, 1e-24) / curves.lines.count
        # a bend of its own adds to a lot's scatter; a shared one moves the lot and the reference together
        own = noise if curves.shared else noise + answer**2 * curves.bend_var
        moved = answer - answer_r if curves.shared else answer_r
        shared = np.column_stack([np.full(lots, math.sqrt(noise[r])), moved * math.sqrt(curves.bend_var[r])])
        critical = many_to_one_critical(own[others], shared[others], df=curves.lines.df, level=asked.level)
        half[others] = critical.value * np.sqrt(own + (shared**2).sum(axis=1))[others]
    named = np.full(lots, np.nan) if curves.shared else at
    return Flow(height - height_r, half, named, *_needs(curves, asked, critical), critical)


def _needs(curves: LotCurves, asked: Asked, critical: Critical | None) -> tuple[Floats, Floats, Floats]:
    """Opening at which each lot gives the wanted output, with limits by Fieller."""
    r, lines = asked.reference, curves.lines
    goal, goal_var, goal_answer = asked.log_output, 0.0, 0.0
    if goal is None:
        height, answer = curves.at(r, asked.usual)
        goal, goal_var = float(height), (curves.variance or 0.0) / lines.count[r]
        if curves.shared:
            goal_answer = float(answer)
        else:
            goal_var += float(answer) ** 2 * curves.bend_var[r]
    size = np.exp(np.clip(goal - lines.level, -250, 250))  # so that its square has a value
    with np.errstate(divide="ignore", invalid="ignore"):
        need = np.where(curves.bend > 0, curves.middle + (size - 1) / curves.bend, np.nan)
    low, high = np.full(len(need), -np.inf), np.full(len(need), np.inf)
    if curves.variance is not None:
        value = t_critical(lines.df, asked.level) if critical is None else critical.value
        answers = lines.centre + goal_answer
        cov, bottom = size * answers * curves.bend_var, curves.bend_var
        top = size**2 * (goal_var + curves.variance / lines.count + answers**2 * curves.bend_var)
        for k in np.flatnonzero(~curves.borrowed).tolist():
            rise = {"var_top": top[k], "var_bottom": bottom[k], "cov": cov[k]}
            found = fieller(size[k] - 1, curves.bend[k], **rise, critical=value)
            low[k], high[k] = (curves.middle[k] + end for end in found.around)
    if asked.log_output is None:
        need[r] = low[r] = high[r] = asked.usual
    return need, low, high
