"""How an advice grows with the catches and settings of one lot: seconds and megabytes of two sizes, and their ratios.

Run `python -m tests.benchmarks.bench_growth`. Each size is computed in a process of its own on one thread. Ten times
the catches, or settings, should take at most ten times as long. The catches are invented.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time

# Name: catches and settings of the smaller size, what the larger one has more of, scatter and form of the curve.
LOGS = {
    "catches, straight": ((1_000, 40), (10_000, 40), 0.05, "straight"),
    "catches, kinked": ((1_000, 40), (10_000, 40), 0.05, "kinked"),
    "catches, no scatter": ((1_000, 40), (10_000, 40), 0.0005, "kinked"),
    "settings, straight": ((1_000, 100), (1_000, 801), 0.05, "straight"),
    "settings, kinked": ((1_000, 100), (1_000, 801), 0.02, "kinked"),
}


def measure(catches: int, settings: int, scatter: float, form: str) -> dict[str, float]:
    """Seconds of computing for one advice, and the most memory of its process, in megabytes."""
    from predictor import recommend
    from tests.advice.test_growth import BOX, kinked, log

    trials = log(catches, settings, scatter=scatter, shape=kinked if form == "kinked" else lambda at: at - 0.05)
    start = time.process_time()
    recommend(trials, BOX, target_g=40.0)
    seconds = time.process_time() - start
    return {"seconds": seconds, "megabytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}


def main() -> None:
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    for name, (small, large, scatter, form) in LOGS.items():
        found = []
        for size in (small, large):
            asked = json.dumps([*size, scatter, form])
            command = [sys.executable, "-m", "tests.benchmarks.bench_growth", asked]
            found.append(json.loads(subprocess.run(command, env=environment, capture_output=True, check=True).stdout))
        few, many = found
        print(
            f"{name}: {few['seconds']:.2f} s to {many['seconds']:.2f} s, {many['seconds'] / few['seconds']:.1f} times; "
            f"{few['megabytes']:.0f} to {many['megabytes']:.0f} MB"
        )


if __name__ == "__main__":
    if len(sys.argv) > 1:
        print(json.dumps(measure(*json.loads(sys.argv[1]))))
    else:
        main()
