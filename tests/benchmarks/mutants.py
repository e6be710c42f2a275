"""Mutation testing: `python -m tests.benchmarks.mutants --count 30 --seed 1` tries 30 mutants of each part.

Each mutant is one small change of the code: an operator, a number, a condition, a word that steers, a statement taken
out, a way out (`changes.py` has them all). It is killed when a test that runs the changed line fails; the quickest are
tried first. Those that survive are printed with their line. Some change nothing that anyone could see, such as the
tolerance of a search. `equivalent.txt` lists those that were looked at, each with its reason, and they do not count.

Which tests run which lines is recorded once for each state of code and tests, which takes twice as long as the tests,
and is kept for the next run.
"""

from __future__ import annotations

import argparse
import ast
import json
import math
import random
import re
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.benchmarks.changes import changes, families
from tests.benchmarks.tried import all_pass, copied, record

EQUIVALENT = Path(__file__).with_name("equivalent.txt")
_STORED = ("write", "replace", "changing", "log", "form", "new_row", "cut", "special", "good_rows")
_HISTORY = [f"advice/{name}.py" for name in ("history", "earlier_lots", "pooled", "other_drills")]
# The files of each part; one that several parts name belongs to the last of them.
PARTS = {
    "reading": ["files/*.py", "numbers.py", "job/read.py"],
    "storing": [*(f"files/{name}.py" for name in _STORED), "job/adding.py", "commands/keeping.py"],
    "deciding": ["curves/*.py", "slips/*.py", "advice/*.py"],
    "history": [*_HISTORY, "job/earlier.py", "lots/*.py"],
}
# Tests that start processes, of which the record of lines knows nothing.
PROCESSES = {"storing": ("tests/files/test_storing.py", "tests/files/test_power_cuts.py", "tests/files/test_faults.py")}
# Tests that are tried whatever they cost, if they run the line.
ALSO = {
    **PROCESSES,
    "deciding": ("tests/house/test_regression_numbers.py",),
    "history": ("tests/house/test_regression_numbers.py",),
}
# So many seconds of tests are tried at most, by the record: of the room of the changed file, and of all.
FIRST_S, MOST_S = 4.0, 15.0
# A run that computes for so many times as long as recorded, and so many seconds more, hangs, and kills the mutant.
TIMES, MORE_S = 3, 20


@dataclass(frozen=True)
class Mutant:
    """One change, by its file and its place among the changes of that file."""

    part: str
    file: str
    place: int
    kind: str
    line: int
    before: str


def places(folder: Path, words: dict[str, str]) -> Iterator[Mutant]:
    """All mutants that could be made."""
    part_of = {}
    for part, patterns in PARTS.items():
        part_of |= {path: part for pattern in patterns for path in sorted((folder / "predictor").glob(pattern))}
    for path, part in part_of.items():
        file = str(path.relative_to(folder))
        for place, each in enumerate(changes(ast.parse(path.read_text("utf-8")), words)):
            yield Mutant(part, file, place, each.kind, each.line, each.before.split("\n")[0])


def mutated(source: str, mutant: Mutant, words: dict[str, str]) -> tuple[str, str]:
    """The code of a mutant, and what stands in the changed place."""
    tree = ast.parse(source)
    new = changes(tree, words)[mutant.place].do()
    return ast.unparse(ast.fix_missing_locations(tree)), ast.unparse(new).split("\n")[0] if new else "nothing"


def tests_of(mutant: Mutant, source: str, record: dict[str, Any], code: dict[str, str]) -> list[str]:
    """The tests that run the statement of a mutant, or what uses the name that it gives a value; quickest first."""
    first, last, names = _statement(ast.parse(source), mutant.line)
    found = _running(record, mutant.file, range(first, last + 1))
    if names:
        used = re.compile("|".join(rf"\b{re.escape(name)}\b" for name in names))
        for file, text in code.items():
            lines = [k for k, line in enumerate(text.splitlines(), 1) if used.search(line)]
            found |= _running(record, file, lines)
    if not found:
        found = _running(record, mutant.file, range(1, source.count("\n") + 2))
    found |= set(PROCESSES.get(mutant.part, ()))
    took, failed = record["took"], set(record["failed"])
    tests = {test for test in took if test in found or test.split("::")[0] in found} - failed
    return sorted(tests, key=lambda test: (took[test], test))


def _running(record: dict[str, Any], file: str, lines: Any) -> set[str]:
    by_line = record["lines"].get(file, {})
    return {record["names"][k] for line in lines for k in by_line.get(str(line), ())}


def _statement(tree: ast.Module, line: int) -> tuple[int, int, list[str]]:
    """First and last line of the innermost statement in a line, of one with a body its head.

    For one that runs when the module is loaded, the names it sets too.
    """
    within = [n for n in ast.walk(tree) if isinstance(n, ast.stmt) and n.lineno <= line <= (n.end_lineno or 0)]
    inner = max(within, key=lambda each: each.lineno)
    body = getattr(inner, "body", None)
    last = max(body[0].lineno - 1, inner.lineno) if body else inner.end_lineno or inner.lineno
    if any(isinstance(each, ast.FunctionDef) for each in within if each is not inner):
        return inner.lineno, last, []
    stored = [n.id for n in ast.walk(inner) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)]
    return inner.lineno, last, [inner.name] if isinstance(inner, ast.FunctionDef | ast.ClassDef) else stored


def survives(folder: Path, mutant: Mutant, tests: list[str], took: dict[str, float]) -> bool:
    """Whether the tests of a mutant pass on the copy: first those of its room, then the others, as far as time goes."""
    room, always = f"tests/{mutant.file.split('/')[1]}/", ALSO.get(mutant.part, ())
    also = [test for test in tests if test.startswith(always)] if always else []
    near, _ = _within([test for test in tests if test.startswith(room) and test not in also], took, FIRST_S)
    others = _within([test for test in tests if test not in {*also, *near}], took, MOST_S)[0]
    return all(
        all_pass(folder, batch, MORE_S + TIMES * sum(took[test] for test in batch)) for batch in (near, also, others)
    )


def _within(tests: list[str], took: dict[str, float], most: float) -> tuple[list[str], list[str]]:
    """As many tests as run in so many seconds, and the others."""
    total = 0.0
    for k, test in enumerate(tests):
        total += took[test]
        if total > most:
            return tests[:k], tests[k:]
    return tests, []


def known_equivalent() -> set[tuple[str, str, str]]:
    """The mutants that change nothing: file, line without its indent, and the change in it."""
    lines = EQUIVALENT.read_text("utf-8").splitlines()
    return {tuple(line.split(" || ")[:3]) for line in lines if line.strip() and not line.startswith("#")}


def chosen(all_places: list[Mutant], given: argparse.Namespace) -> list[Mutant]:
    """The mutants to try: so many of each part, drawn at random."""
    wanted = [each for each in all_places if re.search(given.kind, each.kind) and re.search(given.file, each.file)]
    if given.only:
        kept = {(each["file"], each["kind"], each["before"]) for each in json.loads(Path(given.only).read_text())}
        return [each for each in wanted if (each.file, each.kind, each.before) in kept]
    rng, found = random.Random(given.seed), []
    for part in given.part.split(","):
        mine = [each for each in wanted if each.part == part]
        found += rng.sample(mine, min(given.count, len(mine)))
    rng.shuffle(found)  # so that a run that is stopped says something of every part
    return found


def score(done: list[tuple[Mutant, str]]) -> str:
    """Share of the mutants killed, of those that change behaviour, by part, with the standard error of the draw."""
    lines = []
    for part in (*PARTS, "all"):
        mine = [how for each, how in done if part in (each.part, "all")]
        n, killed = sum(how != "equivalent" for how in mine), mine.count("killed")
        if n:
            error = 100 * math.sqrt(killed * (n - killed) / n**3)
            lines.append(f"{part}: {killed} of {n} killed, {100 * killed / n:.0f} % (standard error {error:.0f}); ")
            lines[-1] += f"{len(mine) - n} others change nothing"
    return "\n".join(lines)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--count", type=int, default=30, help="mutants of each part")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--part", default=",".join(PARTS), help="parts, with commas between")
    options.add_argument("--kind", default="", help="only changes whose kind matches this pattern, as 'taken out'")
    options.add_argument("--file", default="", help="only files whose name matches this pattern")
    options.add_argument("--only", default="", help="a file that --out wrote: try its survivors again")
    options.add_argument("--out", default="", help="where to write the survivors, for --only")
    options.add_argument("--record", default=str(Path(tempfile.gettempdir()) / "lines-of-tests.json"))
    options.add_argument("--tests", default="tests,predictor", help="which tests, with commas between")
    given = options.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        _try_all(copied(Path(folder) / "project"), given)


def _try_all(folder: Path, given: argparse.Namespace) -> None:
    code = {str(path.relative_to(folder)): path.read_text("utf-8") for path in sorted(folder.glob("predictor/**/*.py"))}
    words = families(ast.parse(text) for text in code.values())
    found = record(folder, Path(given.record), given.tests.split(","))
    if found["failed"]:
        print(f"fail on the code as it is, and are not used: {', '.join(found['failed'])}")
    every, equivalent, done, left = list(places(folder, words)), known_equivalent(), [], []
    for mutant in (picked := chosen(every, given)):
        text, after = mutated(code[mutant.file], mutant, words)
        line, change = code[mutant.file].splitlines()[mutant.line - 1].strip(), f"{mutant.before}  ->  {after}"
        how = "equivalent" if (mutant.file, line, change) in equivalent else "killed"
        if how == "killed":
            tests = tests_of(mutant, code[mutant.file], found, code)
            _write(folder / mutant.file, text)
            if survives(folder, mutant, tests, found["took"]):
                how = "survived"
                left.append(vars(mutant))
                where = f"{mutant.file} line {mutant.line} ({mutant.kind}, {len(tests)} tests)"
                print(f"survived: {where}: {change}\n    {line}", flush=True)
            _write(folder / mutant.file, code[mutant.file])
        done.append((mutant, how))
        print(f"{len(done)} of {len(picked)}: {mutant.part} {how}", file=sys.stderr, flush=True)
        if given.out:
            Path(given.out).write_text(json.dumps(left, indent=1))
    print(f"{len(every)} places in all.\n{score(done)}")


def _write(path: Path, text: str) -> None:
    """Write a module, without what was compiled of it before."""
    path.write_text(text, "utf-8")
    for each in path.parent.glob(f"__pycache__/{path.stem}.*.pyc"):
        each.unlink()


if __name__ == "__main__":
    main()
