"""fit_curve: one door to every curve."""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.special import fdtrc

from predictor.curves.base import Curve
from predictor.curves.bent import ShapeCurve, fit_shapes
from predictor.curves.classical import fit_flat
from predictor.curves.prior import Prior, cold_prior
from predictor.curves.weighing import with_rows
from predictor.errors import NotEnoughCatches

Family = Literal["auto", "line", "spline"]
Noise = Literal["proportional", "constant"]

# The spline is only looked at where the bent line leaves a pattern (lack of fit at this level).
PATTERN = 0.01
FEWEST_FOR_SPLINE = 8


def fit_curve(
    settings,
    outputs,
    *,
    family: Family = "auto",
    noise: Noise = "proportional",
    prior: Prior | str | None = "default",
    weights=None,
    dead_setting: float | None = None,
    lowest: float = 0.0,
    span: float | None = None,
    fill=None,
    fill_prior: tuple[float, float] = (0.15, 0.15),
    noise_floor: float = 0.0,
    extra_noise: tuple[float, float] | None = None,
) -> Curve:
    """Fit output against setting.

    Parameters
    ----------
    settings : array_like, shape (n,)
        Lever openings or drive ratios: numbers that grow with the output.
    outputs : array_like, shape (n,)
        Grams per row per turn; above 0 where the noise is proportional.
    family : {"auto", "line", "spline"}
        "line" is straight without a prior and may bend slightly with one; "auto" takes the line unless there are eight
        catches at five settings or more, the line leaves a pattern, and a spline predicts left-out catches better.
        Without a prior, and where the filling is modelled, it takes the line.
    noise : {"proportional", "constant"}
        One coefficient of variation at all settings, or one standard deviation.
    prior : {"default", None} or Prior
        None gives the classical answer: least squares, Student-t and Fieller limits. "default" is ordinary knowledge
        of a box; a `Prior` is what was learned from its history.
    weights : array_like, shape (n,), optional
        Relative precision of each catch, > 0.
    dead_setting : float, optional
        Hold the line's zero there; only without a prior.
    lowest, span : float, optional
        Closed end and range of the control, for the prior; 0 and the largest setting where not given.
    fill : array_like, shape (n,), optional
        Filling above half as a fraction; the curve is given for a half-full box. Only with a prior and proportional
        noise, and not in a spline.
    fill_prior : (float, float)
        Mean and spread of the log output gained from empty to full.
    noise_floor : float
        Smallest noise of a catch that is possible, as for the scale's resolution: a coefficient of variation, or an
        output where the noise is constant. Only with a prior.
    extra_noise : (float, float), optional
        A further estimate of the repeatability and its degrees of freedom, from single rows. Only with a prior.

    Returns
    -------
    Curve

    Raises
    ------
    NotEnoughCatches
        Fewer catches than free parameters, and no prior; or too few settings for a spline.
    ValueError
        Arrays that do not fit together, values no curve can take, or options that contradict each other.

    Examples
    --------
    >>> curve = fit_curve([10, 20, 30], [1.0, 2.0, 3.1], prior=None, noise="constant")
    >>> round(curve.params["slope"], 6)
    0.105
    """
    x, y, w = _checked(settings, outputs, weights, noise)
    if family not in ("auto", "line", "spline"):
        raise ValueError(f'The family of a curve is "auto", "line" or "spline"; got {family!r}.')
    if isinstance(prior, str) and prior != "default":
        raise ValueError(f'A prior is "default", None or a Prior; got {prior!r}.')
    known = cold_prior() if isinstance(prior, str) else prior
    if dead_setting is not None and family == "spline":
        raise ValueError("A spline has no dead setting to hold; use a line.")
    if fill is not None and (noise != "proportional" or family == "spline"):
        raise ValueError("The effect of filling is that on a line with proportional noise.")

    def spline_of(x, y, w):
        return _spline(x, y, w, noise, known, extra_noise, noise_floor)

    if family == "spline":
        return spline_of(x, y, w)
    if known is None:
        return fit_flat(x, y, noise=noise, weights=w, dead_setting=dead_setting)
    if dead_setting is not None:
        raise ValueError("A held dead setting and a prior for it contradict each other; use prior=None.")
    length = span if span is not None else float(np.max(np.abs(x - lowest))) if len(x) else 1.0
    curve = fit_shapes(
        x,
        y,
        prior=known,
        lowest=lowest,
        span=length or 1.0,
        noise=noise,
        weights=w,
        fill=fill,
        fill_prior=fill_prior,
        extra_noise=extra_noise,
    )
    if noise_floor > 0:
        curve = curve.with_noise_floor(noise_floor)
    if family == "auto" and fill is None and _leaves_pattern(curve, x, y):
        spline = spline_of(x, y, w)
        if _score(spline_of, x, y, w) > _score(
            lambda *part: fit_shapes(
                part[0], part[1], weights=part[2], prior=known, lowest=lowest, span=length or 1.0, noise=noise
            ),
            x,
            y,
            w,
        ):
            return spline
    return curve


def _checked(settings, outputs, weights, noise: str):
    """The arrays as floats, or a ValueError that says what is wrong with them."""
    x, y = np.asarray(settings, dtype=float), np.asarray(outputs, dtype=float)
    if x.ndim != 1 or x.shape != y.shape:
        raise ValueError(f"Settings and outputs are two rows of equal length; got shapes {x.shape} and {y.shape}.")
    if noise not in ("proportional", "constant"):
        raise ValueError(f'Noise is "proportional" or "constant"; got {noise!r}.')
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise ValueError("Settings and outputs must be finite numbers.")
    if noise == "proportional" and (y <= 0).any():
        raise ValueError(f"With proportional noise every output is above 0; got {y.min():g}.")
    if weights is None:
        return x, y, None
    w = np.asarray(weights, dtype=float)
    if w.shape != x.shape or not (np.isfinite(w).all() and (w > 0).all()):
        raise ValueError("Weights are one finite number above 0 for each catch.")
    return x, y, w


def _spline(x, y, w, noise: str, known: Prior | None, extra_noise: tuple[float, float] | None, floor: float):
    from predictor.curves.spline import fit_spline  # brings scipy.optimize, which most fits do not need

    if known is None:
        return fit_spline(x, y, noise=noise, weights=w)
    kinds = with_rows(known.repeatability, extra_noise)
    cv = float(np.sqrt(sum(share * each**2 for share, each, _ in kinds)))
    worth = sum(share * weight for share, _, weight in kinds)
    spline = fit_spline(x, y, noise=noise, weights=w, prior=known.name, known_cv=cv, cv_weight=worth)
    return spline.with_noise_floor(floor)


def _leaves_pattern(curve: ShapeCurve, x: np.ndarray, y: np.ndarray) -> bool:
    """Whether the residuals of the bent line follow a curve of their own (F test on two further bends)."""
    if len(x) < FEWEST_FOR_SPLINE or len(set(x.tolist())) < 5:
        return False
    distinct, inverse = np.unique(x, return_inverse=True)
    residual = (np.log(y) if curve.noise == "proportional" else y) - curve.log_centre(distinct)[inverse]
    at = 2 * (x - x.min()) / np.ptp(x) - 1
    square = at * at
    bends = np.column_stack([np.ones_like(at), at, square, square * at, square * square])
    solution = np.linalg.lstsq(bends, residual, rcond=None)[0]
    left = float(np.sum((residual - bends @ solution) ** 2))
    # level, slope and one bend belong to the line already
    df = len(x) - 5
    gain = float(residual @ residual) - left
    return df > 0 and left > 0 and bool(fdtrc(2, df, gain / 2 / (left / df)) < PATTERN)


def _score(fit, x: np.ndarray, y: np.ndarray, w: np.ndarray | None) -> float:
    """How well left-out catches are predicted: minus the mean squared relative error, each setting left out in turn.

    But for the two ends: beyond its catches a spline goes on straight, which says nothing of how well it fits.
    """
    errors = []
    for setting in np.unique(x)[1:-1]:
        out = x == setting
        try:
            curve = fit(x[~out], y[~out], None if w is None else w[~out])
        except NotEnoughCatches:
            return -np.inf
        predicted = float(curve.mean(float(setting)))
        errors.extend((np.minimum(y[out] / max(predicted, 1e-3 * y.min()), 1e3) - 1) ** 2)
    return -float(np.mean(errors))
