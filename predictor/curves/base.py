"""What every fitted curve answers, whichever way it was fitted."""

from abc import abstractmethod
from dataclasses import dataclass
from typing import ClassVar, Literal, overload

import numpy as np
from numpy.typing import ArrayLike

from predictor.curves import asked
from predictor.curves.answers import Answers
from predictor.curves.asked import Of, at_known, like
from predictor.curves.estimate import SettingEstimate
from predictor.domain.arguments import NOT_NEGATIVE, POSITIVE, number, numbers
from predictor.domain.control import Floats
from predictor.domain.result import Shown

Noise = Literal["proportional", "constant"]
PriorName = Literal["default", "history"]
Limits = tuple[Floats, Floats]
AnyLimits = tuple[float | Floats, float | Floats]


@dataclass(frozen=True, eq=False, kw_only=True)
class Curve(Answers, Shown):
    """Output of one box and lot against the setting, and how certain it is.

    Settings are numbers that grow with the output: a lever's opening or a drive ratio. Outputs are grams per row per
    turn. A number gives a number back, an array gives an array of its shape, with NaN where a setting is NaN, masked or
    missing. What cannot be asked raises an InputError that names the argument. A curve never changes, and it can be
    pickled. It is equal only to itself, since it holds arrays; compare `params` to see whether two fits agree.

    Attributes
    ----------
    family : {"line", "spline"}
    noise : {"proportional", "constant"}
    prior : {"default", "history", None}
    n : int
        Catches it was fitted to.
    low, high : float
        Lowest and highest setting caught; the ends of the control before any catch.
    df : float
        Degrees of freedom behind its limits.
    spread : float
        Noise of one catch: coefficient of variation, or standard deviation where the noise is constant.
    fill_effect : (float, float) or None
        Log output of a full box over an empty one and its standard uncertainty, where the filling is in the model.

    Examples
    --------
    >>> from predictor import fit_curve
    >>> curve = fit_curve([10, 20, 30], [1.0, 2.0, 3.1], prior=None, noise="constant")
    >>> round(curve.mean(25), 3)
    2.558
    >>> print(curve.summary().partition("\\n\\n")[0])
    A straight line by least squares, without prior knowledge of the box. Fitted to
    3 catches. Repeatability: 0.0408 g per row per turn.
    """

    family: ClassVar[Literal["line", "spline"]]
    noise: Noise
    prior: PriorName | None
    n: int
    low: float
    high: float
    df: float
    spread: float
    fill_effect: tuple[float, float] | None = None

    @property
    @abstractmethod
    def params(self) -> dict[str, float]:
        """Estimated parameters by name."""

    @property
    @abstractmethod
    def std_errors(self) -> dict[str, float]:
        """Standard errors of `params` (posterior standard deviations where there is a prior)."""

    @property
    def cv(self) -> float:
        """Repeatability: coefficient of variation of catches at one setting.

        Raises
        ------
        AttributeError
            The noise is constant; use `sd`.
        """
        if self.noise != "proportional":
            raise AttributeError("A curve with constant noise has .sd, not .cv.")
        return self.spread

    @property
    def sd(self) -> float:
        """Standard deviation of catches at one setting, grams per row per turn.

        Raises
        ------
        AttributeError
            The noise is proportional; use `cv`.
        """
        if self.noise != "constant":
            raise AttributeError("A curve with proportional noise has .cv, not .sd.")
        return self.spread

    def noise_of(self, weight: float = 1.0) -> float:
        """Noise of a catch that is as long as so many ordinary ones; of an ordinary catch it is `spread`.

        Parameters
        ----------
        weight : float
            How many ordinary catches long it is, > 0.

        Returns
        -------
        float
            Coefficient of variation, or standard deviation where the noise is constant.

        Examples
        --------
        >>> from predictor import fit_curve
        >>> curve = fit_curve([10, 20, 30], [1.0, 2.0, 3.1], prior=None)
        >>> curve.noise_of(4) == curve.cv / 2
        True
        """
        return self._noise_of(number(weight, "weight", POSITIVE))

    @overload
    def mean(self, x: float) -> float: ...
    @overload
    def mean(self, x: ArrayLike) -> Floats: ...
    def mean(self, x: ArrayLike) -> float | Floats:
        """Mean output at settings.

        Parameters
        ----------
        x : float or array_like
            Settings, any shape.

        Returns
        -------
        float or ndarray, shape of `x`
            Grams per row per turn.

        Examples
        --------
        >>> from predictor import fit_curve
        >>> curve = fit_curve([10, 20, 30], [1.0, 2.0, 3.1], prior=None, noise="constant")
        >>> round(curve.mean(20), 3)
        2.033
        """
        return at_known(self._mean, numbers(x, "x"))

    @overload
    def quantile(
        self, x: float, share: float, of: Of = "mean", weight: float = 1.0, extra_variance: float = 0.0
    ) -> float: ...
    @overload
    def quantile(
        self, x: ArrayLike, share: ArrayLike, of: Of = "mean", weight: ArrayLike = 1.0, extra_variance: float = 0.0
    ) -> Floats: ...
    def quantile(
        self, x: ArrayLike, share: ArrayLike, of: Of = "mean", weight: ArrayLike = 1.0, extra_variance: float = 0.0
    ) -> float | Floats:
        """Output that the mean, or the next catch, stays below with a given probability.

        Parameters
        ----------
        x, share : float or array_like
            Settings, and probabilities between 0 and 1, of shapes that go together.
        of : {"mean", "next"}
        weight : float or array_like
            How many ordinary catches long the next one is; of a shape that goes with `x`.
        extra_variance : float
            Variance of a relative error that all catches share (rows that were not caught), as a fraction squared.

        Returns
        -------
        float or ndarray, shape of `x` and `share` together
            Grams per row per turn.

        References
        ----------
        With a prior: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., ch. 14. A spline: Wahba (1983), J. R. Stat.
        Soc. B 45, 133-150. Both cited from memory.

        Examples
        --------
        >>> from predictor import fit_curve
        >>> fit_curve([10, 20, 30], [1.0, 2.0, 3.1]).quantile(20, [0.1, 0.9]).round(1).tolist()
        [2.0, 2.1]
        """
        asked.of_what(of)
        at, shares, weights = asked.together(x=x, share=asked.shares(share), weight=asked.lengths(weight))
        extra = number(extra_variance, "extra_variance", NOT_NEGATIVE)
        return at_known(lambda x, share, weight: self._quantile(x, share, of, weight, extra), at, shares, weights)

    @overload
    def interval(self, x: float, level: float = 0.95, of: Of = "mean", weight: float = 1.0) -> tuple[float, float]: ...
    @overload
    def interval(self, x: ArrayLike, level: float = 0.95, of: Of = "mean", weight: ArrayLike = 1.0) -> Limits: ...
    def interval(self, x: ArrayLike, level: float = 0.95, of: Of = "mean", weight: ArrayLike = 1.0) -> AnyLimits:
        """Limits for the mean output, or for the next catch, with equal tails.

        Parameters
        ----------
        x : float or array_like
            Settings, any shape.
        level : float
            Probability of the limits, 0 < level < 1.
        of : {"mean", "next"}
        weight : float or array_like
            How many ordinary catches long the next one is; of a shape that goes with `x`.

        Returns
        -------
        lower, upper : float or ndarray, shape of `x`
            Grams per row per turn.

        Raises
        ------
        InputError
            `level` is not between 0 and 1, or another argument is not what is said above. So it is of all methods.

        Examples
        --------
        >>> from predictor import fit_curve
        >>> curve = fit_curve([10, 20, 30], [1.0, 2.0, 3.1], prior=None, noise="constant")
        >>> lower, upper = curve.interval(20)
        >>> round(lower, 2), round(upper, 2)
        (1.73, 2.33)
        """
        outside = (1 - asked.level_of(level)) / 2
        at, weights = asked.together(x=x, weight=asked.lengths(weight))
        shares = np.reshape([outside, 1 - outside], (2, *[1] * at.ndim))
        both = np.asarray(self.quantile(at, shares, of, weights))
        return like(both[0]), like(both[1])

    def setting_for(self, output: float, level: float = 0.95, of: Of = "mean") -> SettingEstimate:
        """Setting at which the mean output equals a wanted one, with limits.

        Parameters
        ----------
        output : float
            Wanted output, grams per row per turn.
        level : float
            Probability of the limits, 0 < level < 1.
        of : {"mean", "next"}
            Whether `output` is the mean wanted, or a single catch that was read.

        Returns
        -------
        SettingEstimate

        Raises
        ------
        InputError
            `level` is not between 0 and 1, or `output` is not above 0 where the curve is a line with a prior.

        References
        ----------
        A line without a prior: Fieller (1954), J. R. Stat. Soc. B 16, 175-185.

        Examples
        --------
        >>> from predictor import fit_curve
        >>> curve = fit_curve([10, 20, 30], [1.0, 2.0, 3.1], prior=None, noise="constant")
        >>> found = curve.setting_for(2.0)
        >>> round(found.estimate, 2), found.shape
        (19.68, 'finite')
        """
        asked.of_what(of)
        return self._setting_for(number(output, "output", self._outputs), asked.level_of(level), of)

    @overload
    def probability(self, x: float, low: float, high: float, extra_variance: float = 0.0) -> float: ...
    @overload
    def probability(self, x: ArrayLike, low: float, high: float, extra_variance: float = 0.0) -> Floats: ...
    def probability(self, x: ArrayLike, low: float, high: float, extra_variance: float = 0.0) -> float | Floats:
        """Probability that the mean output lies between two outputs.

        Parameters
        ----------
        x : float or array_like
            Settings, any shape.
        low, high : float
            Grams per row per turn, low <= high.
        extra_variance : float
            Variance of a relative error that all catches share (rows that were not caught), as a fraction squared.

        Returns
        -------
        float or ndarray, shape of `x`

        References
        ----------
        As for `quantile`: Gelman et al. (2013); Wahba (1983).

        Examples
        --------
        >>> from predictor import fit_curve
        >>> fit_curve([10, 20, 30], [1.0, 2.0, 3.1]).probability(20, 1.8, 2.2) > 0.9
        True
        """
        (low, high), extra = asked.outputs(low, high), number(extra_variance, "extra_variance", NOT_NEGATIVE)
        return at_known(lambda x: self._probability(x, low, high, extra), numbers(x, "x"))

    def probability_none(self, x: ArrayLike, low: float, high: float, extra_variance: float = 0.0) -> float:
        """Probability that the mean output lies between two outputs at none of several settings.

        A curve without shapes answers by the two ends, and with 0 where one setting has a probability of a half.

        Parameters
        ----------
        x : array_like, shape (m,)
            Settings, ascending.
        low, high : float
            Grams per row per turn, low <= high.
        extra_variance : float
            Variance of a relative error that all catches share (rows that were not caught), as a fraction squared.

        Returns
        -------
        float

        Examples
        --------
        >>> from predictor import fit_curve
        >>> curve = fit_curve([10, 20, 30], [1.0, 2.0, 3.1])
        >>> curve.probability_none([5, 10, 40], 1.8, 2.2) > 0.9
        True
        """
        low, high = asked.outputs(low, high)
        return self._none(asked.ascending(x), low, high, number(extra_variance, "extra_variance", NOT_NEGATIVE))

    def probability_next(self, x: float, output: float, weight: float = 1.0) -> float:
        """Probability that the next catch at a setting gives at most an output.

        Parameters
        ----------
        x : float
            Setting.
        output : float
            Grams per row per turn.
        weight : float
            How many ordinary catches long the next one is.

        Returns
        -------
        float

        Examples
        --------
        >>> from predictor import fit_curve
        >>> fit_curve([10, 20, 30], [1.0, 2.0, 3.1]).probability_next(20, 3.0) > 0.99
        True
        """
        found, long = number(output, "output"), number(weight, "weight", POSITIVE)
        return float(at_known(lambda x: np.array([self._probability_next(x, found, long)]), asked.one(x)))

    def settings_within(self, low: float, high: float, doubt: float) -> tuple[float, float]:
        """Stretch outside of which no setting is likely to give an output between two outputs.

        Parameters
        ----------
        low, high : float
            Grams per row per turn, low <= high.
        doubt : float
            Probability, at either side, that such a setting lies outside; a curve may leave less.

        Returns
        -------
        lower, upper : float
            Settings; infinite where the curve does not bound them.

        Examples
        --------
        >>> from predictor import fit_curve
        >>> curve = fit_curve([10, 20, 30], [1.0, 2.0, 3.1])
        >>> lower, upper = curve.settings_within(1.8, 2.2, 0.01)
        >>> 10 < lower < 20 < upper < 30
        True
        """
        return self._within(*asked.outputs(low, high), asked.doubt_of(doubt))
