"""One box and lot, held against what is aimed at: the chance of every setting."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from predictor.advice.aim import Aim
from predictor.advice.lot_fit import LotFit
from predictor.advice.prospects import Cause, more_catches
from predictor.curves.base import Curve
from predictor.domain.control import Floats, Setting
from predictor.domain.trials import Flags

# Of a scale with more steps than this some are skipped where only their range matters.
MOST_ASKED = 400
# Chances that differ by less are alike.
FLAT = 0.15
# Up to this many settings, each is worth asking; of finer scales a few steps are looked at first.
FEW, MANY, ROUGH = 24, 60, 40


@dataclass(frozen=True, eq=False)
class Case:
    """A fitted lot with its aim, and the chance of each setting. It is compared by identity."""

    fit: LotFit
    aim: Aim
    curve: Curve
    openings: Floats  # Those that may be advised, ascending
    real_chance: Floats  # Chance at each of them
    caught: Floats  # Openings caught at, ascending
    caught_chance: Floats

    def more_catches(self, turns: float, row_variance: float | None = None) -> tuple[int | None, Cause]:
        """Catches of so many turns still needed at the best setting, and what stands in the way of too many."""
        best = float(self.openings[self.best])
        variance = self.fit.row_variance if row_variance is None else row_variance
        noise = self.curve.noise_of(self.fit.length_of(turns, self.fit.rows_caught))
        return more_catches(self.curve, self.openings, self.aim, best, variance, noise)

    def setting(self, index: int) -> Setting:
        """One of the settings that the control has."""
        return self.fit.control.at(float(self.openings[index]))

    def chance_caught(self, opening: float) -> float:
        """Chance at a setting that was caught at; 0 where it was not."""
        return float(self.caught_chance[self.caught == opening].sum())

    @cached_property
    def best(self) -> int:
        """The setting to be at.

        The one whose middle output is nearest to target moves steadily with each catch; where the chance is nearly as
        large everywhere, the largest chance does not. So another is better only if its chance is larger by far.
        """
        top = int(np.argmax(self.real_chance))
        better = self.real_chance[top] > self.real_chance[self.nearest] + FLAT
        return top if better else self.nearest

    @cached_property
    def nearest(self) -> int:
        """The setting whose mean output is nearest to target, by ratio."""
        ideal = self.curve.setting_for(self.aim.target_output).estimate
        if not np.isfinite(ideal):  # the curve never gets there: an end comes nearest
            ends = self.openings[[0, -1]]
            ideal = ends[np.argmin(self.off_target(ends))]
        after = int(np.clip(np.searchsorted(self.openings, ideal), 1, max(len(self.openings) - 1, 1)))
        pair = [after - 1, min(after, len(self.openings) - 1)]
        return pair[int(np.argmin(self.off_target(self.openings[pair])))]

    def off_target(self, openings: Floats) -> Floats:
        """Distance of the mean output from target at openings, as a logarithm without sign."""
        return np.abs(np.log(np.maximum(self.curve.mean(openings), 1e-300) / self.aim.target_output))

    @cached_property
    def nowhere(self) -> float:
        """Probability that no setting the control has is within tolerance."""
        x = np.unique(np.concatenate([self.openings, self.caught]))
        if len(x) > MOST_ASKED:
            # steps far from target say nothing, and of very fine ones a few hundred say the same as all
            low, high = self.curve.settings_within(self.aim.low, self.aim.high, 1e-4)
            first, last = np.searchsorted(x, low) - 1, np.searchsorted(x, high) + 1
            x = x[max(first, 0) : last + 1]
            x = x[np.unique(np.linspace(0, len(x) - 1, MOST_ASKED).astype(int))] if len(x) > MOST_ASKED else x
        return self.curve.probability_none(x, self.aim.low, self.aim.high, self.fit.row_variance)


def weigh(fit: LotFit, aim: Aim) -> Case:
    """The chance at every setting of the control, and at every setting caught."""
    assert fit.curve is not None
    openings, caught = fit.openings, np.unique(fit.made_here.opening)
    x = np.concatenate([caught, openings])
    chance = np.zeros(len(x))
    worth = _worth_asking(fit.curve, x, len(caught), aim, fit.row_variance)
    chance[worth] = fit.curve.probability(x[worth], aim.low, aim.high, fit.row_variance)
    return Case(fit, aim, fit.curve, openings, chance[len(caught) :], caught, chance[: len(caught)])


def _worth_asking(curve: Curve, x: Floats, caught: int, aim: Aim, row_variance: float) -> Flags:
    """Settings that may be the one, the caught ones first in x; the chance at others is nothing, and costs time."""
    low, high = curve.settings_within(aim.low, aim.high, 0.005) if len(x) > FEW else (-np.inf, np.inf)
    if np.isinf([low, high]).any():
        return np.ones(len(x), dtype=bool)
    inside = (x >= low) & (x <= high)
    inside[np.argmin(np.abs(x - (low + high) / 2))] = True
    asked = np.flatnonzero(inside)
    if len(asked) <= MANY:
        return inside
    # a fine scale: look at every few steps first; the caught settings always
    stride = len(asked) // ROUGH
    keep = np.zeros(len(x), dtype=bool)
    keep[asked[::stride]] = True
    keep[:caught] = inside[:caught]
    rough = np.where(keep, 0.0, -1.0)
    rough[keep] = curve.probability(x[keep], aim.low, aim.high, row_variance)
    place, best = np.arange(len(x)), int(np.argmax(rough))
    worth: Flags = ((np.abs(place - best) <= stride) & inside) | (keep & (place < caught)) | (place == best)
    return worth
