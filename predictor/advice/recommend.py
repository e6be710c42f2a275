"""The main job: which setting, how sure, and whether to stop testing."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from predictor.advice.case import Case, Stationary
from predictor.advice.decision import Action, Decision, decide
from predictor.advice.history import History, box_of
from predictor.curves.base import Curve
from predictor.domain.catch import rate_for_output
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.trials import Trials, last_season
from predictor.files.trials import as_trials
from predictor.units import RATE_UNIT, rate_in

TOLERANCE = 0.10  # common practice: 5 to 10 % is asked of a catch test
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Advice:
    """What to do next with one box and lot.

    Attributes
    ----------
    box, lot, season : str
    decision : {"lock", "move", "repeat", "lengthen", "unreachable", "recheck"}
    reason : str
        In a few sentences.
    setting : float or str or None
        As the control shows it: where to lock, or where to catch next.
    setting_interval : tuple
        Where the ideal setting lies, 95 %; a side that the data do not bound is None.
    chance : float or None
        Probability that the drill's true mean rate at `setting` is within tolerance of target; None before any curve,
        and where the lever seems to count the other way.
    tolerance, confidence : float
    target_output : float
        Grams per row per turn.
    turns, rows : float
        Of the catch that weights refer to.
    next_turns, next_rows : float
        Of the catch to make next; more where it is to be lengthened.
    expected_output, expected_interval : float or None, tuple
        Mean output at `setting`, 95 %, grams per row per turn.
    next_catch_interval_g : tuple
        What the next catch there should weigh, 95 %, grams.
    catches_used, catches_left_out : int
    catches_expected_more : int or None
        Catches still to make before a setting can be locked; None where no number of them would do, or nobody can tell.
    model : str
        Curve used, and why.
    repeatability : float or None
    present : float or str or None
        Setting of the last catch.
    whole_drill : bool
        Whether `chance` is that of all rows, weighed singly or all caught; else that of the rows caught. True without a
        drill, where the number of its rows is not known.
    history : str
        What was taken from earlier lots, one line; "" for nothing.
    warnings : tuple of str
    set_aside : tuple of int
        Lines of catches that were not used because the rest contradicts them.
    field_factor : float
        Field rate over stationary rate, for rates; outputs and weights are those of a standing drill.
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
        """An output as a rate in the field, in the drill's units or those named; None without a drill.

        Parameters
        ----------
        output : float or None
            Grams per row per turn, of a standing drill.
        units : {"us", "metric"}, optional
            The drill's where not given.

        Returns
        -------
        float or None
            Pounds per acre, or kilograms per hectare; None without a drill or an output.
        """
        if output is None or self.drill is None:
            return None
        return rate_in(rate_for_output(output, self.drill, self.field_factor), units or self.drill.units)

    def to_dict(self, units: str | None = None) -> dict[str, Any]:
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
        A target, tolerance or confidence that cannot be, or a box by its name without a drill.
    KeyError
        The drill has no box of that name.
    InputError
        Problems of a DataFrame, or settings that the box's control does not have.
    TypeError
        Trials that have no columns.

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
    case = _case(trials, box, target_output, lot, season, tolerance, confidence, history, drill, field_factor)
    return _advice(case, decide(case))


def next_action(
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
) -> Action:
    """The decision of `recommend` alone, without what stands behind it: a third quicker."""
    return decide(_case(trials, box, target_output, lot, season, tolerance, confidence, history, drill, 1.0))


def _case(trials, box, target_output, lot, season, tolerance, confidence, history, drill, field_factor) -> Case:
    """One box and lot, its options checked."""
    _check(target_output, tolerance, confidence)
    trials = as_trials(trials, drill)
    drill = drill or trials.drill
    seed_box = box if isinstance(box, SeedBox) else drill.box(box) if drill else box_of(trials, box)
    mine = _lot_in_hand(trials, seed_box, lot, season)
    others = _other_seasons(trials, seed_box, mine, history)
    named = (lot or "", season or "")
    return Case(seed_box, named, mine, others, drill, target_output, tolerance, confidence, history, field_factor)


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
    """Mean output of a box at an opening, from the same curve as the advice."""
    trials = as_trials(trials, drill)
    mine = _lot_in_hand(trials, box, lot, season)
    used = mine.where(mine.counts)
    if len(used) == 0:
        return None
    any_target = float(used.output[-1])
    case = Case(box, ("", ""), mine, [], drill or trials.drill, any_target, TOLERANCE, CONFIDENCE, history, 1.0)
    return case.stationary(opening)


def _check(target_output: float, tolerance: float, confidence: float) -> None:
    if not (np.isfinite(target_output) and target_output > 0):
        raise ValueError(f"The target is above 0 grams per row per turn; got {target_output}.")
    if not 0 < tolerance < 1:
        raise ValueError(f"The tolerance is a fraction between 0 and 1, such as 0.10; got {tolerance}.")
    if not 0.5 <= confidence < 1:
        raise ValueError(f"The confidence lies between 0.5 and 1, such as 0.95; got {confidence}.")


def _lot_in_hand(trials: Trials, box: SeedBox, lot: str | None, season: str | None) -> Trials:
    """Catches of one lot and season of a box, those named or the last; undated ones go with any season."""
    mine = trials.of(box=box.name, lot=lot)
    if len(mine) and lot is None:
        named = mine.of(season=season) if season else mine
        mine = mine.of(lot=str((named if len(named) else mine).lot[-1]))
    season = season or last_season(mine)
    return mine.where((mine.season == season) | (mine.season == ""))


def _other_seasons(trials: Trials, box: SeedBox, mine: Trials, history: History | None) -> list[str]:
    """A sentence where the same lot was caught in another season: those catches are history, not evidence."""
    if not len(mine):
        return []
    same = trials.of(box=box.name, lot=str(mine.lot[-1]))
    seasons = [each for each in dict.fromkeys(same.season.tolist()) if each and each not in mine.season]
    count = int(np.isin(same.season, seasons).sum())
    if not count:
        return []
    catches = f"{count} {'catch' if count == 1 else 'catches'} of this lot in {', '.join(seasons)}"
    learned = ", but as an earlier lot's" if history is not None and max(seasons) < max(mine.season.tolist()) else ""
    return [f"{catches} {'is' if count == 1 else 'are'} not counted here{learned}."]


def _advice(case: Case, action: Action) -> Advice:
    """The whole advice: what to do, with everything that stands behind it."""
    has_curve = case.has_curve
    expected, interval, following = None, (None, None), (None, None)
    size = case.turns * case.rows
    if has_curve:
        opening = case.box.control.opening(action.setting)
        # a whole drill's rate carries the rows that were not caught; the next catch of the same rows does not
        expected, interval = case.whole_drill(opening)
        following = tuple(float(end) * size for end in case.curve.interval(opening, 0.95, "next"))
    return Advice(
        box=case.box.name,
        lot=str(case.mine.lot[-1]) if len(case.mine) else case.named[0],
        season=last_season(case.mine) if len(case.mine) else case.named[1],
        decision=action.decision,
        reason=action.reason,
        setting=action.setting,
        setting_interval=case.setting_interval() if has_curve else (None, None),
        chance=None if action.chance is None else float(min(max(action.chance, 0.0), 1.0)),
        tolerance=case.tolerance,
        confidence=case.confidence,
        target_output=case.target,
        turns=case.turns,
        rows=case.rows,
        expected_output=expected,
        expected_interval=interval,
        next_catch_interval_g=following,
        catches_used=len(case.used),
        catches_left_out=len(case.mine) - len(case.used),
        catches_expected_more=action.more,
        model=case.model() if has_curve else "none",
        repeatability=case.curve.spread if has_curve else None,
        present=case.box.control.at(case.present).value if has_curve and not np.isnan(case.present) else None,
        whole_drill=case.drill is not None and (case.rows >= case.drill.rows or case.row_info is not None),
        history=case.history.sentence() if case.history else "",
        warnings=(*case.warnings, *case.fill_advice[:1]),
        set_aside=tuple(case.aside),
        field_factor=case.field_factor,
        next_turns=case.turns if action.turns is None else float(action.turns),
        next_rows=case.rows if action.rows is None else float(action.rows),
        drill=case.drill,
        curve=case.curve if has_curve else None,
    )
