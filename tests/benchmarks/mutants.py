"""Mutation testing of curves, history and decision: `python -m tests.benchmarks.mutants --count 120 --seed 1`.

It works on a copy of the project. Each mutant changes one operator, comparison or number of the code. It is killed when
a test of its module fails. Those that survive are printed with their line. Look at each: some change no answer, such as
the tolerance of a search or a number that only costs time.
"""

from __future__ import annotations

import argparse
import ast
import random
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
# Rooms, and the tests that should kill their mutants, the quickest first; the regression numbers run before all.
TESTS = {
    "curves": ("tests/curves", "tests/published/test_curves_published.py", "tests/advice/test_advice.py"),
    "advice": (
        "tests/advice",
        "tests/published/test_between_lots_published.py",
        "tests/commands/test_attacks.py",
        "tests/commands/test_recommend_command.py",
    ),
}
SWAPS = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.And: ast.Or,
    ast.Or: ast.And,
}


class Sites(ast.NodeVisitor):
    """Finds places where one change makes a mutant. It leaves annotations and text alone."""

    def __init__(self):
        self.found = []

    def visit_BinOp(self, node):
        if type(node.op) in SWAPS and not _text(node):
            self.found.append((node, "op"))
        self.generic_visit(node)

    def visit_Compare(self, node):
        if type(node.ops[0]) in SWAPS:
            self.found.append((node, "ops"))
        self.generic_visit(node)

    def visit_BoolOp(self, node):
        self.found.append((node, "op"))
        self.generic_visit(node)

    def visit_Constant(self, node):
        if isinstance(node.value, int | float) and not isinstance(node.value, bool):
            self.found.append((node, "value"))

    def visit_arg(self, node):
        pass

    def visit_AnnAssign(self, node):
        if node.value is not None:
            self.visit(node.value)

    def visit_JoinedStr(self, node):
        pass


def _text(node: ast.BinOp) -> bool:
    """Whether texts are joined, where no number changes."""
    return any(
        isinstance(side, ast.JoinedStr) or (isinstance(side, ast.Constant) and isinstance(side.value, str))
        for side in (node.left, node.right)
    )


def mutated(tree: ast.AST, site: int) -> tuple[str, str]:
    """The source of a mutant, and what was changed."""
    sites = Sites()
    sites.visit(tree)
    node, what = sites.found[site]
    before = ast.unparse(node)
    if what == "op":
        node.op = SWAPS[type(node.op)]()
    elif what == "ops":
        node.ops[0] = SWAPS[type(node.ops[0])]()
    else:
        node.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + (node.value == 0)
    return ast.unparse(tree), f"line {node.lineno}: {before}  ->  {ast.unparse(node)}"


def survives(folder: Path, room: str) -> bool:
    """Whether the tests of a room pass on the copy; a program that does not end is caught too."""
    quick = ["-x", "-q", "-m", "not slow", "-o", "addopts=", "-p", "no:cacheprovider"]
    command = [sys.executable, "-m", "pytest", *quick, "tests/house/test_regression_numbers.py", *TESTS[room]]
    try:
        return not subprocess.run(command, cwd=folder, capture_output=True, timeout=300, check=False).returncode
    except subprocess.TimeoutExpired:
        return False


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--count", type=int, default=120)
    options.add_argument("--seed", type=int, default=1)
    given = options.parse_args()
    rng = random.Random(given.seed)
    folder = Path(tempfile.mkdtemp())
    for name in ("predictor", "tests", "sample_trials"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    for room in TESTS:
        assert survives(folder, room), f"the tests of {room} fail on code that was not changed"
    places = []
    for room in TESTS:
        for path in sorted((folder / "predictor" / room).glob("*.py")):
            sites = Sites()
            sites.visit(ast.parse(path.read_text(encoding="utf-8")))
            places += [(room, path, k) for k in range(len(sites.found))]
    chosen = rng.sample(places, min(given.count, len(places)))
    killed = 0
    for done, (room, path, site) in enumerate(chosen, 1):
        source = path.read_text(encoding="utf-8")
        text, what = mutated(ast.parse(source), site)
        path.write_text(text, encoding="utf-8")
        survived = survives(folder, room)
        path.write_text(source, encoding="utf-8")
        killed += not survived
        if survived:
            print(f"survived: {path.relative_to(folder)} {what}", flush=True)
        print(f"{done} of {len(chosen)}: {100 * killed / done:.0f} % killed", file=sys.stderr, flush=True)
    print(f"{killed} of {len(chosen)} mutants killed, {100 * killed / len(chosen):.0f} %; {len(places)} places in all.")


if __name__ == "__main__":
    main()
