"""The main job: which setting, how sure, and whether to stop testing."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from predictor.advice.aim import CONFIDENCE, TOLERANCE, Aim
from predictor.advice.drives import choose
from predictor.advice.history import History, box_of, scale_of
from predictor.advice.lot_fit import LotFit, caught_size, fit_lot, is_towed
from predictor.advice.result import Advice, Limits
from predictor.domain.arguments import POSITIVE, in_capitals_or_not, maybe_label, number
from predictor.domain.catch import output_for_rate
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.errors import InputError, near
from predictor.files.trials import as_trials
from predictor.numbers import quoted
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
        As the trials write them, in capitals or not; the last one in the trials where not given. What has no catch yet
        is named in the warnings.
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
    InputError
        No target or more than one, a target, tolerance or confidence out of its range, a box by its name or a target
        rate without a drill, no box of that name (a KeyError too), a history of another scale, problems of a DataFrame,
        settings that the box's control does not have, or an argument of another kind (a TypeError too).

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
    seed_box = box_of(trials, box, drill)
    lot, season, unknown = _named(trials, seed_box, maybe_label(lot, "lot"), maybe_label(season, "season"))
    field_factor = number(field_factor, "field_factor", POSITIVE)
    slip = None if field_factor == 1 else (field_factor, FACTOR_SPREAD)
    if is_towed(trials, seed_box, lot, season):
        field_factor = 1.0
    wanted = {"target_output": target_output, "target_g": target_g, "target_rate": target_rate}
    given = {name: number(each, name, POSITIVE) for name, each in wanted.items() if each is not None}
    if len(given) != 1:
        raise InputError("Give one of target_output, target_g and target_rate.")
    target = given.get("target_output", 0.0)
    if "target_g" in given:
        target = given["target_g"] / caught_size(trials, seed_box, lot=lot, season=season, drill=drill)
    elif "target_rate" in given:
        if drill is None:
            raise InputError("A target rate needs a drill, for its row spacing and wheel: pass drill=.")
        target = output_for_rate(rate_from(given["target_rate"], drill.units), drill, seed_box, field_factor)
    aim = Aim(target, tolerance, confidence, history, field_factor, slip)
    _check_scale(aim.history, seed_box)
    fit = fit_lot(trials, seed_box, lot=lot, season=season, history=history, drill=drill, near=aim.near, slip=slip)
    _check_lot(aim.history, fit)
    return advise(replace(fit, remarks=(*unknown, *fit.remarks)), aim)


def _named(
    trials: Trials, box: SeedBox, lot: str | None, season: str | None
) -> tuple[str | None, str | None, list[Remark]]:
    """Lot and season as the trials write them, and a remark on one that has no catch of this box yet."""
    mine = trials.of(box=box.name)
    lots = [*dict.fromkeys(mine.lot.tolist())]
    lot = None if lot is None else in_capitals_or_not(lot, lots)
    seasons = [*dict.fromkeys(mine.of(lot=lot).season.tolist())]
    season = None if season is None else in_capitals_or_not(season, seasons)
    if lot is not None and lots and lot not in lots:
        values = {"box": box.name, "lot": lot, "near": near(lot, lots), "known": tuple(lots)}
        return lot, season, [Remark("advice.no-such-lot", values)]
    if season and seasons and season not in seasons and "" not in seasons:
        values = {"season": season, "known": tuple(sorted(seasons))}
        return lot, season, [Remark("advice.no-such-season", values)]
    return lot, season, []


def _check_scale(history: History | None, box: SeedBox) -> None:
    """Refuse what was learned of another box, or on another scale: a dead setting is a share of it."""
    own = scale_of(box)
    if history is not None and history.box and history.box.lower() != box.name.lower():
        raise InputError(
            f"history must be learned from the catches of box {box.name}; this one is of box {history.box}. Learn it "
            "from those of this box."
        )
    if history is not None and history.scale not in (None, own):
        ends = [f"from {low:g} to {high:g}" for low, high in (own, history.scale or own)]
        raise InputError(
            f"history must be learned on the scale of box {box.name}, {ends[0]}; this one was learned on a scale "
            f"{ends[1]}. Learn it from the catches of this box."
        )


def _check_lot(history: History | None, fit: LotFit) -> None:
    """Refuse the level of other bags: the same bags caught in an earlier season say how freely this lot flows."""
    if history is not None and history.same_lot and history.lot and history.lot.lower() != fit.lot.lower():
        raise InputError(
            f"history must be learned for lot {quoted(fit.lot)}; this one has the level of lot {quoted(history.lot)}, "
            f"which was caught in season {history.same_lot} too. Name lot and season in before when you learn it."
        )


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
        shared_sd=math.sqrt(fit.row_variance),
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
