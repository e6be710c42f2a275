"""Reads a job folder: all of its files, with every problem reported at once."""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

import numpy as np

from predictor.advice.other_drills import OtherDrills
from predictor.domain.arguments import day_of, flag, maybe_word, path_of, refuse
from predictor.domain.checks import FieldChecks
from predictor.domain.drill import VIABLE, Drill, Viable
from predictor.domain.planted import Planted
from predictor.domain.result import Remark
from predictor.domain.seed import Plan
from predictor.domain.trials import Trials, no_trials
from predictor.errors import InputError, Problem, WrongKind
from predictor.field.given import copies
from predictor.files.drill import read_drill
from predictor.files.field import read_field
from predictor.files.good_rows import good_checks, good_trials
from predictor.files.kinds import TRIALS, field_checks, planted_lines
from predictor.files.log import only_begun
from predictor.files.plan import read_plan
from predictor.files.planted import read_planted
from predictor.files.trials import read_trials
from predictor.job.changed import changed_targets
from predictor.job.earlier import Logs, find_logs, sort_logs
from predictor.job.job import Job
from predictor.slips import examples, plausible

# A target in the trials this near to the plan's is the plan's, rounded.
TARGETS_AGREE = 0.01

Name = str | os.PathLike[str]


Found = TypeVar("Found", Trials, Plan, FieldChecks, Planted)


@dataclass(frozen=True)
class Sources:
    """The files a job is read from, and how; as the parameters of `read_job`."""

    folder: Name = "."
    drill: Name | None = None
    trials: Name | None = None
    plan: Name | None = None
    checks: Name | None = None
    earlier: tuple[Name, ...] = ()
    with_trials: bool = True
    with_earlier: bool = True
    viable: Viable | None = None
    use_history: bool = True
    use_field_factor: bool = True
    today: datetime.date | None = None
    read_log: Callable[[Name, Drill | None], Trials] = read_trials
    drills_of: Callable[[tuple[Trials, ...]], OtherDrills] = OtherDrills


def read_job(
    folder: Name = ".",
    *,
    drill: Name | None = None,
    trials: Name | None = None,
    plan: Name | None = None,
    checks: Name | None = None,
    earlier: Sequence[Name] = (),
    with_trials: bool = True,
    with_earlier: bool = True,
    viable: Viable | None = None,
    use_history: bool = True,
    use_field_factor: bool = True,
    today: datetime.date | None = None,
) -> Job:
    """Read a job folder: drill.toml, and of plan.csv, trials.csv, field.csv and planted.csv those that are there.

    Parameters
    ----------
    folder : str or path
    drill, trials, plan, checks : str or path, optional
        Files in place of the folder's own.
    earlier : sequence of str or path
        Logs of earlier seasons, beside those that drill.toml names.
    with_trials : bool
        Whether to read the folder's trials where none are named.
    with_earlier : bool
        Whether to read logs of earlier seasons at all.
    viable : {"germination", "hard", "total"}, optional
        Rule for pure live seed of all lots; that of each row, or else the drill's, where not given.
    use_history, use_field_factor : bool
        Whether earlier lots inform the next one, and whether targets are corrected by what field checks showed.
        Without the latter the folder's field.csv is not read.
    today : date, optional
        The day for which the job answers, as for the age of seed tests; the clock's where not given.

    Returns
    -------
    Job

    Raises
    ------
    InputError
        All problems of all files.

    Examples
    --------
    >>> job = read_job("sample_trials")
    >>> [(task.box.name, job.advice(task).setting) for task in job.in_hand()]
    [('chaffy', '4'), ('grain', 17.0), ('small', 14.0)]
    """
    path_of(folder, "folder")
    for name, each in {"drill": drill, "trials": trials, "plan": plan, "checks": checks}.items():
        if each is not None:
            path_of(each, name)
    if not isinstance(earlier, Sequence) or isinstance(earlier, str | bytes):
        refuse("earlier", "a list of the paths of logs", earlier, WrongKind)
    for each in earlier:
        path_of(each, "each of earlier")
    maybe_word(viable, "viable", VIABLE)
    sources = Sources(
        *(folder, drill, trials, plan, checks, tuple(earlier)),
        *(flag(with_trials, "with_trials"), flag(with_earlier, "with_earlier"), viable),
        *(flag(use_history, "use_history"), flag(use_field_factor, "use_field_factor"), day_of(today, "today")),
    )
    return read_whole(sources)


def read_whole(sources: Sources) -> Job:
    """The job of these files; raises an InputError with all problems of all of them."""
    parts = _parts(sources)
    if parts.problems:
        raise InputError(parts.problems)
    return _job(sources, parts)


def read_best(sources: Sources) -> tuple[Job, tuple[Problem, ...]]:
    """The job as far as its files can be read, and what is wrong with the rest: a row is kept whatever else is broken.

    Of a log or a file of field checks the rows that can be read are taken. Without a drill file there is no job.
    """
    parts = _parts(sources, good_rows=True)
    return _job(sources, parts), tuple(parts.problems)


@dataclass
class _Parts:
    """What the files of a job hold, and what is wrong with them."""

    drill: Drill
    caught: Trials
    logs: Logs
    plan: Plan | None = None
    checks: FieldChecks | None = None
    planted: Planted = field(default_factory=Planted)
    problems: list[Problem] = field(default_factory=list)
    messages: list[str] = field(default_factory=list)


def _own_files(sources: Sources, machine: Drill) -> dict[str, Path]:
    """The files of the folder that are to be read; one that was only begun says nothing."""
    folder = Path(sources.folder)
    own = {name: path for name in ("trials", "plan", "field", "planted") if (path := folder / f"{name}.csv").exists()}
    if not sources.with_trials:
        own.pop("trials", None)
    if not sources.use_field_factor:
        own.pop("field", None)
    given = {"trials": sources.trials, "field": sources.checks}
    kinds = {"trials": TRIALS, "field": field_checks(machine), "planted": planted_lines(machine)}
    begun = [name for name in kinds if name in own and given.get(name) is None and only_begun(kinds[name], own[name])]
    return {name: path for name, path in own.items() if name not in begun}


def _parts(sources: Sources, *, good_rows: bool = False) -> _Parts:
    """Read every file; with `good_rows` the rows that can be read where others of a file cannot."""
    file = sources.drill or Path(sources.folder) / "drill.toml"
    machine = read_drill(file)
    own, none = _own_files(sources, machine), no_trials(machine)
    parts = _Parts(machine, none, Logs(none, (), (), ()))

    def read(
        path: Name | None, reader: Callable[[Name], Found], good: Callable[[Name], Found | None] | None = None
    ) -> Found | None:
        if path is None:
            return None
        try:
            found: Found | None = reader(path)
        except InputError as error:
            parts.problems.extend(error.problems)
            found = good(path) if good_rows and good is not None else None
        # what becomes of the catches of other drills is said below
        parts.messages.extend(
            str(each) for each in (found.assumed if found else ()) if each.code != "files.other_drill"
        )
        return found

    caught = read(
        sources.trials or own.get("trials"),
        lambda path: sources.read_log(path, machine),
        lambda path: good_trials(path, machine),
    )
    parts.caught = none if caught is None else caught
    parts.plan = read(
        sources.plan or own.get("plan"),
        lambda path: read_plan(path, machine, viable=sources.viable, today=sources.today),
    )
    parts.checks = read(
        sources.checks or own.get("field"),
        lambda path: read_field(path, machine),
        lambda path: good_checks(path, machine),
    )
    parts.planted = read(own.get("planted"), lambda path: read_planted(path, machine)) or Planted()
    parts.logs = _earlier_logs(sources, parts, file)
    return parts


def _earlier_logs(sources: Sources, parts: _Parts, file: Name) -> Logs:
    """The logs of earlier seasons, without those that cannot be read."""
    named: list[str] = []
    if sources.with_earlier:
        # the log of the folder is the job's own even where another one is read
        at_hand = [each for each in (sources.trials, Path(sources.folder) / "trials.csv") if each is not None]
        named, said = find_logs(parts.drill, file, sources.earlier, at_hand, parts.problems)
        parts.messages += said
    try:
        logs = sort_logs(parts.caught, parts.drill, named, sources.read_log)
    except InputError as error:
        parts.problems.extend(error.problems)
        wrong = {each.file for each in error.problems}
        logs = sort_logs(parts.caught, parts.drill, [each for each in named if each not in wrong], sources.read_log)
    parts.messages += logs.messages
    return logs


def _job(sources: Sources, parts: _Parts) -> Job:
    """The job of what was read, with what is to be said of it."""
    job = Job(
        parts.drill,
        parts.logs.own,
        parts.plan,
        parts.logs.earlier,
        parts.checks,
        sources.use_history,
        sources.use_field_factor,
        tuple(parts.messages),
        parts.planted,
        sources.today or datetime.date.today(),
        parts.logs.others,
        {"others": sources.drills_of(parts.logs.others)},
    ).corrected()
    remarks = (
        *_targets_of_trials(job),
        *_parts_caught(job),
        *changed_targets(job),
        *copies(parts.checks.checks if parts.checks else ()),
        *examples.remarks(parts.drill, parts.plan),
        *plausible.remarks(parts.drill, parts.plan),
    )
    return replace(job, messages=(*parts.messages, *map(str, remarks)))


def _parts_caught(job: Job) -> list[Remark]:
    """A remark on catches under the name of a lot that the plan mixes with others: nothing is learned of the mix."""
    caught = dict.fromkeys(zip(job.trials.box.tolist(), job.trials.lot.tolist(), strict=True))
    found = [(box, lot, job.plan.filling_of(box, lot)) for box, lot in caught] if job.plan else []
    return [
        Remark("files.part_caught", {"box": box, "lot": lot, "filling": filling})
        for box, lot, filling in found
        if filling
    ]


def _targets_of_trials(job: Job) -> list[Remark]:
    """A remark on lots whose plan is passed over, since their catches name another target."""
    if job.plan is None or not np.isfinite(job.trials.target_g).any():
        return []
    pairs = [(task, job.plan.target(task.box.name, task.lot)) for task in job.tasks()]
    lots = [
        f"{task.box.name} {task.lot}"
        for task, entry in pairs
        if entry is not None and abs(task.target_output / entry.target_output - 1) > TARGETS_AGREE
    ]
    return [Remark("files.target_of_trials", {"lots": tuple(lots)})] if lots else []
