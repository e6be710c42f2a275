"""How long files of 10 MB take to read, beside Python's own CSV reader: `python -m tests.benchmarks.bench_reading`.

Ratios mean more than the times of one machine. The plain reader splits lines into cells and checks nothing. The
contents are invented.
"""

from __future__ import annotations

import csv
import random
import tempfile
import time
from pathlib import Path

from predictor import InputError, read_drill, read_trials
from tests.conftest import SAMPLE

SIZE = 10_000_000


def rows(kind: str, rng: random.Random):
    """The header and the endless rows of a file."""
    if kind == "four columns":
        yield "box,lot,setting,catch_g\n"
        while True:
            yield f"small,L-{rng.randint(1, 40)},{rng.randint(0, 40)},{rng.uniform(20, 240):.1f}\n"
    yield "date,season,box,lot,setting,turns,rows,catch_g,rows_g,parts_g,tare_g,charged,fill_pct,use,operator,note\n"
    number = 0
    while True:
        number += 1
        single = [round(rng.uniform(20, 80), 1) for _ in range(3)]
        cells = [f"2026-04-{rng.randint(1, 28):02d}", "2026", "small", f"L-{rng.randint(1, 40)}"]
        cells += [str(rng.randint(0, 40)), "28", "3", f"{sum(single):.1f}", ";".join(map(str, single))]
        weight = "x" if kind == "every weight wrong" else ""
        cells[7] = weight + cells[7]
        yield ",".join([*cells, "", "yes", rng.choice(["", "50"]), "yes", "R.", f'"note {number}"']) + "\n"


def main() -> None:
    drill = read_drill(SAMPLE / "drill.toml")
    for kind in ("all columns", "four columns", "every weight wrong"):
        with tempfile.TemporaryDirectory() as folder:
            path, size = Path(folder) / "trials.csv", 0
            with path.open("w", encoding="utf-8") as stream:
                for text in rows(kind, random.Random(1)):
                    stream.write(text)
                    size += len(text)
                    if size >= SIZE:
                        break
            plain, ours = [], []
            for _ in range(5):
                began = time.perf_counter()
                with path.open(encoding="utf-8", newline="") as stream:
                    count = sum(1 for _ in csv.reader(stream))
                plain.append(time.perf_counter() - began)
                began = time.perf_counter()
                try:
                    read_trials(path, drill)
                except InputError:
                    assert kind == "every weight wrong"
                ours.append(time.perf_counter() - began)
            ratio = min(ours) / min(plain)
            print(
                f"{kind}: {count:,} rows in {min(ours):.2f} s, {ratio:.1f} times the plain reader ({min(plain):.2f} s)"
            )


if __name__ == "__main__":
    main()
