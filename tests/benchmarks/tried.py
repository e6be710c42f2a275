"""Runs chosen tests on a copy of the project, each time in a fresh fork, and records which tests run which lines."""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import os
import resource
import shutil
import signal
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

# Before numpy is loaded: threads do not outlive a fork.
os.environ |= {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}

import coverage
import hypothesis
import numpy
import pandas
import pytest
import scipy.interpolate
import scipy.optimize
import scipy.special
import scipy.stats
import typer.testing

# A fork has all these at once; loading them anew for each mutant would take longer than most tests.
LOADED = (hypothesis, numpy, pandas, scipy.interpolate, scipy.optimize, scipy.special, scipy.stats, typer.testing)
ROOT = Path(__file__).parent.parent.parent
MOST_MEMORY = 6 << 30
LONGEST_RECORD_S = 7200.0
WAITS = 8  # the machine may be busy with other work
USUAL = ["-q", "-m", "not slow", "-o", "addopts=--doctest-modules", "-p", "no:cacheprovider"]
# pytest says that it could not rewrite what is loaded before it
USUAL += ["-W", "ignore:Module already imported:pytest.PytestAssertRewriteWarning"]
NOT_COPIED = (".git", ".venv*", "__pycache__", ".hypothesis", "*_cache", "*.egg-info")


def copied(to: Path) -> Path:
    """A copy of the project, to be changed."""
    return Path(shutil.copytree(ROOT, to, ignore=shutil.ignore_patterns(*NOT_COPIED)))


class Recorder:
    """Notes which test runs which line, and how long it takes. What a fixture of many tests runs, all of them run."""

    def __init__(self, folder: Path):
        self.folder = folder
        self.cover = coverage.Coverage(data_file=None, source=[str(folder / "predictor")], config_file=False)
        self.took: dict[str, float] = {}
        self.failed: set[str] = set()
        self.test = ""

    def pytest_sessionstart(self):
        self.cover.start()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item):
        self.test = item.nodeid
        self.cover.switch_context(self.test)
        start = time.process_time()
        try:
            return (yield)
        finally:
            self.took[self.test] = time.process_time() - start

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef):
        if fixturedef.scope != "function":
            self.cover.switch_context(self.test.split("::")[0])
        try:
            return (yield)
        finally:
            self.cover.switch_context(self.test)

    def pytest_runtest_logreport(self, report):
        if report.failed:
            self.failed.add(report.nodeid)

    def found(self) -> dict[str, Any]:
        """Seconds of each test, those that failed, and for each file and line what runs it, as places in a list."""
        self.cover.stop()
        data, lines = self.cover.get_data(), {}
        names = sorted(filter(None, data.measured_contexts()))
        place = {name: k for k, name in enumerate(names)}
        for file in data.measured_files():
            by_line = data.contexts_by_lineno(file).items()
            lines[str(Path(file).relative_to(self.folder))] = {
                line: [place[each] for each in tests if each] for line, tests in by_line
            }
        return {"took": self.took, "failed": sorted(self.failed), "names": names, "lines": lines}


class Chosen:
    """Keeps the chosen tests of those collected, in their order."""

    def __init__(self, tests: Sequence[str]):
        self.place = {test: k for k, test in enumerate(tests)}

    def pytest_collection_modifyitems(self, items):
        kept = (each for each in items if each.nodeid in self.place)
        items[:] = sorted(kept, key=lambda each: self.place[each.nodeid])


def record(folder: Path, kept: Path, tests: Sequence[str]) -> dict[str, Any]:
    """What runs which lines of the code as it is; kept in a file for as long as code and tests stay the same."""
    state = hashlib.sha256(" ".join(tests).encode())
    for path in sorted([*folder.glob("predictor/**/*.py"), *folder.glob("tests/**/*.py")]):
        state.update(b"" if path.parent.name == "benchmarks" else path.read_bytes())
    if kept.exists() and (known := json.loads(kept.read_text()))["state"] == state.hexdigest():
        return known
    recorder = Recorder(folder)
    kept.unlink(missing_ok=True)
    in_fork(
        folder,
        [*tests, "--ignore=tests/benchmarks", "-p", "no:cov"],
        recorder,
        LONGEST_RECORD_S,
        lambda: _keep(kept, recorder, state.hexdigest()),
    )
    return json.loads(kept.read_text())


def _keep(kept: Path, recorder: Recorder, state: str) -> None:
    kept.write_text(json.dumps({"state": state, **recorder.found()}))


def all_pass(folder: Path, tests: Sequence[str], most_s: float) -> bool:
    """Whether tests pass on the copy in so many seconds of computing; those that hang do not."""
    files = sorted({test.split("::")[0] for test in tests})
    # no tests left: the names of those that were chosen come from what was changed
    return not tests or in_fork(folder, ["-x", *files], Chosen(tests), most_s) in (0, 5)


def in_fork(
    folder: Path, arguments: Sequence[str], plugin: object, most_s: float, after: Callable[[], None] = lambda: None
) -> int:
    """Exit code of a run of tests in a process of its own; 1 where it takes too long.

    What computes without end is stopped after so many seconds of computing, what waits without end after more.
    """
    child = os.fork()
    if not child:
        code = 1
        try:
            _alone(folder, math.ceil(most_s))
            code = int(pytest.main([*USUAL, *arguments], plugins=[plugin]))
            after()
        finally:
            os._exit(code)
    until, status = time.monotonic() + WAITS * most_s, None
    while status is None and time.monotonic() < until:
        ended, now = os.waitpid(child, os.WNOHANG)
        status = now if ended else None
        time.sleep(0.01)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)  # with all that it started
    if status is None:
        os.waitpid(child, 0)
        return 1
    return os.waitstatus_to_exitcode(status)


def _alone(folder: Path, most_s: int) -> None:
    """Make a fork one that knows the copy only, and can do no harm."""
    os.setsid()
    os.chdir(folder)
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nowhere, stream)
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (most_s, most_s))
    for name in [each for each in sys.modules if each.split(".")[0] in ("tests", "predictor")]:
        del sys.modules[name]
    sys.path[:] = [str(folder), *(each for each in sys.path if Path(each or ".").resolve() != ROOT)]
    os.environ |= {"PYTHONPATH": str(folder)}
