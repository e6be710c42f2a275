"""The catches of one box that count: what is compared, and what is left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import get_args

import numpy as np

from predictor.domain.control import Control, Floats, Lever, Setting, Sprockets
from predictor.domain.drill import CatchDefaults, SeedBox
from predictor.domain.result import Remark
from predictor.domain.trials import Flags, Status, Trials
from predictor.errors import InputError, near
from predictor.format import listed, plain
from predictor.lots.parallel import Codes


@dataclass(frozen=True)
class LeftOut:
    """Catches left out, why, and on which lines of the file."""

    reason: Remark
    catches: int
    lines: tuple[int, ...]  # Where they are known


@dataclass(frozen=True, eq=False)
class Catches:
    """Catches of lots on one scale of openings, as columns of length n."""

    control: Control | None
    ordered: bool  # False where chain positions have no order: all catches are then at one of them
    names: tuple[str, ...]  # Lots, by name
    lot: Codes  # Index into `names`
    seasons: Mapping[str, float]  # When each season was, in years, in the order of time
    season: Codes  # Index into `seasons`
    opening: Floats
    output: Floats
    floor: float  # Variance of log outputs that a reading rounded to the scale's step has at least
    target: float | None  # The latest output named in the trials

    @cached_property
    def log_output(self) -> Floats:
        """Logarithm of the outputs."""
        return np.log(self.output)

    @property
    def lowest(self) -> float:
        """Opening near which a dead setting is expected."""
        return 0.0 if self.control is None else self.control.lowest_opening

    @property
    def span(self) -> float:
        """Length of the scale, in openings; of one without a control, as far as it was used."""
        return (float(np.abs(self.opening).max()) or 1.0) if self.control is None else self.control.span

    @cached_property
    def ends(self) -> tuple[Floats, Floats]:
        """Lowest and highest opening that each lot was caught at."""
        first, last = np.full(len(self.names), np.inf), np.full(len(self.names), -np.inf)
        np.minimum.at(first, self.lot, self.opening)
        np.maximum.at(last, self.lot, self.opening)
        return first, last

    def most_caught(self, lot: int) -> float:
        """The opening that a lot was caught at most; among equals the one nearest the middle."""
        opening = self.opening[self.lot == lot]
        values, count = np.unique(opening, return_counts=True)
        best = values[count == count.max()]
        return float(best[np.argmin(np.abs(best - np.median(opening)))])

    def caught_at(self, opening: float) -> Setting:
        """The setting of a catch."""
        if self.control is not None:
            return self.control.at(opening)
        return Setting(opening, opening, plain(opening))

    def to_set(self, opening: float) -> Setting | None:
        """A setting that the control has, to set next; None off its scale."""
        if not (self.ordered and np.isfinite(opening)):
            return None
        if self.control is None:
            return self.caught_at(float(f"{opening:.3g}"))
        on_scale = isinstance(self.control, Sprockets) or self.control.has(self.control.opening(opening))
        return self.control.nearest(opening) if on_scale else None

    def beyond(self, opening: float) -> str:
        """Which end of a lever's scale an opening is beyond, "least" or "most"; "" where it is beyond none."""
        if not isinstance(self.control, Lever) or self.control.has(self.control.opening(opening)):
            return ""
        return "most" if opening > self.control.lowest_opening + self.control.span / 2 else "least"


@dataclass(frozen=True, eq=False)
class Selection:
    """What a log holds of one box: the catches that count, those left out and why."""

    box: str
    trials: Trials  # All catches of the box
    catches: Catches | None  # None where none counts
    left_out: tuple[LeftOut, ...]
    label: str  # The chain position that lots are compared at, where positions have no order; else ""


def select(data: Trials, box: str | SeedBox | None) -> Selection:
    """Sort the catches of one box into those that count and those left out."""
    name, home = _box_of(data, box)
    mine = data.of(box=name)
    left_out = [_left_out(f"lots.{status}", mine, mine.status == status) for status in get_args(Status) if status]
    used, control, label = mine.where(mine.counts), None, ""
    if home is not None:
        used, control = used.in_box(home), home.control
    placed = np.isfinite(used.opening)
    if len(used) and not placed.any():
        # labels without drive ratios cannot be put on one scale: compare where most lots were caught
        often = Counter(
            setting for setting, _ in sorted(set(zip(used.setting.tolist(), used.lot.tolist(), strict=True)))
        )
        label = often.most_common(1)[0][0]
        placed, control = used.setting == label, Sprockets({label: 1.0})
        left_out.append(_left_out("lots.elsewhere", used, ~placed, label=label))
        used = replace(used, opening=np.ones(len(used)))
    else:
        left_out.append(_left_out("lots.unplaced", used, ~placed))
    used = used.where(placed)
    catches = _columns(used, mine.season_times, control, ordered=not label) if len(used) else None
    return Selection(name, mine, catches, tuple(each for each in left_out if each.catches), label)


def lot_index(catches: Catches, selection: Selection, wanted: str | None) -> int:
    """Index of a lot that is compared, by its name; of the most caught one where no name is given."""
    if wanted is None:
        return int(np.bincount(catches.lot).argmax())
    if wanted in catches.names:
        return catches.names.index(wanted)
    if wanted in selection.trials.lot.tolist():
        raise InputError(f"No catch of lot {wanted} counts, so it cannot be the reference.")
    like = near(wanted, list(catches.names))
    meant = f" Did you mean {like}?" if like else ""
    raise InputError(f"Box {selection.box} has no lot {wanted!r}.{meant} Lots: {listed(catches.names)}.")


def _box_of(data: Trials, box: str | SeedBox | None) -> tuple[str, SeedBox | None]:
    if isinstance(box, SeedBox):
        return box.name, box
    names = sorted(set(data.box.tolist()))
    if box is None and len(names) != 1:
        raise InputError(f"Name the box to compare. Boxes in the trials: {listed(names) or 'none'}.")
    name = names[0] if box is None else box
    if name not in names:
        raise InputError(f"The trials have no box {name!r}. Boxes in them: {listed(names) or 'none'}.")
    boxes = () if data.drill is None else data.drill.boxes
    return name, next((each for each in boxes if each.name == name), None)


def _left_out(code: str, trials: Trials, mask: Flags, **values: str) -> LeftOut:
    lines = tuple(line for line in trials.line[mask].tolist() if line > 0)
    return LeftOut(Remark(code, values), int(mask.sum()), lines)


def _columns(used: Trials, times: Mapping[str, float], control: Control | None, *, ordered: bool) -> Catches:
    names, lot = np.unique(used.lot, return_inverse=True)
    there = set(used.season.tolist())
    seasons = {season: time for season, time in times.items() if season in there}
    code = {season: k for k, season in enumerate(seasons)}
    resolution_g = (CatchDefaults() if used.drill is None else used.drill.catch).scale_resolution_g
    # a reading rounded to the scale's step has a standard deviation of step / sqrt(12)
    floor = float(np.mean(np.minimum(resolution_g / used.catch_g, 1.0) ** 2)) / 12
    named = used.target_g / (used.turns * used.rows)
    named = named[np.isfinite(named)]
    return Catches(
        control=control,
        ordered=ordered,
        names=tuple(names.tolist()),
        lot=lot,
        seasons=seasons,
        season=np.array([code[season] for season in used.season.tolist()], dtype=np.intp),
        opening=used.opening,
        output=used.output,
        floor=floor,
        target=float(named[-1]) if len(named) else None,
    )
