"""Knowledge of a box before its catches."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Self, get_args

import numpy as np
from scipy.special import gammaln, softmax

from predictor.curves.base import PriorName
from predictor.domain.arguments import ANY, NOT_NEGATIVE, POSITIVE, maybe_number, number, numbers, refuse, several, word
from predictor.domain.control import Floats
from predictor.errors import InputError, WrongKind
from predictor.numbers import Range

# Share, coefficient of variation, and the number of catches that this knowledge is worth.
Kind = tuple[float, float, float]
# How near to 1 shares must add.
SHARES_ADD = 1e-6


@dataclass(frozen=True)
class Repeatability:
    """What the noise of a catch may be before the catches of a fit: boxes come in kinds, such as tame and wild."""

    kinds: tuple[Kind, ...]  # Shares add to 1

    @property
    def cv(self) -> float:
        """Root mean square over the kinds."""
        return float(np.sqrt(sum(share * cv**2 for share, cv, _ in self.kinds)))

    @property
    def worth(self) -> float:
        """Number of catches that all of it is worth."""
        return sum(share * worth for share, _, worth in self.kinds)

    def scaled(self, unit: float) -> Self:
        """The same in a unit of output."""
        return replace(self, kinds=tuple((share, cv * unit, worth) for share, cv, worth in self.kinds))

    def log_density(self, log_sd: Floats) -> Floats:
        """Log density of the logarithm of the noise: a mixture of scaled inverse chi distributions."""
        share, cv, worth = np.reshape(np.transpose(self.kinds), (3, -1, *[1] * np.ndim(log_sd)))
        half = 0.5 * worth
        log_ratio = 2 * (np.log(cv) - log_sd)
        each = half * (np.log(half) + log_ratio) - half * np.exp(log_ratio) - gammaln(half)
        return np.asarray(np.logaddexp.reduce(np.log(share) + each, axis=0))

    def evidence(self, square: Floats, df: float) -> Floats:
        """Log marginal likelihood of sums of squares on `df` degrees of freedom, up to a constant; a row a kind."""
        share, cv, worth = np.reshape(np.transpose(self.kinds), (3, -1, *[1] * np.ndim(square)))
        own, every = worth * cv**2, worth + df
        constant = np.log(share) + gammaln(every / 2) - gammaln(worth / 2) + 0.5 * worth * np.log(own)
        return np.asarray(constant - 0.5 * every * np.log(own + square))

    def after(self, square: float, df: float) -> Self:
        """The same after a sum of squares on `df` degrees of freedom has been seen.

        Source: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., 2.6 (cited from memory).
        """
        _, cv, worth = np.transpose(self.kinds)
        share = softmax(self.evidence(np.asarray(square), df))
        seen = np.column_stack([share, np.sqrt((worth * cv**2 + square) / (worth + df)), worth + df])
        return replace(self, kinds=tuple((a, b, c) for a, b, c in seen.tolist()))


@dataclass(frozen=True)
class Prior:
    """Knowledge of a box before its catches.

    Attributes
    ----------
    dead, dead_spread : float
        Dead setting as a share of the control's range above its closed end, and its uncertainty (scale of a Student-t).
        It may lie below the closed end: a gate that opens with a jump gives as much just above it as a line would that
        starts lower.
    bend, bend_spread : float
        Exponent of the curve, 1 for a straight line, and the spread of its logarithm.
    correlation : float
        Correlation between the dead setting and the logarithm of the bend, -1 to 1.
    tails : float
        Degrees of freedom of the Student-t.
    repeatability : tuple of (float, float, float)
        Kinds of box, such as tame and wild: the share of such boxes, their coefficient of variation, and the number of
        catches that this knowledge is worth. The shares add to 1. The catches show which kind a box is.
    own : tuple of (float, float)
        How much of the variance of a catch averages out over more turns and rows, and a probability for each such
        share; the rest is common to the whole catch. Only catches of different length, or weighed in parts or rows,
        tell it. The probabilities add to 1.
    level, level_spread : float or None
        Log output at `level_at`, and its spread between lots; None when nothing is known.
    level_at : float
        Where `level` holds, as a share of the range.
    name : {"default", "history"}

    Raises
    ------
    InputError
        A number is out of its range, shares do not add to 1, or a level has no spread.

    Examples
    --------
    A box whose slot opens at a tenth of the scale, give or take 3 %, and that repeats within about 5 %:

    >>> from predictor import fit_curve
    >>> slot = Prior(dead=0.1, dead_spread=0.03, repeatability=((1.0, 0.05, 6.0),))
    >>> curve = fit_curve([30], [1.2], prior=slot, span=60.0)
    >>> round(curve.mean(18), 2)
    0.6
    """

    dead: float = 0.0
    dead_spread: float = 0.1
    bend: float = 1.0
    bend_spread: float = 0.2
    correlation: float = 0.0
    tails: float = 5.0
    repeatability: tuple[Kind, ...] = ((0.75, 0.03, 5.0), (0.25, 0.11, 8.0))
    own: tuple[tuple[float, float], ...] = ((0.5, 1.0), (0.3, 0.5), (0.2, 0.25))
    level: float | None = None
    level_spread: float | None = None
    level_at: float = 0.5
    name: PriorName = "default"

    def __post_init__(self) -> None:
        allowed = {"dead_spread": POSITIVE, "bend": POSITIVE, "bend_spread": NOT_NEGATIVE, "correlation": Range(-1, 1)}
        for name in ("dead", *allowed, "tails", "level_at"):
            within = POSITIVE if name == "tails" else allowed.get(name, ANY)
            object.__setattr__(self, name, number(getattr(self, name), name, within))
        for name, within in (("level", ANY), ("level_spread", NOT_NEGATIVE)):
            object.__setattr__(self, name, maybe_number(getattr(self, name), name, within))
        if (self.level is None) != (self.level_spread is None):
            raise InputError("level and level_spread belong together: give both or none.")
        if abs(self.correlation) == 1:
            refuse("correlation", "above -1 and below 1", self.correlation)
        word(self.name, "name", get_args(PriorName))
        a_share = Range(0, 1)
        for name, ranges in (("repeatability", (a_share, POSITIVE, POSITIVE)), ("own", (a_share, a_share))):
            object.__setattr__(self, name, _shared(getattr(self, name), name, ranges))

    @property
    def typical_cv(self) -> float:
        """Repeatability to expect: root mean square over the kinds of box."""
        return Repeatability(self.repeatability).cv

    @property
    def usual_own(self) -> float:
        """Mean share of the variance of a catch that averages out over more turns and rows."""
        return sum(share * own for share, own in self.own)

    def log_density(self, dead: Floats, log_bend: Floats) -> Floats:
        """Log prior density of dead settings and log bends, up to a constant.

        It is a bivariate Student-t: its heavy tails keep one unusual slot from outweighing many usual ones.

        Parameters
        ----------
        dead : ndarray
            Dead settings, as shares of the range.
        log_bend : ndarray
            Logarithms of the bend, of a shape that goes with `dead`; not looked at where `bend_spread` is 0.

        Returns
        -------
        ndarray, shape of `dead` and `log_bend` together

        Examples
        --------
        >>> import numpy as np
        >>> int(Prior().log_density(np.array([0.0, 0.1]), np.zeros(2)).argmax())
        0
        """
        z = (numbers(dead, "dead") - self.dead) / self.dead_spread
        square, unknowns = z**2, 1
        if self.bend_spread > 0:
            b, r = (numbers(log_bend, "log_bend") - np.log(self.bend)) / self.bend_spread, self.correlation
            square, unknowns = (z**2 - 2 * r * z * b + b**2) / (1 - r**2), 2
        return np.asarray(-0.5 * (self.tails + unknowns) * np.log1p(square / self.tails))


def _shared(value: object, name: str, ranges: tuple[Range, ...]) -> tuple[tuple[float, ...], ...]:
    """Kinds with their shares, which add to 1."""
    if not isinstance(value, Sequence) or isinstance(value, str) or not value:
        refuse(name, f"rows of {len(ranges)} numbers each", value, WrongKind)
    rows = tuple(several(each, name, ranges, "a share first") for each in value)
    if abs(sum(row[0] for row in rows) - 1) > SHARES_ADD:
        raise InputError(f"The shares of {name} must add to 1; got {sum(row[0] for row in rows):g}.")
    return rows


# Ordinary knowledge of a box that nobody has tested yet. Free-flowing seed repeats within a few per cent (0.3 to 5.5 %
# in Yazgi et al. 2017, Applied Engineering in Agriculture 33(1), 63-71, and 2025, PeerJ 13:e19014, both read), though
# one box in four may be a wild one. Chaffy seed bridges, and scatters twice as much (common practice). All of it is
# worth a few catches, so that real catches soon outweigh it.
COLD = Prior()
COLD_CHAFFY = Prior(repeatability=((1.0, 0.08, 2.5),))


def cold_prior(holds: str | None = None) -> Prior:
    """Ordinary knowledge of a box that holds a kind of seed, before any catch and any history."""
    return COLD_CHAFFY if holds == "chaffy" else COLD
