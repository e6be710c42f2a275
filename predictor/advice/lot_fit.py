"""The curve of one box and lot near a wanted output, with the catches that count and those that do not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from predictor.advice import evidence
from predictor.advice.controls import advisable, not_shut, on_other_drives, present_setting
from predictor.advice.evidence import Contradiction, RowDifferences, named
from predictor.advice.history import History, prior_on_drive
from predictor.advice.setup import Setup
from predictor.curves.base import Curve
from predictor.curves.prior import Prior, cold_prior
from predictor.domain.catch import CatchSize, catch_size, wheel_turns
from predictor.domain.control import Control, Floats, Lever, Setting
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.domain.drives import LeverAndDrive, OnDrive, on_drive
from predictor.domain.result import Remark
from predictor.domain.trials import Trials, last_season

# A scale that shows nothing says that nothing came only where the wanted catch is this many of its steps.
LEAST_STEPS = 10
# A quarter of the catches of a lot may be set aside, one at a time, since one may hide another. Among more catches than
# this none does, and the surest go together, so many times.
MANY, ROUNDS = 100, 4


@dataclass(frozen=True)
class Stationary:
    """What a box gives at one opening while the drill stands, or in the field where its lot was towed.

    Attributes
    ----------
    log_output : float
        Log of the mean output, grams per row per turn: the middle of what it may be.
    log_sd : float
        Its standard uncertainty, rows that were not caught included.
    curve_sd, rows_sd : float
        The two parts of it: catches and curve; rows that were not caught.
    dof : float
        Degrees of freedom of the first part.
    fill_effect : float or None
        Log output of a full box over an empty one; None where no fillings were recorded.
    """

    log_output: float
    log_sd: float
    curve_sd: float
    rows_sd: float
    dof: float
    fill_effect: float | None = None


@dataclass(frozen=True, eq=False)
class LotFit:
    """One box and lot under calibration, fitted once. It is compared by identity."""

    log: Trials  # All catches, of any box and lot, that it was fitted from
    slip: tuple[float, float] | None  # Field factor of standing catches where the lot was towed, and how sure it is
    box: SeedBox
    control: Control  # Of the box; where it has two, the lever on the drive in hand
    lot: str
    season: str
    catches: Trials  # All catches of the lot and season
    used: Trials  # Those the curve was fitted to, as if made on the drive in hand
    drill: Drill | None
    prior: Prior
    near: float | None  # Output near which the curve should hold, grams per row per turn
    curve: Curve | None  # None where neither catches nor earlier lots say anything
    openings: Floats  # Of the settings that may be advised, ascending
    rows: RowDifferences | None  # What single-row weights say
    turns_caught: float  # Of the last catch, or the drill's
    rows_caught: float
    present: Setting | None  # Where the control stands: at the last catch
    towed: bool  # Whether it was caught while the drill was towed, so that its outputs are those of the field
    set_aside: tuple[int, ...]  # Lines of catches that the rest contradicts
    suspects: tuple[Contradiction, ...]  # Catches used that contradict the rest, worst first
    remarks: tuple[Remark, ...]
    setup: Setup  # What its curve was fitted with

    def refit(self, used: Trials) -> Curve:
        """The line of other catches, or of these with something changed, with all else alike."""
        return self.setup.curve(used, np.ones(len(used), dtype=bool))

    @property
    def drive(self) -> str:
        """The drive in hand; "" where the box has one control."""
        return self.control.drive if isinstance(self.control, OnDrive) else ""

    @property
    def other_drives(self) -> list[str]:
        """The drives that the box has besides."""
        both = self.box.control
        return [each for each in both.drives if each != self.drive] if isinstance(both, LeverAndDrive) else []

    @cached_property
    def made_here(self) -> Trials:
        """Of the catches used, those made on the drive in hand."""
        return self.used.where(self.used.drives(self.box.control) == self.drive) if self.drive else self.used

    def setting_of(self, i: int) -> Setting:
        """The setting that a catch used was made at, on its own drive."""
        drive = str(self.used.drives(self.box.control)[i]) if self.drive else ""
        return on_drive(self.box.control, drive).at(float(self.used.opening[i]))

    @property
    def slip_variance(self) -> float:
        """What one error of the field factor, common to all standing catches of a towed lot, leaves in its mean."""
        if not self.towed or self.slip is None or not len(self.used):
            return 0.0
        sizes = evidence.lengths(self.used)
        return float((self.slip[1] * sizes[~self.used.towed].sum() / sizes.sum()) ** 2)

    @property
    def row_variance(self) -> float:
        """Variance that more catches of the same rows leave in the whole drill's rate, a fraction squared."""
        return (self.rows.mean_variance if self.rows else 0.0) + self.slip_variance

    def size(self, turns: float) -> CatchSize:
        """The size of a catch of so many turns, with the rows of the last one."""
        return catch_size(turns, self.rows_caught, self.drill, self.box, self.towed)

    def length_of(self, turns: float, rows: float) -> float:
        """How many ordinary catches long a catch is."""
        size = turns * rows / evidence.ORDINARY
        return size if self.drill is None else size * wheel_turns(self.drill, self.box)

    def variance_of_more(self, rows: float) -> float:
        """Variance that a catch of so many rows has from those that were not caught so far, a fraction squared."""
        if self.rows is None or rows <= self.rows.rows:
            return 0.0
        return self.rows.variance_with(self.rows.rows) - self.rows.variance_with(int(rows))

    def standing(self, opening: float) -> Stationary | None:
        """What the box gives at an opening, in the field where it was towed; None without a catch that counts."""
        if self.curve is None or not len(self.used):
            return None
        ends = self.curve.quantile(opening, [0.1587, 0.5, 0.8413])
        low, middle, high = np.log(np.maximum(ends, 1e-300)).tolist()
        curve_sd = float(np.hypot((high - low) / 2, np.sqrt(self.slip_variance)))
        rows_sd = float(np.sqrt(self.rows.mean_variance if self.rows else 0.0))
        effect = self.curve.fill_effect
        both = float(np.hypot(curve_sd, rows_sd))
        return Stationary(middle, both, curve_sd, rows_sd, self.curve.df, effect[0] if effect else None)

    def whole_drill(self, opening: float) -> tuple[float, tuple[float, float]]:
        """Mean output of all rows of the box at an opening, and its 95 % limits."""
        assert self.curve is not None
        # no box gives less than nothing, which a spline does not know
        ends = self.curve.quantile(opening, [0.025, 0.975], extra_variance=self.row_variance)
        lower, middle, upper = np.maximum([ends[0], self.curve.mean(opening), ends[1]], 0.0).tolist()
        return middle, (lower, upper)

    def setting_interval(self, target_output: float) -> tuple[float | str | None, float | str | None]:
        """Where the ideal setting lies, 95 %, as the control shows it; None for a side that nothing bounds."""
        assert self.curve is not None
        found, control = self.curve.setting_for(target_output), self.control
        if isinstance(control, Lever):
            ends = [round(control.opening(end), 6) if np.isfinite(end) else None for end in (found.lower, found.upper)]
            return (ends[0], ends[1]) if control.more_is == "higher" else (ends[1], ends[0])
        # labels: from the last position not above the interval to the first not below it
        labels = list(control.ratios)
        under = np.flatnonzero(control.openings <= found.lower)
        over = np.flatnonzero(control.openings >= found.upper)
        return labels[under[-1]] if len(under) else None, labels[over[0]] if len(over) else None


def fit_lot(
    trials: Trials,
    box: SeedBox,
    *,
    lot: str | None = None,
    season: str | None = None,
    history: History | None = None,
    drill: Drill | None = None,
    near: float | None = None,
    slip: tuple[float, float] | None = None,
    drive: str = "",
    spline: bool | None = None,
) -> LotFit:
    """Fit one lot of a box, the one named or that of the last catch, so that the curve holds near a wanted output.

    A lot that was towed is fitted in the field: catches of the standing drill count only where `slip`, the field factor
    that checks measured and the standard uncertainty of its logarithm, says what they are there. Of a box with two
    controls the drive in hand is that of the last catch, where none is named. Whether the curve is a spline is found
    out unless it is given.
    """
    catches = lot_in_hand(trials, box, lot, season).in_box(box)
    catches = catches if catches.drill is not None else replace(catches, drill=drill)
    towed = _towed(catches)
    defaults = drill.catch_of(box) if drill else CatchDefaults()
    turns, rows = _turns_and_rows(catches, defaults)
    left_out, present = _left_out(catches), present_setting(catches, box)
    control = on_drive(box.control, drive or (present.drive if present else ""))
    drive = control.drive if isinstance(control, OnDrive) else ""
    catches, standing = _standing_left_out(catches) if towed and slip is None else (catches, [])
    comparable = catches.on_drive(box.control, drive)
    used = comparable.where(comparable.counts)
    if towed and slip is not None:
        used, standing = _in_the_field(used, *slip)
    lot, season = (str(catches.lot[-1]), last_season(catches)) if len(catches) else (lot or "", season or "")
    remarks = [*_other_seasons(trials, box, catches, history), *left_out, *standing, *not_shut(catches, box)]
    remarks += on_other_drives(catches, box, drive)
    used, aside, plugged = _without_plugged(used)
    remarks += plugged
    prior = prior_on_drive(history, box, drive) if history else cold_prior(box.holds)
    curve, suspects = None, list[Contradiction]()
    closed = highest_closed(comparable, used, near, defaults)
    setup = Setup(box, control, prior, defaults.scale_resolution_g, near, closed, spline)
    if len(used) or prior.level is not None:
        many = len(used) > MANY
        most = ROUNDS if many else max(len(used) // 4, 1)
        for left in range(most, -1, -1):
            curve = setup.curve(used)
            suspects = setup.suspects(used, curve)
            sure = [each for each in suspects if each.chance < evidence.SURELY_WRONG and repeated_since(used, each.i)]
            if not left or not sure or len(used) < 3:
                break
            sure = sure if many else sure[:1]
            remarks[:0] = [Remark("advice.set-aside", {**named(used, each.i), "ratio": each.ratio}) for each in sure]
            aside += [int(used.line[each.i]) for each in sure]
            used = used.where(~np.isin(np.arange(len(used)), [each.i for each in sure]))
    row_info = evidence.row_differences(used, prior.typical_cv, drill.rows_of(box) if drill else None)
    chaffy = box.holds == "chaffy" and len(used) and not np.isfinite(used.fill_pct).any()
    remarks += [Remark("advice.chaffy-empties")] if chaffy else []
    found = tuple(aside), tuple(each for each in suspects if each.named), tuple(remarks)
    seen = near, curve, advisable(catches, control), row_info
    hand = turns, rows, present, towed
    return LotFit(trials, slip, box, control, lot, season, catches, used, drill, prior, *seen, *hand, *found, setup)


def caught_size(
    trials: Trials, box: SeedBox, *, lot: str | None = None, season: str | None = None, drill: Drill | None = None
) -> float:
    """Turns times rows of the last catch that counts or gave nothing, or of the drill's ordinary catch."""
    catches = lot_in_hand(trials, box, lot, season)
    turns, rows = _turns_and_rows(catches, drill.catch_of(box) if drill else CatchDefaults())
    return turns * rows


def is_towed(trials: Trials, box: SeedBox, lot: str | None, season: str | None) -> bool:
    """Whether a lot was caught while the drill was towed."""
    return _towed(lot_in_hand(trials, box, lot, season))


def _towed(catches: Trials) -> bool:
    """Whether one of the catches that count was towed, or of those that gave nothing where none counts."""
    said = catches.counts if catches.counts.any() else catches.status == "nothing"
    return bool((catches.towed & said).any())


def _standing_left_out(catches: Trials) -> tuple[Trials, list[Remark]]:
    """A towed lot without its catches of the standing drill, and a remark that names them."""
    standing = catches.counts & ~catches.towed
    left = tuple(named(catches, i) for i in np.flatnonzero(standing).tolist())
    remarks = [Remark("advice.standing-left-out", {"catches": left})] if left else []
    return replace(catches, use=catches.use & ~standing), remarks


def _in_the_field(used: Trials, factor: float, log_sd: float) -> tuple[Trials, list[Remark]]:
    """A towed lot with its standing catches as the field has them: the same turns cover more ground there."""
    standing = int((~used.towed).sum())
    values = {"count": standing, "factor": factor, "log_sd": log_sd}
    remarks = [Remark("advice.standing-scaled", values)] if standing else []
    return replace(used, turns=np.where(used.towed, used.turns, used.turns / factor)), remarks


def _turns_and_rows(catches: Trials, defaults: CatchDefaults) -> tuple[float, float]:
    """Size of the last catch that counts or gave nothing, of those that were towed if the lot was."""
    used = catches.where(catches.counts | (catches.status == "nothing"))
    used = used.where(used.towed) if _towed(catches) else used
    if len(used):
        return float(used.turns[-1]), float(used.rows[-1])
    return defaults.turns, float(defaults.rows)


def highest_closed(catches: Trials, used: Trials, near: float | None, defaults: CatchDefaults) -> float | None:
    """The highest opening at which nothing came.

    None where something came there, or at a lower one, and where the scale could hardly show the wanted catch.
    """
    shown = (near or np.inf) * catches.turns * catches.rows >= LEAST_STEPS * defaults.scale_resolution_g
    nothing = catches.opening[(catches.status == "nothing") & shown]
    nothing = nothing[nothing < used.opening.min(initial=np.inf)]
    return float(nothing.max()) if len(nothing) else None


def lot_in_hand(trials: Trials, box: SeedBox, lot: str | None, season: str | None) -> Trials:
    """Catches of one lot and season of a box, those named or the last; undated ones go with any season."""
    mine = trials.of(box=box.name, lot=lot)
    if len(mine) and lot is None:
        of_season = mine.of(season=season) if season else mine
        mine = mine.of(lot=str((of_season if len(of_season) else mine).lot[-1]))
    season = season or last_season(mine)
    return mine.where((mine.season == season) | (mine.season == ""))


def _other_seasons(trials: Trials, box: SeedBox, mine: Trials, history: History | None) -> list[Remark]:
    """A remark where the same lot was caught in another season: those catches are history, not evidence."""
    if not len(mine):
        return []
    same = trials.of(box=box.name, lot=str(mine.lot[-1]))
    others = [each for each in dict.fromkeys(same.season.tolist()) if each and each not in mine.season]
    if not others:
        return []
    times = trials.season_times
    learned = history is not None and max(times[each] for each in others) < max(times[each] for each in mine.season)
    count = int(np.isin(same.season, others).sum())
    return [Remark("advice.other-seasons", {"count": count, "seasons": tuple(others), "learned": learned})]


def _left_out(catches: Trials) -> list[Remark]:
    """A remark that names each catch that does not count, and why."""
    left = [
        {**named(catches, i), "status": str(catches.status[i]), "note": str(catches.note[i])}
        for i in np.flatnonzero(~catches.counts).tolist()
    ]
    return [Remark("advice.left-out", {"catches": tuple(left)})] if left else []


def _without_plugged(used: Trials) -> tuple[Trials, list[int], list[Remark]]:
    """The catches without those with a plugged row that were made again since: what was wrong with them is known."""
    plugged = evidence.plugged_rows(used)
    last = {x: k for k, x in enumerate(used.opening.tolist()) if k not in plugged}
    again = [i for i in plugged if last.get(float(used.opening[i]), -1) > i]
    remarks = [
        Remark("advice.plugged", {**named(used, i), "rows": rows, "again": i in again}) for i, rows in plugged.items()
    ]
    return used.where(~np.isin(np.arange(len(used)), again)), [int(used.line[i]) for i in again], remarks


def repeated_since(used: Trials, i: int) -> bool:
    """Whether a later catch was made at the setting of catch i."""
    return bool((used.opening[i + 1 :] == used.opening[i]).any())
