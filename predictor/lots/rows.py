"""The rows of a comparison: each lot's figures, the settings to start near, and what weakens them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import fields

import numpy as np

from predictor.domain.control import Floats, Lever, Setting, Sprockets
from predictor.domain.result import Remark
from predictor.domain.trials import Flags
from predictor.lots.catches import Catches
from predictor.lots.flow import Flow
from predictor.lots.results import Lot
from predictor.lots.shapes import LotCurves
from predictor.lots.starts import Starts

# A chain position is named without a note where its drive ratio is this near the one needed, as a log ratio.
NEAR_POSITION = 0.1

# Of each row, and of a lot not yet seen as the last one: the setting, and its limits in the order of the control.
Settings = tuple[list[Setting | None], list[Setting | None], list[Setting | None]]


def settings_of(catches: Catches, starts: Starts) -> Settings:
    """The settings to start near, and their limits."""
    need, low, high = (catches.all_to_set(each) for each in (starts.need, starts.low, starts.high))
    if isinstance(catches.control, Lever) and catches.control.more_is == "lower":
        low, high = high, low
    return need, low, high


def rows_of(
    curves: LotCurves,
    flow: Flow,
    starts: Starts,
    settings: Settings,
    average: Floats | None,
    unusual: frozenset[str],
    reference: int,
) -> tuple[Lot, ...]:
    """The lots, by first season, then by name."""
    catches = curves.catches
    names, called, caught_in = catches.names, catches.called, _seasons(catches)
    in_season = np.array([each.season is not None for each in called])
    alone = np.where(in_season, flow.season_half, np.nan)
    ends = (flow.log_ratio + each for each in (-flow.half, flow.half, -alone, alone))
    limits = [_or_none(np.exp(np.where(end < 700, end, np.nan))) for end in ends]
    own = ~curves.borrowed & (curves.bend > 0) & (not curves.shared)
    noted, seasons = _noted(curves, settings[0], starts.need, reference).tolist(), list(catches.seasons)
    columns = {
        "lot": [each.lot for each in called],
        "season": [each.season for each in called],
        "name": names,
        "seasons": [tuple([seasons[k] for k in each]) for each in caught_in],
        "catches": curves.lines.count.tolist(),
        "settings": list(zip(*(map(catches.caught_at, each.tolist()) for each in catches.ends), strict=True)),
        "ratio": np.exp(flow.log_ratio).tolist(),
        **dict(zip(("lower", "upper", "season_lower", "season_upper"), limits, strict=True)),
        "at_setting": [None if each is None else catches.caught_at(each) for each in _or_none(flow.at)],
        **dict(zip(("setting", "setting_lower", "setting_upper"), (each[:-1] for each in settings), strict=True)),
        "against_average": [None] * len(names) if average is None else _or_none(average),
        "unusual": [each in unusual for each in names],
        "dead_opening": [curves.dead(k) if each else None for k, each in enumerate(own.tolist())],
        "notes": [
            tuple(_notes(k, curves, float(starts.need[k]), settings[0][k], reference)) if each else ()
            for k, each in enumerate(noted)
        ],
    }
    rows = [Lot(*row) for row in zip(*(columns[each.name] for each in fields(Lot)), strict=True)]
    return tuple(rows[k] for k in sorted(range(len(names)), key=lambda k: (caught_in[k][0], names[k])))


def _seasons(catches: Catches) -> list[list[int]]:
    """The seasons that each row was caught in."""
    number = len(catches.seasons)
    caught_in: list[list[int]] = [[] for _ in catches.called]
    for cell in np.flatnonzero(np.bincount(catches.lot * number + catches.season)).tolist():
        caught_in[cell // number].append(cell % number)
    return caught_in


def _or_none(values: Floats) -> list[float | None]:
    """Numbers, None where there is none."""
    if np.isnan(values).all():
        return [None] * len(values)
    return [None if each != each else each for each in values.tolist()]  # only what is no number differs from itself


def _noted(curves: LotCurves, settings: list[Setting | None], need: Floats, reference: int) -> Flags:
    """Which rows may have notes: of thousands of lots most have none."""
    catches, control, r = curves.catches, curves.catches.control, reference
    first, last = catches.ends
    noted = (curves.lines.count == 1) | (last < first[r]) | (first > last[r])
    share = catches.towed_shares
    noted |= (np.maximum(share, share[r]) > 0) & (np.minimum(share, share[r]) < 1)
    if isinstance(control, Lever):
        return np.asarray(noted | np.array([each is None for each in settings[:-1]]))
    return np.asarray(noted | isinstance(control, Sprockets))


def _notes(k: int, curves: LotCurves, need: float, setting: Setting | None, reference: int) -> Iterator[Remark]:
    catches, control = curves.catches, curves.catches.control
    first, last = catches.ends
    if curves.lines.count[k] == 1:
        yield Remark("lots.one_catch")
    if last[k] < first[reference] or first[k] > last[reference]:
        yield Remark("lots.no_common_setting")
    shares = catches.towed_share(k), catches.towed_share(reference)
    if max(shares) > 0 and min(shares) < 1 and k != reference:
        yield Remark("lots.slip_between", {"shares": shares})
    if catches.label or control is None or not math.isfinite(need):
        return
    if isinstance(control, Sprockets):
        nearest = control.nearest(need).opening
        if abs(math.log(max(need, 1e-9) / nearest)) > NEAR_POSITION:
            yield Remark("lots.between_positions")
    elif isinstance(control, Lever) and setting is None:
        yield Remark("lots.beyond", {"end": "most" if need > control.highest else "least"})
