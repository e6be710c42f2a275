"""What becomes of slips: `python -m tests.benchmarks.bench_slips [--jobs 12] [--slip NAME ...] [--processes 2]`.

Every slip of the table is made in simulated jobs of three kinds of box, cold and with earlier lots, early and late, by
file and by typing (one job in `--typed`). Shares are per cent, with Monte Carlo errors where they are sums. "Wrong" is
a setting locked whose true rate is out of tolerance, where the honest rows would not have locked it.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

from predictor.study.runs import each_run
from tests.slips.checks import SLIPS as CHECKS, play_check
from tests.slips.jobs import BOXES, made_up_job
from tests.slips.playing import Outcome, play
from tests.slips.table import LISTED, SLIPS, Way

SCATTERS = (0.03, 0.05, 0.08, 0.12)
RESULTS = ("found", "asked", "said", "silent")


@dataclass(frozen=True)
class Cell:
    """One job to play."""

    slip: str  # "" for a clean job
    way: Way
    box: str
    history: bool
    late: bool
    run: int
    cv: float | None = None


def cells(names: Iterable[str], jobs: int, typed: int) -> list[Cell]:
    """The jobs of every slip: all boxes, cold and with earlier lots, early and late, by turns."""
    found = []
    for name in names:
        if name in CHECKS:
            found += [Cell(name, "file", BOXES[k % 3], bool(k // 3 % 2), False, k) for k in range(jobs)]
            continue
        slip = SLIPS[name]
        for way in slip.ways:
            for k in range(jobs if way == "file" or len(slip.ways) == 1 else max(jobs // typed, 1)):
                # boxes, history and place go round independently of each other
                box, history, late = BOXES[k % 3], bool(k // 3 % 2), bool(k // 6 % 2)
                found.append(Cell(name, way, box, history, late and slip.which in ("one", "from"), k))
    return found


def clean(jobs: int, typed: int) -> list[Cell]:
    """Jobs without a slip, at each scatter."""
    ways: list[tuple[Way, int]] = [("file", jobs), ("typed", max(jobs // typed, 1))]
    return [
        Cell("", way, BOXES[k % 3], bool(k // 3 % 2), False, 1000 + k, cv)
        for cv in SCATTERS
        for way, count in ways
        for k in range(count)
    ]


def played(all_cells: list[Cell], seed: int, i: int) -> Outcome:
    """What became of one job."""
    cell = all_cells[i]
    job = made_up_job(cell.box, history=cell.history, seed=seed, run=cell.run, cv=cell.cv)
    first = int(job.rng.integers(2, 4)) if cell.late else int(job.rng.integers(0, 2))
    with tempfile.TemporaryDirectory() as folder:
        if cell.slip in CHECKS:
            return play_check(job, cell.slip, Path(folder))
        return play(job, SLIPS.get(cell.slip), cell.way, Path(folder), first)


Made = list[tuple[Cell, Outcome]]


def share(hits: int, of: int) -> str:
    """A share in per cent with its Monte Carlo error."""
    if not of:
        return "     -     "
    p = (hits + 0.5) / (of + 1)
    return f"{100 * hits / of:5.1f} +- {100 * np.sqrt(p * (1 - p) / of):3.1f}"


def line(name: str, made: Made) -> str:
    """One line of the table."""
    made = [each for each in made if each[1].result != "none"]
    n, counts = max(len(made), 1), Counter(out.result for _, out in made)
    shares = " ".join(f"{100 * counts[each] / n:5.0f}" for each in RESULTS)
    wrong = {kind: sum(out.result == kind and out.wrong for _, out in made) for kind in ("said", "silent")}
    boxes = {box: [o for c, o in made if c.box == box] for box in BOXES}
    bad = {box: sum(out.result == "silent" and out.wrong for out in mine) for box, mine in boxes.items()}
    by_box = " ".join(f"{bad[box]:>3}/{len(boxes[box]):<3}" for box in BOXES)
    return (
        f"{name:<34}{len(made):>4} {shares}  {100 * wrong['said'] / n:5.0f} {100 * wrong['silent'] / n:6.0f}   {by_box}"
    )


def report(made: Made) -> str:
    """The whole report."""
    head = f"{'slip':<34}{'n':>4} {' '.join(f'{each:>5}' for each in RESULTS)}  said  silent   silent and wrong, of"
    under = f"{'':<34}{'':>4} {' ' * 23}  wrong  wrong   {'     '.join(BOXES)}"
    out = []
    for way in ("file", "typed"):
        mine = [each for each in made if each[0].way == way and each[0].slip]
        if not mine:
            continue
        out += [f"\nBy {way}", head, under]
        out += [line(name, [e for e in mine if e[0].slip == name]) for name in dict.fromkeys(c.slip for c, _ in mine)]
    out += ["", *totals(made), "", *false_alarms([each for each in made if not each[0].slip])]
    lost = Counter(out.lost for _, out in made if out.lost)
    return "\n".join([*out, *(f"A question nobody answered, {n} times: {text[-120:]}" for text, n in lost.items())])


def totals(made: Made) -> list[str]:
    """Sums over slips."""
    listed = {each.name for each in LISTED} | set(CHECKS)
    groups = {
        "listed slips, all": lambda c: c.slip in listed,
        "listed slips, by file": lambda c: c.slip in listed and c.way == "file",
        "listed slips, by typing": lambda c: c.slip in listed and c.way == "typed",
        "listed slips, cold": lambda c: c.slip in listed and not c.history,
        "listed slips, with earlier lots": lambda c: c.slip in listed and c.history,
        "other slips, all": lambda c: c.slip and c.slip not in listed,
    }
    out = [f"{'':<34}{'n':>5}  {'silent':^12} {'silent and wrong':^16} {'said and wrong':^16}"]
    for name, picks in groups.items():
        mine = [o for c, o in made if picks(c) and o.result != "none"]
        silent = [o for o in mine if o.result == "silent"]
        said = sum(o.result == "said" and o.wrong for o in mine)
        out.append(f"{name:<34}{len(mine):>5}  {share(len(silent), len(mine))}  "
                   f"{share(sum(o.wrong for o in silent), len(mine)):>14}   {share(said, len(mine)):>14}")  # fmt: skip
    return out


def false_alarms(made: Made) -> list[str]:
    """What clean jobs raise."""
    heads = f"{'with an alarm':^13}  {'of catches':^19}  locked  {'locked wrong':^13}"
    out = [f"{'Clean jobs':<22}{'jobs':>5}  {heads}"]
    for way in ("file", "typed"):
        for cv in (*SCATTERS, None):
            mine = [o for c, o in made if c.way == way and cv in (None, c.cv)]
            catches, alarms = sum(o.catches for o in mine), sum(len(o.alarms) for o in mine)
            locked = [o for o in mine if o.off is not None]
            shares = [share(sum(bool(o.alarms) for o in mine), len(mine)), share(alarms, catches),
                      share(sum(o.wrong for o in locked), len(locked))]  # fmt: skip
            name = f"by {way}, CV {'all' if cv is None else f'{100 * cv:.0f} %'}"
            out.append(f"{name:<22}{len(mine):>5}  {shares[0]:>13}  "
                       f"{shares[1]:>13} {catches:>5}  {len(locked):>6}  {shares[2]:>13}")  # fmt: skip
        codes = Counter(code for c, o in made if c.way == way for code in o.alarms)
        out += [f"   {n} x {code}" for code, n in codes.most_common()]
    return out


def worst(made: Made) -> str:
    """The slips that need most: silent and wrong, and found late."""
    rows = []
    for name in dict.fromkeys(c.slip for c, _ in made if c.slip):
        for way in ("file", "typed"):
            mine = [o for c, o in made if c.slip == name and c.way == way and o.result != "none"]
            bad = sum(o.result == "silent" and o.wrong for o in mine)
            late = [o.late for o in mine if o.result == "found" and o.late > 1]
            if bad or len(late) > 0.3 * len(mine):
                slow = f"; found after {np.mean(late):.1f} more catches in {len(late)}" if late else ""
                rows.append((bad / len(mine), f"{name} ({way}): silent and wrong {bad} of {len(mine)}{slow}"))
    return "\n".join(text for _, text in sorted(rows, reverse=True))


def main() -> None:
    """Play and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=12, help="by file, a slip")
    parser.add_argument("--typed", type=int, default=3, help="by typing one job for so many by file")
    parser.add_argument("--clean", type=int, default=60, help="clean jobs by file at each scatter")
    parser.add_argument("--slip", nargs="*", default=[*SLIPS, *CHECKS])
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--seed", type=int, default=15)
    parser.add_argument("--worst", action="store_true", help="the slips that need most as well")
    given = parser.parse_args()
    todo = [*cells(given.slip, given.jobs, given.typed), *clean(given.clean, given.typed)]
    made = list(zip(todo, each_run(partial(played, todo, given.seed), range(len(todo)), given.processes), strict=True))
    print(report(made))
    if given.worst:
        print("\n" + worst(made))


if __name__ == "__main__":
    main()
