"""What earlier lots of a box say about the next one: shape, repeatability, and how much lots differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from predictor.advice.earlier_lots import Table, has_drifted, lots_of, without_wild
from predictor.advice.other_drills import Elsewhere, learned_elsewhere
from predictor.advice.pooled import pooled_prior, same_lot
from predictor.curves.prior import Prior, cold_prior
from predictor.domain.drill import SeedBox
from predictor.domain.drives import LeverAndDrive
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.files.trials import as_trials

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
    ValueError
        A box by its name, and trials without a drill.
    KeyError
        The drill has no such box.
    InputError
        Problems of a DataFrame, or settings that the box's control does not have.
    TypeError
        Trials that have no columns.

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
    lot, season = before or (None, None)
    lots, unplaced = lots_of(trials, seed_box, lot, season)
    elsewhere = learned_elsewhere(others, seed_box, season)
    if not lots:
        return None if elsewhere is None else _of_others(elsewhere, unplaced)
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
    )


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


def box_of(trials: Trials, box: SeedBox | str) -> SeedBox:
    """The box itself, looked up in the trials' drill where only its name is given."""
    if isinstance(box, SeedBox):
        return box
    if trials.drill is None:
        raise ValueError(f"Give box {box!r} as a SeedBox, or read the trials with their drill.")
    return trials.drill.box(box)
