"""How long a catch takes to be saved and answered, from the page and from `record`: median and worst of many.

Run `python -m tests.benchmarks.bench_serve` in the project's folder; `--count 20` takes fewer. The ways take turns, so
that a drift of the machine cancels. Each saves the same invented catch to a copy of the sample job, as it was before.
The page sends it with the answers to what it was asked, over the network of this machine, after it has the state.
"""

from __future__ import annotations

import argparse
import secrets
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.conftest import SAMPLE
from tests.running import ROOT, run
from tests.serving.served import Served, serving

BOX, SETTING, WEIGHT = "small", "14", "23.9"
CATCH = ("--box", BOX, "--lot", "forb mix", "--setting", SETTING, "--catch", WEIGHT)


class Page:
    """Saves a catch over HTTP."""

    def __init__(self, server: Served):
        self.server, self.cookie, self.answers = server, server.let_in(), dict[str, str]()
        self.entry = self._entry()
        while (found := self.send())["result"] == "ask":
            question = found["question"]
            self.answers[question["key"]] = question["choices"][0]["answer"]
        assert found["result"] == "saved", found

    def _entry(self) -> dict[str, Any]:
        state = self.server.get("/state", cookie=self.cookie).json()
        catch = next(each for each in state["boxes"] if each["box"] == BOX)["catch"]
        values = {"box": BOX, "lot": catch["lot"], "catch": WEIGHT, "setting": SETTING}
        shown = {name: catch[name] for name in ("lot", "setting", "turns", "rows", "counted", "made")}
        return {"job": state["job"], "kind": "catch", "day": state["day"], "shown": shown, "values": values}

    def look(self) -> None:
        """Ask for the state, as the page does before a person types."""
        self.entry = self._entry()

    def send(self) -> dict[str, Any]:
        """What becomes of the catch, sent with an id of its own."""
        sent = {**self.entry, "id": secrets.token_hex(16), "answers": self.answers}
        found: dict[str, Any] = self.server.save(sent, cookie=self.cookie).json()
        return found

    def save(self) -> None:
        """Save the catch."""
        assert (found := self.send())["result"] == "saved", found


def in_process(log: Path) -> None:
    """Save the catch by `record`, all of whose modules are loaded."""
    assert (done := run("record", log, *CATCH)).returncode == 0, done.stderr


def as_process(log: Path) -> None:
    """Save the catch by `record`, started anew."""
    command = [sys.executable, "-m", "predictor", "record", str(log), *CATCH]
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)


def seconds(save: Callable[[], None]) -> float:
    start = time.perf_counter()
    save()
    return time.perf_counter() - start


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--count", type=int, default=200)
    count = asked.parse_args().count
    with tempfile.TemporaryDirectory() as folder:
        jobs = [Path(folder) / name for name in ("page", "loaded", "process")]
        for job in jobs:
            shutil.copytree(SAMPLE, job, ignore=shutil.ignore_patterns("__pycache__"))
        logs = [job / "trials.csv" for job in jobs]
        with serving(jobs[0]) as server:
            page = Page(server)
            show(count, measured(count, logs, page))


def measured(count: int, logs: list[Path], page: Page) -> dict[str, list[float]]:
    """Seconds of each save, by the way it was made."""
    before = (SAMPLE / "trials.csv").read_bytes()
    times: dict[str, list[float]] = {"page over HTTP": [], "record, loaded": [], "record, as a process": []}
    ways = (page.save, lambda: in_process(logs[1]), lambda: as_process(logs[2]))
    for k in range(count + 1):
        for log in logs:
            log.write_bytes(before)
        page.look()
        found = [seconds(each) for each in ways]
        if k:  # the first of each loads what the others have
            for name, each in zip(times, found, strict=True):
                times[name].append(each)
    return times


def show(count: int, times: dict[str, list[float]]) -> None:
    page = statistics.median(times["page over HTTP"])
    for name, each in times.items():
        middle = statistics.median(each)
        print(f"{name}: median {middle:.3f} s, worst {max(each):.3f} s of {count}; {middle / page:.1f} times the page")


if __name__ == "__main__":
    main()
