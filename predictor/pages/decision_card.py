"""The decision card: ranges of weight for the next catch, and what to do in each, worked out beforehand."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from predictor.advice.aim import CONFIDENCE, TOLERANCE, Aim
from predictor.advice.decision import Action, decide
from predictor.advice.lot_fit import LotFit, fit_lot
from predictor.advice.recommend import advise
from predictor.advice.result import Advice
from predictor.domain.control import Setting
from predictor.domain.trials import Trials, joined, one_catch
from predictor.job.job import Job, Task

# Weights looked at first; between two with different answers the border is found to a step of the scale.
FIRST_LOOK, SECOND_LOOK = 25, 17
# Borders of a second table are found to this share of the weight.
SECOND_STEP = 0.01
# The card reaches this far beyond what the next catch may weigh (99.9 %), and so far about target before any catch.
BEYOND, BEFORE_ANY = 1.5, 4.0
# The likeliest ranges that do not end the work get a second table each.
SECOND_TABLES = 3
# Shares at which the likely weights are looked up.
_SHARES = np.array([0.0005, 0.025, *np.arange(0.05, 0.96, 0.05), 0.975, 0.9995])


@dataclass(frozen=True)
class Range:
    """One range of weight."""

    low_g: float | None  # First and last weight the scale can show in it, grams; None at the open ends
    high_g: float | None
    decision: str  # As of `Advice`
    setting: Setting | None  # None where no setting reaches the target
    turns: float  # Of the catch to make next; more than now where it is to be lengthened
    rows: float
    likely: float  # How likely the next catch falls into it; NaN where nobody can tell
    reason: str


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

    def find(self, grams: float) -> Range:
        """The range a weight falls into."""
        return next(each for each in self.ranges if each.high_g is None or grams <= each.high_g + 1e-9)

    def to_dict(self) -> dict[str, Any]:
        """Fields by name; None in place of NaN."""

        def plain(value: Any) -> Any:
            if isinstance(value, Setting):
                return value.value
            if isinstance(value, (Range, Table)):
                return {each.name: plain(getattr(value, each.name)) for each in fields(value)}
            if isinstance(value, tuple):
                return [plain(each) for each in value]
            return None if isinstance(value, float) and value != value else value

        found: dict[str, Any] = plain(self)
        return found


def ranges_of(decide: Callable[[int], tuple], looks: Sequence[int]) -> list[tuple[int, int]]:
    """Runs of whole numbers with the same answer."""
    known: dict[int, tuple] = {}

    def answer(k: int) -> tuple:
        if k not in known:
            known[k] = decide(k)
        return known[k]

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


def decision_card(
    job: Job, task: Task, *, tolerance: float = TOLERANCE, confidence: float = CONFIDENCE, second: bool = True
) -> list[Table]:
    """What to do after the next catch of a box, and after the one that follows it in the likeliest ranges."""
    history = job.history(task.box, task.lot, task.season)
    aim = Aim(task.target_output, tolerance, confidence, history)
    trials = job.trials.of(box=task.box.name, lot=task.lot)
    season = task.season if task.season is not None else ""

    def fitted(caught: Trials) -> LotFit:
        when = season if len(caught) else None
        return fit_lot(caught, task.box, lot=task.lot, season=when, history=history, drill=job.drill)

    def decided(caught: Trials) -> Action:
        return decide(fitted(caught), aim)

    now = advise(fitted(trials), aim)
    if now.decision in ("lock", "unreachable") or now.setting is None:
        return []
    first = _table(trials, now, decided, season, None)
    tables = [first]
    ends = {"lock", "unreachable"}
    likeliest = sorted((each for each in first.ranges if each.decision not in ends), key=lambda each: -each.likely)
    for each in likeliest[:SECOND_TABLES] if second else ():
        if not each.likely > 0.02:
            continue
        caught = joined([trials, _caught(trials, now, _middle(each), season)])
        then = advise(fitted(caught), aim)
        if then.decision not in ends:
            tables.append(_table(caught, then, decided, season, each))
    return tables


def _middle(found: Range) -> float:
    low = found.low_g if found.low_g is not None else found.high_g
    high = found.high_g if found.high_g is not None else found.low_g
    return float(np.sqrt(low * high))


def _caught(trials: Trials, advice: Advice, grams: float, season: str) -> Trials:
    """One catch of that weight where the advice said to make it."""
    box = advice.drill.box(advice.box)
    return one_catch(
        trials.drill,
        box,
        lot=advice.lot,
        season=season,
        setting=advice.advised,
        catch_g=grams,
        turns=advice.next_turns,
        rows=advice.next_rows,
    )


def _table(trials: Trials, now: Advice, decide, season: str, after: Range | None) -> Table:
    """The ranges of one catch."""
    size = now.next_turns * now.next_rows
    step = now.drill.catch.scale_resolution_g
    if now.curve is None:
        middle = now.target_output * size
        weights, low, high = None, middle / BEFORE_ANY, middle * BEFORE_ANY
    else:
        at = np.full(len(_SHARES), now.advised.opening)
        weights = np.asarray(_quantiles(now, at)) * size
        low, high = weights[0] / BEYOND, weights[-1] * BEYOND
    if after is not None:  # made for the middle of a range: finer borders would promise more than it holds
        step *= max(round(np.sqrt(low * high) * SECOND_STEP / step), 1)
    first, last = max(int(low / step), 1), max(int(np.ceil(high / step)), 2)
    found: dict[int, Action] = {}

    def answer(k: int) -> tuple:
        action = decide(joined([trials, _caught(trials, now, k * step, season)]))
        if action.decision == "unreachable":  # which setting is nearest helps nobody with the card in hand
            action = replace(action, setting=None)
        found[k] = action
        return action.decision, action.setting, action.turns, action.rows

    looks = np.geomspace(first, last, FIRST_LOOK if after is None else SECOND_LOOK)
    if weights is not None and after is None:  # closer where the catch is likely: a range may be thin there
        looks = np.concatenate([looks, np.clip(weights / step, first, last)])
    ranges = []
    for low_k, high_k in ranges_of(answer, np.unique(np.round(looks).astype(int)).tolist()):
        action = found.get(low_k) or found[high_k]
        likely = np.nan
        if weights is not None:
            ends = np.interp([(low_k - 0.5) * step, (high_k + 0.5) * step], weights, _SHARES, left=0.0, right=1.0)
            likely = float(ends[1] - ends[0])
        ranges.append(
            Range(
                None if low_k == first else round(low_k * step, 9),
                None if high_k == last else round((high_k + 1) * step - now.drill.catch.scale_resolution_g, 9),
                action.decision,
                action.setting,
                now.next_turns if action.turns is None else action.turns,
                now.next_rows if action.rows is None else action.rows,
                likely,
                str(action.why),
            )
        )
    target_g = now.target_output * size
    return Table(now.box, now.lot, now.advised, now.next_turns, now.next_rows, target_g, after, tuple(ranges))


def _quantiles(now: Advice, at: np.ndarray):
    """Outputs the next catch stays below with the shares looked up."""
    return np.maximum(now.curve.quantile(at, _SHARES, "next"), 1e-12)
