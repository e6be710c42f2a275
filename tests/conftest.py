"""What many tests share."""

from __future__ import annotations

import shutil

import pytest
from hypothesis import HealthCheck, settings

from tests import running
from tests.running import ROOT

# how long an example takes depends on the machine, and says nothing of the program
settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("here")

SAMPLE = ROOT / "sample_trials"


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
