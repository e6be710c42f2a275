"""Reads a job folder: all of its files, with every problem reported at once."""

from __future__ import annotations

import datetime
import os
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import numpy as np

from predictor.domain.checks import FieldChecks
from predictor.domain.drill import Viable
from predictor.domain.planted import Planted
from predictor.domain.result import Remark
from predictor.domain.seed import Plan
from predictor.domain.trials import Trials, no_trials
from predictor.errors import InputError, Problem
from predictor.field.given import copies
from predictor.files.drill import read_drill
from predictor.files.field import read_field
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
    own = {
        name: path for name in ("trials", "plan", "field", "planted") if (path := Path(folder) / f"{name}.csv").exists()
    }
    if not with_trials or ("trials" in own and trials is None and only_begun(TRIALS, own["trials"])):
        own.pop("trials", None)
    if not use_field_factor:
        own.pop("field", None)
    file = drill or Path(folder) / "drill.toml"
    machine = read_drill(file)
    if "field" in own and checks is None and only_begun(field_checks(machine), own["field"]):
        own.pop("field")
    if "planted" in own and only_begun(planted_lines(machine), own["planted"]):
        own.pop("planted")
    problems: list[Problem] = []
    messages: list[str] = []

    def read(path: Name | None, reader: Callable[[Name], Found]) -> Found | None:
        if path is None:
            return None
        try:
            found = reader(path)
        except InputError as error:
            problems.extend(error.problems)
            return None
        # what becomes of the catches of other drills is said below
        messages.extend(str(each) for each in found.assumed if each.code != "files.other_drill")
        return found

    def read_log(path: Name) -> Trials:
        return read_trials(path, machine)

    caught = read(trials or own.get("trials"), read_log) or no_trials(machine)
    mix = read(plan or own.get("plan"), lambda path: read_plan(path, machine, viable=viable, today=today))
    fields = read(checks or own.get("field"), lambda path: read_field(path, machine))
    planted = read(own.get("planted"), lambda path: read_planted(path, machine)) or Planted()
    logs = Logs(caught, (), (), ())
    try:
        # the log of the folder is the job's own even where another one is read
        at_hand = [each for each in (trials, Path(folder) / "trials.csv") if each is not None]
        named, said = find_logs(machine, file, earlier, at_hand) if with_earlier else ([], [])
        logs = sort_logs(caught, machine, named)
        messages += [*said, *logs.messages]
    except InputError as error:
        problems.extend(error.problems)
    if problems:
        raise InputError(problems)
    job = Job(
        machine,
        logs.own,
        mix,
        logs.earlier,
        fields,
        use_history,
        use_field_factor,
        tuple(messages),
        planted,
        today or datetime.date.today(),
        logs.others,
    ).corrected()
    return replace(
        job,
        messages=(
            *messages,
            *map(
                str,
                (
                    *_targets_of_trials(job),
                    *_parts_caught(job),
                    *changed_targets(job),
                    *copies(fields.checks if fields else ()),
                    *examples.remarks(machine, mix),
                    *plausible.remarks(machine, mix),
                ),
            ),
        ),
    )


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
