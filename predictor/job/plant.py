"""A line of what was planted: the evidence for it at this moment, and what in it looks like a slip."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np

from predictor import __version__
from predictor.advice.aim import CONFIDENCE, TOLERANCE
from predictor.advice.lot_fit import LotFit
from predictor.domain.catch import rate_for_output
from predictor.domain.control import Lever, Setting
from predictor.domain.drill import SeedBox
from predictor.domain.drives import on_drive
from predictor.domain.planted import Evidence, PlantedLine, PlantedLot
from predictor.domain.result import Remark
from predictor.domain.seed import BoxPlan
from predictor.field.usual import LEAST_FACTOR, MOST_FACTOR
from predictor.field.verdict import Verdict
from predictor.files.evidence import evidence_cell
from predictor.files.form import Value
from predictor.job.job import Job
from predictor.job.planting import noted, planted_m2
from predictor.job.task import Task
from predictor.units import Units, rate_from

# An area may exceed what is left of a field by so much: areas are rounded, and headlands overlap. Judgement.
OVERLAP = 0.05

# Chance, mean rate and its 95 % limits where nothing is known.
_NOTHING = (math.nan, math.nan, math.nan, math.nan)


def known_on(job: Job, day: str) -> Job:
    """The job without the catches and checks made after a day: a line that is entered late rests on none of them."""
    checks = job.checks.checks if job.checks else ()
    early = tuple(each for each in checks if each.date <= day)
    before = job.trials.date <= day  # a catch without a date may be of any day
    if before.all() and len(early) == len(checks):
        return job
    kept = None if job.checks is None else replace(job.checks, checks=early)
    return replace(job, trials=job.trials.where(before), checks=kept, _kept={}).corrected()


def evidence_of(
    job: Job,
    box: SeedBox,
    lot: str,
    setting: Setting,
    tolerance: float = TOLERANCE,
    confidence: float = CONFIDENCE,
) -> Evidence:
    """What is known at this moment of a box and lot at a setting."""
    task = next(iter(job.tasks(box.name, lot)), None)
    advice = None if task is None else job.advice(task, tolerance, confidence)
    entry = None if job.plan is None else job.plan.target(box.name, lot)
    fit = job._fit_on(box, lot, setting.drive)
    factor = _factor(job, box, task, fit)
    chance, *expected = _NOTHING if fit.curve is None else _there(job, fit, setting, task, factor, tolerance)
    used = fit.catches.where(np.isin(fit.catches.line, fit.used.line))
    columns = (used.date, used.setting, used.turns, used.rows, used.catch_g)
    verdict = _verdict(job, box, lot)
    return Evidence(
        program=__version__,
        made=job.today.isoformat(),
        season=fit.season,
        decision="" if advice is None else advice.decision,
        advised="" if advice is None or advice.advised is None else advice.advised.text,
        chance=math.nan if advice is None or advice.chance is None else chance,
        tolerance=tolerance,
        confidence=confidence,
        target=math.nan if task is None else rate_for_output(task.target_output, job.drill, box, factor),
        carrier=math.nan if entry is None else entry.carrier,
        expected=expected[0],
        expected_low=expected[1],
        expected_high=expected[2],
        field_factor=factor,
        target_catch_g=math.nan if advice is None else advice.target_output * advice.turns * advice.rows,
        turns=fit.turns_caught,
        rows=fit.rows_caught,
        towed=fit.towed,
        repeatability=math.nan if advice is None or advice.repeatability is None else advice.repeatability,
        model="" if advice is None else advice.model,
        catches=tuple(zip(*(each.tolist() for each in columns), strict=True)),
        left_out=len(fit.catches) - len(fit.used),
        history="" if advice is None else advice.history,
        field_answer="" if verdict is None else verdict.answer,
        lots=() if entry is None else _lots(entry),
        files=_files(job),
        slips=() if advice is None else tuple(str(each) for each in advice.slips if each.waits),
        given="" if advice is None or advice.given is None else str(advice.given),
        confirmed=tuple(used.line[used.confirmed].tolist()),
    )


def _factor(job: Job, box: SeedBox, task: Task | None, fit: LotFit) -> float:
    """The field factor that turns outputs of this lot into rates; slip is in those of a towed one."""
    if task is not None:
        return task.field_factor
    found = None if job.field is None or not job.use_field_factor or fit.towed else job.field.of(box.name)
    return 1.0 if found is None else found.factor


def _there(
    job: Job, fit: LotFit, setting: Setting, task: Task | None, factor: float, tolerance: float
) -> tuple[float, float, float, float]:
    """Chance of being within tolerance at a setting, and the rate to be expected there with its 95 % limits."""
    assert fit.curve is not None
    mean, limits = fit.whole_drill(setting.opening)
    rate, low_rate, high_rate = (rate_for_output(each, job.drill, fit.box, factor) for each in (mean, *limits))
    chance = math.nan
    if task is not None:
        low, high = (task.target_output * (1 + way * tolerance) for way in (-1, 1))
        chance = float(fit.curve.probability(np.array([setting.opening]), low, high, fit.row_variance)[0])
    return min(max(chance, 0.0), 1.0), rate, low_rate, high_rate


def _lots(entry: BoxPlan) -> tuple[PlantedLot, ...]:
    """What is in the box, by its tags."""
    return tuple(
        PlantedLot(
            *(each.lot, each.species, each.bag, each.bulk_rate / entry.bulk_rate),
            # of this species alone: the plan has it as a part of the whole bag
            *(each.purity, each.germination, each.dormant, each.hard, each.tz, each.pls_rate / each.bulk_rate),
            *(each.viable, each.seeds_per_g, each.test_date),
            *(each.other_crop, each.weed, each.inert, each.coating),
            *(each.noxious, each.origin, each.variety, each.treatment, each.method),
        )
        for each in entry.lots
    )


def _files(job: Job) -> tuple[tuple[str, str], ...]:
    """Name and digest of each file that the evidence rests on."""
    logs = [(Path(each.file).name, each.digest) for each in (job.trials, *job.earlier)]
    checks = ("field.csv", job.checks.digest if job.checks else "")
    named = [("drill.toml", job.drill.digest), ("plan.csv", job.plan.digest if job.plan else ""), *logs, checks]
    return tuple((name, digest) for name, digest in named if digest)


def cells_of(line: PlantedLine, units: Units) -> dict[str, Value]:
    """The cells of a line in planted.csv, by column; amounts in grams and square metres."""
    evidence, per = line.evidence, rate_from(1.0, units)
    values: dict[str, Value | None] = {
        "date": line.date,
        "field": line.field,
        "box": line.box.name,
        "lot": line.lot,
        "setting": line.setting.text,
        "area_m2": line.area_m2,
        "loaded_g": line.loaded_g,
        "left_g": line.left_g,
        "use": "yes" if line.use else "no",
        "operator": line.operator,
        "note": line.note,
    }
    if evidence is not None:
        values |= {
            "decision": evidence.decision,
            "chance": _figures(evidence.chance),
            "target_rate": _figures(evidence.target, per),
            "expected_rate": _figures(evidence.expected, per),
            "catches": str(len(evidence.catches)),
            "field_factor": _figures(evidence.field_factor),
            "program": evidence.program,
            "evidence": evidence_cell(evidence, line.setting, line.box.name, line.lot),
        }
    return {name: value for name, value in values.items() if value is not None and value == value}


def _figures(value: float, unit: float = 1.0) -> float:
    """A figure for people, short in its unit: the cell of the evidence has all digits."""
    return float(f"{value / unit:.4g}") * unit


def questions(job: Job, line: PlantedLine) -> list[Remark]:
    """What looks like a slip, to be answered with yes or no."""
    asked = [*_of_setting(job, line), *_of_field(job, line)]
    if line.date > job.today.isoformat():
        asked.append(Remark("planted.future_day", {"day": line.date}))
    if _far(line):
        assert line.evidence is not None
        values = {"rate": line.rate, "target": line.evidence.target, "units": job.drill.units}
        asked.append(Remark("planted.far", {**values, "box": line.box.name}))
    same = next((each for each in job.planted.lines if each.use and _same(each, line)), None)
    if same is not None:
        asked.append(Remark("planted.same_again", {"line": same.line}))
    return asked


def _of_setting(job: Job, line: PlantedLine) -> list[Remark]:
    """Whether the box stands where it was locked."""
    evidence, control = line.evidence, on_drive(line.box.control, line.setting.drive)
    values = {"box": line.box.name, "lot": line.lot, "setting": line.setting.text}
    found = []
    if isinstance(control, Lever) and control.between_steps(line.setting):
        found.append(Remark("log.between_steps", {**values, "step": control.step}))
    if evidence is None or not evidence.decision:
        return [*found, Remark("planted.no_target", values)]
    in_force = setting_in_force(job, line.box, line.lot, evidence.tolerance, evidence.confidence)
    if in_force is None:
        known = {"advised": evidence.advised, "catches": len(evidence.catches), "slips": evidence.slips}
        found.append(Remark("planted.not_locked", {**values, "decision": evidence.decision, **known}))
    elif line.setting not in (in_force, before_move(job, line.box, line.lot)):
        found.append(Remark("planted.other_setting", {**values, "locked": in_force.text, "chance": evidence.chance}))
    return found


def setting_in_force(
    job: Job, box: SeedBox, lot: str, tolerance: float = TOLERANCE, confidence: float = CONFIDENCE
) -> Setting | None:
    """Where the box is to stand with a lot, as its stage says; before a lock where one is offered."""
    stage = next(iter(job.stages(box.name, lot, tolerance=tolerance, confidence=confidence)), None)
    if stage is None or stage.setting is not None:
        return None if stage is None else stage.setting
    return stage.advice.advised if stage.advice.offers_lock else None


def before_move(job: Job, box: SeedBox, lot: str) -> Setting | None:
    """Where a box stood in the check that moved it, until what was planted there is noted; None in all other cases."""
    verdict = _verdict(job, box, lot)
    if verdict is None or verdict.answer != "move" or noted(verdict, job.planted.of(box.name, lot)):
        return None
    return verdict.setting


def _verdict(job: Job, box: SeedBox, lot: str) -> Verdict | None:
    """What the field checks of this season say of a lot."""
    found, task = job.verdict(box.name, lot), next(iter(job.tasks(box.name, lot)), None)
    return found if found is not None and task is not None and found.season == (task.season or "") else None


def _of_field(job: Job, line: PlantedLine) -> list[Remark]:
    """Whether the field is one of the job's, and whether so much of it is left for this box."""
    fields = {each.name.lower(): each for each in job.drill.fields}
    if not fields:
        return []
    field = fields.get(line.field.lower())
    if field is None:
        return [Remark("planted.new_field", {"field": line.field, "fields": tuple(job.drill.fields)})]
    left = field.area_m2 - planted_m2(job.planted.season(line.date), field.name, line.box.name)
    if line.area_m2 <= left + OVERLAP * field.area_m2:
        return []
    values = {"field": field.name, "box": line.box.name, "area_m2": line.area_m2, "units": job.drill.units}
    return [Remark("planted.more_than_left", {**values, "left_m2": max(left, 0.0), "field_m2": field.area_m2})]


def _far(line: PlantedLine) -> bool:
    """Whether the rate is so far from target that a weight or an area is likely wrong."""
    ratio = line.rate / line.evidence.target if line.evidence else math.nan
    return not math.isnan(ratio) and not LEAST_FACTOR <= ratio <= MOST_FACTOR


def _same(one: PlantedLine, other: PlantedLine) -> bool:
    """Whether two lines say the same of one day, but for rounding in the file."""
    named = [(each.date, each.field.lower(), each.box.name, each.lot.lower(), each.setting) for each in (one, other)]
    pairs = ((one.area_m2, other.area_m2), (one.loaded_g, other.loaded_g), (one.left_g, other.left_g))
    return named[0] == named[1] and all(
        math.isclose(a, b, rel_tol=1e-6) or (math.isnan(a) and math.isnan(b)) for a, b in pairs
    )
