"""Field checks and field factors as they are shown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

from predictor.domain.arguments import text_of, word
from predictor.domain.result import Remark, Shown
from predictor.units import RATE_UNIT, SQUARE_METRES_PER_SQUARE_FOOT, Units, rate_in

# What the program makes of a check: "" where there is nothing to hold it against.
Finding = Literal["", "fits", "slip", "fault"]


@dataclass(frozen=True)
class CheckResult:
    """One field check against its target.

    Attributes
    ----------
    date : str
        As YYYY-MM-DD.
    boxes, lots, settings : tuple of str
        The boxes that ran, with the lot and the setting of each.
    kind : {"weighed", "counted"}
        Whether seed was weighed over an area, or seeds were counted in a length of row.
    achieved : float or None
        Bulk rate in grams per square metre, or pure seeds per square metre where they were counted; None where seeds
        were counted of boxes with different rows and the plan does not say how many are of each.
    target : float or None
        The same of the plan; None where the plan does not give it.
    ratio, ratio_lower, ratio_upper : float or None
        Achieved over target, with 95 % limits.
    factor, factor_lower, factor_upper : float or None
        Achieved over what the standing drill gives, with 95 % limits; None where the check was not used for the factor.
    count_log_sd : float or None
        Standard deviation of the logarithm of the planned seeds from how sure the count of seeds in a gram is, held in
        the limits of the ratio and the factor; None where seed was weighed.
    why_not : Remark or None
        Why there is no ratio or factor; None where there is.
    line : int
        Line of the file.
    seasons : tuple of (str or None)
        Of the catches that it is compared with, for each box; None without any.
    finding : {"", "fits", "slip", "fault"}
        "fits" what is known. "slip": likely a slip of weight, area, length or setting; it enters nothing. "fault": it
        would be a slip, but another one agrees with it, so it counts for its lot and season. "" without a comparison.
    slip : float or None
        Probability that it is a slip, on its own; None without a comparison.
    given : Remark or None
        What was taken as given, since no number can show it.
    """

    date: str
    boxes: tuple[str, ...]
    lots: tuple[str, ...]
    settings: tuple[str, ...]
    kind: Literal["weighed", "counted"]
    achieved: float | None
    target: float | None
    ratio: float | None
    ratio_lower: float | None
    ratio_upper: float | None
    factor: float | None
    factor_lower: float | None
    factor_upper: float | None
    count_log_sd: float | None
    why_not: Remark | None
    line: int
    seasons: tuple[str | None, ...] = ()
    finding: Finding = ""
    slip: float | None = None
    given: Remark | None = None

    def to_dict(self, units: Units) -> dict[str, Any]:
        """Fields by name, amounts in the unit added, and `why_not` and `given` as sentences ("" for none).

        Parameters
        ----------
        units : {"us", "metric"}

        Returns
        -------
        dict

        Examples
        --------
        >>> import predictor
        >>> check = predictor.read_job("sample_trials").field.checks[2].to_dict("us")
        >>> round(check["achieved"], 2), check["unit"]
        (2.76, 'lb/ac')
        """
        word(units, "units", get_args(Units))
        if self.kind == "weighed":
            scale, unit = rate_in(1.0, units), RATE_UNIT[units]
        else:
            scale, unit = (SQUARE_METRES_PER_SQUARE_FOOT, "seeds/ft2") if units == "us" else (1.0, "seeds/m2")
        target = None if self.target is None else scale * self.target
        achieved = None if self.achieved is None else scale * self.achieved
        amounts = {"achieved": achieved, "target": target, "unit": unit}
        return {
            **vars(self),
            **amounts,
            "why_not": str(self.why_not or ""),
            "given": str(in_units(self.given, units) or ""),
        }


def in_units(remark: Remark | None, units: Units) -> Remark | None:
    """A remark whose sentence has its amounts in some units."""
    return None if remark is None else Remark(remark.code, {**remark.values, "units": units})


@dataclass(frozen=True)
class BoxFactor:
    """Field factor of one box: its rate in the field over its rate while the drill stands.

    Attributes
    ----------
    box : str
    factor, lower, upper : float
        With 95 % limits. The thinner the evidence, the nearer to the published mean of 0.918.
    log_sd : float
        Standard uncertainty of its logarithm.
    dof : float
        Degrees of freedom of the limits.
    alone, together : int
        Checks of this box alone, and of this box with others.
    trend, trend_lower, trend_upper : float or None
        Change of the factor in 30 days, as a fraction, with 95 % limits; None where the checks are too few.
    """

    box: str
    factor: float
    lower: float
    upper: float
    log_sd: float
    dof: float
    alone: int
    together: int
    trend: float | None = None
    trend_lower: float | None = None
    trend_upper: float | None = None


@dataclass(frozen=True)
class FieldResult(Shown):
    """What the field checks of a job show.

    Attributes
    ----------
    checks : tuple of CheckResult
        One for each row of the file.
    boxes : tuple of BoxFactor
        The boxes that have a factor, in the drill's order.
    remarks : tuple of Remark
        What these checks cannot tell apart.
    units : {"us", "metric"}
        In which its rates are shown.
    """

    checks: tuple[CheckResult, ...]
    boxes: tuple[BoxFactor, ...]
    remarks: tuple[Remark, ...] = ()
    units: Units = "us"

    def factors(self) -> dict[str, float]:
        """Box to field factor."""
        return {each.box: each.factor for each in self.boxes}

    def of(self, box: str) -> BoxFactor | None:
        """The factor of one box.

        Parameters
        ----------
        box : str
            Name, in capitals or not.

        Returns
        -------
        BoxFactor or None
            None where no check gives one.

        Examples
        --------
        >>> import predictor
        >>> field = predictor.read_job("sample_trials").field
        >>> round(field.of("grain").factor, 2)
        0.92
        """
        name = text_of(box, "box").lower()
        return next((each for each in self.boxes if each.box.lower() == name), None)
