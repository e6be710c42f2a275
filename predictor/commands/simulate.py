"""predictor simulate: a made-up drill to practise on, and how often the advice is right."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from predictor.commands.options import AsJson, number
from predictor.commands.output import begin_job, lead_on, print_json

if TYPE_CHECKING:
    import numpy as np

    from predictor.domain.drill import SeedBox
    from predictor.study.simulate import Coverage, MadeUpLot, Result, Setup

HELP = """Practise on a made-up drill, or see how often the advice is right.

Make a practice job, then catch at settings of your choice; each catch is written into its trials.csv:

    predictor simulate practice --seed 7

    predictor simulate practice --box small --setting 30

    predictor recommend practice/trials.csv

How often the advice is right, beside the usual hand methods and one who knows the true curve:

    predictor simulate --study --runs 400

Every drill, lot and weight here is invented.
"""

SEED_FILE = "practice-seed.txt"
# The study's rows: true repeatability, and the kind of seed the box is said to hold. The last two are boxes that
# scatter more than their kind is expected to.
STUDY = (
    (0.03, "free-flowing"),
    (0.05, "free-flowing"),
    (0.08, "chaffy"),
    (0.12, "chaffy"),
    (0.08, "free-flowing"),
    (0.12, "free-flowing"),
)
# Cover of the intervals: catches at settings of the middle half, repeatability drawn between these.
COVER_CATCHES, COVER_CV = (2, 3, 5, 8, 12), (0.03, 0.12)
NAMES = {"one-catch": "one-catch rule", "two-catch": "two-catch rule", "oracle": "oracle", "advice": "this program"}


def command(
    folder: Annotated[str | None, typer.Argument(metavar="DIR", help="Folder of the practice job.")] = None,
    seed: Annotated[int, typer.Option(help="Another seed is another drill.", min=0)] = 1,
    box: Annotated[str | None, typer.Option(metavar="BOX", help="Catch from this box.")] = None,
    setting: Annotated[str | None, typer.Option(metavar="SETTING", help="Catch at this setting.")] = None,
    study: Annotated[bool, typer.Option("--study", help="Print how often the advice is right.")] = False,
    runs: Annotated[int, typer.Option(help="Made-up calibrations a row.", min=10, max=100_000)] = 200,
    tolerance: Annotated[
        float, typer.Option(metavar="FRACTION", parser=number(below=1.0), help="Tolerance of the study.")
    ] = 0.10,
    step: Annotated[
        float,
        typer.Option(
            metavar="SHARE",
            parser=number(above=0.0005, below=0.3),
            help="Lever step of the study, share of its range.",
        ),
    ] = 0.01,
    rows_differ: Annotated[
        float,
        typer.Option(metavar="FRACTION", parser=number(above=-1e-9, below=0.5), help="How rows differ in the study."),
    ] = 0.0,
    as_json: AsJson = False,
) -> None:
    """Practise, or study."""
    if study:
        _study(runs, seed, tolerance, step, rows_differ, as_json)
        return
    if as_json:
        raise typer.BadParameter("It goes with --study: practice writes files.", param_hint="--json")
    if folder is None:
        raise typer.BadParameter("Name a folder to practise in, or add --study.", param_hint="DIR")
    if box is None and setting is None:
        _begin(Path(folder), seed)
    elif box is None or setting is None:
        raise typer.BadParameter("A catch needs both --box and --setting.", param_hint="--box")
    else:
        _catch(Path(folder), box, setting)


# -- practice ---------------------------------------------------------------------------------


def _begin(folder: Path, seed: int) -> None:
    """Write drill.toml, plan.csv and an empty trials.csv; never over files that are there."""
    from importlib import resources

    from predictor.files.log import HEADER

    practice = resources.files("predictor.study").joinpath("practice")
    files = {name: practice.joinpath(name).read_bytes() for name in ("drill.toml", "plan.csv")}
    begin_job(folder, {**files, "trials.csv": f"{HEADER}\n".encode(), SEED_FILE: f"{seed}\n".encode()})
    print(f"A made-up drill stands in {folder}.")
    lead_on("What to catch:", "plan", "--job", folder)
    lead_on("Make a catch:", "simulate", folder, "--box", "small", "--setting", "30")


def _catch(folder: Path, box_name: str, setting_text: str) -> None:
    """Make one catch and add it to trials.csv."""
    import numpy as np

    from predictor.errors import InputError, Problem
    from predictor.files.drill import read_drill
    from predictor.files.plan import read_plan

    drill = read_drill(folder / "drill.toml")
    plan = read_plan(folder / "plan.csv", drill)
    seed = _seed(folder)
    box = next((each for each in drill.boxes if each.name.lower() == box_name.lower()), None)
    if box is None:
        names = ", ".join(each.name for each in drill.boxes)
        raise InputError([Problem(f"The drill has no box {box_name!r}. Its boxes are {names}.", str(folder))])
    opening = _opening(box, setting_text)
    entry = next((each for each in plan.boxes if each.box.name == box.name), None)
    if entry is None:
        raise InputError([Problem(f"The plan has no lot in box {box.name}, so there is no target.", str(folder))])
    path = folder / "trials.csv"
    made = sum(1 for line in path.read_bytes().splitlines() if line.strip()) - 1
    lot = _made_up(box, entry.target_output, seed)
    rng = np.random.default_rng([seed, made, 99])
    grams, _ = lot.catch(rng, opening, drill.catch.turns, drill.catch.rows)
    grams = round(grams / drill.catch.scale_resolution_g) * drill.catch.scale_resolution_g
    shown = box.control.at(opening).text
    from predictor.domain.control import Lever
    from predictor.files.log import add_catch

    written_as = float(shown) if isinstance(box.control, Lever) else shown
    values = {"box": box.name, "lot": entry.lot, "setting": written_as, "catch_g": round(grams, 6)}
    add_catch(path, {**values, "turns": float(drill.catch.turns), "rows": float(drill.catch.rows), "use": "yes"})
    print(
        f"Box {box.name} at {shown}: {grams:.1f} g "
        f"(target {entry.target_catch_g(drill.catch.turns, drill.catch.rows):.1f} g)"
    )
    lead_on("What do the catches say?", "recommend", path)


def _seed(folder: Path) -> int:
    from predictor.errors import InputError, Problem

    try:
        seed = int((folder / SEED_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        seed = -1
    if seed < 0:
        raise InputError(
            [Problem("This is no practice job. Make one with: predictor simulate DIR --seed 7", str(folder))]
        )
    return seed


def _opening(box: SeedBox, text: str) -> float:
    """Opening of a setting given as an option."""
    from predictor.domain.control import Sprockets
    from predictor.numbers import parse_number

    control = box.control
    if isinstance(control, Sprockets):
        if text not in control.ratios:
            raise typer.BadParameter(
                f"Box {box.name} has positions {', '.join(control.ratios)}.", param_hint="--setting"
            )
        return control.opening(text)
    try:
        value = parse_number(text, what="a lever reading")
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--setting") from None
    if not control.has(value):
        raise typer.BadParameter(
            f"The scale runs from {control.lowest:g} to {control.highest:g}.", param_hint="--setting"
        )
    return control.opening(value)


def _made_up(box: SeedBox, target_output: float, seed: int) -> MadeUpLot:
    """The hidden truth of a practice box: the same for the same seed."""
    import zlib

    import numpy as np

    from predictor.study.simulate import SHAPES, MadeUpLot, random_shape

    rng = np.random.default_rng([seed, zlib.crc32(box.name.encode())])
    shape = random_shape(rng, SHAPES[int(rng.integers(len(SHAPES)))])
    cv = float(rng.uniform(0.06, 0.10) if box.holds == "chaffy" else rng.uniform(0.02, 0.06))
    control = box.control
    at = float(rng.choice(_middle(control.openings)))
    level = target_output / float(shape((at - control.lowest_opening) / control.span))
    return MadeUpLot(box, shape, level, cv)


def _middle(openings: np.ndarray) -> np.ndarray:
    count = len(openings)
    return openings[count // 4 : max(3 * count // 4, count // 4 + 1)]


# -- study ------------------------------------------------------------------------------------


def _study(runs: int, seed: int, tolerance: float, step: float, rows_differ: float, as_json: bool) -> None:
    from dataclasses import asdict

    from predictor.domain.control import Lever
    from predictor.study.simulate import Setup, coverage, study

    control = Lever(0, 100, round(100 * step, 6))
    cold = [Setup(cv, holds, control, tolerance, 0, rows_differ) for cv, holds in STUDY]
    warm = [Setup(cv, holds, control, tolerance, 6, rows_differ) for cv, holds in STUDY]
    bar = _Bar((2 * len(STUDY) + len(COVER_CATCHES)) * runs)
    results = []
    for setup in cold:
        results.append((setup, study(setup, runs, seed, tick=bar.tick)))
    for setup in warm:
        results.append((setup, study(setup, runs, seed, rules=("advice",), tick=bar.tick)))
    covers = [coverage(COVER_CV, catches, runs, seed, tick=bar.tick) for catches in COVER_CATCHES]
    bar.end()
    if as_json:
        rows = [_row(*each) for each in results]
        print_json({"schema": 1, "runs": runs, "seed": seed, "rows": rows, "cover": [asdict(each) for each in covers]})
    else:
        print("\n".join(table(results, runs, tolerance) + cover_table(covers)))


class _Bar:
    """A progress bar on standard error, where that is a terminal."""

    def __init__(self, total: int):
        self.total, self.done, self.shown = total, 0, -1
        self.on = sys.stderr.isatty()

    def tick(self) -> None:
        self.done += 1
        part = 40 * self.done // self.total
        if self.on and part != self.shown:
            self.shown = part
            print(f"\r[{'#' * part}{'.' * (40 - part)}]", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        if self.on:
            print(file=sys.stderr)


def _row(setup: Setup, results: list[Result]) -> dict:
    from dataclasses import asdict

    return {
        "repeatability": setup.cv,
        "holds": setup.holds,
        "tolerance": setup.tolerance,
        "earlier_lots": setup.earlier_lots,
        "rules": [asdict(result) for result in results],
    }


def table(results: list[tuple[Setup, list[Result]]], runs: int, tolerance: float) -> list[str]:
    """The study as a table: mean catches and share right, with Monte Carlo errors."""
    lines = [
        f"{runs} made-up calibrations a row, tolerance {100 * tolerance:g} %. Mean catches; share of locked",
        "settings truly within tolerance; +- one Monte Carlo standard error.",
        "",
        f"{'repeatability':<22}{'rule':<40}{'catches':>14}{'right, %':>14}",
    ]
    oracle: dict[float, float] = {}
    for setup, parts in results:
        for k, part in enumerate(parts):
            if part.rule == "oracle":
                oracle[setup.cv] = part.catches
            name = NAMES[part.rule]
            if part.rule == "advice":
                name += f", {setup.earlier_lots} earlier lots" if setup.earlier_lots else ", cold"
                if setup.cv in oracle:
                    name += f" ({part.catches / oracle[setup.cv]:.2f} x)"
            where = f"{100 * setup.cv:g} %, {setup.holds}" if k == 0 else ""
            lines.append(
                f"{where:<22}{name:<40}{part.catches:>7.2f} +-{part.catches_error:>4.2f}"
                f"{100 * part.right:>8.1f} +-{100 * part.right_error:>3.1f}"
            )
    lines += ["", "In brackets: catches over the oracle's, which knows the true curve's shape and the scatter."]
    return lines


def cover_table(covers: list[Coverage]) -> list[str]:
    """How often 95 % intervals held the truth."""
    low, high = (100 * end for end in COVER_CV)
    lines = [
        "",
        f"95 % intervals that held the truth, per cent; free-flowing, repeatability drawn from {low:g} to {high:g} %,",
        f"cold; +- one Monte Carlo standard error, {100 * covers[0].error:.1f}.",
        "",
        f"{'catches':<10}{'mean':>10}{'next catch':>14}{'setting':>12}",
    ]
    lines += [
        f"{each.catches:<10}{100 * each.mean:>10.1f}{100 * each.next:>14.1f}{100 * each.setting:>12.1f}"
        for each in covers
    ]
    return lines
