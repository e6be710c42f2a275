"""How long advice takes with twenty earlier logs, over that without any: python -m tests.benchmarks.bench_history."""

from __future__ import annotations

import shutil
import tempfile
import time
from pathlib import Path

from predictor.job.read import read_job
from tests.conftest import SAMPLE

LOGS = 20


def seconds(folder: Path, history: bool) -> float:
    """The quickest of three readings with advice on every box."""
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        job = read_job(folder, with_earlier=history)
        for task in job.in_hand():
            job.advice(task)
        best = min(best, time.perf_counter() - start)
    return best


def main() -> None:
    """Copies of the sample log, each of other years, named by a pattern."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "job"
        shutil.copytree(SAMPLE, folder)
        drill, log = folder / "drill.toml", (SAMPLE / "trials.csv").read_text(encoding="utf-8")
        drill.write_text('history = ["old/*.csv"]\n' + drill.read_text(encoding="utf-8"), encoding="utf-8")
        (folder / "old").mkdir()
        for k in range(LOGS):
            text = log.replace("2026", str(1970 + 2 * k)).replace("2025", str(1969 + 2 * k))
            (folder / "old" / f"{k}.csv").write_text(text, encoding="utf-8")
        without, with_logs = seconds(folder, False), seconds(folder, True)
        print(f"{LOGS} earlier logs: {with_logs / without:.1f} times as long as without ({without:.2f} s)")


if __name__ == "__main__":
    main()
