"""Start-up as ratios of whole processes. They run in turn, so that a drift of the machine cancels.

Run `python -m tests.benchmarks.bench_startup` in the project's folder.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time

RUNS = 15
BARE = [sys.executable, "-c", "pass"]
LIBRARIES = [sys.executable, "-c", "import numpy, scipy.special, scipy.optimize"]
HELP = [sys.executable, "-m", "predictor", "--help"]
RECOMMEND = [sys.executable, "-m", "predictor", "recommend", "sample_trials/trials.csv"]


def seconds(command: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env={**os.environ})
    return time.perf_counter() - start


def main() -> None:
    times: dict[str, list[float]] = {"bare": [], "libraries": [], "help": [], "recommend": []}
    for command in (BARE, LIBRARIES, HELP, RECOMMEND):
        seconds(command)  # warm the disk's cache
    for _ in range(RUNS):
        for name, command in zip(times, (BARE, LIBRARIES, HELP, RECOMMEND), strict=True):
            times[name].append(seconds(command))
    middle = {name: statistics.median(values) for name, values in times.items()}
    ratios = [r / b for r, b in zip(times["recommend"], times["libraries"], strict=True)]
    print(f"recommend / (numpy, scipy.special, scipy.optimize): {statistics.median(ratios):.2f} (aim 1.6)")
    print(f"--help over bare Python: {middle['help'] - middle['bare']:.3f} s (aim 0.15 s)")
    print(", ".join(f"{name} {value:.3f} s" for name, value in middle.items()))


if __name__ == "__main__":
    main()
