"""The classical line of a lot beside the answers of statsmodels on the very same catches."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.special import stdtrit

from predictor.audit.exact import exact_line
from predictor.audit.results import Figure, Line, Opinion, digits_of
from predictor.curves.classical import FlatLine
from predictor.curves.fit import fit_curve
from predictor.domain.control import Floats
from predictor.domain.result import Remark
from predictor.lots.limits import fieller

LEVEL = 0.95
# From so many digits on, two answers differ by nothing but the rounding of single steps.
ROUNDING = 12.0
# A figure near nothing is rounding below this share of the numbers that it is the difference of.
TINY = 1e-14


@dataclass(frozen=True, eq=False)
class Data:
    """The catches of a line, as columns, and what is wanted."""

    x: Floats
    y: Floats
    w: Floats  # How many ordinary catches long each is
    target: float

    def design(self, *more: Floats) -> Floats:
        """Columns of ones, of settings, and more."""
        return np.column_stack([np.ones(len(self.x)), self.x, *more])


def our_line(data: Data, noise: str = "proportional") -> FlatLine:
    """The classical line; raises NotEnoughCatches."""
    found = fit_curve(data.x, data.y, prior=None, weights=data.w, noise=noise)  # type: ignore[arg-type]
    assert isinstance(found, FlatLine)
    return found


def line_of(curve: FlatLine, target: float) -> Line:
    """The figures of a classical line."""
    found = curve.setting_for(target, LEVEL)
    return Line(
        **curve.params,
        intercept_se=curve.std_errors["intercept"],
        slope_se=curve.std_errors["slope"],
        spread=curve.spread,
        df=curve.df,
        setting=found.estimate,
        setting_lower=found.lower,
        setting_upper=found.upper,
        shape=found.shape,
    )


def opinions(data: Data, curve: FlatLine) -> tuple[tuple[Opinion, ...], tuple[Remark, ...]]:
    """Least squares with the same weights, and a Gamma model with identity link, beside our line."""
    mean = curve.mean(data.x)
    if curve.noise == "proportional" and (mean <= 0).any():
        return (least_squares(data, curve),), (Remark("audit.below_zero"),)
    found = [least_squares(data, curve)]
    remarks: tuple[Remark, ...] = ()
    if curve.noise == "proportional":
        gamma = gamma_model(data, curve)
        remarks = () if gamma is not None else (Remark("audit.no_gamma"),)
        found += [gamma] if gamma is not None else []
    return tuple(found), remarks


def weights_of(data: Data, curve: FlatLine) -> Floats:
    """The weights that the fit ended with."""
    if curve.noise == "constant":
        return data.w
    least = 1e-6 * float(np.mean(np.abs(data.y)))
    return np.asarray(data.w / np.maximum(curve.mean(data.x), least) ** 2)


def least_squares(data: Data, curve: FlatLine) -> Opinion:
    """statsmodels' weighted least squares with the weights that our fit ended with."""
    from statsmodels.regression.linear_model import WLS

    w, ours = weights_of(data, curve), line_of(curve, data.target)
    fit = WLS(data.y, data.design(), weights=w).fit()
    theirs = _figures(fit.params, fit.cov_params(), math.sqrt(fit.scale), data, fit.df_resid)
    exact = exact_line(data.x, data.y, w)
    values: dict[str, float | None] = {} if exact is None else exact.values(data.target, _t(curve.df))
    figures = _beside(ours, theirs, data.target, values)
    coefs = np.array([ours.intercept, ours.slope])
    far = [_far(data, w, each, fit.normalized_cov_params, fit.bse) for each in (coefs, fit.params)]
    return Opinion("wls", figures, far[0], far[1], _why_exact(figures))


def _beside(ours: Line, theirs: dict[str, float], target: float, exact: dict[str, float | None]) -> tuple[Figure, ...]:
    """Each figure of ours with theirs, and what difference between them would be nothing but rounding."""
    size = {"intercept": target, "intercept_se": target, "slope_se": ours.slope, "spread": 1.0}
    return tuple(
        Figure(name, getattr(ours, name), theirs[name], exact.get(name), tiny=TINY * abs(size.get(name, 0.0)))
        for name in theirs
    )


def _why_exact(figures: tuple[Figure, ...]) -> Remark:
    """Who is right, by exact arithmetic."""
    known = [each for each in figures if each.counts and each.exact is not None and math.isfinite(each.exact)]
    if not known:
        none = all(each.exact is None for each in figures)
        return Remark("audit.not_exact" if none else "audit.same")
    ours, theirs = (
        min(digits_of(getattr(each, side), each.exact) for each in known if each.exact is not None)
        for side in ("ours", "theirs")
    )
    return Remark("audit.exact", {"ours": int(ours), "theirs": int(theirs)})


def gamma_model(data: Data, curve: FlatLine) -> Opinion | None:
    """statsmodels' Gamma model with identity link and Pearson's dispersion; None where it finds no answer."""
    fit = _gamma(data)
    if fit is None:
        return None
    ours = line_of(curve, data.target)
    theirs = _figures(fit.params, fit.cov_params(), math.sqrt(fit.scale), data, fit.df_resid)
    figures = _beside(ours, theirs, data.target, {})
    coefs, far = np.array([ours.intercept, ours.slope]), []
    for each in (coefs, fit.params):
        w = data.w / (data.design() @ each) ** 2
        design = data.design()
        information = np.linalg.inv((design * w[:, None]).T @ design)
        far.append(_far(data, w, each, information, fit.bse))
    on = _gamma(data, tol=1e-15, tol_criterion="params", maxiter=500)
    carried = 0.0 if on is None else min(map(digits_of, on.params.tolist(), coefs.tolist()))
    found = Opinion("gamma", figures, far[0], far[1], Remark("audit.gamma_same"))
    if found.digits >= ROUNDING:
        return found
    code = "audit.gamma_stops" if far[0] <= far[1] else "audit.gamma_nearer"
    return replace(found, why=Remark(code, {"ours": far[0], "theirs": far[1], "carried": int(carried)}))


def _gamma(data: Data, **how: Any) -> Any:
    from statsmodels.genmod import families
    from statsmodels.genmod.generalized_linear_model import GLM

    family = families.Gamma(families.links.Identity())
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that the link may give outputs below zero: whether it did is looked at
        try:
            fit = GLM(data.y, data.design(), family=family, var_weights=data.w).fit(scale="X2", **how)
        except (ValueError, np.linalg.LinAlgError, FloatingPointError):
            return None
    return fit if np.isfinite(fit.params).all() and (fit.fittedvalues > 0).all() else None


def _far(data: Data, w: Floats, coefs: Floats, inverse: Floats, errors: Floats) -> float:
    """How far one Newton step from these coefficients leads, in standard errors."""
    design = data.design()
    score = design.T @ (w * (data.y - design @ coefs))
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.nanmax(np.abs(inverse @ score) / errors, initial=0.0))


def _figures(params: Floats, cov: Floats, spread: float, data: Data, df: float) -> dict[str, float]:
    """Figures of a line from coefficients and covariance; the limits by Fieller, which statsmodels does not have."""
    from scipy.stats import t as student

    intercept, slope = params.tolist()
    setting = (data.target - intercept) / slope if slope else math.nan
    low, high = -math.inf, math.inf
    if slope:
        pieces = fieller(
            data.target - intercept,
            slope,
            var_top=float(cov[0, 0]),
            var_bottom=float(cov[1, 1]),
            cov=-float(cov[0, 1]),
            critical=float(student.ppf(0.5 + LEVEL / 2, df)),
        ).pieces
        low, high = pieces[0][0], pieces[-1][1]
    return {
        "intercept": intercept,
        "intercept_se": math.sqrt(cov[0, 0]),
        "slope": slope,
        "slope_se": math.sqrt(cov[1, 1]),
        "spread": spread,
        "setting": setting,
        "setting_lower": low,
        "setting_upper": high,
    }


def _t(df: float) -> float:
    return float(stdtrit(df, 0.5 + LEVEL / 2))
