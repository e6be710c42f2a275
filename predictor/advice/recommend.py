"""The main job: which setting, how sure, and whether to stop testing."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from predictor.advice.aim import CONFIDENCE, TOLERANCE, Aim
from predictor.advice.drives import choose
from predictor.advice.history import History, box_of
from predictor.advice.lot_fit import LotFit, caught_size, fit_lot, is_towed
from predictor.advice.result import Advice, Limits
from predictor.domain.catch import output_for_rate
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.trials import Trials
from predictor.files.trials import as_trials
from predictor.slips.finding import Finding
from predictor.units import rate_from

if TYPE_CHECKING:
    import pandas as pd

# Standard uncertainty of a field factor that is given as a number alone, for standing catches of a towed lot: what one
# field check leaves, common practice.
FACTOR_SPREAD = 0.05


def recommend(
    trials: Trials | pd.DataFrame,
    box: SeedBox | str,
    *,
    target_output: float | None = None,
    target_g: float | None = None,
    target_rate: float | None = None,
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
    target_output, target_g, target_rate : float
        What is wanted, in one of three ways, > 0: mean output in grams per row per turn; weight in grams over the
        turns and rows of the last catch; or bulk rate in the field (pounds per acre, or kilograms per hectare where
        the drill is metric), which needs a drill.
    lot, season : str, optional
        The last one in the trials where not given.
    tolerance : float
        How far the true mean rate may lie from target, a fraction between 0 and 1.
    confidence : float
        Chance at which a setting may be locked, at least 0.5 and below 1.
    history : History, optional
        From `learn_history`; stands in for ordinary knowledge.
    drill : Drill, optional
        The trials' own where not given. Without one there are no rates, and nothing is known of rows not caught.
    field_factor : float
        Field rate over stationary rate: a target rate is divided by it, and rates shown are multiplied. The catches of
        a towed lot have slip in them: there it only turns those of the standing drill into what the field has, and they
        are left out where it is 1, which is not measured.

    Returns
    -------
    Advice

    Raises
    ------
    ValueError
        No target or more than one, a target, tolerance or confidence out of its range, or a box by its name or a
        target rate without a drill.
    KeyError
        The drill has no box of that name.
    InputError
        Problems of a DataFrame, or settings that the box's control does not have.
    TypeError
        Trials that have no columns.

    References
    ----------
    Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., sections 3.3 and 14.2 (the posterior behind `chance`, from
    memory); page `sample_trials/statistics.md` states the whole method.

    Examples
    --------
    >>> import pandas as pd
    >>> from predictor import Lever, SeedBox
    >>> box = SeedBox("small", "small", Lever(0, 60, 1))
    >>> frame = pd.DataFrame({"box": "small", "lot": "A", "setting": [30, 38, 38, 38], "turns": 28, "rows": 3,
    ...                       "catch_g": [48.0, 61.0, 62.2, 60.9]})
    >>> advice = recommend(frame, box, target_g=61.0)
    >>> advice.decision, advice.setting
    ('lock', 38.0)
    """
    trials = as_trials(trials, drill)
    drill = drill or trials.drill
    seed_box = box if isinstance(box, SeedBox) else drill.box(box) if drill else box_of(trials, box)
    if sum(each is not None for each in (target_output, target_g, target_rate)) != 1:
        raise ValueError("Give one of target_output, target_g and target_rate.")
    slip = None if field_factor == 1 else (field_factor, FACTOR_SPREAD)
    if is_towed(trials, seed_box, lot, season):
        field_factor = 1.0
    if target_g is not None:
        target_output = target_g / caught_size(trials, seed_box, lot=lot, season=season, drill=drill)
    elif target_rate is not None:
        if drill is None:
            raise ValueError("A target rate needs a drill, for its row spacing and wheel: pass drill=.")
        target_output = output_for_rate(rate_from(target_rate, drill.units), drill, seed_box, field_factor)
    assert target_output is not None
    aim = Aim(target_output, tolerance, confidence, history, field_factor, slip)
    fit = fit_lot(trials, seed_box, lot=lot, season=season, history=history, drill=drill, near=aim.near, slip=slip)
    return advise(fit, aim)


def advise(fit: LotFit, aim: Aim, slips: tuple[Finding, ...] | None = None) -> Advice:
    """The whole advice on a fitted lot: what to do, with everything that is behind it; slips as for `choose`."""
    fit, action = choose(fit, aim, slips)
    curve = fit.curve
    turns, rows = action.turns or fit.turns_caught, action.rows or fit.rows_caught
    expected: float | None = None
    interval: Limits = (None, None)
    ideal: tuple[float | str | None, float | str | None] = (None, None)
    if curve is not None and action.setting is not None:
        opening = action.setting.opening
        # a whole drill's rate carries the rows that were not caught; the next catch carries those it adds
        expected, interval = fit.whole_drill(opening)
        ideal = fit.setting_interval(aim.target_output)
    return Advice(
        box=fit.box.name,
        lot=fit.lot,
        season=fit.season,
        aim=aim,
        decision=action.decision,
        why=action.why,
        advised=action.setting,
        setting_interval=ideal,
        chance=None if action.chance is None else min(max(action.chance, 0.0), 1.0),
        turns=fit.turns_caught,
        rows=fit.rows_caught,
        offers_lock=action.offers_lock,
        towed=fit.towed,
        next_turns=turns,
        next_rows=rows,
        next_length=fit.length_of(turns, rows),
        next_rows_sd=math.sqrt(fit.variance_of_more(rows)),
        expected_output=expected,
        expected_interval=interval,
        catches_used=len(fit.used),
        catches_left_out=len(fit.catches) - len(fit.used),
        catches_expected_more=action.more,
        family="none" if curve is None else curve.family,
        repeatability=None if curve is None else curve.noise_of(fit.length_of(fit.turns_caught, fit.rows_caught)),
        present=fit.present if curve is not None else None,
        whole_drill=fit.drill is not None and (fit.rows_caught >= fit.drill.rows_of(fit.box) or fit.rows is not None),
        remarks=fit.remarks,
        set_aside=fit.set_aside,
        slips=action.slips,
        otherwise=action.otherwise,
        drill=fit.drill,
        curve=curve,
        trials=fit.catches,
        seed_box=fit.box,
        control=fit.control,
    )
