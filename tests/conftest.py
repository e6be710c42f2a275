"""What many tests share."""

from __future__ import annotations

import shutil

import pytest
from hypothesis import HealthCheck, settings

from tests import browser as in_browser, running
from tests.running import ROOT

# how long an example takes depends on the machine, and says nothing of the program
settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("here")

SAMPLE = ROOT / "sample_trials"


def pytest_runtest_setup(item):
    in_browser.hold(item)


def pytest_terminal_summary(terminalreporter):
    in_browser.left_out(terminalreporter)


@pytest.fixture
def job(tmp_path):
    """A copy of the sample job, to read and to spoil."""
    folder = tmp_path / "job"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


@pytest.fixture
def run():
    """Run the program in this process; gives its exit code and both outputs."""
    return running.run


@pytest.fixture
def run_program():
    """Run the program as a process of its own, for what only a process has."""
    return running.run_program


@pytest.fixture(scope="session")
def chromium(tmp_path_factory):
    """The browser of this process, started once."""
    with in_browser.started(tmp_path_factory.mktemp("home")) as running:
        yield running


@pytest.fixture
def browser(chromium):
    """Open pages in a real browser; afterwards none may have asked for anything outside it."""
    opened = in_browser.Browser(chromium)
    yield opened
    opened.done()
