"""What commands cost on logs of two sizes, in CPU and memory: `python -m tests.benchmarks.bench_large_logs`.

Ratios mean more than the times of one machine: the larger log has twice the rows, or twice the lots. The catches are
invented.
"""

from __future__ import annotations

import math
import os
import random
import shutil
import subprocess
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

from tests.conftest import ROOT, SAMPLE

CATCH = ("record", "--box", "small", "--lot", "L-0", "--setting", "14", "--catch", "60.5", "--yes")
COMMANDS = (("recommend",), ("compare",), ("check",), ("card",), ("report",), CATCH)
HEADER = "date,season,box,lot,setting,turns,rows,catch_g,rows_g,charged,fill_pct,use,operator,note,wanted_g\n"


def write_log(path: Path, rows: int, lots: int) -> None:
    """A log of one box over ten seasons; 118,000 rows are 10 MB."""
    rng = random.Random(1)
    levels = [rng.gauss(0, 0.2) for _ in range(lots)]
    with path.open("w", encoding="utf-8") as stream:
        stream.write(HEADER)
        for i in range(rows):
            lot, day, setting = i * lots // rows, date(2016, 1, 1) + timedelta(i * 3600 // rows), rng.randint(8, 23)
            level = setting * math.exp(levels[lot])
            weights = [round(level * math.exp(rng.gauss(0, 0.05)), 1) for _ in range(3)]
            caught = f"{setting},28,3,{sum(weights):.1f},{';'.join(map(str, weights))}"
            stream.write(f"{day},{day.year},small,L-{lot},{caught},yes,50,yes,R.,n {i},\n")


def cost(command: tuple[str, ...], folder: Path) -> tuple[float, float]:
    """CPU seconds and peak memory in MB of a command."""
    words = [sys.executable, "-m", "predictor", command[0], str(folder), *command[1:]]
    with open(os.devnull, "w+") as nothing:
        process = subprocess.Popen(words, stdin=nothing, stdout=nothing, stderr=nothing, cwd=ROOT)
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main() -> None:
    sizes = [(2, 2), (59_000, 40), (118_000, 40), (59_000, 1000), (59_000, 2000)]
    with tempfile.TemporaryDirectory() as temporary:
        for rows, lots in sizes:
            folder = Path(temporary) / f"{rows}-{lots}"
            folder.mkdir()
            for name in ("drill.toml", "plan.csv", "field.csv"):
                shutil.copy(SAMPLE / name, folder)
            write_log(folder / "trials.csv", rows, lots)
            print(f"{rows:,} rows of {lots:,} lots, {(folder / 'trials.csv').stat().st_size / 1e6:.1f} MB")
            for command in COMMANDS:
                seconds, memory = cost(command, folder)
                print(f"  {command[0]:10} {seconds:6.2f} s of CPU, {memory:4.0f} MB")


if __name__ == "__main__":
    main()
