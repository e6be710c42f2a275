"""Advice on one box and lot, as a result to print, draw and pass on."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, get_args

import numpy as np
from numpy.typing import ArrayLike

from predictor.advice.aim import Aim
from predictor.advice.decision import Decision, Otherwise
from predictor.curves.base import Curve
from predictor.domain.arguments import maybe_number, maybe_word, numbers
from predictor.domain.catch import CatchSize, catch_size, rate_for_output
from predictor.domain.control import Control, Floats, Setting
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.domain.result import Remark, Shown
from predictor.domain.trials import Trials
from predictor.errors import InputError
from predictor.slips.finding import Finding
from predictor.slips.given import taken_as_given
from predictor.units import RATE_UNIT, Units, rate_in

Limits = tuple[float | None, float | None]


@dataclass(frozen=True)
class Advice(Shown):
    """What to do next with one box and lot.

    Two pieces of advice are equal where everything but the curve and the catches behind them is.

    Attributes
    ----------
    box, lot, season : str
    aim : Aim
        Target, tolerance, confidence, history and field factor.
    decision : {"lock", "move", "repeat", "lengthen", "unreachable", "recheck"}
    why : Remark
        The reason: a code and the values of its sentence, which is `reason`.
    advised : Setting or None
        Where to lock, or where to catch next; its value is `setting`.
    setting_interval : tuple
        Where the ideal setting lies, 95 %; a side that the data do not bound is None.
    chance : float or None
        Probability that the drill's true mean rate at `setting` is within tolerance of target; None before any curve,
        and where the lever seems to count the other way.
    turns, rows : float
        Of the last catch.
    next_turns, next_rows : float
        Of the catch to make next, to which all weights refer: more where it is to be lengthened.
    next_length : float
        Length of the next catch, counted in catches of the length that the curve's noise refers to.
    next_rows_sd : float
        Relative standard deviation of the next catch from rows that were not caught so far.
    shared_sd : float
        Relative standard deviation that more catches like these leave in the mean of the whole drill: from rows that
        were not caught, and from the field factor of standing catches in a towed lot. It is in `chance`.
    expected_output, expected_interval : float or None, tuple
        Mean output at `setting`, 95 %, grams per row per turn.
    catches_used, catches_left_out, catches_expected_more : int
        The last are still to make before a setting can be locked; None where no number would do, or nobody can tell.
    family : {"line", "spline", "none"}
        Curve used.
    repeatability : float or None
    present : Setting or None
        Where the control stands: at the last catch.
    whole_drill : bool
        Whether `chance` is that of all rows, weighed singly or all caught; else that of the rows caught.
    offers_lock : bool
        Whether the setting may be locked as it is, at a chance below the confidence, since more catches are hardly
        worth it.
    towed : bool
        Whether the lot was caught while the drill was towed: outputs and chance are then those of the field.
    checked : bool
        Whether a field check judged the setting of this lot.
    remarks : tuple of Remark
        What should be known besides; as sentences they are `warnings`.
    set_aside : tuple of int
        Lines of catches that were not used because the rest contradicts them.
    slips : tuple of Finding
        What looks like a slip in the catches, the likeliest first.
    carrier : bool
        Whether the plan mixes a carrier into the lot.
    otherwise : {"lock", "offer", "unreachable"} or None
        What the catches would say, did a likely slip not have to be looked at first: `chance` is then that of catches
        without a slip. None where no slip waits, or they would go on.
    drill, curve : Drill, Curve or None
    trials : Trials
        All catches of the lot and season.
    seed_box : SeedBox
        The box, whose rows and meters all settings and weights refer to.
    control : Lever or Sprockets
        What sets its output; of a box with two controls the lever on the drive that `advised` names.
    """

    box: str
    lot: str
    season: str
    aim: Aim
    decision: Decision
    why: Remark
    advised: Setting | None
    setting_interval: tuple[float | str | None, float | str | None]
    chance: float | None
    turns: float
    rows: float
    next_turns: float
    next_rows: float
    next_length: float
    next_rows_sd: float
    shared_sd: float
    expected_output: float | None
    expected_interval: Limits
    catches_used: int
    catches_left_out: int
    catches_expected_more: int | None
    family: str
    repeatability: float | None
    trials: Trials = field(repr=False, compare=False)
    seed_box: SeedBox = field(repr=False)
    control: Control = field(repr=False)
    present: Setting | None = None
    whole_drill: bool = True
    offers_lock: bool = False
    towed: bool = False
    checked: bool = False
    remarks: tuple[Remark, ...] = ()
    set_aside: tuple[int, ...] = ()
    slips: tuple[Finding, ...] = ()
    carrier: bool = False
    otherwise: Otherwise | None = None
    drill: Drill | None = field(default=None, repr=False)
    curve: Curve | None = field(default=None, repr=False, compare=False)

    @property
    def setting(self) -> float | str | None:
        """The setting's value: a lever's reading or the label of a chain position."""
        return None if self.advised is None else self.advised.value

    @property
    def target_output(self) -> float:
        """Grams per row per turn."""
        return self.aim.target_output

    @property
    def tolerance(self) -> float:
        """How far the true mean rate may lie from target, a fraction."""
        return self.aim.tolerance

    @property
    def confidence(self) -> float:
        """Chance at which a setting may be locked."""
        return self.aim.confidence

    @property
    def reason(self) -> str:
        """Why, in a few sentences."""
        return str(self.why)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What should be known besides, a sentence or two each."""
        return tuple(map(str, self.remarks))

    @property
    def model(self) -> str:
        """The curve in words, and why it was taken."""
        return str(Remark("advice.model", {"family": self.family, "history": self.aim.history is not None}))

    @property
    def history(self) -> str:
        """What was taken from earlier lots, one line; "" for nothing."""
        return "" if self.aim.history is None else str(self.aim.history.remark)

    @property
    def waiting(self) -> Finding | None:
        """The likely slip that has to be looked at before anything else; None where there is none."""
        if not self.why.code.startswith("slips."):
            return None
        return next(each for each in self.slips if each.remark == self.why)

    @cached_property
    def given(self) -> Remark | None:
        """What was taken as given of the catches, for one line; None before the first."""
        return taken_as_given(self.trials, self.seed_box, self.drill, carrier=self.carrier)

    @property
    def step_g(self) -> float:
        """Step of the scale, grams."""
        return (CatchDefaults() if self.drill is None else self.drill.catch).scale_resolution_g

    @property
    def next_size(self) -> CatchSize:
        """The size of the next catch, as people count it."""
        return catch_size(self.next_turns, self.next_rows, self.drill, self.seed_box, self.towed)

    @property
    def target_catch_g(self) -> float:
        """Weight that the next catch should have, grams."""
        return self.target_output * self.next_turns * self.next_rows

    @property
    def expected_catch_g(self) -> float | None:
        """Weight that the next catch at `setting` should have on average, grams; None before any curve."""
        return None if self.expected_output is None else self.expected_output * self.next_turns * self.next_rows

    @cached_property
    def next_catch_interval_g(self) -> Limits:
        """What the next catch at `setting` should weigh, 95 %, grams; None before any curve."""
        if self.curve is None or self.advised is None:
            return None, None
        low, high = self.next_weights([0.025, 0.975]).tolist()
        return low, high

    def next_weights(self, share: ArrayLike, opening: ArrayLike | None = None) -> Floats:
        """Weight that the next catch stays below with a given probability.

        Parameters
        ----------
        share : array_like
            Probabilities between 0 and 1.
        opening : array_like, optional
            Where the catch is made, of a shape that goes with `share`; the advised setting where not given.

        Returns
        -------
        ndarray
            Grams over the turns and rows of the next catch.

        Raises
        ------
        InputError
            There is no curve, or no opening; or a share is not between 0 and 1.

        Examples
        --------
        >>> import predictor
        >>> job = predictor.read_job("sample_trials")
        >>> advice = job.advice(job.tasks("small", "forb mix")[0])
        >>> advice.next_weights([0.025, 0.975]).round(1).tolist()
        [21.7, 25.9]
        """
        if opening is None and self.advised is not None:
            opening = self.advised.opening
        if self.curve is None or opening is None:
            raise InputError("Nothing is known of the next catch yet.")
        at, shares = numbers(opening, "opening"), numbers(share, "share")
        outputs = self.curve.quantile(at, shares, "next", self.next_length, self.next_rows_sd**2)
        return np.maximum(outputs, 0.0) * (self.next_turns * self.next_rows)  # a spline knows no zero

    def rate(self, output: float | None, units: Units | None = None) -> float | None:
        """An output as a rate in the field, in the drill's units or those named; None without a drill.

        Parameters
        ----------
        output : float or None
            Grams per row per turn, of a standing drill or, for a towed lot, in the field.
        units : {"us", "metric"}, optional
            The drill's where not given.

        Returns
        -------
        float or None
            Pounds per acre, or kilograms per hectare; None without a drill or an output.
        """
        output = maybe_number(output, "output")
        maybe_word(units, "units", get_args(Units))
        if output is None or self.drill is None:
            return None
        return rate_in(
            rate_for_output(output, self.drill, self.seed_box, self.aim.field_factor), units or self.drill.units
        )

    def to_dict(self, units: Units | None = None) -> dict[str, Any]:
        """The result as plain values for JSON; every number finite or None.

        Parameters
        ----------
        units : {"us", "metric"}, optional
            Of rates; the drill's where not given.

        Returns
        -------
        dict
            The keys of one result of `recommend --json`; rates are None without a drill.
        """

        maybe_word(units, "units", get_args(Units))

        def fields(*names: str) -> dict[str, Any]:
            return {name: getattr(self, name) for name in names}

        return {
            **fields("box", "lot", "season", "decision", "reason"),
            "reason_code": self.why.code.partition(".")[2],
            "setting": self.setting,
            "setting_interval": list(self.setting_interval),
            **fields("chance", "offers_lock", "tolerance", "confidence"),
            "target": {
                "rate": self.rate(self.target_output, units),
                "rate_unit": RATE_UNIT[units or self.drill.units] if self.drill else None,
                "catch_g": self.target_catch_g,
            },
            "expected": {
                "rate": self.rate(self.expected_output, units),
                "rate_interval": [self.rate(end, units) for end in self.expected_interval],
                "catch_g": self.expected_catch_g,
                "next_catch_interval_g": list(self.next_catch_interval_g),
            },
            "next_catch": {
                "turns": self.next_turns,
                "length": self.next_size.length,
                "counted": self.next_size.counted,
                "rows": self.next_rows,
            },
            "towed": self.towed,
            **fields("catches_used", "catches_left_out", "catches_expected_more"),
            **fields("model", "repeatability", "history"),
            "warnings": list(self.warnings),
            "otherwise": self.otherwise,
            "slips": [each.to_dict() for each in self.slips],
            "given": None if self.given is None else str(self.given),
        }
