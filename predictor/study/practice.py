"""A practice job on a made-up drill: its files, and one catch at a time."""

import zlib
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path

import numpy as np

from predictor.domain.control import Setting
from predictor.domain.drill import SeedBox
from predictor.errors import InputError, Problem
from predictor.files.drill import read_drill
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row
from predictor.files.plan import read_plan
from predictor.files.settings import read_setting
from predictor.study.drills import SHAPES, MadeUpLot, random_shape

SEED_FILE = "practice-seed.txt"


class NoSuchSetting(ValueError):
    """The box does not have the setting that was asked for."""


@dataclass(frozen=True)
class PracticeCatch:
    """A catch that was made and written to the log."""

    box: str
    setting: Setting
    grams: float
    target_g: float
    log: Path


def practice_files(seed: int) -> dict[str, bytes]:
    """The files of a new practice job."""
    job = resources.files("predictor.study").joinpath("practice_job")
    files = {name: job.joinpath(name).read_bytes() for name in ("drill.toml", "plan.csv")}
    return {**files, "trials.csv": f"{TRIALS.new_header}\n".encode(), SEED_FILE: f"{seed}\n".encode()}


def make_catch(folder: Path, box_name: str, setting_text: str) -> PracticeCatch:
    """Make one catch and add it to trials.csv; raises NoSuchSetting for one that the box does not have."""
    drill = read_drill(folder / "drill.toml")
    plan = read_plan(folder / "plan.csv", drill)
    seed = _seed(folder)
    box = next((each for each in drill.boxes if each.name.lower() == box_name.lower()), None)
    if box is None:
        names = ", ".join(each.name for each in drill.boxes)
        raise InputError([Problem(f"The drill has no box {box_name!r}. Its boxes are {names}.", str(folder))])
    try:
        setting = read_setting(setting_text, box.control, box.name)
    except ValueError as error:
        raise NoSuchSetting(str(error)) from None
    entry = next((each for each in plan.boxes if each.box.name == box.name), None)
    if entry is None:
        raise InputError([Problem(f"The plan has no lot in box {box.name}, so there is no target.", str(folder))])
    path, usual = folder / "trials.csv", drill.catch_of(box)
    turns, rows, step = usual.turns, usual.rows, usual.scale_resolution_g
    made = sum(1 for line in path.read_bytes().splitlines() if line.strip()) - 1
    lot = _hidden_truth(box, entry.target_output, seed)
    grams, _ = lot.catch(np.random.default_rng([seed, made, 99]), setting.opening, turns, rows)
    grams = round(round(grams / step) * step, 6)
    values = {"box": box.name, "lot": entry.lot, "setting": setting.value, "catch_g": grams}
    add_row(TRIALS, path, {**values, "turns": float(turns), "rows": float(rows), "use": "yes"})
    return PracticeCatch(box.name, setting, grams, entry.target_catch_g(turns, rows), path)


def _seed(folder: Path) -> int:
    try:
        return abs(int((folder / SEED_FILE).read_text(encoding="utf-8")))
    except (OSError, ValueError):
        problem = Problem("This is not a practice job. Make one with: predictor simulate DIR --seed 7", str(folder))
        raise InputError([problem]) from None


def _hidden_truth(box: SeedBox, target_output: float, seed: int) -> MadeUpLot:
    """The lot in a practice box, the same for the same seed; its target lies in the middle half of the control."""
    rng = np.random.default_rng([seed, zlib.crc32(box.name.encode())])
    shape = random_shape(rng, SHAPES[int(rng.integers(len(SHAPES)))])
    cv = float(rng.uniform(0.06, 0.10) if box.holds == "chaffy" else rng.uniform(0.02, 0.06))
    count = len(box.first_control.openings)
    at = float(rng.choice(box.first_control.openings[count // 4 : max(3 * count // 4, count // 4 + 1)]))
    lot = MadeUpLot(box, shape, 1.0, cv)
    return replace(lot, level=target_output / float(lot.mean(at)))
