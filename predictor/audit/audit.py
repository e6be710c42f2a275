"""A second opinion on the lots of a job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from predictor.advice import evidence
from predictor.advice.aim import Aim
from predictor.advice.lot_fit import LotFit, fit_lot
from predictor.audit import prior, residuals
from predictor.audit.lines import Data, line_of, opinions, our_line
from predictor.audit.lots import audit_box
from predictor.audit.readings import readings
from predictor.audit.results import Audit, Check, LotAudit, Target, View
from predictor.curves.classical import FlatLine
from predictor.domain.control import Floats, Lever
from predictor.domain.drill import SeedBox
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.errors import InputError, NotEnoughCatches
from predictor.job.job import Job

# Of a log with more lots the last ones are looked at, so that the answer comes in seconds; of a log with very many lots
# still fewer, since each learns from all the others.
MOST, MANY, FEW = 12, 500, 3


@dataclass(frozen=True)
class Group:
    """A lot of a box in one season."""

    box: SeedBox
    lot: str
    season: str
    last: bool  # Whether it is the last season of the lot


def audit_job(job: Job, box: str | None = None, lot: str | None = None) -> Audit:
    """A second opinion on each box and lot of a job in each of its seasons, and on the lots of each box."""
    every = list(groups(job.trials, job.drill.boxes, box, lot))
    time = {season: k for k, season in enumerate(job.trials.season_times)}
    most = MOST if len(every) <= MANY else FEW
    last = sorted(range(len(every)), key=lambda k: time[every[k].season])[-most:]
    kept = [every[k] for k in sorted(last)]
    found = tuple(_audit_lot(job, each) for each in kept)
    names = dict.fromkeys(each.box.name for each in kept)
    boxes = tuple(audit_box(job.everything, each) for each in job.drill.boxes if each.name in names)
    return Audit(found, boxes, len(every))


def groups(trials: Trials, boxes: tuple[SeedBox, ...], box: str | None, lot: str | None) -> Iterator[Group]:
    """The lots of each box in each season, in the drill's order, seasons in the order of time."""
    home = {each.name: each for each in boxes}
    place = {name: k for k, name in enumerate(home)}
    time = {season: k for k, season in enumerate(trials.season_times)}
    rows = dict.fromkeys(zip(trials.box.tolist(), trials.lot.tolist(), trials.season.tolist(), strict=True))
    dated = {(name, of) for name, of, season in rows if season}
    last: dict[tuple[str, str], int] = {}
    for name, of, season in rows:
        last[name, of] = max(time[season], last.get((name, of), -1))
    kept = [
        (name, of, season)
        for name, of, season in rows
        if name in home
        and (season or (name, of) not in dated)
        and (box is None or name.lower() == box.lower())
        and (lot is None or of.lower() == lot.lower())
    ]
    for name, of, season in sorted(kept, key=lambda row: (place[row[0]], time[row[2]])):
        yield Group(home[name], of, season, not season or last[name, of] == time[season])


def _audit_lot(job: Job, group: Group) -> LotAudit:
    """A second opinion on one lot."""
    output, factor, source = _target(job, group)
    history = job.history(group.box, group.lot, group.season)
    slip = _slip(job, group)
    given = {"lot": group.lot, "season": group.season, "drill": job.drill, "slip": slip}
    near = None if output is None else output * factor

    def aim(output: float) -> Aim:
        return Aim(output, history=history, field_factor=factor, slip=slip)

    fit = fit_lot(job.trials, group.box, history=history, near=near, **given)  # type: ignore[arg-type]
    used = fit.used
    found = LotAudit(group.box.name, group.lot, group.season, len(used), fit.set_aside, output, source)
    if not np.isfinite(used.opening).all():
        return replace(found, remarks=(Remark("audit.unplaced"),))
    data = Data(used.opening, used.output, evidence.lengths(used), output or 1.0)
    try:
        curve = our_line(data)
    except (NotEnoughCatches, InputError):
        views = (
            ()
            if output is None
            else _views(fit, None, job, Aim(output, history=history, field_factor=factor, slip=slip), given)
        )
        return replace(found, remarks=(_too_few(used),), views=views)
    if output is None:
        output = float(curve.mean(_most_caught(used.opening)))
        found = replace(found, target_output=output if output > 0 else None)
    if not output > 0:
        return replace(found, remarks=(Remark("audit.no_target"),))
    data = replace(data, target=output)
    line = line_of(curve, output)
    said, remarks = opinions(data, curve)
    whole = _season_check(job, group, fit, output)
    order, fill = _order(used), np.asarray(used.fill_pct)
    theirs = readings(fit.control, said[0].figure("setting").theirs)[0]
    white = residuals.Whitened.of(data, curve)
    checks = () if white is None else residuals.checks_of(white, order, fill, whole)
    remarks = remarks if white is not None else (*remarks, Remark("audit.no_scatter"))
    return replace(
        found,
        line=line,
        scale="setting" if isinstance(fit.control, Lever) else "drive ratio",
        readings=(*readings(fit.control, line.setting, line.setting_lower, line.setting_upper), theirs),
        opinions=said,
        checks=checks,
        views=_views(fit, curve, job, aim(output), given),
        remarks=remarks,
        residuals=None if white is None else residuals.residuals_of(white, data, order, fill),
    )


def _target(job: Job, group: Group) -> tuple[float | None, float, Target]:
    """The wanted output of a lot with its field factor: as its catches name it, else by the plan, else None."""
    mine = job.trials.of(box=group.box.name, lot=group.lot, season=group.season)
    named = (mine.target_g / (mine.turns * mine.rows))[np.isfinite(mine.target_g)]
    for task in job.tasks(group.box.name, group.lot):
        if task.season == group.season:
            return task.target_output, task.field_factor, "log" if len(named) else "plan"
    return (float(named[-1]), 1.0, "log") if len(named) else (None, 1.0, "usual")


def _slip(job: Job, group: Group) -> tuple[float, float] | None:
    """The field factor of standing catches where the lot was towed."""
    if not job.is_towed(group.box, group.lot):
        return None
    tasks = job.tasks(group.box.name, group.lot)
    return job.advice(tasks[0]).aim.slip if tasks else None


def _views(fit: LotFit, curve: FlatLine | None, job: Job, aim: Aim, given: dict[str, object]) -> tuple[View, ...]:
    """The setting with the history of the box, with ordinary knowledge alone, and by the catches alone."""
    found = [prior.view("history", fit, aim, curve)] if aim.history is not None else []
    plain_fit = fit if aim.history is None else fit_lot(job.trials, fit.box, near=aim.near, **given)  # type: ignore[arg-type]
    found.append(prior.view("default", plain_fit, replace(aim, history=None), curve))
    found += [prior.by_catches_alone(fit, curve, aim)] if curve is not None else []
    return tuple(each for each in found if each is not None)


def _season_check(job: Job, group: Group, fit: LotFit, target: float) -> Check:
    """Whether the seasons of the lot differ, in all logs, about one line; said once, with its last season."""
    if not group.last:
        return Check("season", len(fit.used), reason=Remark("audit.other_season"))
    mine = job.everything.of(box=group.box.name, lot=group.lot)
    mine = mine.where(mine.counts).in_box(group.box).on_drive(group.box.control, fit.drive)
    mine = mine.where(np.isfinite(mine.opening) & (mine.season != "") & (mine.towed == fit.towed))
    data = Data(mine.opening, mine.output, evidence.lengths(mine), target)
    try:
        curve = our_line(data)
    except (NotEnoughCatches, InputError):
        return Check("season", len(mine), reason=Remark("audit.one_season"))
    return residuals.seasons_differ(data, curve, mine.season.astype(str))


def _too_few(used: Trials) -> Remark:
    """Why there is no classical line."""
    if len(used) > 2:
        return Remark("audit.one_setting", {"catches": len(used), "setting": str(used.setting[0])})
    return Remark("audit.few_catches", {"catches": len(used)})


def _most_caught(openings: Floats) -> float:
    """The opening caught at most; among equals the one nearest the middle."""
    values, count = np.unique(openings, return_counts=True)
    best = values[count == count.max()]
    return float(best[np.argmin(np.abs(best - np.median(openings)))])


def _order(used: Trials) -> Floats:
    """The place of each catch in time: by date, then by row; by row alone where a date is missing."""
    dates = used.date.tolist()
    ranks = np.empty(len(dates))
    ranks[sorted(range(len(dates)), key=lambda i: dates[i] if all(dates) else "")] = np.arange(len(dates))
    return ranks
