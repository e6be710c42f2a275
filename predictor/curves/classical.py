"""The classical line: weighted least squares, Student-t intervals, Fieller limits. No prior."""

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from predictor.curves.asked import Of
from predictor.curves.catches import Catches, settled
from predictor.curves.estimate import Pieces, SettingEstimate
from predictor.curves.student_curve import StudentCurve
from predictor.domain.control import Floats
from predictor.errors import NotEnoughCatches
from predictor.format import count


@dataclass(frozen=True, eq=False, kw_only=True)
class FlatLine(StudentCurve):
    """y = level + slope (x - centre); level and slope are uncorrelated."""

    family = "line"
    centre: float  # Weighted mean of the settings
    level: float
    slope: float
    level_var: float  # Their variances
    slope_var: float

    @property
    def params(self) -> dict[str, float]:
        """Intercept and slope."""
        return {"intercept": self.level - self.slope * self.centre, "slope": self.slope}

    @property
    def std_errors(self) -> dict[str, float]:
        """Standard errors of intercept and slope."""
        return {
            "intercept": float(np.sqrt(self.level_var + self.centre**2 * self.slope_var)),
            "slope": float(np.sqrt(self.slope_var)),
        }

    @property
    def covariance(self) -> float:
        """Covariance of intercept and slope."""
        return -self.centre * self.slope_var

    def _mean(self, x: Floats) -> Floats:
        return self.level + self.slope * (x - self.centre)

    def _variance(self, x: Floats) -> Floats:
        return self.level_var + (x - self.centre) ** 2 * self.slope_var

    def _setting_for(self, output: float, level: float, of: Of) -> SettingEstimate:
        """Fieller's limits: all settings whose interval holds the output.

        Source: Fieller (1954), J. R. Stat. Soc. B 16, 175-185.
        """
        t_square = float(stdtrit(self.df, (1 + level) / 2)) ** 2
        gap = output - self.level
        # (gap - slope d)^2 <= t^2 (var level + d^2 var slope + var catch), a quadratic in d = x - centre
        a = self.slope**2 - t_square * self.slope_var
        b = -gap * self.slope
        c = gap**2 - t_square * self.level_var
        noise = t_square * self.spread**2 if of == "next" else 0.0
        if self.noise == "proportional":
            a -= noise * self.slope**2
            b -= noise * self.level * self.slope
            c -= noise * self.level**2
        else:
            c -= noise
        estimate = self.centre + gap / self.slope if self.slope != 0 else np.nan
        pieces = _quadratic_set(a, b, c, self.centre)
        if not pieces and self.slope != 0:  # catches without scatter: the set is the estimate, and its width rounding
            pieces = ((estimate, estimate),)
        return SettingEstimate.of_pieces(estimate, pieces)


def _quadratic_set(a: float, b: float, c: float, centre: float) -> Pieces:
    """Where a d^2 + 2 b d + c <= 0, moved by `centre`; one stretch, two half-lines, a half-line, all or nothing."""
    inf = float("inf")
    root_square = b * b - a * c
    if a == 0:
        if b == 0:
            return ((-inf, inf),) if c <= 0 else ()
        edge = centre - c / (2 * b)
        return ((-inf, edge),) if b > 0 else ((edge, inf),)
    if root_square < 0:
        return ((-inf, inf),) if a < 0 else ()
    # The form that does not subtract like from like.
    q = -float(b + np.copysign(np.sqrt(root_square), b))
    low, high = sorted(centre + root for root in ((q / a, c / q) if q != 0 else (0.0, 0.0)))
    return ((low, high),) if a > 0 else ((-inf, low), (high, inf))


def fit_flat(catches: Catches, dead_setting: float | None = None) -> FlatLine:
    """Fit a line by weighted least squares; with proportional noise, until the weights 1/mean^2 settle.

    With proportional noise the fixed point of the iteration is that of a Gamma model with identity link and Pearson
    dispersion. Other "constant CV" fits (weights from the observed outputs, normal maximum likelihood) differ on the
    same data.

    Source: McCullagh & Nelder (1989), Generalized Linear Models, 2nd ed., ch. 8 (cited from memory).
    """
    x, free = catches.settings, 1 if dead_setting is not None else 2
    if len(x) <= free:
        raise NotEnoughCatches(
            f"{count(len(x), 'catch', 'catches')} and no prior: a line needs at least {free + 1} catches."
        )
    if free == 2 and np.ptp(x) == 0:
        raise NotEnoughCatches(f"All catches are at setting {x[0]:g} and there is no prior: a line needs two settings.")
    return settled(catches, lambda w: _weighted(catches, w, dead_setting), smallest=1e-6, tolerance=1e-14, most=100)


def _weighted(catches: Catches, w: Floats, dead_setting: float | None) -> FlatLine:
    """Weighted least squares. The sums are of deviations, so that digits are kept."""
    x, y = catches.settings, catches.outputs
    total = float(w.sum())
    if dead_setting is None:
        centre, level = float(w @ x) / total, float(w @ y) / total
        centre += float(w @ (x - centre)) / total
        level += float(w @ (y - level)) / total
        df = len(x) - 2
    else:
        centre, level, df = dead_setting, 0.0, len(x) - 1
    off, rise = x - centre, y - level
    information = float(w @ off**2)
    slope = float(w @ (off * rise)) / information
    residual = float(w @ (rise - slope * off) ** 2) / df
    return FlatLine(
        noise=catches.noise,
        prior=None,
        n=len(x),
        low=float(x.min()),
        high=float(x.max()),
        df=df,
        spread=float(np.sqrt(residual)),
        centre=centre,
        level=level,
        slope=slope,
        level_var=residual / total if dead_setting is None else 0.0,
        slope_var=residual / information,
    )
