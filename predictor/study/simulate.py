"""Made-up drills: to practise on, and to learn how often the advice is right.

Every number here is invented; shapes, spreads and targets are those of the study that `study` describes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr

from predictor.advice.history import History, learn_history
from predictor.advice.recommend import CONFIDENCE, TOLERANCE, recommend
from predictor.domain.control import Control, Lever
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.domain.trials import Trials

SHAPES = ("line", "power", "saturating", "s-shaped")
# A calibration that has not ended by then is counted with this many catches, and by where it then stands.
MOST_CATCHES = 40


@dataclass(frozen=True)
class Shape:
    """A true curve: output, up to its level, at a share of the control's range."""

    kind: str
    bend: float  # Dead setting as a share of the range; exponent; how early it saturates; how strongly it is S-shaped

    def __call__(self, share):
        """Output at shares of the range, any shape of array."""
        v = np.asarray(share, dtype=float)
        if self.kind == "line":
            return np.maximum(v - self.bend, 0.0)
        if self.kind == "power":
            return np.maximum(v, 0.0) ** self.bend
        if self.kind == "saturating":
            return 1 - np.exp(-v / self.bend)
        return v + self.bend * (v**2 * (3 - 2 * v) - v)


def random_shape(rng: np.random.Generator, kind: str) -> Shape:
    """A shape of a kind, as different from a line through zero as real meters may be (invented ranges)."""
    low, high = {"line": (-0.1, 0.15), "power": (0.75, 1.35), "saturating": (0.6, 2.0), "s-shaped": (0.1, 0.5)}[kind]
    return Shape(kind, float(rng.uniform(low, high)))


@dataclass(frozen=True)
class MadeUpLot:
    """One lot in one box of a made-up drill."""

    box: SeedBox
    shape: Shape
    level: float  # Grams per row per turn where the shape is 1
    cv: float  # Repeatability of a whole catch
    row_effects: tuple[float, ...] = ()  # Each row's output over the drill's mean; empty where rows are alike

    def share(self, opening):
        """Opening as a share of the control's range."""
        return (np.asarray(opening, dtype=float) - self.box.control.lowest_opening) / self.box.control.span

    def mean(self, opening):
        """True mean output of the whole drill at an opening."""
        return self.level * self.shape(self.share(opening))

    def catch(
        self, rng: np.random.Generator, opening: float, turns: float, rows: int
    ) -> tuple[float, tuple[float, ...]]:
        """One catch: net grams, and the single rows'."""
        noise = np.sqrt(np.log1p(self.cv**2))
        mean = float(self.mean(opening)) * turns * np.exp(noise * rng.standard_normal() - noise**2 / 2)
        effects = np.array(self.row_effects[:rows] or (1.0,) * rows)
        return float(mean * effects.sum()), tuple((mean * effects).tolist())


def row_effects(rng: np.random.Generator, spread: float, rows: int) -> tuple[float, ...]:
    """How the rows of one drill differ; their mean is 1."""
    effects = 1 + spread * rng.standard_normal(rows)
    return tuple((effects / effects.mean()).tolist())


@dataclass
class Log:
    """Catches of one lot as they come in, and the same as Trials; n so far."""

    lot: MadeUpLot
    turns: float = 28.0
    rows: int = 3  # Of every catch
    name: str = "new"  # Of the lot in the Trials
    season: str = "2"
    keep_rows: bool = False  # Whether the single rows' weights go into the Trials
    openings: list[float] = field(default_factory=list)
    grams: list[float] = field(default_factory=list)
    singles: list[tuple[float, ...]] = field(default_factory=list)  # Grams of the single rows

    def add(self, rng: np.random.Generator, opening: float) -> None:
        """Make a catch at an opening."""
        grams, singles = self.lot.catch(rng, opening, self.turns, self.rows)
        self.openings.append(float(opening))
        self.grams.append(grams)
        self.singles.append(singles)

    @property
    def output(self) -> np.ndarray:
        """Grams per row per turn."""
        return np.array(self.grams) / (self.turns * self.rows)

    def trials(self) -> Trials:
        """The catches as Trials."""
        n = len(self.openings)
        control = self.lot.box.control
        text = np.full(n, "", dtype=str)
        return Trials(
            box=np.full(n, self.lot.box.name),
            lot=np.full(n, self.name),
            season=np.full(n, self.season),
            setting=np.array([control.at(opening).text for opening in self.openings], dtype=str),
            opening=np.array(self.openings),
            catch_g=np.array(self.grams),
            turns=np.full(n, self.turns),
            rows=np.full(n, float(self.rows)),
            rows_g=tuple(self.singles if self.keep_rows else [None] * n),
            charged=np.ones(n, dtype=bool),
            use=np.ones(n, dtype=bool),
            fill_pct=np.full(n, np.nan),
            target_g=np.full(n, np.nan),
            date=text,
            drill_name=text,
            operator=text,
            note=text,
            line=np.zeros(n, dtype=int),
        )


# -- ways to calibrate: each takes the log and the target, and says (opening, whether to lock it) ---

Rule = Callable[[Log, float], tuple[float, bool]]


def advice_rule(
    tolerance: float = TOLERANCE,
    confidence: float = CONFIDENCE,
    history: History | None = None,
    drill: Drill | None = None,
) -> Rule:
    """Do what `recommend` says; after anything but `lock`, catch at the setting it names."""

    def rule(log: Log, target: float) -> tuple[float, bool]:
        advice = recommend(
            log.trials(),
            log.lot.box,
            target_output=target,
            tolerance=tolerance,
            confidence=confidence,
            history=history,
            drill=drill,
        )
        return log.lot.box.control.opening(advice.setting), advice.decision == "lock"

    return rule


def hand_rule(tolerance: float = TOLERANCE, confirm: bool = False) -> Rule:
    """The usual hand method: adjust in proportion, stop at the first catch inside tolerance."""

    def rule(log: Log, target: float) -> tuple[float, bool]:
        openings, output = log.lot.box.control.openings, log.output
        here = log.openings[-1]
        same = confirm and len(log.openings) > 1 and log.openings[-2] == here
        value = float(output[-2:].mean()) if same else float(output[-1])
        inside = abs(value / target - 1) <= tolerance
        if inside and (same or not confirm):
            return here, True
        if inside:
            return here, False
        low = log.lot.box.control.lowest_opening
        wanted = low + (here - low) * target / max(value, 1e-12)
        usable = openings[openings > low]
        return float(usable[np.argmin(np.abs(usable - wanted))]), False

    return rule


def oracle_rule(lot: MadeUpLot, tolerance: float = TOLERANCE, confidence: float = CONFIDENCE) -> Rule:
    """Knows the curve's true shape and the repeatability; must still have caught at the setting it locks."""
    noise = np.sqrt(np.log1p(lot.cv**2))

    def rule(log: Log, target: float) -> tuple[float, bool]:
        caught = np.array(log.openings)
        level = float(np.mean(np.log(log.output / lot.shape(lot.share(caught))))) + noise**2 / 2
        openings = log.lot.box.control.openings
        with np.errstate(divide="ignore"):
            off = level + np.log(lot.shape(lot.share(openings)) / target)
        scale = noise / np.sqrt(len(caught))
        chance = ndtr((np.log1p(tolerance) - off) / scale) - ndtr((np.log1p(-tolerance) - off) / scale)
        tried = np.isin(openings, caught)
        if tried.any() and chance[tried].max() >= confidence:
            return float(openings[tried][np.argmax(chance[tried])]), True
        return float(openings[np.argmax(chance)]), False

    return rule


def calibrate(log: Log, rng: np.random.Generator, rule: Rule, target: float, first: float) -> tuple[int, float]:
    """Catch and adjust until a rule locks."""
    opening = first
    for count in range(1, MOST_CATCHES + 1):
        log.add(rng, opening)
        opening, locked = rule(log, target)
        if locked:
            return count, opening
    return MOST_CATCHES, opening


# -- the study ---


@dataclass(frozen=True)
class Setup:
    """One row of a study."""

    cv: float  # True repeatability
    holds: str = "free-flowing"
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


def study(
    setup: Setup,
    runs: int,
    seed: int,
    rules: Sequence[str] = ("one-catch", "two-catch", "oracle", "advice"),
    shapes: Sequence[str] = SHAPES,
    tick: Callable[[], None] | None = None,
) -> list[Result]:
    """Calibrate many made-up boxes by several rules and see which end right, after how many catches.

    The first catch is made at mid-range; the true setting for the target lies anywhere in the middle half, where the
    control can reach the target within tolerance; noise is log-normal with mean one. All rules meet the same boxes.
    """
    counts: dict[str, list[int]] = {rule: [] for rule in rules}
    rights: dict[str, list[bool]] = {rule: [] for rule in rules}
    for run in range(runs):
        rng = np.random.default_rng([seed, run])
        lot, target, history, drill = _made_up(rng, setup, shapes[run % len(shapes)])
        first = float(setup.control.openings[len(setup.control.openings) // 2])
        for name in rules:
            rule = {
                "one-catch": lambda: hand_rule(setup.tolerance),
                "two-catch": lambda: hand_rule(setup.tolerance, confirm=True),
                "oracle": lambda lot=lot: oracle_rule(lot, setup.tolerance),
                "advice": lambda h=history, d=drill: advice_rule(setup.tolerance, history=h, drill=d),
            }[name]()
            log = Log(lot, keep_rows=setup.row_spread > 0)
            count, locked = calibrate(log, np.random.default_rng([seed, run, 1]), rule, target, first)
            counts[name].append(count)
            rights[name].append(abs(float(lot.mean(locked)) / target - 1) <= setup.tolerance)
        if tick:
            tick()
    return [_result(name, np.array(counts[name], float), np.array(rights[name], float)) for name in rules]


def _result(rule: str, counts: np.ndarray, rights: np.ndarray) -> Result:
    root, right = np.sqrt(len(counts)), float(rights.mean())
    # half a run more on either side: all right in 600 runs does not mean right for sure
    share = (float(rights.sum()) + 0.5) / (len(rights) + 1)
    error = float(np.sqrt(share * (1 - share)) / root)
    return Result(rule, float(counts.mean()), float(counts.std() / root), right, error)


def _made_up(rng: np.random.Generator, setup: Setup, kind: str):
    """A lot, a target within reach, the history of its box, and a drill where rows differ."""
    box = SeedBox("box", setup.holds, setup.control)
    effects = row_effects(rng, setup.row_spread, 12) if setup.row_spread else ()
    drill = Drill("made up", 12, 0.19, 2.2, (box,), CatchDefaults(scale_resolution_g=1e-6)) if effects else None
    while True:
        shape = random_shape(rng, kind)
        lot = MadeUpLot(box, shape, float(np.exp(0.2 * rng.standard_normal())), setup.cv, effects)
        wanted = setup.control.lowest_opening + setup.control.span * rng.uniform(0.25, 0.75)
        target = float(lot.mean(wanted))
        real = lot.mean(setup.control.openings)
        if np.any(np.abs(real / target - 1) <= setup.tolerance):
            break
    history = None
    if setup.earlier_lots:
        history = learn_history(_earlier(rng, lot, setup.earlier_lots), box)
    return lot, target, history, drill


def _earlier(rng: np.random.Generator, lot: MadeUpLot, count: int) -> Trials:
    """An earlier season's log of the same box: lots of five catches, the first at mid-range."""
    from predictor.domain.trials import joined

    openings = lot.box.control.openings
    middle = openings[(openings >= np.quantile(openings, 0.25)) & (openings <= np.quantile(openings, 0.75))]
    parts = []
    for number in range(count):
        level = float(np.exp(0.2 * rng.standard_normal()))
        log = Log(MadeUpLot(lot.box, lot.shape, level, lot.cv, lot.row_effects), name=f"old {number}", season="1")
        log.add(rng, openings[len(openings) // 2])
        for _ in range(4):
            log.add(rng, float(rng.choice(middle)))
        parts.append(log.trials())
    return joined(parts)


@dataclass(frozen=True)
class Coverage:
    """How often 95 % intervals held the truth."""

    catches: int
    mean: float  # Shares of intervals for the mean, for the next catch, and for the setting, that held it
    next: float
    setting: float
    error: float  # Monte Carlo standard error of a share of 0.95


def coverage(
    cv_range: tuple[float, float],
    catches: int,
    runs: int,
    seed: int,
    holds: str = "free-flowing",
    tick: Callable[[], None] | None = None,
) -> Coverage:
    """Cover of the 95 % intervals for made-up boxes whose truth is drawn as ordinary knowledge has it.

    Settings are drawn from the middle half of a lever of 100 steps; mean and next catch are asked for at a further one.
    """
    from predictor.curves import fit_curve
    from predictor.curves.prior import cold_prior

    held = np.zeros((runs, 3), dtype=bool)
    box = SeedBox("box", holds, Lever(0, 100, 1))
    for run in range(runs):
        rng = np.random.default_rng([seed, catches, run])
        shape = random_shape(rng, SHAPES[run % len(SHAPES)])
        cv = float(np.exp(rng.uniform(*np.log(cv_range))))
        log = Log(MadeUpLot(box, shape, 1.0, cv))
        for opening in rng.integers(25, 76, catches):
            log.add(rng, float(opening))
        curve = fit_curve(log.openings, log.output, family="line", prior=cold_prior(holds), lowest=0.0, span=100.0)
        at = float(rng.integers(25, 76))
        truth = float(log.lot.mean(at))
        lower, upper = curve.interval(at)
        held[run, 0] = lower <= truth <= upper
        lower, upper = curve.interval(at, of="next")
        held[run, 1] = lower <= log.lot.catch(rng, at, 1.0, 1)[0] <= upper
        found = curve.setting_for(truth)
        held[run, 2] = found.lower <= at <= found.upper
        if tick:
            tick()
    shares = held.mean(axis=0)
    return Coverage(catches, *map(float, shares), float(np.sqrt(0.95 * 0.05 / runs)))
