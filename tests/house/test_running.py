"""A run of the program in this process behaves as a process does, and leaves nothing behind."""

import os
import sys
import warnings

import matplotlib
import pytest

from tests.conftest import SAMPLE

COMMANDS = {
    "recommend": ["recommend", SAMPLE / "trials.csv", "--plot", "plot.png"],
    "compare": ["compare", SAMPLE / "trials.csv", "--plot", "lots.svg"],
    "card": ["card", SAMPLE / "trials.csv", "--out", "card.html"],
    "wrong usage": ["plan", "--nonsense"],
    "no such file": ["recommend", "none.csv"],
}


def state():
    pyplot = sys.modules.get("matplotlib.pyplot")
    return {
        "streams": [id(each) for each in (sys.stdin, sys.stdout, sys.stderr)],
        "environment": dict(os.environ),
        "folder": os.getcwd(),
        "warnings": list(warnings.filters),
        "arguments": list(sys.argv),
        "figures": pyplot.get_fignums() if pyplot else [],
        "drawing": dict(matplotlib.rcParams),
    }


@pytest.mark.parametrize("arguments", COMMANDS.values(), ids=COMMANDS)
def test_a_run_leaves_this_process_as_it_was_and_answers_the_same_again(arguments, run, tmp_path):
    first = run(*arguments, cwd=tmp_path)  # loads libraries, which set up their own warnings
    before = state()
    assert run(*arguments, cwd=tmp_path) == first
    assert state() == before


def test_a_run_in_this_process_gives_what_a_process_gives(run, run_program):
    for arguments in (
        ["recommend", SAMPLE / "trials.csv"],
        ["plan", "--job", SAMPLE, "--json"],
        ["plan", "--nonsense"],
    ):
        assert run(*arguments, columns=60) == run_program(*arguments, columns=60)
    text = (SAMPLE / "trials.csv").read_text(encoding="utf-8")
    piped = ["compare", "-", "--box", "small", "--json"]
    assert run(*piped, stdin=text) == run_program(*piped, stdin=text)
