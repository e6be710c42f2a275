"""What field checks mean in one job: the season and target of each, the verdicts, and what corrects a target."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

import numpy as np

from predictor.advice.aim import TOLERANCE
from predictor.advice.lot_fit import LotFit
from predictor.domain.catch import output_for_rate, rate_for_output
from predictor.domain.checks import Part
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.planted import Planted, PlantedLine
from predictor.domain.result import Remark
from predictor.domain.season import season_time
from predictor.domain.seed import Plan
from predictor.domain.species import LOT_SPREAD
from predictor.domain.trials import Trials
from predictor.field.comparing import Compared, Evidence, Known
from predictor.field.factors import box_factors, usable
from predictor.field.slips import sifted, sifted_in_time
from predictor.field.verdict import Place, Verdict, judge


class Folder(Protocol):
    """What this needs of a job."""

    @property
    def drill(self) -> Drill: ...
    @property
    def trials(self) -> Trials: ...
    @property
    def plan(self) -> Plan | None: ...
    @property
    def planted(self) -> Planted: ...
    @property
    def everything(self) -> Trials: ...
    def _fit_of_season(
        self, box: SeedBox, lot: str, season: str, target_output: float | None, drive: str
    ) -> LotFit: ...


def named(catches: Trials, lot: str) -> Trials:
    """The catches of a lot, in capitals or not."""
    return catches.where(np.array([each.lower() == lot.lower() for each in catches.lot.tolist()], dtype=bool))


def season_on(catches: Trials, date: str) -> str | None:
    """The season of those catches of a lot that are nearest before a day; None where there is none.

    A check may be dated before the catches of its own season, so that the season named by its year is taken then.
    """
    when = season_time("", [date])
    before: list[tuple[float, int, str]] = []
    for i, (season, day) in enumerate(zip(catches.season.tolist(), catches.date.tolist(), strict=True)):
        time = season_time("", [day]) if day else season_time(season)
        if time <= when:
            before.append((time, i, season))
    if before:
        return max(before)[2]
    return next((each for each in catches.season.tolist() if each == date[:4]), None)


def known_of(job: Folder, part: Part, date: str) -> Known:
    """What is known of one box of a check: its season, target, seeds and what the drill gives there."""
    mine = named(job.everything.of(box=part.box.name), part.lot)
    season = season_on(mine, date)
    line = _planted(job.planted.of(part.box.name, part.lot), season, date)
    target = _target(job, part, mine, season, date, line)
    seeds, seeds_sd = _seeds(job, part, line)
    if season is None:
        return Known(None, None, False, target, seeds, seeds_sd)
    fit = fit_on(job, part, season, target)
    return Known(season, fit.standing(part.setting.opening), fit.towed, target, seeds, seeds_sd)


def fit_on(job: Folder, part: Part, season: str, target: float | Remark) -> LotFit:
    """The curve of a lot and season, on the drive that a check was made on, near what was wanted."""
    mine = named(job.everything.of(box=part.box.name), part.lot)
    name = str(mine.where((mine.season == season) | (mine.season == "")).lot[-1])
    wanted = None if isinstance(target, Remark) else output_for_rate(target, job.drill, part.box)
    return job._fit_of_season(part.box, name, season, wanted, part.setting.drive)


def _planted(lines: Sequence[PlantedLine], season: str | None, date: str) -> PlantedLine | None:
    """The planted line of a lot and season nearest to a day: the latest up to it, else the next one after."""
    mine = [each for each in lines if each.evidence is not None and each.evidence.season == (season or "")]
    mine = [each for each in mine if each.evidence is not None and math.isfinite(each.evidence.target)]
    return next((each for each in reversed(mine) if each.date <= date), mine[0] if mine else None)


def in_hand(job: Folder, season: str | None, date: str) -> bool:
    """Whether a check of a season, or of a day before any catch of its lot, belongs to the season now in hand."""
    times = job.trials.season_times
    latest = next(reversed(times), "")
    if season is not None:
        return season in ("", latest)
    return not times or season_time("", [date]) >= times[latest]


def _target(
    job: Folder, part: Part, mine: Trials, season: str | None, date: str, line: PlantedLine | None
) -> float | Remark:
    """Bulk rate that was wanted of a box on a day: as planted, as planned, or as its catches name it."""
    if line is not None and line.evidence is not None:
        return line.evidence.target
    entry = job.plan.target(part.box.name, part.lot) if job.plan else None
    if entry is not None and in_hand(job, season, date):
        return entry.bulk_rate
    wanted = mine.where((mine.season == season) & np.isfinite(mine.target_g))
    if len(wanted):
        output = float(wanted.target_g[-1] / (wanted.turns[-1] * wanted.rows[-1]))
        return rate_for_output(output, job.drill, part.box)
    if entry is not None:
        return Remark("field.other_season", {"lot": part.lot, "season": season or date[:4]})
    return _not_planned(job, part) or Remark("field.not_planned")


def _not_planned(job: Folder, part: Part) -> Remark | None:
    """That a lot was mixed in, and goes by the name of its blend or bag."""
    filling = job.plan.filling_of(part.box.name, part.lot) if job.plan else ""
    return Remark("field.part_of_blend", {"lot": part.lot, "blend": filling}) if filling else None


def _seeds(job: Folder, part: Part, line: PlantedLine | None) -> tuple[float | Remark, float]:
    """Pure seeds in a gram of what is in the box, and how sure that is."""
    entry = job.plan.target(part.box.name, part.lot) if job.plan else None
    lots = line.evidence.lots if line is not None and line.evidence is not None else ()
    if lots:
        counts = [each.share * each.purity * each.seeds_per_g for each in lots]
        sd = LOT_SPREAD if entry is None or not math.isfinite(entry.seeds_log_sd) else entry.seeds_log_sd
        if math.isfinite(sum(counts)):
            return sum(counts), sd
    if entry is None:
        return Remark("field.count_not_planned"), math.nan
    seeds = entry.pure_seeds_per_m2 / entry.bulk_rate
    return (seeds, entry.seeds_log_sd) if math.isfinite(seeds) else (Remark("field.seeds_unknown"), math.nan)


def verdicts_in_time(job: Folder, compared: Sequence[Compared], place: Place, tolerance: float) -> list[Verdict]:
    """What each check of a box, lot and season said when it was made, in the order of their days.

    `compared` are all checks of the job before slips were found out.
    """
    if place[2] is None:
        return []
    order = sorted(compared, key=lambda each: (each.check.date, each.check.line))
    found = []
    for k, (last, known) in enumerate(zip(order, sifted_in_time(order, job.drill), strict=True)):
        if place not in last.places:
            continue
        part = last.check.parts[last.places.index(place)]
        fit = fit_on(job, part, place[2], last.known[last.places.index(place)].target)
        verdict = judge(known[: k + 1], place, fit, job.drill, tolerance)
        found += [verdict] if verdict else []
    return found


def lot_factor(
    job: Folder,
    compared: Sequence[Compared],
    place: Place,
    last_day: str,
    locks: Callable[[float], bool],
    *,
    towed: bool = False,
) -> float:
    """Field factor that corrects the target of a box, lot and season; 1 where no check gives one.

    A check judges the setting of the lot it was made on and does not move its target, unless it showed the box out of
    tolerance: then everything known at that check counts. Otherwise the factor comes from checks of other lots and
    seasons. What was locked by the factor known on the day of its last catch stays locked, until a check shows the box
    out of tolerance with another lot.
    """
    out = [each for each in verdicts_in_time(job, compared, place, TOLERANCE) if each.out]
    if out or towed:  # a towed lot has slip in its catches
        return out[-1].factor if out else 1.0
    others = [each for each in usable(sifted(compared, job.drill)) if place not in each.places]
    now = _factor(others, place[0], job.drill)
    then = _factor([each for each in others if each.check.date <= last_day], place[0], job.drill)
    if not last_day or now == then or _moved_since(job, compared, place, last_day):
        return now
    return then if locks(then) else now


def _moved_since(job: Folder, compared: Sequence[Compared], place: Place, day: str) -> bool:
    """Whether a check after a day showed the box out of tolerance with another lot in it."""
    others = {each for one in compared for each in one.places if each[0] == place[0] and each != place}
    found = (each for other in others for each in verdicts_in_time(job, compared, other, TOLERANCE))
    return any(each.out and each.date > day for each in found)


def _factor(evidence: Iterable[Evidence], box: str, drill: Drill) -> float:
    return next((each.factor for each in box_factors(list(evidence), drill) if each.box == box), 1.0)
