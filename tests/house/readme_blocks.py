"""Makes the outputs that README and the tutorial show again: `python -m tests.house.readme_blocks`.

A test compares them with what the program prints. The study is not made again: its figures are kept.
"""

from __future__ import annotations

import contextlib
import doctest
import io
import re
from typing import Any

from tests.house import study
from tests.running import ROOT, run

PAGES = (ROOT / "README.md", ROOT / "sample_trials" / "README.md")
BLOCK = re.compile(r"<!-- output of: predictor (?P<command>[^\n]+) -->\n```\n(?P<text>.*?)```", re.DOTALL)
SESSION = re.compile(r"```pycon\n(?P<text>.*?)```", re.DOTALL)


def commands(text: str) -> list[str]:
    """Every command whose output a page shows."""
    return [found["command"] for found in BLOCK.finditer(text)]


def output(command: str) -> str:
    """What a command prints in the project's folder, 80 columns wide."""
    done = run(*command.split(), cwd=ROOT)
    assert done.returncode == 0, done.stderr
    return done.stdout


def session(text: str, names: dict[str, Any]) -> str:
    """A Python session with the output of each statement made again; `names` holds what earlier sessions defined."""
    lines = []
    for example in doctest.DocTestParser().get_examples(text):
        first, *others = example.source.splitlines()
        lines += [f">>> {first}", *(f"... {line}".rstrip() for line in others)]
        shown = io.StringIO()
        with contextlib.redirect_stdout(shown), contextlib.chdir(ROOT):
            exec(compile(example.source, "README", "single"), names)
        lines += [line.rstrip() for line in shown.getvalue().splitlines()]
    return "".join(f"{line}\n" for line in lines)


def filled(text: str) -> str:
    """A page with every output made again."""
    names: dict[str, Any] = {}
    text = BLOCK.sub(
        lambda found: f"<!-- output of: predictor {found['command']} -->\n```\n{output(found['command'])}```", text
    )
    return SESSION.sub(lambda found: f"```pycon\n{session(found['text'], names)}```", text)


if __name__ == "__main__":
    for page in PAGES:
        page.write_text(filled(page.read_text(encoding="utf-8")), encoding="utf-8")
    study.write_blocks(study.kept())
