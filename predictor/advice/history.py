"""What earlier lots of a box say about the next one: shape, repeatability, and how much lots differ."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from predictor.advice.earlier_lots import Table, has_drifted, lots_of, without_wild
from predictor.advice.other_drills import Elsewhere, learned_elsewhere
from predictor.advice.pooled import pooled_prior, same_lot
from predictor.curves.prior import Prior, cold_prior
from predictor.domain.arguments import flag, in_capitals_or_not, kind, known_name, maybe_label, refuse, tuple_of
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.drives import LeverAndDrive
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.errors import InputError, WrongKind
from predictor.files.trials import as_trials
from predictor.numbers import quoted

if TYPE_CHECKING:
    import pandas as pd

# A level seen standing says less of a towed lot, and the other way round: slip and jolting lie between them. Published
# field rates are 85 to 96 % of stationary ones (source beside `SHARED_SPREAD` in field/factors.py).
SLIP_SPREAD = 0.10
# How lots differ is not worth saying from fewer.
ENOUGH_LOTS = 4


@dataclass(frozen=True)
class History:
    """What was learned from the earlier lots of one box.

    Attributes
    ----------
    prior : Prior
        Stands in for ordinary knowledge when the next lot is fitted.
    lots : tuple of str
        Lots it was learned from, `lot` or `lot (season)`.
    left_out : tuple of str
        Lots too unlike the others.
    catches : int
    drifted : bool
        Whether older seasons were given less weight.
    lot_spread : float or None
        Spread of the level between lots, as a fraction; None with a single lot.
    scaled : int
        Catches on other drives than the first one of the box, counted by the ratios of the drives.
    same_lot : str
        The season in which the same bags were caught, from which the level is; "" where they were not.
    level_known : float or None
        How far the level of the lot in hand may be from that, as a fraction.
    reused : bool
        Whether catches of the same name were taken for other seed, since the name is that of a blend.
    other_lots : int
        Lots on other drills, which inform shape and repeatability.
    other_drills : tuple of str
    unplaced : tuple of str
        Lots that were only caught on drives of unknown ratio, so that nothing was learned from them.
    scale : tuple of (float, float) or None
        Ends of the box's control in openings, for which it holds; None where it is not known.
    box, lot : str
        What it was learned for; "" where that is not known.
    """

    prior: Prior
    lots: tuple[str, ...]
    left_out: tuple[str, ...]
    catches: int
    drifted: bool
    lot_spread: float | None
    scaled: int = 0
    same_lot: str = ""
    level_known: float | None = None
    reused: bool = False
    other_lots: int = 0
    other_drills: tuple[str, ...] = ()
    unplaced: tuple[str, ...] = ()
    scale: tuple[float, float] | None = None
    box: str = ""
    lot: str = ""

    @property
    def remark(self) -> Remark:
        """What was taken from the earlier lots, for the technician."""
        values = {
            "lots": len(self.lots),
            "cv": self.prior.typical_cv,
            "lot_spread": self.lot_spread if len(self.lots) >= ENOUGH_LOTS else None,
            "left_out": self.left_out,
            "drifted": self.drifted,
            "scaled": self.scaled,
            "same_lot": self.same_lot,
            "level_known": self.level_known,
            "reused": self.reused,
            "other_lots": self.other_lots,
            "other_drills": len(self.other_drills),
            "unplaced": self.unplaced,
        }
        return Remark("advice.history", values)


def learn_history(
    trials: Trials | pd.DataFrame,
    box: SeedBox | str,
    *,
    before: tuple[str, str | None] | None = None,
    others: Sequence[Trials] = (),
    reused: bool = False,
) -> History | None:
    """Learn from earlier lots of a box what the next lot's curve is likely to be.

    Parameters
    ----------
    trials : Trials or DataFrame
        Of any boxes and lots; catches that do not count (`Trials.counts`) are left out.
    box : SeedBox or str
        A name needs trials that came with their drill.
    before : (str, str or None), optional
        Lot and season in hand: its own catches, and lots of later seasons, are not history. Without a season the lots
        of all seasons are.
    others : sequence of Trials
        Catches of other drills, each of one drill and read by its controls. They inform shape and repeatability.
    reused : bool
        Whether the name of the lot in hand is used for other seed each season, as that of a blend is. Otherwise
        catches of the same name in an earlier season are of the same bags and say most of how freely the lot flows.

    Returns
    -------
    History or None
        None where no earlier lot has a catch that counts, on no drill.

    Raises
    ------
    InputError
        Problems of a DataFrame, settings that the box's control does not have, a box by its name and trials without a
        drill, no such box (a KeyError too), or an argument of another kind (a TypeError too).

    Notes
    -----
    All lots of a drill share one shape; each has its own level; one repeatability is pooled. Lots of other drills give
    the prior of that shape, through what drills differ by. The shape's posterior is taken on a grid of dead settings
    and bends; its spread for a new lot adds what lots differ by (method of moments).

    References
    ----------
    DerSimonian and Laird (1986), Control. Clin. Trials 7, 177-188 (cited from memory).

    Examples
    --------
    >>> import predictor
    >>> drill = predictor.read_drill("sample_trials/drill.toml")
    >>> trials = predictor.read_trials("sample_trials/trials.csv", drill)
    >>> history = predictor.learn_history(trials, "grain", before=("CW-26", "2026"))
    >>> history.lots
    ('CW-24 (2025)', 'VW-25 (2025)')
    """
    trials = as_trials(trials)
    seed_box = box_of(trials, box)
    others, reused = tuple_of(others, "others", Trials, "Trials"), flag(reused, "reused")
    return history_of(trials, seed_box, before, partial(learned_elsewhere, others), reused=reused)


def history_of(
    trials: Trials,
    box: SeedBox,
    before: tuple[str, str | None] | None,
    others: Callable[[SeedBox, str | None], Elsewhere | None],
    *,
    reused: bool,
) -> History | None:
    """As `learn_history`, where `others` gives what was learned on other drills for a box, up to a season."""
    seed_box = box_of(trials, box)
    lot, season = _before(trials, seed_box, before)
    elsewhere = others(seed_box, season)
    of_what: dict[str, Any] = {"scale": scale_of(seed_box), "box": seed_box.name, "lot": lot or ""}
    lots, unplaced = lots_of(trials, seed_box, lot, season)
    if not lots:
        return None if elsewhere is None else replace(_of_others(elsewhere, unplaced), **of_what)
    kept, left_out = without_wild(Table(lots, elsewhere.prior if elsewhere else cold_prior(seed_box.holds)))
    drifted = has_drifted(kept)
    aged = kept.aged(trials.season_times) if drifted else kept
    prior, lot_spread = pooled_prior(aged)
    same = same_lot(aged, lot) if lot else None
    known, towed = None if reused else same, _towed_in_hand(trials, seed_box, lot, season)
    if known is not None:
        prior = replace(prior, level=known.level, level_spread=known.spread)
    if len({*([known.towed] if known else [each.towed for each in kept.lots]), *towed}) > 1:
        prior = replace(prior, level_spread=float(np.hypot(prior.level_spread or 0.0, SLIP_SPREAD)))
    return History(
        prior=prior,
        lots=tuple(each.name for each in kept.lots),
        left_out=tuple(left_out),
        catches=int(kept.n.sum()),
        drifted=drifted,
        lot_spread=lot_spread,
        scaled=sum(each.scaled for each in kept.lots),
        same_lot=known.season if known else "",
        level_known=prior.level_spread if known else None,
        reused=reused and same is not None,
        other_lots=elsewhere.lots if elsewhere else 0,
        other_drills=elsewhere.drills if elsewhere else (),
        unplaced=unplaced,
        **of_what,
    )


def _before(trials: Trials, box: SeedBox, before: object) -> tuple[str | None, str | None]:
    """Lot and season in hand, as the trials write them."""
    if before is None:
        return None, None
    if not isinstance(before, tuple | list) or len(before) != 2:
        refuse("before", "a lot and its season, or None in place of the season", before, WrongKind)
    lot, season = maybe_label(before[0], "the lot of before"), maybe_label(before[1], "the season of before")
    mine = trials.of(box=box.name)
    return (
        None if lot is None else in_capitals_or_not(lot, mine.lot.tolist()),
        None if season is None else in_capitals_or_not(season, mine.season.tolist()),
    )


def scale_of(box: SeedBox) -> tuple[float, float]:
    """Ends of a box's control in openings."""
    control = box.first_control
    return float(control.lowest_opening), float(control.lowest_opening + control.span)


def _of_others(elsewhere: Elsewhere, unplaced: tuple[str, ...]) -> History:
    """What lots of other drills alone say: no level."""
    found = elsewhere.lots, elsewhere.drills
    return History(
        elsewhere.prior, (), (), 0, False, None, other_lots=found[0], other_drills=found[1], unplaced=unplaced
    )


def _towed_in_hand(trials: Trials, box: SeedBox, lot: str | None, season: str | None) -> list[bool]:
    """Whether the lot in hand was towed; empty where it has no catch that counts."""
    in_hand = trials.of(box=box.name, lot=lot or "")
    mine = in_hand.counts & (True if season is None else np.isin(in_hand.season, [season, ""]))
    return [bool(in_hand.towed[mine].any())] if mine.any() else []


def prior_on_drive(history: History, box: SeedBox, drive: str) -> Prior:
    """The prior on one drive of a box with two controls; its level is unknown where the drive's ratio is.

    The lots were compared on the first drive.
    """
    prior, control = history.prior, box.control
    if prior.level is None or not isinstance(control, LeverAndDrive):
        return prior
    times = control.times(drive, next(iter(control.drives)))
    if np.isfinite(times):
        return replace(prior, level=prior.level + float(np.log(times)))
    return replace(prior, level=None, level_spread=None)


def box_of(trials: Trials, box: SeedBox | str, drill: Drill | None = None) -> SeedBox:
    """The box itself by the name that the trials have it under; looked up in the drill where only its name is given."""
    kind(box, "box", (SeedBox, str), "a SeedBox, or the name of one")
    drill = drill or trials.drill
    if isinstance(box, str):
        if drill is None:
            raise InputError(f"Give box {quoted(box)} as a SeedBox, or read the trials with their drill.")
        box = drill.box(box)
    there = list(dict.fromkeys(trials.box.tolist()))
    name = in_capitals_or_not(box.name, there)
    if name not in there and there and (drill is None or all(each.name != name for each in drill.boxes)):
        known_name(name, "box", there, "The trials have")
    return box if name == box.name else replace(box, name=name)
