"""What is known of a box before its catches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Prior:
    """What is known of a box before its catches, in words a technician could have said.

    Attributes
    ----------
    dead, dead_spread : float
        Dead setting as a share of the control's range above its closed end, and how surely (scale of a Student-t).
    bend, bend_spread : float
        Exponent of the curve, 1 for a straight line, and the spread of its logarithm.
    correlation : float
        Between dead setting and the logarithm of the bend, -1 to 1.
    tails : float
        Degrees of freedom of that Student-t.
    repeatability : tuple of (float, float, float)
        What the repeatability may be: share, coefficient of variation, and the number of catches that is worth.
        Shares add to 1. Two kinds of box, tame and wild, are told apart by their catches.
    level, level_spread : float or None
        Log output at `level_at`, and its spread between lots; None when nothing is known.
    level_at : float
        As a share of the range.
    name : {"default", "history"}
    """

    dead: float = 0.0
    dead_spread: float = 0.1
    bend: float = 1.0
    bend_spread: float = 0.1
    correlation: float = 0.0
    tails: float = 5.0
    repeatability: tuple[tuple[float, float, float], ...] = ((0.8, 0.04, 6.0), (0.2, 0.11, 8.0))
    level: float | None = None
    level_spread: float | None = None
    level_at: float = 0.5
    name: str = "default"

    @property
    def typical_cv(self) -> float:
        """Root mean square of what the repeatability may be."""
        return float(np.sqrt(sum(share * cv**2 for share, cv, _ in self.repeatability)))

    def log_density(self, dead, log_bend):
        """Log prior density of dead settings and log bends, up to a constant.

        A bivariate Student-t: one wild slot does not bend what six tame ones said.

        Parameters
        ----------
        dead : float or ndarray
            Dead settings, as shares of the range.
        log_bend : float or ndarray
            Logarithms of the bend, of a shape that goes with `dead`; not looked at where `bend_spread` is 0.

        Returns
        -------
        float or ndarray
        """
        z = (dead - self.dead) / self.dead_spread
        if self.bend_spread == 0:
            return -0.5 * (self.tails + 1) * np.log1p(z**2 / self.tails)
        b = (log_bend - np.log(self.bend)) / self.bend_spread
        r = self.correlation
        square = (z**2 - 2 * r * z * b + b**2) / (1 - r**2)
        return -0.5 * (self.tails + 2) * np.log1p(square / self.tails)


# Ordinary knowledge of a box nobody has tested yet. Free-flowing seed repeats within a few per cent (0.3 to 5.5 % in
# Yazgi et al. 2017, Applied Engineering in Agriculture 33(1), 63-71, and 2025, PeerJ 13:e19014, both read), though one
# box in five may be a wild one; chaffy seed bridges and scatters twice as much (common practice). A weight of a few
# catches: what is caught soon outweighs it.
COLD = Prior()
COLD_CHAFFY = Prior(repeatability=((1.0, 0.08, 2.5),))


def cold_prior(holds: str | None = None) -> Prior:
    """What is assumed of a box by the kind of seed it holds, before any catch and any history."""
    return COLD_CHAFFY if holds == "chaffy" else COLD
