"""Outputs shown in README and tutorial, made again by `python -m tests.house.readme_blocks`; a test compares them."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
PAGES = (ROOT / "README.md", ROOT / "sample_trials" / "README.md")
BLOCK = re.compile(r"<!-- output of: predictor (?P<command>[^\n]+) -->\n```\n(?P<text>.*?)```", re.DOTALL)


def commands(text: str) -> list[str]:
    """Every command whose output README shows."""
    return [found["command"] for found in BLOCK.finditer(text)]


def output(command: str, folder: Path = ROOT, **environment: str) -> str:
    """What a command prints, 80 columns wide."""
    import os

    done = subprocess.run(
        [sys.executable, "-m", "predictor", *command.split()],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=folder,
        env={**os.environ, "COLUMNS": "80", "PYTHONPATH": str(ROOT), **environment},
        check=True,
        timeout=120,
    )
    return done.stdout


def filled(text: str) -> str:
    """README with every output made again."""
    return BLOCK.sub(
        lambda found: f"<!-- output of: predictor {found['command']} -->\n```\n{output(found['command'])}```", text
    )


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(filled(page.read_text(encoding="utf-8")), encoding="utf-8")
