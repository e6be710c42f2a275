"""Milliseconds of one recommendation on 12 catches, and on 10,000 catches against a least-squares line.

Run `python -m tests.benchmarks.bench_recommend`.
"""

from __future__ import annotations

import statistics
import time

import numpy as np
from scipy.special import stdtrit

from predictor.advice.recommend import recommend
from predictor.domain.control import Lever
from predictor.domain.drill import SeedBox
from predictor.study.drills import Log, MadeUpLot, Shape

BOX = SeedBox("box", "small", Lever(0, 100, 1))
RUNS = 40


def log_of(count: int, settings: int):
    rng = np.random.default_rng(1)
    log = Log(MadeUpLot(BOX, Shape("line", 0.03), 1.0, 0.05))
    for opening in rng.integers(50 - settings // 2, 50 + settings // 2 + 1, count):
        log.add(rng, float(opening))
    return log.trials()


def milliseconds(call) -> float:
    call()
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return 1000 * statistics.median(times)


def plain_line(x: np.ndarray, y: np.ndarray):
    """A least-squares line by numpy.linalg.lstsq with the 95 % interval of its mean at every catch."""
    design = np.column_stack([np.ones_like(x), x])
    solution, rest, _, _ = np.linalg.lstsq(design, y, rcond=None)
    variance = rest[0] / (len(x) - 2)
    inverse = np.linalg.inv(design.T @ design)
    half = stdtrit(len(x) - 2, 0.975) * np.sqrt(variance * np.einsum("ij,jk,ik->i", design, inverse, design))
    middle = design @ solution
    return middle - half, middle + half


def main() -> None:
    twelve = log_of(12, 12)
    few = milliseconds(lambda: recommend(twelve, BOX, target_output=0.45))
    many_trials = log_of(10_000, 60)
    many = milliseconds(lambda: recommend(many_trials, BOX, target_output=0.45))
    line = milliseconds(lambda: plain_line(many_trials.opening, many_trials.output))
    print(f"12 catches: {few:.2f} ms a call (aim 3)")
    print(f"10,000 catches: {many:.2f} ms, {many / line:.1f} x a plain line with its interval ({line:.2f} ms; aim 5 x)")


if __name__ == "__main__":
    main()
