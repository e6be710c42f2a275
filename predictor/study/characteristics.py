"""Operating characteristics: how often ways to calibrate end right, and how often intervals hold the truth.

Drills, spreads and targets are invented; `study` describes them.
"""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Self

import numpy as np
from scipy.special import ndtr

from predictor.advice.aim import CONFIDENCE, TOLERANCE
from predictor.advice.history import History, learn_history
from predictor.advice.recommend import recommend
from predictor.curves import fit_curve
from predictor.curves.prior import cold_prior
from predictor.domain.control import Control, Floats, Lever
from predictor.domain.drill import CatchDefaults, Drill, Holds, SeedBox
from predictor.domain.trials import Trials, joined
from predictor.study.drills import SHAPES, Log, MadeUpLot, random_shape, row_effects

# A calibration that has not ended by then is counted with this many catches, and by where it then stands.
MOST_CATCHES = 40
# The study's rows: true repeatability, and the kind of seed the box is said to hold. The last two are boxes that
# scatter more than their kind is expected to.
FREE: Holds = "free-flowing"
ROWS: tuple[tuple[float, Holds], ...]
ROWS = ((0.03, FREE), (0.05, FREE), (0.08, "chaffy"), (0.12, "chaffy"), (0.08, FREE), (0.12, FREE))
RULES = ("one-catch", "two-catch", "oracle", "advice")
EARLIER_LOTS = 6
# Cover of the intervals: catches at settings of the middle half, repeatability drawn between these.
COVER_CATCHES, COVER_CV = (2, 3, 5, 8, 12), (0.03, 0.12)
# Parts of a study, each of as many runs.
PARTS = 2 * len(ROWS) + len(COVER_CATCHES)

# A way to calibrate: takes the catches so far and the target, and gives an opening and whether to lock it.
Rule = Callable[[Trials, float], tuple[float, bool]]
Tick = Callable[[], None]


def advice_rule(box: SeedBox, tolerance: float, history: History | None = None, drill: Drill | None = None) -> Rule:
    """Do what `recommend` says; after anything but `lock`, catch at the setting it names."""

    def rule(caught: Trials, target: float) -> tuple[float, bool]:
        advice = recommend(caught, box, target_output=target, tolerance=tolerance, history=history, drill=drill)
        opening = caught.opening[-1] if advice.setting is None else box.control.opening(advice.setting)
        return float(opening), advice.decision == "lock"

    return rule


def hand_rule(box: SeedBox, tolerance: float, confirm: bool = False) -> Rule:
    """The usual hand method: adjust in proportion, stop at the first catch inside tolerance."""
    low = box.control.lowest_opening
    usable = box.control.openings[box.control.openings > low]

    def rule(caught: Trials, target: float) -> tuple[float, bool]:
        last = caught.opening[-2:]
        same = confirm and len(last) > 1 and last[0] == last[1]
        value, here = float(caught.output[-2 if same else -1 :].mean()), float(last[-1])
        if abs(value / target - 1) <= tolerance:
            return here, same or not confirm
        wanted = low + (here - low) * target / max(value, 1e-12)
        return float(usable[np.argmin(np.abs(usable - wanted))]), False

    return rule


def oracle_rule(lot: MadeUpLot, tolerance: float) -> Rule:
    """Know the curve's true shape and the repeatability; a setting is still locked only once it has been caught."""
    openings = lot.box.control.openings

    def rule(caught: Trials, target: float) -> tuple[float, bool]:
        level = float(np.mean(np.log(caught.output / lot.relative(caught.opening)))) + lot.noise**2 / 2
        with np.errstate(divide="ignore"):
            off = level + np.log(lot.relative(openings) / target)
        scale = lot.noise / np.sqrt(len(caught))
        chance = ndtr((np.log1p(tolerance) - off) / scale) - ndtr((np.log1p(-tolerance) - off) / scale)
        tried = np.isin(openings, caught.opening)
        if tried.any() and chance[tried].max() >= CONFIDENCE:
            return float(openings[tried][np.argmax(chance[tried])]), True
        return float(openings[np.argmax(chance)]), False

    return rule


def calibrate(log: Log, rng: np.random.Generator, rule: Rule, target: float, first: float) -> tuple[int, float]:
    """Catch and adjust until a rule locks: how many catches that took, and the opening."""
    opening, locked = first, False
    while not locked and len(log.catches) < MOST_CATCHES:
        log.add(rng, opening)
        opening, locked = rule(log.trials(), target)
    return len(log.catches), opening


@dataclass(frozen=True)
class Setup:
    """One row of a study."""

    cv: float  # True repeatability
    holds: Holds = "free-flowing"
    control: Control = field(default_factory=lambda: Lever(0, 100, 1))
    tolerance: float = TOLERANCE
    earlier_lots: int = 0  # Lots of five catches in an earlier season, whose history the advice may use; 0 for none
    row_spread: float = 0.0  # How rows differ, a fraction; 3 of 12 are caught


@dataclass(frozen=True)
class Result:
    """What became of a rule over many made-up calibrations."""

    rule: str
    catches: float  # Mean number of catches, and its Monte Carlo standard error
    catches_error: float
    right: float
    right_error: float

    @classmethod
    def of(cls, rule: str, counts: Sequence[float] | Floats, rights: Sequence[float] | Floats) -> Self:
        """Means and their errors."""
        runs = np.size(counts)
        # Half a run more on either side: all right in 600 runs does not mean right for sure.
        share = (np.sum(rights) + 0.5) / (runs + 1)
        values = (np.mean(counts), np.std(counts) / np.sqrt(runs), np.mean(rights), np.sqrt(share * (1 - share) / runs))
        return cls(rule, *map(float, values))


@dataclass(frozen=True)
class Coverage:
    """How often 95 % intervals held the truth."""

    catches: int
    mean: float  # Shares of intervals for the mean, for the next catch, and for the setting, that held it
    next: float
    setting: float
    error: float  # Monte Carlo standard error of a share of 0.95


@dataclass(frozen=True)
class Study:
    """Rules compared on boxes of several kinds, and the cover of the intervals."""

    runs: int
    seed: int
    tolerance: float
    rows: tuple[tuple[Setup, tuple[Result, ...]], ...]
    cover: tuple[Coverage, ...]

    def to_dict(self) -> dict[str, Any]:
        """The study as `simulate --json` prints it."""
        rows = []
        for setup, results in self.rows:
            row = {"repeatability": setup.cv, "holds": setup.holds, "tolerance": setup.tolerance}
            rows.append({**row, "earlier_lots": setup.earlier_lots, "rules": [asdict(result) for result in results]})
        cover = [asdict(each) for each in self.cover]
        return {"schema": 1, "runs": self.runs, "seed": self.seed, "rows": rows, "cover": cover}


def whole_study(runs: int, seed: int, tolerance: float, step: float, row_spread: float, tick: Tick) -> Study:
    """All rows, cold and with history, and the cover; `tick` is called after each run, `PARTS * runs` times."""
    control = Lever(0, 100, round(100 * step, 6))
    rows = []
    for lots, rules in ((0, RULES), (EARLIER_LOTS, ("advice",))):
        setups = [Setup(cv, holds, control, tolerance, lots, row_spread) for cv, holds in ROWS]
        rows += [(setup, study(setup, runs, seed, rules, tick)) for setup in setups]
    cover = [coverage(catches, runs, seed, tick) for catches in COVER_CATCHES]
    return Study(runs, seed, tolerance, tuple(rows), tuple(cover))


def study(
    setup: Setup, runs: int, seed: int, rules: Sequence[str] = RULES, tick: Tick = lambda: None
) -> tuple[Result, ...]:
    """Calibrate many made-up boxes by several rules and see which end right, after how many catches.

    The first catch is made at mid-range; the true setting for the target lies anywhere in the middle half, where the
    control can reach the target within tolerance; noise is log-normal with mean one. All rules meet the same boxes.
    """
    counts, rights = np.zeros((len(rules), runs)), np.zeros((len(rules), runs))
    for run in range(runs):
        rng = np.random.default_rng([seed, run])
        lot, target, history, drill = _made_up(rng, setup, SHAPES[run % len(SHAPES)])
        first = float(setup.control.openings[len(setup.control.openings) // 2])
        every = {
            "one-catch": hand_rule(lot.box, setup.tolerance),
            "two-catch": hand_rule(lot.box, setup.tolerance, confirm=True),
            "oracle": oracle_rule(lot, setup.tolerance),
            "advice": advice_rule(lot.box, setup.tolerance, history, drill),
        }
        for k, name in enumerate(rules):
            log = Log(lot, keep_rows=setup.row_spread > 0)
            counts[k, run], locked = calibrate(log, np.random.default_rng([seed, run, 1]), every[name], target, first)
            rights[k, run] = abs(float(lot.mean(locked)) / target - 1) <= setup.tolerance
        tick()
    return tuple(map(Result.of, rules, counts, rights))


def _made_up(
    rng: np.random.Generator, setup: Setup, kind: str
) -> tuple[MadeUpLot, float, History | None, Drill | None]:
    """A lot, a target within reach, the history of its box, and a drill where rows differ."""
    box = SeedBox("box", setup.holds, setup.control)
    effects = row_effects(rng, setup.row_spread, 12) if setup.row_spread else ()
    drill = Drill("made up", 12, 0.19, 2.2, (box,), CatchDefaults(scale_resolution_g=1e-6)) if effects else None
    while True:
        shape = random_shape(rng, kind)
        lot = MadeUpLot(box, shape, float(np.exp(0.2 * rng.standard_normal())), setup.cv, effects)
        target = float(lot.mean(setup.control.lowest_opening + setup.control.span * rng.uniform(0.25, 0.75)))
        if np.any(np.abs(lot.mean(setup.control.openings) / target - 1) <= setup.tolerance):
            break
    history = learn_history(_earlier(rng, lot, setup.earlier_lots), box) if setup.earlier_lots else None
    return lot, target, history, drill


def _earlier(rng: np.random.Generator, lot: MadeUpLot, count: int) -> Trials:
    """An earlier season's log of the same box: lots of five catches, the first at mid-range."""
    openings = lot.box.control.openings
    middle = openings[(openings >= np.quantile(openings, 0.25)) & (openings <= np.quantile(openings, 0.75))]
    parts = []
    for number in range(count):
        other = replace(lot, level=float(np.exp(0.2 * rng.standard_normal())))
        log = Log(other, name=f"old {number}", season="1")
        log.add(rng, openings[len(openings) // 2])
        for _ in range(4):
            log.add(rng, float(rng.choice(middle)))
        parts.append(log.trials())
    return joined(parts)


def coverage(catches: int, runs: int, seed: int, tick: Tick = lambda: None) -> Coverage:
    """Cover of the 95 % intervals for made-up boxes whose truth is drawn as ordinary knowledge has it.

    Settings are drawn from the middle half of a lever of 100 steps; mean and next catch are asked for at a further one.
    """
    held = np.zeros((runs, 3), dtype=bool)
    box = SeedBox("box", "free-flowing", Lever(0, 100, 1))
    for run in range(runs):
        rng = np.random.default_rng([seed, catches, run])
        shape = random_shape(rng, SHAPES[run % len(SHAPES)])
        log = Log(MadeUpLot(box, shape, 1.0, float(np.exp(rng.uniform(*np.log(COVER_CV))))))
        for opening in rng.integers(25, 76, catches):
            log.add(rng, float(opening))
        caught = log.trials()
        curve = fit_curve(
            caught.opening, caught.output, family="line", prior=cold_prior(box.holds), lowest=0.0, span=100.0
        )
        at = float(rng.integers(25, 76))
        truth = float(log.lot.mean(at))
        mean, ahead, found = curve.interval(at), curve.interval(at, of="next"), curve.setting_for(truth)
        held[run] = (
            mean[0] <= truth <= mean[1],
            ahead[0] <= log.lot.catch(rng, at, 1.0, 1)[0] <= ahead[1],
            found.lower <= at <= found.upper,
        )
        tick()
    of_mean, of_next, of_setting = held.mean(axis=0).tolist()
    return Coverage(catches, of_mean, of_next, of_setting, float(np.sqrt(0.95 * 0.05 / runs)))
