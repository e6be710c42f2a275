"""The linear model of field checks: what some say of another, or of the factors of the boxes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.special import stdtr, stdtrit

from predictor.domain.catch import slips
from predictor.domain.control import Floats
from predictor.domain.drill import Drill
from predictor.field.comparing import Evidence
from predictor.field.usual import CHECK_SPREAD_WORTH, FIELD_CENTRE, OWN_SPREAD, SHARED_SPREAD


class Estimate(NamedTuple):
    """A Student distribution of the log of a factor."""

    location: float
    sd: float
    dof: float

    @property
    def reach(self) -> float:
        """Half width of its 95 % limits."""
        return float(stdtrit(self.dof, 0.975)) * self.sd

    def between(self, low: Floats | float, high: Floats | float, shift: Floats, more_sd: Floats) -> Floats:
        """Probability that it lies between two values once it is shifted, with what the shifts leave open."""
        sd, middle = np.hypot(self.sd, more_sd), self.location + shift
        return np.asarray(stdtr(self.dof, (high - middle) / sd) - stdtr(self.dof, (low - middle) / sd))


class Model:
    """Checks under the model: log(achieved / standing) = shared + own part of the box + error.

    Where boxes are weighed together, their own parts count by their share of the standing output. The shared part has a
    normal prior about log 0.918, the mean of published factors, and the own parts about 0. A towed lot has slip in its
    catches and so neither part. The error has the spread of single checks, that of Poisson for counts, and what the
    catches leave open, which is the same for all checks of one box, lot and season. One unknown scale multiplies all of
    it (inverse gamma, worth four checks), so the limits are those of Student. The closed form is that of the linear
    model with a conjugate prior (Gelman et al. 2013, Bayesian Data Analysis, ch. 14, from memory).
    """

    def __init__(self, evidence: Sequence[Evidence], drill: Drill):
        self.evidence, self.names = list(evidence), [box.name for box in drill.boxes]
        # the published figures are taken to be of drive wheels, which slip; they say nothing of a motor
        self.usual = np.array([math.log(FIELD_CENTRE) if slips(drill, box) else 0.0 for box in drill.boxes])
        self.prior = np.diag([SHARED_SPREAD**2, *[OWN_SPREAD**2] * len(self.names)])

    def factors(self) -> list[Estimate]:
        """The factor of each box of the drill."""
        # a box's factor is the sum of the shared part and its own
        pick = np.column_stack([np.ones(len(self.names)), np.eye(len(self.names))])
        if not self.evidence:
            return self._estimates(self.usual, pick @ self.prior @ pick.T, 1.0)
        design = self._design(self.evidence)
        seen, spread = self._seen(design), design @ self.prior @ design.T + _noise(self.evidence)
        gain = np.linalg.solve(spread, design @ self.prior).T
        middle = self.usual + pick @ gain @ seen
        return self._estimates(middle, pick @ (self.prior - gain @ design @ self.prior) @ pick.T, _scale(spread, seen))

    def expects(self, one: Evidence) -> Estimate:
        """What these checks let expect of another one, its own error included."""
        both = [*self.evidence, one]
        design = self._design(both)
        spread = design @ self.prior @ design.T + _noise(both)
        before = float(design[-1, 1:] @ self.usual)
        if not self.evidence:
            return self._estimates(np.array([before]), spread, 1.0)[0]
        seen, own, across = self._seen(design[:-1]), spread[:-1, :-1], spread[:-1, -1:]
        gain = np.linalg.solve(own, across).T
        return self._estimates(before + gain @ seen, spread[-1:, -1:] - gain @ across, _scale(own, seen))[0]

    def _design(self, evidence: Sequence[Evidence]) -> Floats:
        """Part of the shared part and of each box's own part in each check."""
        design = np.zeros((len(evidence), 1 + len(self.names)))
        for i, each in enumerate(evidence):
            if not each.towed:
                design[i, 0] = 1.0
                for name, share in zip(each.names, each.shares, strict=True):
                    design[i, 1 + self.names.index(name)] = share
        return design

    def _seen(self, design: Floats) -> Floats:
        """How far each check lies from what is usual."""
        return np.asarray(np.array([each.log_factor for each in self.evidence]) - design[:, 1:] @ self.usual)

    def _estimates(self, middle: Floats, variance: Floats, scale: float) -> list[Estimate]:
        dof = CHECK_SPREAD_WORTH + len(self.evidence)
        sds = np.sqrt(scale * np.diag(variance))
        return [Estimate(*pair, dof) for pair in zip(middle.tolist(), sds.tolist(), strict=True)]


def _scale(spread: Floats, seen: Floats) -> float:
    """What multiplies all variances, by how far the checks lie from what is usual."""
    square = float(seen @ np.linalg.solve(spread, seen))
    return (CHECK_SPREAD_WORTH + square) / (CHECK_SPREAD_WORTH + len(seen))


def _noise(evidence: Sequence[Evidence]) -> Floats:
    """Covariance of the errors of checks.

    What the catches of a lot leave open is the same in all its checks, and so is what its count of seeds leaves open,
    and what is left open in translating them from one setting to another.
    """
    common: dict[tuple[object, ...], Floats] = {}
    for i, each in enumerate(evidence):
        parts = zip(each.check.parts, each.places, each.shares, each.sds, each.count_sds, strict=True)
        for part, place, share, sd, count_sd in parts:
            of_setting = ("moved", *place, part.setting.text)
            for key, size in ((("catches", *place), sd), (("count", *place), count_sd), (of_setting, each.moved_sd)):
                common.setdefault(key, np.zeros(len(evidence)))[i] = share * size
    noise = np.diag([each.variance for each in evidence])
    return np.asarray(noise + sum(np.outer(each, each) for each in common.values()))
