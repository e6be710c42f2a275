"""What commands cost on large logs, in CPU and memory: `python -m tests.benchmarks.bench_large_logs`.

Ratios mean more than the times of one machine. Of the logs of one box the larger one has twice the rows, or twice the
lots. The log of 50 drills over ten years holds the sample's own catches and 200 rows of each drill and year; it is the
log of the sample's job, or its history, and is told as a multiple of the sample. The catches are invented.
`--drills` measures that log alone.
"""

from __future__ import annotations

import csv
import math
import os
import random
import shutil
import subprocess
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

from predictor.files.drill import read_drill
from tests.conftest import ROOT, SAMPLE

# What the sample's boxes are set to, and what one opening of them drops in 28 turns of 3 rows.
BOXES = {"chaffy": (1, 6, 13.0), "grain": (10, 50, 0.7), "small": (8, 40, 1.7)}
OF_SAMPLE = ("record", "--box", "small", "--lot", "forb mix", "--setting", "14", "--catch", "60.5", "--yes")
CATCH = ("record", "--box", "small", "--lot", "L-0", "--setting", "14", "--catch", "60.5", "--yes")
COMMANDS = (("recommend",), ("compare",), ("check",), ("card",), ("report",), CATCH)
OF_DRILLS = "date,season,drill,box,lot,setting,turns,rows,catch_g,charged,fill_pct,use,operator,note"
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


def write_drills(path: Path, own: str, drills: int = 50, years: int = 10, rows: int = 200) -> None:
    """A log of many drills over many years, the sample's own drill among them, in order of the days."""
    rng, lines = random.Random(2), []
    for year in range(2026 - years, 2026):
        for drill in range(drills):
            name = own if drill == 0 else f"Shed drill {drill}"
            for i in range(rows):
                box = list(BOXES)[i * len(BOXES) // rows]
                low, high, level = BOXES[box]
                lot, setting, day = i // 8, rng.randint(low, high), date(year, 1, 1) + timedelta(i)
                level *= math.exp(0.2 * math.sin(7.0 * lot + drill + year))
                weight = max(0.1, setting * level * math.exp(rng.gauss(0, 0.06)))
                lines.append(
                    f"{day},{year},{name},{box},L{drill}-{year}-{lot},{setting},28,3,{weight:.1f},yes,50,yes,R.,"
                )
    lines.sort(key=lambda line: line[:10])
    path.write_text("\n".join([OF_DRILLS, *lines, ""]), encoding="utf-8")


def of_drills(folder: Path) -> tuple[Path, Path]:
    """Jobs like the sample whose log, or whose history, is that of 50 drills."""
    own = read_drill(SAMPLE / "drill.toml").name
    whole, beside = folder / "whole", folder / "beside"
    for job in (whole, beside):
        shutil.copytree(SAMPLE, job)
    write_drills(folder / "drills.csv", own)
    with (SAMPLE / "trials.csv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(line for line in stream if not line.startswith("#")))
    names = OF_DRILLS.split(",")
    with (whole / "trials.csv").open("w", encoding="utf-8", newline="") as stream:
        stream.write((folder / "drills.csv").read_text(encoding="utf-8"))
        for row in rows:
            csv.DictWriter(stream, names, extrasaction="ignore").writerow({**row, "drill": own})
    return whole, beside


def tell_drills(times: int = 5) -> None:
    """CPU and memory of commands on the log of 50 drills, as multiples of the sample: the least of alternate runs."""
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        whole, beside = of_drills(folder)
        plain = folder / "plain"
        shutil.copytree(SAMPLE, plain)
        history = ("--history", str(folder / "drills.csv"))
        print(f"100,000 rows of 50 drills over ten years, {(folder / 'drills.csv').stat().st_size / 1e6:.1f} MB")
        for command in (("recommend",), OF_SAMPLE, ("check",), ("compare",)):
            jobs = {"sample": (command, plain), "its log": (command, whole)}
            if command[0] in ("recommend", "record"):
                jobs["its history"] = ((*command, *history), beside)
            found: dict[str, list[tuple[float, float]]] = {name: [] for name in jobs}
            for _ in range(times):
                for name, job in jobs.items():
                    found[name].append(cost(*job))
            least = {name: min(each)[0] for name, each in found.items()}
            told = (
                f"{name} {t:.2f} s ({t / least['sample']:.2f} x), {found[name][0][1]:.0f} MB"
                for name, t in least.items()
            )
            print(f"  {command[0]:10}", "; ".join(told))


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
    if "--drills" not in sys.argv:
        main()
    tell_drills()
