"""How often the decision card says what the program says, and what a card costs.

Run `python -m tests.benchmarks.bench_decision_card`. For each made-up box with some catches behind it a card is made.
Then its next catch is drawn several times, looked up on the card, and given to `recommend`. Seconds are those of
computing.
"""

import argparse
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from predictor import Advice, Drill, Lever, LeverAndDrive, SeedBox, Sprockets, Trials
from predictor.advice.ranges import Range, table_after
from predictor.advice.recommend import recommend
from predictor.domain.one_catch import one_catch
from predictor.domain.trials import joined, no_trials
from predictor.study.drills import MadeUpLot, Shape, random_shape

FINE = Lever(0, 100, 0.1)
BOXES = {
    "whole steps": SeedBox("small", "small", Lever(0, 40, 1)),
    "half steps": SeedBox("small", "small", Lever(0, 60, 0.5)),
    "lower is more": SeedBox("grain", "free-flowing", Lever(0, 50, 1, more_is="lower")),
    "fine steps": SeedBox("grain", "free-flowing", FINE),
    "chain": SeedBox("chaffy", "chaffy", Sprockets({str(k): 0.1 * 1.15**k for k in range(1, 15)})),
    "two controls": SeedBox("small", "small", LeverAndDrive(Lever(0, 40, 1), {"low": 1.0, "high": 1.9})),
    "spline": SeedBox("small", "small", Lever(0, 60, 1)),
    "fine spline": SeedBox("small", "small", FINE),
}
KINDS = ("same", "near", "one of two", "asked", "other", "not locked", "wrong lock")
WORDS = """
same: what the program says. near: another setting, nearer than half the repeatability. one of two: of the settings that
a row names, or between them. asked: ask the program. other: another setting. not locked: the program would lock.
wrong lock: the card locks and the program does not, or elsewhere."""


@dataclass(frozen=True)
class Case:
    """A made-up box with some catches, and what is wanted of it."""

    rng: np.random.Generator
    lot: MadeUpLot
    drill: Drill
    trials: Trials
    target: float

    @property
    def box(self) -> SeedBox:
        """The box."""
        return self.drill.boxes[0]

    def caught(self, setting, turns=28.0, rows=3.0, grams=None):
        """The trials with one more catch, of a weight that the scale can show."""
        step = self.drill.catch.scale_resolution_g
        times = 1.9 if setting.drive == "high" else 1.0
        drawn = times * self.lot.catch(self.rng, setting.opening, turns, int(rows))[0] if grams is None else grams
        grams = max(round(drawn / step), 1) * step
        one = one_catch(
            self.drill, self.box, lot="A", season="", setting=setting, catch_g=grams, turns=turns, rows=rows
        )
        return grams, replace(self, trials=joined([self.trials, one]))

    def advice(self) -> Advice:
        """What the program says."""
        return recommend(self.trials, self.box, lot="A", season="", target_output=self.target, drill=self.drill)


def cases(kind: str, count: int, seed: int = 5) -> Iterator[Case]:
    """Made-up boxes of a kind, each with as many catches as leave work to do."""
    box, rng = BOXES[kind], np.random.default_rng([seed, list(BOXES).index(kind)])
    drill = Drill("made up", 12, 0.19, 2.2, (box,))
    if kind.startswith("fine"):
        drill = replace(drill, catch=replace(drill.catch, scale_resolution_g=0.01))
    control = box.first_control
    spline = kind.endswith("spline")
    for _ in range(count):
        shape = Shape("saturating", float(rng.uniform(0.25, 0.5))) if spline else random_shape(rng, "line")
        lot = MadeUpLot(box, shape, 1.0, float(rng.uniform(0.01, 0.03) if spline else rng.uniform(0.03, 0.12)))
        places = control.openings[(len(control.openings) - 1) * np.arange(1, 7) // 7]
        drive = box.control.on("low") if isinstance(box.control, LeverAndDrive) else control
        # a spline is caught at few settings, and wanted between them: else it locks at once
        wanted = rng.uniform(*places[[0, 2]]) if spline else rng.choice(control.openings[len(control.openings) // 5 :])
        target = float(lot.mean(wanted))
        case = Case(rng, lot, drill, no_trials(drill), target)
        for x in np.repeat(places, 2) if spline else [control.openings[len(control.openings) // 2]]:
            _, case = case.caught(drive.at(float(x)))
        for _ in range(int(rng.integers(0, 4))):
            advice = case.advice()
            if advice.decision in ("lock", "unreachable") or advice.waiting:
                break
            _, further = case.caught(advice.advised, advice.next_turns, advice.next_rows)
            if further.advice().decision in ("lock", "unreachable"):
                break
            case = further
        yield case


def kind_of(found: Range, then: Advice) -> str:
    """How a card agrees with the program."""
    said = "offer" if then.offers_lock else then.decision
    setting = None if said == "unreachable" else then.advised
    if found.decision == "ask":
        return "asked"
    if (found.decision, found.setting, found.turns, found.rows) == (said, setting, then.next_turns, then.next_rows):
        return "same"
    if "lock" in (found.decision, said):
        return "wrong lock" if found.decision == "lock" else "not locked"
    if {found.decision, said} <= {"move", "repeat"} and found.setting is not None and setting is not None:
        low, high = sorted(each.opening for each in (found.setting, found.last or found.setting))
        if low <= setting.opening <= high:
            return "one of two"
        outputs = then.curve.mean([found.setting.opening, setting.opening])
        if found.setting.drive == setting.drive and abs(np.log(outputs[0] / outputs[1])) < then.repeatability / 2:
            return "near"
    return "other"


def main() -> None:
    """Count and time."""
    asked = argparse.ArgumentParser(description=__doc__ + WORDS, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--boxes", type=int, default=25, help="of each kind")
    asked.add_argument("--weights", type=int, default=4, help="of the next catch of each")
    asked.add_argument("--kind", choices=BOXES)
    asked.add_argument("--show", action="store_true", help="what the two say where they differ about a lock")
    given = asked.parse_args()
    total, seconds, rows = Counter(), [], []
    for kind in [given.kind] if given.kind else BOXES:
        counted, took, splines = Counter(), [], 0
        for case in cases(kind, given.boxes):
            advice, start = case.advice(), time.process_time()
            table = table_after(advice)
            if table is None:
                continue
            took.append(time.process_time() - start)
            rows.append(len(table.ranges))
            splines += advice.family == "spline"
            for _ in range(given.weights):
                grams, after = case.caught(table.setting, table.turns, table.rows)
                found, then = table.find(grams), after.advice()
                counted[kind_of(found, then)] += 1
                if given.show and "lock" in kind_of(found, then):
                    print(
                        f"  {grams:g} g:", found.decision, found.setting, "|", then.decision, then.advised, then.reason
                    )
        total += counted
        seconds += took
        print(f"{kind}: {len(took)} cards, {splines} of a spline; {_shares(counted)}")
        print(f"  seconds: {np.median(took):.2f} in the middle, {max(took):.2f} at most", flush=True)
    n = sum(total.values())
    print(f"all: {len(seconds)} cards, {n} weights; {_shares(total)}; standard error at most {50 / np.sqrt(n):.1f}")
    print(f"  seconds: {np.median(seconds):.2f} in the middle, {max(seconds):.2f} at most; rows: {max(rows)} at most")


def _shares(counted: Counter) -> str:
    """Every kind in per cent."""
    return ", ".join(f"{each} {100 * counted[each] / max(sum(counted.values()), 1):.1f} %" for each in KINDS)


if __name__ == "__main__":
    main()
