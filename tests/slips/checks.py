"""Slips in field checks: a made-up job is locked, checked in the field, and the row of the check is spoilt.

The true field rate is that of the standing drill times a field factor about 0.918, as published (page for the
statistician); a check is good to 4 %.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

from predictor.errors import InputError
from predictor.job.read import read_job
from predictor.units import GRAMS, SQUARE_METRES
from tests import running
from tests.slips.jobs import DAY, LAST_YEAR, MadeUpJob, Row, table
from tests.slips.playing import TOLERANCE, Outcome, play

FACTOR, FACTOR_SPREAD, CHECK_ERROR = 0.918, 0.055, 0.04


def _times(name: str, *factors: float) -> Callable[[MadeUpJob, Row], Row]:
    def write(job: MadeUpJob, row: Row) -> Row:
        column = next(each for each in row if each.startswith(name))
        return {**row, column: round(float(str(row[column])) * float(job.rng.choice(factors)), 2)}

    return write


def _swapped(job: MadeUpJob, row: Row) -> Row:
    area, loaded, left = (
        next(each for each in row if each.startswith(name)) for name in ("area", "seed_l", "seed_left")
    )
    used = round(float(str(row[loaded])) - float(str(row[left])), 2)
    return {**row, area: used, loaded: row[area], left: 0}


def _not_weighed_back(job: MadeUpJob, row: Row) -> Row:
    return {name: 0 if name.startswith("seed_left") else cell for name, cell in row.items()}


SLIPS: dict[str, Callable[[MadeUpJob, Row], Row]] = {
    "check: area and seed swapped": _swapped,
    "check: seed not weighed back": _not_weighed_back,
    "check: wrong acres": _times("area", 0.5, 0.7, 1.4, 2.0),
    "check: acres and hectares": _times("area", 2.471, 1 / 2.471),
    "check: pounds and kilograms": _times("seed_loaded", 2.2046, 1 / 2.2046),
    "check: last year's": lambda job, row: {**row, "date": LAST_YEAR},
}


def play_check(job: MadeUpJob, name: str, folder: Path) -> Outcome:
    """Calibrate without a slip, check in the field, and see what is made of the spoilt row."""
    outcome = play(job, None, "file", folder)
    if outcome.off is None:
        return Outcome("none")
    factor = FACTOR * float(np.exp(FACTOR_SPREAD * job.rng.standard_normal()))
    row = _row(job, factor * (1 + outcome.off) * float(np.exp(CHECK_ERROR * job.rng.standard_normal())))
    _, _, honest = _answer(job, folder, row, factor, outcome.off)
    if name == "check: last year's":  # another lot, whose rate was another
        row = _row(job, factor * float(np.exp(job.rng.choice([-1, 1]) * job.rng.uniform(0.15, 0.4))))
    result, code, end = _answer(job, folder, SLIPS[name](job, row), factor, outcome.off)
    found = Outcome(result, code, "lock", end, catches=outcome.catches)
    found.by_scatter = abs(honest) > TOLERANCE
    return found


def _row(job: MadeUpJob, ratio: float) -> Row:
    """A check that found so much of the target, over about two acres, as the scale shows it."""
    area, weight = ("ac", "lb") if job.units == "us" else ("ha", "kg")
    ground = float(job.rng.uniform(6000, 16000))
    used = ratio * job.target / (job.drill["wheel_m"] * job.drill["spacing_m"]) * ground
    left = used * float(job.rng.uniform(0.1, 0.6))
    return {"date": DAY, "box": job.box.name, "lot": job.name, "setting": job.rows[-1]["setting"],
            f"area_{area}": round(ground / SQUARE_METRES[area], 3),
            f"seed_loaded_{weight}": round((used + left) / GRAMS[weight], 2),
            f"seed_left_{weight}": round(left / GRAMS[weight], 2)}  # fmt: skip


def _answer(job: MadeUpJob, folder: Path, row: Row, factor: float, off: float) -> tuple[str, str, float]:
    """What becomes of a check: its result and code, and how far off the field rate is in the end."""
    advised = read_job(folder, today=running.TODAY, use_field_factor=False)
    stage = advised.stages(job.box.name, job.name)[0]
    (folder / "field.csv").write_text(table([{**row, "setting": stage.advice.advised.text}]), encoding="utf-8")
    stay = factor * (1 + off) - 1
    try:
        here = read_job(folder, today=running.TODAY)
        verdict = here.verdict(job.box.name, job.name)
    except InputError as error:
        return "found", f"error {error.problems[0].column or ''}", stay
    result = here.field.checks[0] if here.field else None
    if verdict is None:
        return "said" if result is not None and result.why_not is not None else "silent", "no verdict", stay
    if verdict.answer == "weigh":
        return "found", verdict.why.code, stay
    end = stay if verdict.move_to is None else factor * (1 + job.off(verdict.move_to.opening)) - 1
    return "said" if result is not None and result.given is not None else "silent", verdict.answer, end
