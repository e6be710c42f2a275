"""`fit_curve`, the one entry to every kind of curve."""

from collections.abc import Callable
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import fdtrc

from predictor.curves.base import Curve, Noise
from predictor.curves.bent import ShapeCurve, fit_shapes
from predictor.curves.catches import Catches, Inside
from predictor.curves.classical import fit_flat
from predictor.curves.prior import Prior, Repeatability, cold_prior
from predictor.curves.spline import FEWEST_SETTINGS, SplineCurve, fit_spline
from predictor.domain.arguments import (
    ANY,
    NOT_NEGATIVE,
    POSITIVE,
    maybe_number,
    number,
    numbers,
    refuse,
    several,
    word,
)
from predictor.domain.trials import MOST_SETTINGS
from predictor.errors import InputError, NotEnoughCatches, WrongKind

Family = Literal["auto", "line", "spline"]

# A spline is considered only where the bent line leaves a pattern (lack of fit at this level).
PATTERN = 0.01
FEWEST_FOR_SPLINE = 8
# Up to so many settings each is left out in turn; more of them in so many groups, as is usual (tenfold validation).
MOST_LEFT_OUT, FOLDS = 20, 10


def fit_curve(
    settings: ArrayLike,
    outputs: ArrayLike,
    *,
    family: Family = "auto",
    noise: Noise = "proportional",
    prior: Prior | Literal["default"] | None = "default",
    weights: ArrayLike | None = None,
    dead_setting: float | None = None,
    lowest: float = 0.0,
    span: float | None = None,
    fill: ArrayLike | None = None,
    fill_prior: tuple[float, float] = (0.15, 0.15),
    near: float | None = None,
    closed: float | None = None,
    reading: ArrayLike | None = None,
    rows: tuple[float, float, float] | None = None,
    parts: tuple[float, float, float] | None = None,
) -> Curve:
    """Fit output against setting.

    Parameters
    ----------
    settings : array_like, shape (n,)
        Lever openings or drive ratios: numbers that grow with the output.
    outputs : array_like, shape (n,)
        Grams per row per turn; above 0 where the noise is proportional.
    family : {"auto", "line", "spline"}
        "line" is straight without a prior and may bend slightly with one. "auto" takes the line, unless there are eight
        catches at five settings or more, the line leaves a pattern, and a spline predicts left-out catches better.
        Without a prior, and where the filling is modelled, "auto" always takes the line.
    noise : {"proportional", "constant"}
        One coefficient of variation at all settings, or one standard deviation.
    prior : {"default", None} or Prior
        None gives the classical answer: least squares, Student-t and Fieller limits. "default" is ordinary knowledge
        of a box. A `Prior` is knowledge of your own, or from the history of the box.
    weights : array_like, shape (n,), optional
        Relative precision of each catch, > 0. With a prior: how many ordinary catches each is as long as; part of the
        noise may be common to a whole catch, however long it is (`Prior.own`).
    dead_setting : float, optional
        Setting at which the line is zero, if that is known exactly; only without a prior.
    lowest, span : float, optional
        Closed end and range of the control, on which the prior is stated; 0 and the largest setting if not given. Only
        with a prior.
    fill : array_like, shape (n,), optional
        Filling above half as a fraction. The curve then holds for a half-full box. Only with a prior and proportional
        noise, and not in a spline.
    fill_prior : (float, float)
        Mean and spread of the log output gained from empty to full.
    near : float, optional
        The output that matters. No curve is exactly a bent line, so catches whose output lies far from it say less
        about the curve near it. Only with a prior and proportional noise, and not in a spline.
    closed : float, optional
        The highest setting at which nothing came: the dead setting lies there or above. Only with a prior, and not in
        a spline.
    reading : array_like, shape (n,), optional
        Standard uncertainty of reading each output, for instance by the resolution of the scale: as a fraction of the
        output, or in its unit where the noise is constant. Only with a prior.
    rows, parts : (float, float, float), optional
        How single rows, or parts of equal turns, differ within the catches: a sum of squares, its degrees of freedom,
        and what the scale's resolution adds to the variance (`Inside` of `curves/catches.py`). Only with a prior.

    Returns
    -------
    Curve

    Raises
    ------
    NotEnoughCatches
        Fewer catches than free parameters, and no prior; or too few settings for a spline.
    InputError
        Arrays that do not fit together, values no curve can take, or options that contradict each other or that the
        curve asked for would not use.

    Notes
    -----
    Without a prior and with proportional noise, the weights 1/mean^2 are iterated until they settle: a Gamma model with
    identity link and Pearson dispersion. With a prior, dead setting, bend and noise are averaged over a grid, and the
    level has a posterior in closed form under each.

    References
    ----------
    Without a prior: McCullagh & Nelder (1989), Generalized Linear Models, 2nd ed., ch. 8. With one: Gelman et al.
    (2013), Bayesian Data Analysis, 3rd ed., ch. 14. Spline: Ramsay (1988), Statist. Sci. 3, 425-441; Eilers & Marx
    (1996), Statist. Sci. 11, 89-121. All cited from memory.

    Examples
    --------
    The classical line:

    >>> line = fit_curve([10, 20, 30], [1.0, 2.0, 3.1], prior=None, noise="constant")
    >>> round(line.params["slope"], 6)
    0.105

    One catch and ordinary knowledge of a box: a line through its dead setting, with wide limits.

    >>> curve = fit_curve([30], [1.5], span=60.0)
    >>> round(curve.mean(20), 1)
    1.0
    >>> lower, upper = curve.interval(20)
    >>> lower < 0.85 < 1.15 < upper
    True
    """
    _check_words(family, noise, prior)
    x, y = numbers(settings, "settings"), numbers(outputs, "outputs")
    w = np.ones(x.shape) if weights is None else numbers(weights, "weights")
    filling, read = (
        None if each is None else numbers(each, name) for name, each in (("fill", fill), ("reading", reading))
    )
    insides = (_inside(each, name) for name, each in (("rows", rows), ("parts", parts)))
    gain, spread = several(fill_prior, "fill_prior", (ANY, POSITIVE), "the mean and the spread")
    dead, near, closed = (
        maybe_number(each, name, allowed)
        for name, each, allowed in (
            ("dead_setting", dead_setting, ANY),
            ("near", near, POSITIVE),
            ("closed", closed, ANY),
        )
    )
    lowest, span = number(lowest, "lowest"), maybe_number(span, "span", POSITIVE)
    catches = Catches(x, y, w, noise, filling, (gain, spread), read, *insides)
    with_prior = {"fill": fill, "near": near, "closed": closed, "reading": reading, "rows": rows, "parts": parts}
    given = [name for name, each in with_prior.items() if each is not None]
    given += ["span"] if span is not None else []
    given += ["lowest"] if lowest else []
    _check_options(family, prior, dead, noise, given)
    if len(x) > MOST_SETTINGS and (different := len(np.unique(x))) > MOST_SETTINGS:
        refuse("settings", f"at most {MOST_SETTINGS:,} different numbers, rounded to the steps of a control", different)
    known = cold_prior() if isinstance(prior, str) else prior
    if known is None:
        return fit_spline(catches) if family == "spline" else fit_flat(catches, dead)
    usual = Repeatability(known.repeatability)
    reach = span if span is not None else float(np.max(np.abs(catches.settings - lowest), initial=0.0))

    def line_of(part: Catches, near: float | None = None) -> ShapeCurve:
        shut = -np.inf if closed is None else closed
        return fit_shapes(part, known, usual, lowest, reach or 1.0, near, shut)

    def spline_of(part: Catches) -> SplineCurve:
        return fit_spline(part, usual, known.name)

    if family == "spline":
        return spline_of(catches)
    if family == "auto" and fill is None and _enough_for_a_spline(catches):
        # whether the shape is another one shows in a line that is to hold everywhere
        looked_at = _leaves_pattern(line_of(catches), catches)
        if looked_at and _error(spline_of, catches) < _error(line_of, catches):
            return spline_of(catches)
    return line_of(catches, near)


def _check_words(family: object, noise: object, prior: object) -> None:
    """Refuse options that no fit has."""
    word(family, "family", get_args(Family))
    word(noise, "noise", get_args(Noise))
    if prior is not None and not isinstance(prior, Prior) and not (isinstance(prior, str) and prior == "default"):
        refuse("prior", '"default", None or a Prior', prior, InputError if isinstance(prior, str) else WrongKind)


def _inside(value: tuple[float, float, float] | None, name: str) -> Inside | None:
    """How rows or parts differ within catches."""
    what = "a sum of squares, its degrees of freedom and a variance"
    return None if value is None else Inside(*several(value, name, (NOT_NEGATIVE, POSITIVE, NOT_NEGATIVE), what))


def _check_options(family: str, prior: object, dead_setting: float | None, noise: str, given: list[str]) -> None:
    """Refuse options that contradict each other, and those that the fit asked for would pass by."""
    if dead_setting is not None and family == "spline":
        raise InputError("A spline has no dead setting to hold. Use a line.")
    if dead_setting is not None and prior is not None:
        raise InputError("A held dead setting and a prior for it contradict each other. Use prior=None.")
    if prior is None and given:
        raise InputError(f"Without a prior nothing uses {' and '.join(given)}. Leave it out, or fit with a prior.")
    bent = [each for each in ("fill", "near", "closed") if each in given]
    if family == "spline" and bent:
        raise InputError(f"A spline does not use {' and '.join(bent)}. Leave it out, or fit a line.")
    if noise == "constant" and (bent := [each for each in ("fill", "near") if each in given]):
        raise InputError(f"Only with proportional noise a curve uses {' and '.join(bent)}. Leave it out.")


def _enough_for_a_spline(catches: Catches) -> bool:
    return len(catches) >= FEWEST_FOR_SPLINE and len(np.unique(catches.settings)) >= FEWEST_SETTINGS


def _leaves_pattern(line: ShapeCurve, catches: Catches) -> bool:
    """Whether the residuals of the bent line follow a curve (F test on two further bends)."""
    x = catches.settings
    df = len(x) - 5  # Level, slope and one bend belong to the line already
    residual = catches.values - line.middles(x)
    at = 2 * (x - x.min()) / np.ptp(x) - 1
    bends = np.vander(at, 5, increasing=True)
    solution = np.linalg.lstsq(bends, residual, rcond=None)[0]
    left = float(np.sum((residual - bends @ solution) ** 2))
    gain = float(residual @ residual) - left
    return left > 0 and bool(fdtrc(2, df, gain / 2 / (left / df)) < PATTERN)


def _error(fit: Callable[[Catches], Curve], catches: Catches) -> float:
    """Mean squared relative error of predicting left-out catches, each setting left out in turn.

    The two ends are not left out: beyond its catches a spline goes on straight, which says nothing of how well it fits.
    Of many settings every so many are left out together.
    """
    settings, which = np.unique(catches.settings, return_inverse=True)
    inner = len(settings) - 2
    turns = inner if inner <= MOST_LEFT_OUT else FOLDS
    turn = np.r_[-1, np.arange(inner) % turns, -1]
    predicted, least = np.full(len(settings), np.nan), 1e-3 * catches.outputs.min()
    for k in range(turns):
        try:
            predicted[turn == k] = fit(catches.where(turn[which] != k)).mean(settings[turn == k])
        except NotEnoughCatches:
            return np.inf
    out = turn[which] >= 0
    times = np.minimum(catches.outputs[out] / np.maximum(predicted[which[out]], least), 1e3)
    return float(np.mean((times - 1) ** 2))
