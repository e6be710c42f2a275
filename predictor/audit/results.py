"""What an audit found: codes and figures, from which text, JSON, pictures and page are made."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import Any, Literal

from predictor.domain.control import Floats
from predictor.domain.result import Remark

# A double keeps so many digits.
MOST_DIGITS = 15.0
# From so many digits on two answers are the same for whoever sets a drill; by fewer a figure differs.
ENOUGH_DIGITS = 6.0
# A test with a smaller p is worth a look.
SUSPECT = 0.05

TestName = Literal["setting", "order", "filling", "season", "seasons", "noise"]
Target = Literal["plan", "log", "usual"]


def digits_of(value: float, right: float) -> float:
    """Digits in which two figures agree: the log relative error, no more than a double keeps.

    Source: McCullough (1998), Am. Stat. 52, 358-366 (pages from memory).
    """
    if value == right or (math.isnan(value) and math.isnan(right)):
        return MOST_DIGITS
    if not (math.isfinite(value) and math.isfinite(right)):
        return 0.0
    error = abs(value - right) / abs(right) if right else abs(value)
    return min(max(-math.log10(error), 0.0), MOST_DIGITS)


@dataclass(frozen=True)
class Figure:
    """One figure by two ways, and by exact arithmetic where that was done."""

    name: str
    ours: float
    theirs: float
    exact: float | None = None
    of: str = ""  # The lot it is of, where there is one for each
    tiny: float = 0.0  # A difference no larger than this is the rounding of larger numbers

    @property
    def digits(self) -> float:
        """Digits in which both agree."""
        return digits_of(self.theirs, self.ours)

    @property
    def counts(self) -> bool:
        """Whether its digits say anything: those of a figure near nothing are rounding."""
        return not abs(self.theirs - self.ours) <= self.tiny


@dataclass(frozen=True)
class Opinion:
    """What another library answers on the same catches.

    `far` is how far the solution of the equations that define the answer lies from it, by one Newton step, in standard
    errors: 0 at the solution itself.
    """

    method: Literal["wls", "gamma", "mixed", "ols"]
    figures: tuple[Figure, ...]
    far_ours: float
    far_theirs: float
    why: Remark  # Who is right where they differ

    @property
    def digits(self) -> float:
        """Digits in which the figure that differs the most agrees."""
        return min((each.digits for each in self.figures if each.counts), default=MOST_DIGITS)

    def figure(self, name: str) -> Figure:
        """The figure of a name."""
        return next(each for each in self.figures if each.name == name)


@dataclass(frozen=True)
class Check:
    """A test of what the line takes for granted; without a p value where the catches do not allow one."""

    name: TestName
    catches: int
    statistic: float | None = None
    df1: float | None = None
    df2: float | None = None
    p: float | None = None
    effect: float | None = None  # Relative change of output a catch later, or from an empty box to a full one
    method: str = ""  # "lack-of-fit", "quadratic", "added", "one-way", "breusch-pagan"
    reason: Remark | None = None  # Why there is no p value


@dataclass(frozen=True)
class Line:
    """The classical line of one lot with Fieller's limits for the setting, and the scale it is on."""

    intercept: float
    slope: float
    intercept_se: float
    slope_se: float
    spread: float  # Coefficient of variation of a catch of ordinary length
    df: float
    setting: float  # Openings, as the line has them
    setting_lower: float
    setting_upper: float
    shape: str


@dataclass(frozen=True)
class View:
    """What one fit says of the setting: openings, limits, and the chance at the nearest setting of the control."""

    name: Literal["history", "default", "classical"]
    ideal: float
    lower: float
    upper: float
    readings: tuple[str, ...]  # The same as the control shows them
    at: str  # Nearest setting that the control has
    chance: float
    worth: float | None = None  # Catches that all but the catches is worth, by the classical line


@dataclass(frozen=True, eq=False)
class Residuals:
    """Standardised residuals with what they are held against; NaN where not recorded."""

    opening: Floats
    order: Floats
    fill: Floats
    value: Floats
    output: Floats


@dataclass(frozen=True)
class LotAudit:
    """A second opinion on one lot of a box in one season."""

    box: str
    lot: str
    season: str
    catches: int
    set_aside: tuple[int, ...]  # Lines of catches that the rest contradicts; the advice does not use them either
    target_output: float | None = None
    target_from: Target = "usual"
    line: Line | None = None
    scale: str = "setting"  # Or "drive ratio": what the readings are
    readings: tuple[str, ...] = ("", "", "", "")  # Setting, its limits, and the setting by the other library
    opinions: tuple[Opinion, ...] = ()
    checks: tuple[Check, ...] = ()
    views: tuple[View, ...] = ()
    remarks: tuple[Remark, ...] = ()  # What cannot be given, and why
    residuals: Residuals | None = field(default=None, repr=False, compare=False)

    @property
    def verdict(self) -> Remark:
        """What the second opinion comes to."""
        if self.line is None or not self.opinions:
            return self.remarks[0]
        setting = self.opinions[0].figure("setting")
        worst = self.opinions[0].digits
        values: dict[str, Any] = {"scale": self.scale, "ours": self.readings[0], "theirs": self.readings[3]}
        values |= {"digits": int(setting.digits), "worst": int(worst)}
        if math.isnan(setting.ours):
            return Remark("audit.flat", values)
        return Remark("audit.agrees" if worst >= ENOUGH_DIGITS else "audit.differs", values)

    @property
    def doubtful(self) -> tuple[Check, ...]:
        """The tests with p below 5 %."""
        return tuple(each for each in self.checks if each.p is not None and each.p < SUSPECT)

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON; what is not a finite number is None."""
        values: dict[str, Any] = plain(replace(self, residuals=None))
        del values["residuals"]
        return {"verdict": str(self.verdict), **values}


@dataclass(frozen=True)
class BoxAudit:
    """A second opinion on the lots of one box."""

    box: str
    lots: int  # Compared here
    all_lots: int
    catches: int
    opinions: tuple[Opinion, ...] = ()
    season: Check | None = None
    remarks: tuple[Remark, ...] = ()
    # Standardised residuals in each season, in the order of time, of lots caught in several
    by_season: tuple[tuple[str, Floats], ...] = field(default=(), repr=False, compare=False)

    @property
    def verdict(self) -> Remark:
        """What the second opinion comes to."""
        if not self.opinions:
            return self.remarks[0]
        values = {"lots": self.lots, "digits": int(min(each.digits for each in self.opinions))}
        return Remark("audit.lots_agree" if values["digits"] >= 3 else "audit.lots_differ", values)

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON; what is not a finite number is None."""
        values: dict[str, Any] = plain(replace(self, by_season=()))
        del values["by_season"]
        return {"verdict": str(self.verdict), **values}


@dataclass(frozen=True)
class Audit:
    """A second opinion on the lots of a job."""

    lots: tuple[LotAudit, ...]
    boxes: tuple[BoxAudit, ...]
    all_lots: int  # Lots in their seasons, of which `lots` may be some

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON: a result for each lot, and one for each box."""
        tests = {"tests": self.checks, "tests_below_5_percent": self.doubtful, "all_lots": self.all_lots}
        lots, boxes = ([each.to_dict() for each in part] for part in (self.lots, self.boxes))
        return {"schema": 1, "results": lots, "boxes": boxes, **tests}

    @property
    def checks(self) -> int:
        """Tests that gave a p value."""
        return sum(each.p is not None for each in self._every())

    @property
    def doubtful(self) -> int:
        """Tests with p below 5 %."""
        return sum(each.p is not None and each.p < SUSPECT for each in self._every())

    def _every(self) -> list[Check]:
        of_boxes = [each.season for each in self.boxes if each.season is not None]
        return [check for each in self.lots for check in each.checks] + of_boxes


def plain(value: Any) -> Any:
    """Nested plain values: remarks as sentences, figures with their digits, numbers that are not finite as None."""
    if isinstance(value, Remark):
        return str(value)
    if is_dataclass(value):
        found = {each.name: plain(getattr(value, each.name)) for each in fields(value)}
        return found | ({"digits": round(value.digits, 1)} if isinstance(value, Figure | Opinion) else {})
    if isinstance(value, tuple):
        return [plain(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
