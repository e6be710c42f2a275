"""What to do after the next catch, for every weight that it may have: worked out beforehand, for a card."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from predictor.advice.decision import Decision
from predictor.advice.drives import choose
from predictor.advice.lot_fit import LotFit, fit_lot
from predictor.advice.recommend import advise
from predictor.advice.result import Advice
from predictor.domain.control import Floats, Setting
from predictor.domain.drill import Drill
from predictor.domain.result import Remark
from predictor.domain.trials import joined, one_catch

# Weights looked at first; between two with different answers the border is found to a step of the scale.
FIRST_LOOK, SECOND_LOOK = 25, 17
# Borders of a second table are found to this share of the weight.
SECOND_STEP = 0.01
# A table reaches this far beyond what the next catch may weigh (99.9 %), and so far about target before any catch.
BEYOND, BEFORE_ANY = 1.5, 4.0
# The likeliest ranges that do not end the work get a second table each, down to this chance.
SECOND_TABLES, LEAST_LIKELY = 3, 0.02
# Decisions that end the work.
ENDS = ("lock", "unreachable")
# Shares at which the likely weights are looked up.
SHARES = np.array([0.0005, 0.025, *np.arange(0.05, 0.96, 0.05), 0.975, 0.9995])


@dataclass(frozen=True)
class Range:
    """One range of weight, and what to do where the catch falls into it."""

    low_g: float | None  # First and last weight that the scale can show in it, grams; None at the open ends
    high_g: float | None
    decision: Decision
    setting: Setting | None  # None where no setting reaches the target: with the card in hand the nearest is no help
    turns: float  # Of the catch to make next; more than now where it is to be lengthened
    rows: float
    why: Remark
    likely: float | None  # How likely the next catch falls into it; None before any catch

    def to_dict(self) -> dict[str, Any]:
        """Fields by name, as JSON takes them."""
        setting = None if self.setting is None else self.setting.value
        values = {**vars(self), "setting": setting, "reason": str(self.why)}
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
    after: Range | None  # The range of the catch before it, for a second table
    ranges: tuple[Range, ...]  # From light to heavy, without gaps
    towed: bool = False  # Whether the drill is towed for it

    def find(self, grams: float) -> Range:
        """The range that a weight falls into."""
        return next(each for each in self.ranges if each.high_g is None or grams <= each.high_g + 1e-9)

    def to_dict(self) -> dict[str, Any]:
        """Fields by name, as JSON takes them."""
        after, ranges = self.after and self.after.to_dict(), [each.to_dict() for each in self.ranges]
        return {**vars(self), "setting": self.setting.value, "after": after, "ranges": ranges}


def tables_after(advice: Advice, *, second: bool = True) -> list[Table]:
    """What to do after the next catch, and after the one that follows it in the likeliest ranges.

    The list is empty where the advice ends the work, has a likely slip looked at first, or was given without a drill.
    """
    now = _Look.at(advice)
    if now is None:
        return []
    tables = [now.table(None)]
    more = [each for each in tables[0].ranges if each.decision not in ENDS and (each.likely or 0.0) > LEAST_LIKELY]
    for each in sorted(more, key=lambda each: -(each.likely or 0.0))[:SECOND_TABLES] if second else ():
        ends = [end for end in (each.low_g, each.high_g) if end is not None]
        then = _Look.at(advise(now.fit_with(math.sqrt(ends[0] * ends[-1])), advice.aim, advice.slips))
        if then is not None:
            tables.append(then.table(each))
    return tables


@dataclass(frozen=True)
class _Look:
    """A look ahead to the next catch of a box and lot."""

    now: Advice
    setting: Setting
    drill: Drill

    @classmethod
    def at(cls, advice: Advice) -> _Look | None:
        """The next catch of an advice; None where there is to be none."""
        if advice.decision in ENDS or advice.waiting or advice.advised is None or advice.drill is None:
            return None
        return cls(advice, advice.advised, advice.drill)

    def fit_with(self, grams: float) -> LotFit:
        """The fit of the catches with one more of this weight, made as the advice says."""
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
        caught = joined([now.trials, one])
        return fit_lot(
            caught,
            box,
            lot=now.lot,
            season=now.season,
            history=now.aim.history,
            drill=self.drill,
            near=now.aim.near,
            slip=now.aim.slip,
        )

    def likely_weights(self) -> Floats | None:
        """Weights that the next catch stays below with the shares looked up; None before any curve."""
        if self.now.curve is None:
            return None
        return self.now.next_weights(SHARES)

    def table(self, after: Range | None) -> Table:
        """The ranges of the next catch."""
        now, weights = self.now, self.likely_weights()
        target_g = now.target_catch_g
        ends = np.array([target_g / BEFORE_ANY, target_g * BEFORE_ANY])
        if weights is not None:
            ends = weights[[0, -1]] * [1 / BEYOND, BEYOND]
        scale = self.drill.catch.scale_resolution_g
        # a second table is made for the middle of a range: finer borders would promise more than it holds
        step = scale if after is None else scale * max(round(math.sqrt(ends.prod()) * SECOND_STEP / scale), 1)
        first, last = max(int(ends[0] / step), 1), max(math.ceil(ends[1] / step), 2)
        looks = np.geomspace(first, last, FIRST_LOOK if after is None else SECOND_LOOK)
        if weights is not None and after is None:  # closer where the catch is likely: a range may be thin there
            looks = np.concatenate([looks, np.clip(weights / step, first, last)])

        @cache
        def act(k: int) -> tuple[Decision, Setting | None, float, float, Remark]:
            _, action = choose(self.fit_with(k * step), now.aim, now.slips)
            setting = None if action.decision == "unreachable" else action.setting
            return action.decision, setting, action.turns or now.next_turns, action.rows or now.next_rows, action.why

        ranges = []
        for start, stop in ranges_of(lambda k: act(k)[:4], np.unique(np.round(looks).astype(int)).tolist()):
            low_g = None if start == first else round(start * step, 9)
            high_g = None if stop == last else round((stop + 1) * step - scale, 9)
            likely = None if weights is None else _share(weights, (start - 0.5) * step, (stop + 0.5) * step)
            ranges.append(Range(low_g, high_g, *act(start), likely))
        return Table(
            now.box, now.lot, self.setting, now.next_turns, now.next_rows, target_g, after, tuple(ranges), now.towed
        )


def _share(weights: Floats, low: float, high: float) -> float:
    """How likely the next catch lies between two weights."""
    ends = np.interp([low, high], weights, SHARES, left=0.0, right=1.0)
    return float(ends[1] - ends[0])


def ranges_of(answer: Callable[[int], Hashable], looks: Sequence[int]) -> list[tuple[int, int]]:
    """Runs of whole numbers with the same answer, as far as they were looked at."""
    borders: list[int] = []

    def search(low: int, high: int) -> None:
        if answer(low) == answer(high):
            return
        if high - low == 1:
            borders.append(low)
            return
        middle = (low + high) // 2
        search(low, middle)
        search(middle, high)

    for low, high in itertools.pairwise(looks):
        search(low, high)
    starts = [looks[0], *(border + 1 for border in borders)]
    return list(zip(starts, [*borders, looks[-1]], strict=True))
