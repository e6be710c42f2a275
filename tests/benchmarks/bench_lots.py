"""Time, memory and growth for 100,000 catches in 5,000 lots, against a loop of statsmodels fits lot by lot.

Run `python -m tests.benchmarks.bench_lots`. The loop fits to each lot what `fit_own` fits to all at once: a line with
one coefficient of variation (a Gamma model with identity link), and its limits. Both run on the same machine in one
run. The catches are invented.
"""

from __future__ import annotations

import os

os.environ |= {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}

import csv
import resource
import subprocess
import sys
import tempfile
import time
import warnings
from itertools import pairwise
from pathlib import Path

import numpy as np

from predictor.domain.control import Lever
from predictor.domain.drill import SeedBox
from predictor.domain.trials import Trials
from predictor.files.trials import read_trials
from predictor.lots.catches import select
from predictor.lots.compare import compare_lots
from predictor.lots.shapes import fit_common, fit_own

BOX = SeedBox("small", "small", Lever(0, 60, 1))
MEASURED = """
import resource, subprocess, sys
subprocess.run([sys.executable, "-m", "predictor", "compare", sys.argv[1]], check=True, capture_output=True)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(used.ru_utime + used.ru_stime, used.ru_maxrss)
"""
SIZES = ((500, 10_000), (1_000, 20_000), (2_500, 50_000), (5_000, 100_000))


def made_up(lots: int, catches: int, *, own_dead: bool = False, seed: int = 1) -> Trials:
    """A log of lots that differ by 12 % and catches that scatter by 5 %. One lot in twenty has two seasons."""
    rng = np.random.default_rng(seed)
    lot = rng.integers(0, lots, catches)
    lot[:lots] = np.arange(lots)
    opening = rng.integers(10, 60, catches).astype(float)
    dead = np.minimum(rng.normal(3, 2, lots), 8.0) if own_dead else np.full(lots, 3.0)
    level = rng.normal(0, 0.12, lots)
    output = np.exp(level[lot] + 0.05 * rng.normal(size=catches)) * 0.05 * (opening - dead[lot])
    season = 2020 + lot % 5 + ((lot % 20 == 0) & (rng.random(catches) < 0.5))
    empty, unknown, yes = np.full(catches, "", dtype=object), np.full(catches, np.nan), np.ones(catches, dtype=bool)
    return Trials(
        box=np.full(catches, BOX.name, dtype=object), lot=np.char.add("L", lot.astype(str)).astype(object),
        season=season.astype(str).astype(object), setting=opening.astype(int).astype(str).astype(object),
        opening=opening, catch_g=output * 60, turns=np.full(catches, 20.0), rows=np.full(catches, 3.0),
        rows_g=(None,) * catches, parts_g=(None,) * catches, charged=yes, use=yes,
        distance_m=unknown, fill_pct=unknown, target_g=unknown, date=empty, drill_name=empty, operator=empty,
        note=empty, line=np.arange(2, catches + 2),
    )  # fmt: skip


def seconds(call) -> float:
    """CPU seconds, of one thread."""
    start = time.process_time()
    call()
    return time.process_time() - start


def lot_by_lot(trials: Trials) -> list:
    """A Gamma model with identity link for each lot, with limits, by statsmodels."""
    import statsmodels.api as sm

    warnings.simplefilter("ignore")  # on import, statsmodels turns on its warning of the identity link
    order = np.argsort(trials.lot, kind="stable")
    output, opening, lot = trials.output[order], trials.opening[order], trials.lot[order]
    starts = np.flatnonzero(np.concatenate([[True], lot[1:] != lot[:-1], [True]]))
    family = sm.families.Gamma(link=sm.families.links.Identity())
    found = []
    for first, last in pairwise(starts):
        design = sm.add_constant(opening[first:last], has_constant="add")
        found.append(sm.GLM(output[first:last], design, family=family).fit().conf_int())
    return found


def main() -> None:
    compare_lots(made_up(50, 1_000), BOX)
    for own_dead in (False, True):
        print("each lot its own dead setting" if own_dead else "one dead setting for all lots")
        for lots, catches in SIZES:
            trials = made_up(lots, catches, own_dead=own_dead)
            taken = min(seconds(lambda trials=trials: compare_lots(trials, BOX).to_dict()) for _ in range(3))
            print(f"  {catches:7,} catches, {lots:5,} lots: {taken:5.2f} s, {1e6 * taken / catches:5.1f} us a catch")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"peak memory before statsmodels: {peak / (2**20 if sys.platform == 'darwin' else 2**10):.0f} MiB (aim 1024)")
    trials = made_up(*SIZES[-1])
    lot_by_lot(made_up(5, 100))  # what it imports
    ours, loops = list[float](), list[float]()
    with tempfile.TemporaryDirectory() as folder:
        path = written(trials, Path(folder, "trials.csv"))
        for _ in range(3):  # in turns, since other work slows both
            for _ in range(3):
                again = read_trials(path)  # with what the reader keeps, and nothing that a comparison did
                ours.append(seconds(lambda again=again: compare_lots(again, BOX)))
            loops.append(seconds(lambda: lot_by_lot(trials)))
        told = command(path, folder)
    whole, loop = min(ours), min(loops)
    common = fit_common(select(trials, BOX), 0.95)
    fits = min(seconds(lambda: fit_own(common)) for _ in range(3))
    print(f"statsmodels, lot by lot: {loop:.1f} s")
    print(f"the same fits here: {fits:.2f} s, {loop / fits:.0f} x faster")
    print(f"the whole comparison: {whole:.2f} s, {loop / whole:.0f} x faster (aim 30 x)")
    print(told)


def written(trials: Trials, path: Path) -> Path:
    """These catches in a file."""
    names = ("box", "lot", "season", "setting", "catch_g", "turns", "rows")
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file)
        table.writerow(names)
        table.writerows(zip(*(getattr(trials, name).tolist() for name in names), strict=True))
    return path


def command(path: Path, folder: str) -> str:
    """CPU time and memory of the whole command on the catches in a file."""
    # by way of a small program: memory of a child counts from what its parent held when it began
    run = [sys.executable, "-c", MEASURED, str(path)]
    # compiled by the first run, as an installed program is
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    env["PYTHONPYCACHEPREFIX"] = folder
    told = [subprocess.run(run, check=True, capture_output=True, text=True, env=env).stdout.split() for _ in range(4)]
    taken, peak = min(float(each[0]) for each in told), max(float(each[1]) for each in told[1:])
    peak /= 2**20 if sys.platform == "darwin" else 2**10
    return f"predictor compare: {taken:.2f} s of CPU (aim 1), {peak:.0f} MiB (aim 139)"


if __name__ == "__main__":
    main()
