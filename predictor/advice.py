"""The main job: which setting, how sure, and whether to stop testing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from predictor.catch import rate_for_output
from predictor.curves.base import Curve
from predictor.curves.fit import fit_curve
from predictor.curves.prior import Prior, cold_prior
from predictor.curves.shapes import ShapeCurve
from predictor.drill import CatchDefaults, Drill, Lever, SeedBox
from predictor.evidence import SURELY_WRONG, RowDifferences, left_out, place, plugged_rows, row_differences, suspicious
from predictor.history import History, box_of
from predictor.prospects import Prospect
from predictor.trials import NOTHING_G, Trials, as_trials
from predictor.units import RATE_UNIT, rate_in

Decision = Literal["lock", "move", "repeat", "lengthen", "unreachable", "recheck"]

TOLERANCE = 0.10  # common practice: 5 to 10 % is asked of a catch test
CONFIDENCE = 0.95
# Another setting is clearly better when its chance is larger by this much; less is not worth a walk to the lever.
CLEARLY = 0.01
# Surer than this that no setting reaches the target, the search ends.
OUT_OF_REACH = 0.90
# A best setting that looks to lie outside tolerance gets this many catches to prove otherwise, and none gets more than
# the last number: whatever the drill does, the asking ends.
FAIR_TRIAL, LAST_CATCH = 8, 30
# No catch is lengthened beyond this many times the drill's ordinary turns; common practice.
MOST_TIMES_TURNS = 8
# What a lengthened catch should leave to do.
LENGTHENED_CATCHES = 4
# Filling from empty to full: gained output and its spread (chaffy: 14 to 16 %, Australian J. Exp. Agric. 39, 1999).
FILL_CHAFFY, FILL_OTHER = (0.15, 0.15), (0.0, 0.10)
FILL_DIFFERS = 0.10
# Of a scale with more steps than this some are skipped where only their range matters.
MOST_ASKED = 400


@dataclass(frozen=True)
class Advice:
    """What to do next with one box and lot.

    Attributes
    ----------
    box, lot, season : str
    decision : {"lock", "move", "repeat", "lengthen", "unreachable", "recheck"}
    reason : str
        One sentence.
    setting : float or str or None
        As the control shows it: where to lock, or where to catch next.
    setting_interval : tuple
        Where the ideal setting lies, 95 %; a side that the data do not bound is None.
    chance : float or None
        Probability that the drill's true mean rate at `setting` is within tolerance of target.
    tolerance, confidence : float
    target_output : float
        Grams per row per turn.
    turns, rows : float
        Of the catch that weights refer to.
    next_turns, next_rows : float
        Of the catch to make next; more where it is to be lengthened.
    expected_output, expected_interval : float or None, tuple
        Mean output at `setting`, 95 %.
    next_catch_interval_g : tuple
        What the next catch there should weigh, 95 %, grams.
    catches_used, catches_left_out : int
    catches_expected_more : int or None
        Catches still to make before a setting can be locked; None where no number of them would do.
    model : str
        Curve used, and why.
    repeatability : float or None
    present : float or str or None
        Setting of the last catch.
    whole_drill : bool
        Whether `chance` is that of all rows, weighed singly or all caught; else that of the rows caught.
    history : str
        What was taken from earlier lots, one line; "" for nothing.
    warnings : tuple of str
    set_aside : tuple of int
        Lines of catches that were not used because the rest contradicts them.
    drill : Drill or None
    curve : Curve or None
    """

    box: str
    lot: str
    season: str
    decision: Decision
    reason: str
    setting: float | str | None
    setting_interval: tuple[float | str | None, float | str | None]
    chance: float | None
    tolerance: float
    confidence: float
    target_output: float
    turns: float
    rows: float
    next_turns: float
    next_rows: float
    expected_output: float | None
    expected_interval: tuple[float | None, float | None]
    next_catch_interval_g: tuple[float | None, float | None]
    catches_used: int
    catches_left_out: int
    catches_expected_more: int | None
    model: str
    repeatability: float | None
    present: float | str | None = None
    whole_drill: bool = True
    history: str = ""
    warnings: tuple[str, ...] = ()
    set_aside: tuple[int, ...] = ()
    field_factor: float = 1.0
    drill: Drill | None = field(default=None, repr=False)
    curve: Curve | None = field(default=None, repr=False)

    @property
    def target_catch_g(self) -> float:
        """Weight a catch should have, grams."""
        return self.target_output * self.turns * self.rows

    def rate(self, output: float | None, units: str | None = None) -> float | None:
        """An output as a rate in the field, in the drill's units or those named; None without a drill."""
        if output is None or self.drill is None:
            return None
        return rate_in(rate_for_output(output, self.drill, self.field_factor), units or self.drill.units)

    def to_dict(self, units: str | None = None) -> dict[str, Any]:
        """The result as plain values for JSON; every number finite or None."""
        size = self.turns * self.rows
        return {
            "box": self.box,
            "lot": self.lot,
            "season": self.season,
            "decision": self.decision,
            "reason": self.reason,
            "setting": self.setting,
            "setting_interval": list(self.setting_interval),
            "chance": self.chance,
            "tolerance": self.tolerance,
            "confidence": self.confidence,
            "target": {
                "rate": self.rate(self.target_output, units),
                "rate_unit": RATE_UNIT[units or self.drill.units] if self.drill else None,
                "catch_g": self.target_catch_g,
            },
            "expected": {
                "rate": self.rate(self.expected_output, units),
                "rate_interval": [self.rate(end, units) for end in self.expected_interval],
                "catch_g": None if self.expected_output is None else self.expected_output * size,
                "next_catch_interval_g": list(self.next_catch_interval_g),
            },
            "next_catch": {"turns": self.next_turns, "rows": self.next_rows},
            "catches_used": self.catches_used,
            "catches_left_out": self.catches_left_out,
            "catches_expected_more": self.catches_expected_more,
            "model": self.model,
            "repeatability": self.repeatability,
            "history": self.history,
            "warnings": list(self.warnings),
        }


def recommend(
    trials,
    box: SeedBox | str,
    *,
    target_output: float,
    lot: str | None = None,
    season: str | None = None,
    tolerance: float = TOLERANCE,
    confidence: float = CONFIDENCE,
    history: History | None = None,
    drill: Drill | None = None,
    field_factor: float = 1.0,
) -> Advice:
    """Advise on one box and lot.

    Parameters
    ----------
    trials : Trials or DataFrame
        Catches; those of other boxes, lots and seasons are not used.
    box : SeedBox or str
        A name needs a drill.
    target_output : float
        Grams per row per turn, > 0.
    lot, season : str, optional
        The last one in the trials where not given.
    tolerance : float
        How far the true mean rate may lie from target, a fraction between 0 and 1.
    confidence : float
        Chance at which a setting may be locked, between 0.5 and 1.
    history : History, optional
        From `learn_history`; stands in for ordinary knowledge.
    drill : Drill, optional
        The trials' own where not given. Without one there are no rates, and nothing is known of rows not caught.
    field_factor : float
        Field rate over stationary rate.

    Returns
    -------
    Advice

    Raises
    ------
    ValueError
        A target, tolerance or confidence that cannot be, or a box that is not known.

    Examples
    --------
    >>> import pandas as pd
    >>> from predictor import Lever, SeedBox
    >>> box = SeedBox("small", "small", Lever(0, 60, 1))
    >>> frame = pd.DataFrame({"box": "small", "lot": "A", "setting": [30, 38, 38, 38], "turns": 28, "rows": 3,
    ...                       "catch_g": [48.0, 61.0, 62.2, 60.9]})
    >>> advice = recommend(frame, box, target_output=61.0 / 84)
    >>> advice.decision, advice.setting
    ('lock', 38.0)
    """
    _check(target_output, tolerance, confidence)
    trials = as_trials(trials, drill)
    drill = drill or trials.drill
    seed_box = box if isinstance(box, SeedBox) else drill.box(box) if drill else box_of(trials, box)
    mine = _lot_in_hand(trials, seed_box, lot, season)
    used = mine.where(mine.counts).in_box(seed_box)
    named = (lot or "", season or "")
    job = _Job(seed_box, named, mine, used, drill, target_output, tolerance, confidence, history, field_factor)
    if len(used) == 0 and (history is None or history.prior.level is None):
        return job.start()
    return job.advise()


@dataclass(frozen=True)
class Stationary:
    """What a box gives at one opening while the drill stands.

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
    fill_effect : float
        Log output of a full box over an empty one, where fillings were recorded; NaN where not.
    """

    log_output: float
    log_sd: float
    curve_sd: float
    rows_sd: float
    dof: float
    fill_effect: float


def stationary(
    trials,
    box: SeedBox,
    opening: float,
    *,
    lot: str | None = None,
    season: str | None = None,
    history: History | None = None,
    drill: Drill | None = None,
) -> Stationary | None:
    """Mean output of a box at an opening, from the same curve as the advice.

    Parameters
    ----------
    trials : Trials or DataFrame
    box : SeedBox
    opening : float
    lot, season, history, drill
        As for `recommend`.

    Returns
    -------
    Stationary or None
        None without a catch that counts.
    """
    trials = as_trials(trials, drill)
    mine = _lot_in_hand(trials, box, lot, season)
    used = mine.where(mine.counts).in_box(box)
    if len(used) == 0:
        return None
    any_target = float(used.output[-1])
    job = _Job(box, ("", ""), mine, used, drill or trials.drill, any_target, TOLERANCE, CONFIDENCE, history, 1.0)
    return job.stationary(opening)


def _check(target_output: float, tolerance: float, confidence: float) -> None:
    if not (np.isfinite(target_output) and target_output > 0):
        raise ValueError(f"The target is above 0 grams per row per turn; got {target_output}.")
    if not 0 < tolerance < 1:
        raise ValueError(f"The tolerance is a fraction between 0 and 1, such as 0.10; got {tolerance}.")
    if not 0.5 <= confidence < 1:
        raise ValueError(f"The confidence lies between 0.5 and 1, such as 0.95; got {confidence}.")


def _lot_in_hand(trials: Trials, box: SeedBox, lot: str | None, season: str | None) -> Trials:
    """Catches of one lot and season of a box: those named, or the last in the trials."""
    mine = trials.of(box=box.name, lot=lot, season=season)
    if len(mine) and lot is None:
        mine = mine.of(lot=str(mine.lot[-1]), season=season)
    if len(mine) and season is None:
        mine = mine.of(season=str(mine.season[-1]))
    return mine


class _Job:
    """One call of `recommend`: evidence gathered once, then one decision."""

    def __init__(self, box, named, mine, used, drill, target, tolerance, confidence, history, field_factor):
        self.box: SeedBox = box
        self.named: tuple[str, str] = named
        self.mine: Trials = mine
        self.used: Trials = used
        self.drill: Drill | None = drill
        self.target: float = target
        self.tolerance, self.confidence = tolerance, confidence
        self.low, self.high = target * (1 - tolerance), target * (1 + tolerance)
        self.history: History | None = history
        self.field_factor = field_factor
        defaults = drill.catch if drill else CatchDefaults()
        self.turns = float(used.turns[-1]) if len(used) else defaults.turns
        self.rows = float(used.rows[-1]) if len(used) else float(defaults.rows)
        self.resolution_g = defaults.scale_resolution_g
        self.warnings: list[str] = left_out(mine)
        self.aside: list[int] = []
        self.warnings.extend(plugged_rows(used))
        self.fill_advice: list[str] = []
        self.openings = box.control.openings
        self.settings = box.control.settings

    # -- the curve ----------------------------------------------------------------------------------------------

    def _fit(self) -> None:
        self.prior: Prior = self.history.prior if self.history else cold_prior(self.box.holds)
        self.row_info: RowDifferences | None = row_differences(
            self.used, self.prior.typical_cv, self.drill.rows if self.drill else None
        )
        extra = (self.row_info.cv, self.row_info.cv_worth) if self.row_info and self.row_info.cv_worth > 0 else None
        fill, fill_prior = self._filling()
        # noise is that of a catch as long as the last one: a longer one averages more
        size = self.used.turns * self.used.rows
        weights = None if len(size) == 0 or np.ptp(size) == 0 else size / (self.turns * self.rows)
        rounding = self.resolution_g / np.sqrt(12)
        # a catch smaller than the scale's step tells next to nothing, which 100 % says well enough
        floor = min(rounding / float(np.mean(self.used.catch_g)), 1.0) if len(self.used) else 0.0
        self.curve = fit_curve(
            self.used.opening,
            self.used.output,
            prior=self.prior,
            lowest=self.box.control.lowest_opening,
            span=self.box.control.span,
            weights=weights,
            fill=fill,
            fill_prior=fill_prior,
            extra_noise=extra,
            noise_floor=floor,
        )
        self.row_variance = self.row_info.mean_variance if self.row_info else 0.0
        self.prospect = Prospect(
            self.curve, self.openings, self.target, self.tolerance, self.confidence, self.row_variance
        )

    def _filling(self):
        """Filling of each catch above half, where it differs enough to tell its effect."""
        pct = self.used.fill_pct
        known = np.isfinite(pct)
        prior = FILL_CHAFFY if self.box.holds == "chaffy" else FILL_OTHER
        if known.sum() < 2 or np.ptp(pct[known]) < 100 * FILL_DIFFERS:
            if self.box.holds == "chaffy" and len(self.used) and not known.any():
                self.fill_advice.append(
                    "A chaffy box gives less as it empties: catch with it half full, and refill early."
                )
            return None, prior
        return np.where(known, (pct - 50) / 100, 0.0), prior

    def _chances(self) -> None:
        """Chance at every setting of the control, and at every setting caught."""
        self.caught = np.unique(self.used.opening)
        x = np.concatenate([self.caught, self.openings])
        chance = np.zeros(len(x))
        worth = self._worth_asking(x)
        if worth.any():
            chance[worth] = self.curve.probability(x[worth], self.low, self.high, self.row_variance)
        self.caught_chance, self.real_chance = chance[: len(self.caught)], chance[len(self.caught) :]

    def _worth_asking(self, x: np.ndarray) -> np.ndarray:
        """Settings that may be the one; the chance at the others is nothing, and costs time."""
        if len(x) <= 24 or not isinstance(self.curve, ShapeCurve):
            return np.ones(len(x), dtype=bool)
        low, high = self.curve.setting_quantiles(np.array([self.low, self.high]), [0.005, 0.995])
        inside = (x >= low) & (x <= high)
        inside[np.argmin(np.abs(x - (low + high) / 2))] = True
        asked = np.flatnonzero(inside)
        if len(asked) > 60:  # a fine scale: look at every few steps first; the caught settings always
            keep = np.zeros(len(x), dtype=bool)
            keep[asked[:: len(asked) // 40]] = True
            keep[: len(self.caught)] = inside[: len(self.caught)]
            rough = np.where(keep, 0.0, -1.0)
            rough[keep] = self.curve.probability(x[keep], self.low, self.high, self.row_variance)
            best = int(np.argmax(rough))
            near = np.abs(np.arange(len(x)) - best) <= len(asked) // 40
            return (near & inside) | (keep & (np.arange(len(x)) < len(self.caught))) | (np.arange(len(x)) == best)
        return inside

    # -- the decision ---------------------------------------------------------------------------------------------

    def start(self) -> Advice:
        """No catch and no history: the first catch goes to the middle of the scale."""
        nothing = self.mine.where(self.mine.use & self.mine.charged & (self.mine.catch_g <= NOTHING_G)).in_box(self.box)
        if len(nothing):
            return self._after_nothing(float(nothing.opening.max()))
        middle = self.settings[len(self.settings) // 2]
        return self._advice("move", "No catch yet: start in the middle of the scale.", middle, None, None)

    def _after_nothing(self, closed: float) -> Advice:
        """Every catch so far weighed nothing, up to the opening `closed`: look further up, or for what is shut."""
        shown = self.box.control.show(self.box.control.at(closed))
        further = np.flatnonzero(self.openings > closed)
        if not len(further):
            reason = f"Nothing came at {shown}, the most this box can give: a closed gate, a plugged row, an empty box?"
            return self._advice("unreachable", reason, self.settings[-1], None, None)
        where = self.settings[further[len(further) // 2]]
        reason = f"Nothing came at {shown}: check gate and seed, then catch further up."
        return self._advice("move", reason, where, None, None)

    def advise(self) -> Advice:
        """Fit, weigh and decide."""
        self.present = float(self.used.opening[-1]) if len(self.used) else np.nan
        self._fit()
        self._set_aside()
        self._chances()
        best = self._best_real()
        again = self._falling() or self._plugged() or self._recheck()
        if again is not None:
            return self._advice("recheck", *again)
        if len(self.caught) and self.caught_chance.max() >= self.confidence:
            return self._lock()
        if len(self.used):
            nowhere = self._nowhere()
            if nowhere >= OUT_OF_REACH:
                nearest = self._nearest()
                if len(self.caught) < 2 and self.openings[nearest] not in self.caught:
                    first = "No setting looks near enough; this is the nearest, and one catch there settles it."
                    return self._advice("move", first, self.settings[nearest], float(self.real_chance[nearest]), 1)
                return self._unreachable(f"{_percent(nowhere)} sure: no setting of this box is within tolerance.")
        return self._go_on(best)

    def _best_real(self) -> int:
        """The setting with the largest chance; of equals the one nearest to where the control stands."""
        top = self.real_chance.max()
        equals = np.flatnonzero(self.real_chance >= top - 1e-9)
        if top <= 0:  # the target is far from every setting: the nearest in output
            return self._nearest()
        if len(equals) == 1 or np.isnan(self.present):
            return int(equals[len(equals) // 2])
        return int(equals[np.argmin(np.abs(self.openings[equals] - self.present))])

    def _nearest(self) -> int:
        """The setting whose mean output is nearest to target, by ratio."""
        ideal = self.curve.setting_for(self.target).estimate
        ideal = ideal if np.isfinite(ideal) else self.openings[-1 if ideal > 0 else 0]
        after = int(np.clip(np.searchsorted(self.openings, ideal), 1, max(len(self.openings) - 1, 1)))
        pair = [after - 1, min(after, len(self.openings) - 1)]
        mean = np.maximum(np.asarray(self.curve.mean(self.openings[pair])), 1e-300)
        return pair[int(np.argmin(np.abs(np.log(mean / self.target))))]

    def _lock(self) -> Advice:
        i = int(np.argmax(self.caught_chance))
        where = self.box.control.at(float(self.caught[i]))
        times = int(np.sum(self.used.opening == self.caught[i]))
        reason = f"Caught there {'once' if times == 1 else f'{times} times'}, and sure enough. Lock it and plant."
        return self._advice("lock", reason, where, float(self.caught_chance[i]), 0)

    def _nowhere(self) -> float:
        """Probability that no setting the control has is within tolerance."""
        x = np.unique(np.concatenate([self.openings, self.caught]))
        if len(x) > MOST_ASKED and isinstance(self.curve, ShapeCurve):
            # steps far from target say nothing, and of very fine ones a few hundred say the same as all
            ends = self.curve.setting_quantiles(np.array([self.low, self.high]), [1e-4, 1 - 1e-4])
            first, last = np.searchsorted(x, ends[0]) - 1, np.searchsorted(x, ends[1]) + 1
            x = x[max(first, 0) : last + 1]
            x = x[np.unique(np.linspace(0, len(x) - 1, MOST_ASKED).astype(int))] if len(x) > MOST_ASKED else x
        if isinstance(self.curve, ShapeCurve):
            return self.curve.probability_none(x, self.low, self.high, self.row_variance)
        ends = self.curve.probability(x[[0, -1]], np.array([self.high, 0.0]), np.array([np.inf, self.low]))
        return float(np.max(ends)) if np.max(self.real_chance) < 0.5 else 0.0

    def _go_on(self, best: int) -> Advice:
        """Move, repeat, lengthen, or see that no number of catches will do."""
        chance = float(self.real_chance[best])
        more, cause = self.prospect.more_catches(self.openings[best])
        enough = len(self.used) >= LAST_CATCH
        if enough or (more is None and len(self.used) > 1):
            if cause == "rows":
                return self._lengthen_rows(best, chance)
            if cause == "noise" or (enough and cause != "off"):
                return self._lengthen_turns(best, chance)
            if len(self.used) >= FAIR_TRIAL:
                return self._unreachable(
                    f"After {len(self.used)} catches no setting can be told to be within tolerance: "
                    "the nearest lies on its edge.",
                    edge=True,
                )
        here = np.flatnonzero(self.caught == self.present)
        here_chance = float(self.caught_chance[here[0]]) if len(here) else 0.0
        stay = len(here) and chance - here_chance < CLEARLY
        if not stay:
            where = self.settings[best]
            first = (
                "The earlier lots say to start here."
                if not len(self.used)
                else "It is likelier to be right: catch there."
            )
            return self._advice("move", first, where, chance, more)
        where = self.box.control.at(self.present)
        return self._advice(
            "repeat", "The best setting so far, but the evidence is thin: catch again.", where, here_chance, more
        )

    def _lengthen_turns(self, best: int, chance: float) -> Advice:
        for times in (2, 3, 4, 6, 8):
            more, _ = self.prospect.more_catches(
                self.openings[best], noise=self.prospect.likely_noise() / np.sqrt(times)
            )
            if more is not None and more <= LENGTHENED_CATCHES:
                break
        most = MOST_TIMES_TURNS * (self.drill.catch.turns if self.drill else CatchDefaults().turns)
        if self.turns >= most:
            return self._unreachable(f"Catches of {self.turns:g} turns still scatter too widely: find out why first.")
        turns = min(self.turns * times, most)
        reason = (
            f"Catches scatter by {100 * self.prospect.likely_noise():.0f} %: "
            f"at {self.turns:g} turns it takes too many. "
            f"Use {turns:g} turns a catch from here."
        )
        return self._advice("lengthen", reason, self.settings[best], chance, more, turns=turns)

    def _lengthen_rows(self, best: int, chance: float) -> Advice:
        info = self.row_info
        rows = info.drill_rows
        for count in range(info.rows + 1, info.drill_rows + 1):
            more, _ = self.prospect.more_catches(self.openings[best], row_variance=info.variance_with(count))
            if more is not None:
                rows = count
                break
        reason = (
            f"Rows differ by {100 * info.spread:.0f} %: catching the same {info.rows} again cannot tell the whole "
            f"drill's rate. Catch {rows} of the {info.drill_rows} rows."
        )
        return self._advice("lengthen", reason, self.settings[best], chance, more, rows=rows)

    def _unreachable(self, why: str, edge: bool = False) -> Advice:
        nearest = self._nearest()
        around = self.openings[max(nearest - 1, 0) : nearest + 2]
        mean = np.asarray(self.curve.mean(around))
        off = 100 * (mean / self.target - 1)
        percent = float(off[np.flatnonzero(around == self.openings[nearest])[0]])
        where = self.box.control.show(self.settings[nearest])
        if edge or (off.min() < 0 < off.max()):
            mend = "The target lies between two settings: change carrier or chain pair so that one fits"
            mend += ", or ask whether the specification allows more"
        elif percent > 0:
            mend = "Add carrier (then more must be caught), use a slower chain pair, or close rows"
        else:
            mend = "Use a faster chain pair, split the seed between two boxes, or drill twice, each at half the rate"
        reason = f"{why} Nearest is {where}: {abs(percent):.0f} % {'above' if percent > 0 else 'below'} target. {mend}."
        return self._advice("unreachable", reason, self.settings[nearest], float(self.real_chance[nearest]), None)

    def _set_aside(self) -> None:
        """Take out, in so many words, catches that contradict the rest and whose repeat agrees with the rest."""
        for _ in range(max(len(self.used) // 4, 1)):
            found = [
                i
                for i in suspicious(self.used, self.curve, self.prior, SURELY_WRONG)
                if (self.used.opening[i + 1 :] == self.used.opening[i]).any()
            ]
            if not found or len(self.used) < 3:
                return
            what = self._contradiction(found[0])
            self.warnings.insert(
                0, f"{what}, and its repeat agrees with them: not used. Write use = no and why, if you know."
            )
            self.aside.append(int(self.used.line[found[0]]))
            self.used = self.used.where(np.arange(len(self.used)) != found[0])
            self._fit()

    def _contradiction(self, i: int) -> str:
        """Which catch it is, and how far it lies from what the others say."""
        others = self.used.where(np.arange(len(self.used)) != i)
        control = self.box.control
        curve = fit_curve(
            others.opening, others.output, prior=self.prior, lowest=control.lowest_opening, span=control.span
        )
        # where the others say that nothing comes out, any catch is many times more
        ratio = self.used.output[i] / max(float(curve.mean(float(self.used.opening[i]))), 1e-9 * self.used.output[i])
        if ratio > 10:
            size = "many times more than the others say"
        else:
            size = f"{100 * abs(ratio - 1):.0f} % {'more' if ratio > 1 else 'less'} than the others say"
        return f"{place(self.used, i)}, {self.used.catch_g[i]:.4g} g at {self.used.setting[i]}: {size}"

    def _plugged(self):
        """Reason to recheck where a row of the last catch gave next to nothing: it would plant nothing either."""
        sentences = plugged_rows(self.used.where(np.arange(len(self.used)) == len(self.used) - 1))
        if not sentences:
            return None
        spot = np.flatnonzero(self.caught == self.present)[0]
        return sentences[0], self.box.control.at(self.present), float(self.caught_chance[spot]), None

    def _falling(self):
        """Reason to recheck where output falls with the setting beyond doubt: the lever may count the other way."""
        control = self.box.control
        if not isinstance(control, Lever) or len(self.caught) < 3:
            return None
        logs = [float(np.mean(np.log(self.used.output[self.used.opening == each]))) for each in self.caught]
        if not np.all(np.diff(logs) < 0) or logs[0] - logs[-1] < 3 * self.prior.typical_cv:
            return None
        this, other = ("Higher", "lower") if control.more_is == "higher" else ("Lower", "higher")
        reason = (
            f'{this} readings gave less each time. If that is how this lever works, write more_is = "{other}" for box '
            f"{self.box.name} in drill.toml; if not, check the settings."
        )
        return reason, control.at(self.present), None, None

    def _recheck(self):
        """Reason, setting, chance and more catches where a catch contradicts the rest and was not repeated yet."""
        for i in suspicious(self.used, self.curve, self.prior):
            what = self._contradiction(i)
            if (self.used.opening[i + 1 :] == self.used.opening[i]).any():
                self.warnings.append(f"{what}. It was repeated since; write use = no if you know what went wrong.")
                continue
            hint = (
                "Bridged, not charged, a plugged row, a misread scale?"
                if "less than" in what
                else "A misread scale or setting, twice the turns?"
            )
            where = self.box.control.at(float(self.used.opening[i]))
            spot = np.flatnonzero(self.caught == self.used.opening[i])[0]
            reason = f"{what}. {hint} Repeat it before anything else."
            return reason, where, float(self.caught_chance[spot]), None
        return None

    # -- the result -----------------------------------------------------------------------------------------------

    def _advice(
        self, decision: Decision, reason: str, where, chance: float | None, more: int | None, *, turns=None, rows=None
    ) -> Advice:
        has_curve = hasattr(self, "curve")
        expected, interval, following = None, (None, None), (None, None)
        size = self.turns * self.rows
        if has_curve:
            opening = self.box.control.opening(where)
            # a whole drill's rate carries the rows that were not caught; the next catch of the same rows does not
            expected, interval = self._whole_drill(opening)
            following = tuple(float(end) * size for end in self.curve.interval(opening, 0.95, "next"))
        return Advice(
            box=self.box.name,
            lot=str(self.mine.lot[-1]) if len(self.mine) else self.named[0],
            season=str(self.mine.season[-1]) if len(self.mine) else self.named[1],
            decision=decision,
            reason=reason,
            setting=where,
            setting_interval=self._setting_interval() if has_curve else (None, None),
            chance=None if chance is None else float(min(max(chance, 0.0), 1.0)),
            tolerance=self.tolerance,
            confidence=self.confidence,
            target_output=self.target,
            turns=self.turns,
            rows=self.rows,
            expected_output=expected,
            expected_interval=interval,
            next_catch_interval_g=following,
            catches_used=len(self.used),
            catches_left_out=len(self.mine) - len(self.used),
            catches_expected_more=more,
            model=self._model() if has_curve else "none",
            repeatability=self.curve.spread if has_curve else None,
            present=self.box.control.at(self.present) if has_curve and not np.isnan(self.present) else None,
            whole_drill=self.drill is None
            or self.rows >= self.drill.rows
            or getattr(self, "row_info", None) is not None,
            history=self.history.sentence() if self.history else "",
            warnings=(*self.warnings, *self.fill_advice[:1]),
            set_aside=tuple(self.aside),
            field_factor=self.field_factor,
            next_turns=self.turns if turns is None else float(turns),
            next_rows=self.rows if rows is None else float(rows),
            drill=self.drill,
            curve=self.curve if has_curve else None,
        )

    def stationary(self, opening: float) -> Stationary:
        """Mean output at an opening, and how sure it is."""
        self.present = float(self.used.opening[-1])
        self._fit()
        self._set_aside()
        low, middle, high = np.log(np.maximum(self._quantiles(opening, [0.1587, 0.5, 0.8413]), 1e-300)).tolist()
        curve_sd, rows_sd = (high - low) / 2, float(np.sqrt(self.row_variance))
        effect = getattr(self.curve, "fill_effect", None)
        both = float(np.hypot(curve_sd, rows_sd))
        return Stationary(middle, both, curve_sd, rows_sd, self.curve.df, effect[0] if effect else np.nan)

    def _quantiles(self, opening: float, shares: list[float]) -> np.ndarray:
        """Quantiles of the mean output at an opening; those of an interval about its middle."""
        if isinstance(self.curve, ShapeCurve):
            return self.curve.quantile(np.full(len(shares), opening), shares)
        lower, upper = self.curve.interval(opening, shares[-1] - shares[0])
        return np.array([lower, float(self.curve.mean(opening)), upper])

    def _whole_drill(self, opening: float) -> tuple[float, tuple[float, float]]:
        """Mean output at a setting and its 95 % limits for all rows of the drill."""
        lower, middle, upper = self._quantiles(opening, [0.025, 0.5, 0.975]).tolist()
        if self.row_variance > 0:
            wider = np.hypot(np.log([max(lower, 1e-300) / middle, upper / middle]), 1.96 * np.sqrt(self.row_variance))
            lower, upper = middle * np.exp(-wider[0]), middle * np.exp(wider[1])
        return middle, (float(lower), float(upper))

    def _setting_interval(self):
        """Where the ideal setting lies, as the control shows it."""
        found = self.curve.setting_for(self.target)
        control = self.box.control
        if isinstance(control, Lever):
            ends = [control.at(end) if np.isfinite(end) else None for end in (found.lower, found.upper)]
            ends = [None if end is None else round(float(end), 6) for end in ends]
            return tuple(ends) if control.more_is == "higher" else tuple(reversed(ends))
        # labels: from the last position not above the interval to the first not below it
        under = np.flatnonzero(self.openings <= found.lower)
        over = np.flatnonzero(self.openings >= found.upper)
        return (
            self.settings[under[-1]] if len(under) else None,
            self.settings[over[0]] if len(over) else None,
        )

    def _model(self) -> str:
        if self.curve.family == "spline":
            return "spline: a bent line leaves a pattern and predicts left-out catches worse"
        kind = "line with a dead setting and a slight bend"
        return f"{kind}, averaged over both" + (", shape from earlier lots" if self.history else "")


def _percent(share: float) -> str:
    return f"{100 * min(share, 0.99):.0f} %"
