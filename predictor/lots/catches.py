"""The catches of one box that count: what is compared, and what is left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import get_args

import numpy as np

from predictor.curves.prior import Repeatability, cold_prior
from predictor.domain.arguments import in_capitals_or_not, kind
from predictor.domain.codes import Codes, coded, codes_of
from predictor.domain.control import Control, Floats, Lever, Setting, Sprockets
from predictor.domain.drill import CatchDefaults, Counted, SeedBox
from predictor.domain.drives import LeverAndDrive
from predictor.domain.result import Remark
from predictor.domain.trials import Flags, Status, Trials
from predictor.errors import InputError, UnknownName, near
from predictor.format import listed, plain
from predictor.lots.parallel import Alike


@dataclass(frozen=True)
class LeftOut:
    """Catches of one file left out, why, and on which lines."""

    reason: Remark
    catches: int
    lines: tuple[int, ...]  # Where they are known
    file: str = ""  # Of another season or job; empty for the trials' own


@dataclass(frozen=True)
class Called:
    """What is compared: a lot, or one season of it where its seasons are compared as lots."""

    name: str  # Its own among all that are compared
    lot: str  # As the trials write it
    season: str | None = None  # None for all seasons of the lot; "" for its catches without season


@dataclass(frozen=True, eq=False)
class Catches:
    """The catches of one box that count, on one scale of openings, as columns of length n."""

    box: str
    control: Control | None
    scaled: int  # Catches on other drives than the one that most were made on, counted by the ratios of the drives
    label: str  # The one chain position that lots are compared at, where positions have no order; else ""
    called: tuple[Called, ...]  # Lots, by name; the seasons of a lot in the order of time
    lot: Codes  # Index into `called`
    whole: Codes  # The lot of each catch whatever the season
    seasons: Mapping[str, float]  # When each season was, in years, in the order of time
    season: Codes  # Index into `seasons`
    openings: Floats  # The different openings, sorted
    place: Codes  # Index into `openings`
    output: Floats
    towed: Flags  # Whether the drill was towed, so that slip is in the output
    counted: Counted  # What an output is per, beside rows
    usual_scatter: Repeatability  # What is known of the box's repeatability before any catch
    floor: float  # Variance of log outputs that a reading rounded to the scale's step has at least
    target: float | None  # The latest output named in the trials
    left_out: tuple[LeftOut, ...]
    also: Mapping[str, str] = field(default_factory=dict)  # Other names by which what is compared may be asked for

    def __len__(self) -> int:
        return len(self.lot)

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Names of what is compared."""
        return tuple(each.name for each in self.called)

    @cached_property
    def opening(self) -> Floats:
        """Opening of each catch."""
        return np.asarray(self.openings[self.place])

    @cached_property
    def log_output(self) -> Floats:
        """Logarithm of the outputs."""
        return np.log(self.output)

    @cached_property
    def alike(self) -> Alike:
        """Catches of one lot at one opening as one."""
        return Alike.of(self.log_output, self.openings, self.place, self.lot)

    @cached_property
    def cells(self) -> tuple[Codes, Codes, Codes]:
        """Lot, whatever the season, and season of each cell, and the cell of each catch."""
        key, of_catch = coded(self.whole * len(self.seasons) + self.season)
        return *np.divmod(key, len(self.seasons)), of_catch

    @cached_property
    def ends(self) -> tuple[Floats, Floats]:
        """Lowest and highest opening that each lot was caught at."""
        first, last = np.full(len(self.called), np.inf), np.full(len(self.called), -np.inf)
        np.minimum.at(first, self.lot, self.opening)
        np.maximum.at(last, self.lot, self.opening)
        return first, last

    @cached_property
    def once(self) -> Codes:
        """Index of one of the seasons of each lot: the most caught, the last among equals."""
        count, whole = np.bincount(self.lot), np.zeros(len(self.called), dtype=np.intp)
        whole[self.lot] = self.whole
        order = np.lexsort((count, whole))  # stable, so seasons of one count stay in the order of time
        return np.sort(order[np.append(np.diff(whole[order]) > 0, True)])

    def towed_share(self, lot: int | None = None) -> float:
        """Part of a lot's catches, or of all, for which the drill was towed."""
        return float(np.mean(self.towed) if lot is None else self.towed_shares[lot])

    @cached_property
    def towed_shares(self) -> Floats:
        """Of each lot: a look at all catches for each of them would cost lots x catches."""
        return np.asarray(np.bincount(self.lot, weights=self.towed) / np.bincount(self.lot))

    def has(self, lot: str) -> bool:
        """Whether something is compared that may be asked for by this name."""
        return lot in self.names or lot in self.also

    def index(self, lot: str | None) -> int:
        """Index of a lot, by its name; of the most caught one where no name is given.

        The name of a lot whose seasons are compared as lots means its last season.
        """
        if lot is None:
            count = np.bincount(self.lot)
            first = self.called[int(count.argmax())].lot
            return max(k for k, each in enumerate(self.called) if each.lot == first and count[k] == count.max())
        if self.has(lot):
            return self.names.index(lot if lot in self.names else self.also[lot])
        like = near(lot, list(self.names))
        meant = f" Did you mean {like}?" if like else ""
        raise InputError(
            f"Box {self.box} has no lot {lot!r} with a catch that counts.{meant} Lots: {listed(self.names)}."
        )

    def most_caught(self, lot: int) -> float:
        """The opening that a lot was caught at most; among equals the one nearest the middle."""
        opening = self.opening[self.lot == lot]
        values, count = np.unique(opening, return_counts=True)
        best = values[count == count.max()]
        return float(best[np.argmin(np.abs(best - np.median(opening)))])

    def caught_at(self, opening: float) -> Setting:
        """The setting of a catch."""
        if opening not in self._made:
            at = None if self.control is None else self.control.at(opening)
            self._made[opening] = at or Setting(opening, opening, plain(opening))
        return self._made[opening]

    @cached_property
    def _made(self) -> dict[float, Setting]:
        """Settings by their openings: lots are caught and set at the same few."""
        return {}

    def all_to_set(self, openings: Floats) -> list[Setting | None]:
        """Settings that the control has, to set next; None off its scale."""
        if not isinstance(self.control, Lever):
            return list(map(self._to_set, openings.tolist()))
        readings = self.control.openings
        with np.errstate(invalid="ignore"):
            inside = (openings >= self.control.lowest) & (openings <= self.control.highest)
        above = np.clip(np.searchsorted(readings, np.where(inside, openings, 0.0)), 1, len(readings) - 1)
        lower = np.abs(readings[above - 1] - openings) <= np.abs(readings[above] - openings)
        near = readings[np.where(lower, above - 1, above)].tolist()
        return [self.caught_at(each) if known else None for each, known in zip(near, inside.tolist(), strict=True)]

    def _to_set(self, opening: float) -> Setting | None:
        if self.label or not np.isfinite(opening):
            return None
        if self.control is None:
            return self.caught_at(float(f"{opening:.3g}"))
        return self.control.nearest(opening)


def select(data: Trials, box: str | SeedBox | None) -> Catches:
    """Sort the catches of one box into those that count and those left out."""
    name, home = _box_of(data, box)
    mine = data.of(box=name)
    used, control, label, drives, scaled = mine.where(mine.counts), None, "", list[LeftOut](), 0
    if home is not None:
        used, control, drives, scaled = _on_one_drive(used.in_box(home), home)
    placed, rest = np.isfinite(used.opening), Remark("lots.unplaced")
    if len(used) and not placed.any():
        label = _most_shared(used)
        placed, rest = used.setting == label, Remark("lots.elsewhere", {"label": label})
        used, control = replace(used, opening=np.ones(len(used))), Sprockets({label: 1.0})
    left_out = list[LeftOut]()
    rest_of = mine.where(~mine.counts)
    for each in filter(None, get_args(Status)):
        left_out += _left_out(Remark(f"lots.{each}"), rest_of, rest_of.status == each)
    left_out += [*drives, *_left_out(rest, used, ~placed)]
    used = used.where(placed)
    (names, lot), (when, of_catch) = codes_of(used, "lot"), codes_of(used, "season")
    seasons = {season: time for season, time in mine.season_times.items() if season in set(when)}
    place = {season: k for k, season in enumerate(seasons)}
    openings, of_opening = np.unique(used.opening, return_inverse=True)
    named = used.target_g / (used.turns * used.rows)
    return Catches(
        box=name,
        control=control,
        scaled=scaled,
        label=label,
        called=tuple(Called(each, each) for each in names),
        lot=lot,
        whole=lot,
        seasons=seasons,
        season=np.array([place[season] for season in when], dtype=np.intp)[of_catch],
        openings=openings,
        place=of_opening,
        output=used.output,
        towed=used.towed,
        counted=data.drill.catch_of(home).counted if data.drill is not None and home is not None else "wheel turns",
        usual_scatter=Repeatability(cold_prior(None if home is None else home.holds).repeatability),
        floor=_floor(used),
        target=next(iter(named[np.isfinite(named)][::-1].tolist()), None),
        left_out=tuple(left_out),
    )


def _on_one_drive(used: Trials, box: SeedBox) -> tuple[Trials, Control, list[LeftOut], int]:
    """The catches as if made on the drive that most were made on, those that cannot be, and how many were not."""
    both = box.control
    if not isinstance(both, LeverAndDrive):
        return used, both, [], 0
    made_on = used.drives(both)
    often = Counter(made_on.tolist())
    drive = max(both.drives, key=lambda each: often[each])
    times = np.array([both.times(each, drive) for each in made_on.tolist()])
    reason = Remark("lots.drive_unknown", {"drive": drive})
    left_out, scaled = _left_out(reason, used, np.isnan(times)), np.isfinite(times) & (made_on != drive)
    return used.on_drive(both, drive), both.on(drive), left_out, int(scaled.sum())


def _most_shared(used: Trials) -> str:
    """The setting that most lots were caught at, where labels without drive ratios cannot be put on one scale."""
    often = Counter(setting for setting, _ in sorted(set(zip(used.setting.tolist(), used.lot.tolist(), strict=True))))
    return str(often.most_common(1)[0][0])


def _floor(used: Trials) -> float:
    """Variance of a log output that is rounded to the scale's step: step / sqrt(12) is the standard deviation."""
    resolution_g = (CatchDefaults() if used.drill is None else used.drill.catch).scale_resolution_g
    return float(np.mean(np.minimum(resolution_g / used.catch_g, 1.0) ** 2)) / 12 if len(used) else 0.0


def _box_of(data: Trials, box: str | SeedBox | None) -> tuple[str, SeedBox | None]:
    kind(box, "box", (SeedBox, str, type(None)), "a SeedBox, the name of one, or None")
    names = codes_of(data, "box")[0]
    if isinstance(box, SeedBox):
        name = in_capitals_or_not(box.name, names)
        known = data.drill is not None and any(each.name == name for each in data.drill.boxes)
        if name not in names and names and not known:
            raise UnknownName(f"The trials have no box {name!r}. Boxes in them: {listed(names)}.")
        return name, replace(box, name=name)
    if box is None and len(names) != 1:
        raise InputError(f"Name the box to compare. Boxes in the trials: {listed(names) or 'none'}.")
    name = names[0] if box is None else in_capitals_or_not(box, names)
    if name not in names:
        raise UnknownName(f"The trials have no box {name!r}. Boxes in them: {listed(names) or 'none'}.")
    boxes = () if data.drill is None else data.drill.boxes
    return name, next((each for each in boxes if each.name == name), None)


def _left_out(reason: Remark, trials: Trials, mask: Flags) -> list[LeftOut]:
    """Catches left out for one reason, file by file; each counts its lines from its first one."""
    lines: dict[str, list[int]] = {}
    for file, line in zip(trials.source[mask].tolist(), trials.line[mask].tolist(), strict=True):
        lines.setdefault(file, []).append(line)
    return [LeftOut(reason, len(each), tuple(line for line in each if line > 0), file) for file, each in lines.items()]
