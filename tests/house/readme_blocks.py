"""Outputs shown in README and tutorial, made again by `python -m tests.house.readme_blocks`; a test compares them."""

from __future__ import annotations

import re

from tests.running import ROOT, run

PAGES = (ROOT / "README.md", ROOT / "sample_trials" / "README.md")
BLOCK = re.compile(r"<!-- output of: predictor (?P<command>[^\n]+) -->\n```\n(?P<text>.*?)```", re.DOTALL)


def commands(text: str) -> list[str]:
    """Every command whose output README shows."""
    return [found["command"] for found in BLOCK.finditer(text)]


def output(command: str) -> str:
    """What a command prints in the project's folder, 80 columns wide."""
    done = run(*command.split(), cwd=ROOT)
    assert done.returncode == 0, done.stderr
    return done.stdout


def filled(text: str) -> str:
    """README with every output made again."""
    return BLOCK.sub(
        lambda found: f"<!-- output of: predictor {found['command']} -->\n```\n{output(found['command'])}```", text
    )


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(filled(page.read_text(encoding="utf-8")), encoding="utf-8")
