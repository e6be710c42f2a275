"""What to do after the next catch, for every weight that it may have: worked out beforehand, for a card.

A table is worked out from few looks. A look is the advice on the catches with one more of a weight. Looks are laid
where the catch is likely, and between two with different answers the likeliest gaps are halved first.

Of 336 weights drawn for 84 made-up boxes, four of each, the card gave in 88 % what the program says, in 5 % a setting
nearer to it than half the repeatability, and in 4 % two settings with the program's between them. In 3 % it gave
another setting, once it asked for a catch where the program locks, and once it sent to the program. It never locked
where the program did not. `python -m tests.benchmarks.bench_decision_card --boxes 12` counts this again.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Any

import numpy as np

from predictor.advice.drives import choose
from predictor.advice.lot_fit import LotFit, fit_lot
from predictor.advice.merging import FIRM, MOST_ROWS, RARE, Act, Apart, Piece, Said, asked, merged
from predictor.advice.result import Advice
from predictor.domain.control import Setting
from predictor.domain.drill import Drill
from predictor.domain.one_catch import one_catch
from predictor.domain.result import Remark
from predictor.domain.trials import joined

# Shares of the likely weights that are looked at first; beyond the outer ones the program is to be asked.
FIRST = np.array([RARE, 0.03, *np.arange(0.1, 0.95, 0.1), 0.97, 1 - RARE])
# Looks at one box, and at one with two controls, where each costs more; and how likely a gap is that is not halved any
# more. Gaps beside a lock are halved first.
LOOKS, LOOKS_TWO, FINE, FIRST_OF_ALL = 30, 18, 0.004, 4.0
# Before any catch so many weights are looked at, the first of them evenly from this share of target to so many times
# as much, the others nearer to it; judgement.
RUNGS, FIRST_RUNGS, BEFORE_ANY = 13, 7, 4.0
# Shares at which the likely weights are looked up.
SHARES = np.array([0.0005, 0.002, 0.005, *FIRST[:2], *np.arange(0.05, 0.96, 0.05), *FIRST[-2:], 0.995, 0.998, 0.9995])
# Decisions that end the work.
ENDS = ("lock", "unreachable")


@dataclass(frozen=True)
class Range:
    """One range of weight, and what to do where the catch falls into it."""

    low_g: float | None  # First and last weight that the scale can show in it, grams; None at the open ends
    high_g: float | None
    decision: Said
    setting: Setting | None  # None where no setting reaches the target, and where the program is to be asked
    last: Setting | None  # Where a row names several settings, that of its heaviest weights; else None
    turns: float  # Of the catch to make next; more than now where it is to be lengthened
    rows: float
    why: Remark
    likely: float | None  # How likely the next catch falls into it; None before any catch

    def to_dict(self) -> dict[str, Any]:
        """Fields by name, as JSON takes them."""
        settings = {name: found and found.value for name, found in (("setting", self.setting), ("last", self.last))}
        values = {**vars(self), **settings, "reason": str(self.why)}
        del values["why"]
        return values


@dataclass(frozen=True)
class Table:
    """What to do after one catch."""

    box: str
    lot: str
    setting: Setting  # Where it is made
    turns: float
    rows: float
    target_g: float  # Weight it should have
    ranges: tuple[Range, ...]  # From light to heavy, without gaps
    towed: bool = False  # Whether the drill is towed for it

    @property
    def ladder(self) -> bool:
        """Whether it is of a first catch, of which nothing is known."""
        return self.ranges[0].likely is None

    def find(self, grams: float) -> Range:
        """The range that a weight falls into."""
        return next(each for each in self.ranges if each.high_g is None or grams <= each.high_g + 1e-9)

    def to_dict(self) -> dict[str, Any]:
        """Fields by name, as JSON takes them."""
        return {**vars(self), "setting": self.setting.value, "ranges": [each.to_dict() for each in self.ranges]}


def table_after(advice: Advice, most: int = MOST_ROWS) -> Table | None:
    """What to do after the next catch, in so many rows at most; None where there is to be none.

    That is where the advice ends the work, has a likely slip looked at first, or was given without a drill.
    """
    if advice.decision in ENDS or advice.waiting or advice.advised is None or advice.drill is None:
        return None
    look = _Look(advice, advice.advised, advice.drill)
    ranges = look.ladder() if advice.curve is None else look.ranges(most)
    made = advice.next_turns, advice.next_rows, advice.target_catch_g
    return Table(advice.box, advice.lot, look.setting, *made, tuple(ranges), advice.towed)


@dataclass(frozen=True)
class _Look:
    """A look ahead to the next catch of a box and lot."""

    now: Advice
    setting: Setting
    drill: Drill

    @property
    def step(self) -> float:
        """The step of the scale, grams."""
        return self.drill.catch.scale_resolution_g

    def fit_with(self, grams: float) -> LotFit:
        """The fit of the catches with one more of this weight, made as the advice says, by the same kind of curve."""
        now, box = self.now, self.drill.box(self.now.box)
        one = one_catch(
            self.drill,
            box,
            lot=now.lot,
            season=now.season,
            setting=self.setting,
            catch_g=grams,
            turns=now.next_turns,
            rows=now.next_rows,
            towed=now.towed,
        )
        return fit_lot(
            joined([now.trials, one]),
            box,
            lot=now.lot,
            season=now.season,
            history=now.aim.history,
            drill=self.drill,
            near=now.aim.near,
            slip=now.aim.slip,
            spline=now.family == "spline",
        )

    def act(self, k: int) -> Act:
        """What to do after a catch of so many steps of the scale."""
        now, fit = self.now, self.fit_with(k * self.step)
        _, action = choose(fit, now.aim, now.slips)
        if action.why.code.startswith("slips."):  # such a catch may itself tell the slip from what is true
            _, action = choose(fit, now.aim)
        said: Said = "offer" if action.offers_lock else action.decision
        setting = None if said == "unreachable" else action.setting
        return Act(said, setting, action.turns or now.next_turns, action.rows or now.next_rows, action.why)

    def ladder(self) -> list[Range]:
        """Before any catch: ranges up to the weights that are hardly to be expected, and what is beyond with them."""
        middle = self.now.target_catch_g / self.step
        expected = NormalDist(math.log(middle), math.log(BEFORE_ANY) / 2)

        def share(low: float, high: float) -> float:
            return expected.cdf(math.log(high)) - expected.cdf(math.log(low))

        looks = np.maximum(np.round(np.geomspace(middle / BEFORE_ANY, middle * BEFORE_ANY, FIRST_RUNGS)), 1)
        acts = looked(self.act, np.unique(looks.astype(int)).tolist(), Act.like, share, RUNGS)
        pieces = [Piece(start, stop, 0.0, acts[at], 0.0) for start, stop, at in runs(acts)]
        found = [self.range(each, likely=False) for each in pieces]
        return [_open(each, k == 0, k == len(found) - 1) for k, each in enumerate(found)]

    def ranges(self, most: int) -> list[Range]:
        """The ranges of the next catch, few enough for a card."""
        weights = self.now.next_weights(SHARES) / self.step
        first, last = (max(int(np.interp(each, SHARES, weights)), 1) for each in FIRST[[0, -1]])
        looks = np.clip(np.round(np.interp(FIRST, SHARES, weights)), first, last).astype(int)
        apart = self.apart()
        assert self.now.curve is not None
        thin = self.now.curve.noise_of(self.now.next_length) / 2

        def share(low: float, high: float) -> float:
            ends = np.interp([low, high], weights, SHARES, left=0.0, right=1.0)
            return float(ends[1] - ends[0])

        def alike(one: Act, other: Act) -> bool:
            if one.like(other) or one.setting is None or other.setting is None:
                return one.like(other)
            return one.said == other.said == "move" and apart(one.setting, other.setting) <= thin

        acts = looked(self.act, np.unique(looks).tolist(), alike, share, LOOKS_TWO if self.setting.drive else LOOKS)
        pieces = [
            Piece(start, stop, share(start - 0.5, stop + 0.5), acts[at], share(start - 0.5, stop + 0.5))
            for start, stop, at in runs(acts)
        ]
        light, heavy = pieces[0], pieces[-1]
        pieces.insert(0, asked(Piece(0, light.start - 1, share(-1.0, light.start - 0.5), light.act, 0.0)))
        pieces.append(asked(Piece(heavy.stop + 1, 2 * heavy.stop, share(heavy.stop + 0.5, np.inf), heavy.act, 0.0)))
        found = [self.range(each) for each in merged(pieces, thin, apart, most)]
        return [_open(each, k == 0, k == len(found) - 1) for k, each in enumerate(found)]

    def apart(self) -> Apart:
        """How far apart two settings are, as the logarithm of their outputs, by the curve as it is now."""
        curve = self.now.curve
        assert curve is not None
        known: dict[float, float] = {}

        def log_output(opening: float) -> float:
            if opening not in known:
                known[opening] = math.log(max(float(curve.mean(opening)), 1e-300))
            return known[opening]

        def found(one: Setting, other: Setting) -> float:
            if one.drive != other.drive:
                return math.inf
            return abs(log_output(one.opening) - log_output(other.opening))

        return found

    def range(self, piece: Piece, *, likely: bool = True) -> Range:
        """A piece in grams."""
        act, (first, last) = piece.act, piece.ends
        low_g, high_g = round(piece.start * self.step, 9), round(piece.stop * self.step, 9)
        several = None if first == last else last
        share = piece.likely if likely else None
        return Range(low_g, high_g, act.said, first, several, act.turns, act.rows, act.why, share)


def _open(each: Range, first: bool, last: bool) -> Range:
    """A range without a first weight where it is the lightest, without a last one where it is the heaviest."""
    return replace(each, low_g=None if first else each.low_g, high_g=None if last else each.high_g)


def looked(
    act: Callable[[int], Act],
    looks: Sequence[int],
    alike: Callable[[Act, Act], bool],
    share: Callable[[float, float], float],
    most: int = LOOKS,
) -> dict[int, Act]:
    """What to do at the weights looked at, ascending; of gaps with different answers the likeliest are halved first."""
    found = {k: act(k) for k in looks}
    gaps: list[tuple[float, int, int]] = []

    def note(low: int, high: int) -> None:
        if high - low > 1 and not alike(found[low], found[high]) and (likely := share(low, high)) > FINE:
            firm = found[low].said in FIRM or found[high].said in FIRM
            heapq.heappush(gaps, (-likely * (FIRST_OF_ALL if firm else 1.0), low, high))

    for low, high in itertools.pairwise(looks):
        note(low, high)
    while gaps and len(found) < most:
        _, low, high = heapq.heappop(gaps)
        middle = (low + high) // 2
        found[middle] = act(middle)
        note(low, middle)
        note(middle, high)
    return dict(sorted(found.items()))


def runs(acts: dict[int, Act]) -> list[tuple[int, int, int]]:
    """Runs of weights with the same act, and where it was looked at; firm ones reach no further than the looks."""
    found: list[tuple[int, int, int]] = []
    start, before = next(iter(acts)), next(iter(acts))
    for k, act in list(acts.items())[1:]:
        if not act.like(acts[before]):
            held, holds = acts[before].said in FIRM, act.said in FIRM
            stop = before if held and not holds else k - 1 if holds and not held else (before + k) // 2
            found.append((start, stop, before))
            start = stop + 1
        before = k
    return [*found, (start, before, before)]
