"""What the residuals of a line say of what it takes for granted: straight, constant in time, one repeatability."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from predictor.audit.lines import Data
from predictor.audit.results import Check, Residuals, TestName
from predictor.curves.classical import FlatLine
from predictor.domain.control import Floats
from predictor.domain.result import Remark

# Sets of made-up catches by which the p value of the noise is counted, and up to how many catches that is needed: of
# more, the limiting distribution holds.
SETS, FEW = 9999, 200
# What goes with the setting by this correlation or more cannot be told from a bend of the line.
TOGETHER = 0.95
# Below this share of the outputs, scatter is nothing but the rounding of single steps.
NOTHING = 1e-10


@dataclass(frozen=True, eq=False)
class Whitened:
    """A fitted line with everything over its mean, so that all catches scatter alike."""

    value: Floats  # Relative residuals
    base: Floats  # Columns of the line, (n, 2)
    root: Floats  # Square roots of the lengths of the catches
    mean: Floats
    x: Floats

    @classmethod
    def of(cls, data: Data, curve: FlatLine) -> Whitened | None:
        """The residuals of a line; None where it passes below zero within the catches, or catches do not scatter."""
        mean = curve.mean(data.x)
        if (mean <= 0).any():
            return None
        root = np.sqrt(data.w)
        value = root * (data.y / mean - 1)
        scale = (root / mean)[:, None]
        centred = np.column_stack([np.ones(len(mean)), data.x - data.x.mean()])
        size = float(np.ptp(data.x)) or 1.0
        found = cls(value, scale * centred * [float(mean.mean()), float(mean.mean()) / size], root, mean, data.x)
        return None if float(np.abs(value).max()) < NOTHING else found

    @property
    def leverage(self) -> Floats:
        """How far each catch draws the line to itself, 0 to 1."""
        basis, _ = np.linalg.qr(self.base)
        return np.asarray((basis**2).sum(axis=1))

    def standardised(self) -> Floats:
        """Residuals over their own standard deviations."""
        spread = np.sqrt(float(self.value @ self.value) / max(len(self.value) - 2, 1))
        return np.asarray(self.value / (spread * np.sqrt(np.clip(1 - self.leverage, 1e-12, None))))

    def some(self, which: Any) -> Whitened:
        """Some of the catches."""
        parts = (self.value, self.base, self.root, self.mean, self.x)
        return Whitened(*(each[which] for each in parts))


def checks_of(found: Whitened, order: Floats, fill: Floats, season: Check) -> tuple[Check, ...]:
    """Every test of a lot in one season, with that of its seasons."""
    return (straight(found), drift(found, order), filling(found, fill), season, same_noise(found))


def residuals_of(found: Whitened, data: Data, order: Floats, fill: Floats) -> Residuals:
    """What pictures show."""
    return Residuals(data.x, order, fill, found.standardised(), data.y)


def straight(found: Whitened) -> Check:
    """Straightness: against the scatter of repeated catches where settings repeat, else by a quadratic term."""
    n, (settings, which) = len(found.x), np.unique(found.x, return_inverse=True)
    if len(settings) < 3:
        return Check("setting", n, reason=Remark("audit.two_settings", {"settings": len(settings)}))
    if n > len(settings):
        levels = found.root[:, None] * (which[:, None] == np.arange(len(settings)))
        return _nested("setting", found, levels, "lack-of-fit", whole=True)
    away = (found.x - found.x.mean()) / np.ptp(found.x)
    return _nested("setting", found, (found.root / found.mean * away**2)[:, None], "quadratic")


def drift(found: Whitened, order: Floats) -> Check:
    """Whether output changes from catch to catch."""
    return _added("order", found, order)


def filling(found: Whitened, fill: Floats) -> Check:
    """Whether output goes with how full the box was, per cent."""
    known = np.isfinite(fill)
    n = int(known.sum())
    if n < 4 or np.ptp(fill[known]) == 0:
        return Check("filling", n, reason=Remark("audit.one_filling" if n >= 4 else "audit.no_filling", {"known": n}))
    part = found.some(known)
    return _added("filling", part, (fill[known] - 50) / 100)


def seasons_differ(data: Data, curve: FlatLine, season: np.ndarray) -> Check:
    """Whether output differs between the seasons of a lot, about one line."""
    names, code = np.unique(season, return_inverse=True)
    if len(names) < 2:
        return Check("season", len(season), reason=Remark("audit.one_season"))
    found = Whitened.of(data, curve)
    if found is None:
        return Check("season", len(season), reason=Remark("audit.no_scatter"))
    return _nested("season", found, found.root[:, None] * (code[:, None] == np.arange(1, len(names))), "one-way")


def same_noise(found: Whitened) -> Check:
    """Whether the scatter grows, or falls, with the output faster than the output itself.

    The statistic is Koenker's form of Breusch and Pagan's, as statsmodels gives it. Of few catches its limiting
    distribution is wrong, so p is counted among sets of normal catches at the same settings.

    Source: Breusch and Pagan (1979), Econometrica 47, 1287-1294; Koenker (1981), J. Econometrics 17, 107-112 (both
    from memory).
    """
    from statsmodels.stats.diagnostic import het_breuschpagan

    n, along = len(found.x), np.log(found.mean)
    if n < 5 or np.ptp(found.x) == 0:
        return Check("noise", n, reason=Remark("audit.too_few", {"least": 5, "catches": n}))
    with np.errstate(divide="ignore", invalid="ignore"):
        lm, p, _, _ = het_breuschpagan(found.value, np.column_stack([np.ones(n), along]))
    if n <= FEW:
        p = (1 + int((_lm_by_chance(found.base, along) >= lm * (1 - 1e-9)).sum())) / (SETS + 1)
    return Check("noise", n, float(lm), 1, None, float(p), method="breusch-pagan")


def _lm_by_chance(base: Floats, along: Floats) -> Floats:
    """The statistic of many sets of normal catches without any change of their scatter."""
    n = len(along)
    basis, _ = np.linalg.qr(base)
    noise = np.random.default_rng(n).standard_normal((SETS, n))
    squares = (noise - (noise @ basis) @ basis.T) ** 2
    squares -= squares.mean(axis=1, keepdims=True)
    away = along - along.mean()
    return np.asarray(n * (squares @ away) ** 2 / ((squares**2).sum(axis=1) * float(away @ away)))


def _added(name: TestName, found: Whitened, along: Floats) -> Check:
    """Whether output goes with something, as a share of itself, beside the setting."""
    n = len(along)
    if n > 1 and np.ptp(found.x) > 0 and abs(np.corrcoef(found.x, along)[0, 1]) > TOGETHER:
        return Check(name, n, reason=Remark(f"audit.goes_with_setting_{name}"))
    return _nested(name, found, (found.root * along)[:, None], "added")


def _nested(name: TestName, found: Whitened, more: Floats, method: str, *, whole: bool = False) -> Check:
    """An F test of the line against one with more columns; with `whole` these hold the line already."""
    from statsmodels.regression.linear_model import OLS

    n = len(found.value)
    columns = more if whole else np.column_stack([found.base, more])
    scaled = columns / np.maximum(np.linalg.norm(columns, axis=0), 1e-300)
    rank = int(np.linalg.matrix_rank(scaled, tol=1e-8))
    if rank < min(3, columns.shape[1]):
        return Check(name, n, reason=Remark(f"audit.goes_with_setting_{name}"))
    if n <= rank:
        return Check(name, n, reason=Remark("audit.too_few", {"least": rank + 1, "catches": n}))
    large, small = OLS(found.value, scaled).fit(), OLS(found.value, found.base).fit()
    if large.ssr <= NOTHING**2 * n:
        return Check(name, n, reason=Remark("audit.no_scatter"))
    value, p, extra = large.compare_f_test(small)
    if not np.isfinite(p):
        return Check(name, n, reason=Remark("audit.no_scatter"))
    effect = float(large.params[-1] / np.linalg.norm(columns[:, -1])) if method == "added" else None
    return Check(name, n, float(value), float(extra), float(large.df_resid), float(p), effect, method)
