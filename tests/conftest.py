"""What many tests share."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# how long an example takes depends on the machine, and says nothing of the program
settings.register_profile("here", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("here")

ROOT = Path(__file__).parent.parent
SAMPLE = ROOT / "sample_trials"


@pytest.fixture
def job(tmp_path):
    """A copy of the sample job, to read and to spoil."""
    folder = tmp_path / "job"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


@pytest.fixture
def run():
    """Run the program as a user would; gives the finished process."""

    def call(*arguments, columns=80, stdin=None, **environment):
        settings = {**os.environ, "COLUMNS": str(columns), "PYTHONPATH": str(ROOT), **environment}
        return subprocess.run(
            [sys.executable, "-m", "predictor", *map(str, arguments)],
            capture_output=True,
            text=True,
            encoding="utf-8",
            env=settings,
            input=stdin,
            timeout=120,
            check=False,
        )

    return call
