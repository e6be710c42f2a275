"""A job folder as one thing: drill, plan, catches and field checks, and what they ask of each box."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from predictor.advice.case import Stationary
from predictor.advice.history import History, learn_history
from predictor.advice.recommend import CONFIDENCE, TOLERANCE, Advice, recommend, stationary
from predictor.domain.checks import FieldChecks
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.seed import Plan
from predictor.domain.trials import Trials, joined, last_season, no_trials, without_copies
from predictor.errors import InputError
from predictor.field.budget import Budget, live_seed_budget
from predictor.field.factors import FieldResult, field_factors
from predictor.files.drill import read_drill
from predictor.files.field import read_field
from predictor.files.plan import read_plan
from predictor.files.trials import read_trials


@dataclass(frozen=True)
class Task:
    """A box and lot with a target.

    Attributes
    ----------
    box : SeedBox
    lot : str
    season : str or None
        Of its last dated catch, "" where none is dated; None where there is no catch yet.
    target_output : float
        Grams per row per turn.
    field_factor : float
        Field rate over stationary rate for which the target is corrected.
    """

    box: SeedBox
    lot: str
    season: str | None
    target_output: float
    field_factor: float = 1.0


@dataclass(frozen=True)
class Job:
    """What one folder holds, read once.

    Attributes
    ----------
    drill : Drill
    trials : Trials
        Empty where there are none.
    plan : Plan or None
        Its target catches corrected by the field factor of each box.
    earlier : tuple of Trials
        Logs of earlier seasons, without catches that stand in another log as well.
    checks : FieldChecks or None
    use_history, use_field_factor : bool
    messages : tuple of str
        What was assumed or left out in reading, in sentences.
    """

    drill: Drill
    trials: Trials
    plan: Plan | None
    earlier: tuple[Trials, ...] = ()
    checks: FieldChecks | None = None
    use_history: bool = True
    use_field_factor: bool = True
    messages: tuple[str, ...] = ()

    def history(self, box: SeedBox, lot: str, season: str | None) -> History | None:
        """What earlier lots of a box say, those of further files included; None where it is not to be used.

        Parameters
        ----------
        box : SeedBox
        lot : str
            The lot in hand.
        season : str or None
            Its season; without one the lots of all seasons count as earlier.

        Returns
        -------
        History or None
            None too where no earlier lot has a catch that counts.
        """
        if not self.use_history:
            return None
        return learn_history(joined([*self.earlier, self.trials]), box, before=(lot, season or "9999"))

    def advice(self, task: Task, tolerance: float = TOLERANCE, confidence: float = CONFIDENCE) -> Advice:
        """Advice on one box and lot.

        Parameters
        ----------
        task : Task
        tolerance, confidence : float
            As for `recommend`.

        Returns
        -------
        Advice

        Raises
        ------
        ValueError
            A target, tolerance or confidence that cannot be.
        """
        return recommend(
            self.trials,
            task.box,
            lot=task.lot,
            season=task.season,
            target_output=task.target_output,
            tolerance=tolerance,
            confidence=confidence,
            history=self.history(task.box, task.lot, task.season),
            drill=self.drill,
            field_factor=task.field_factor,
        )

    def stationary(self, box: SeedBox, lot: str, opening: float) -> Stationary | None:
        """What a box gives at an opening while the drill stands; None without a catch of that lot that counts.

        Parameters
        ----------
        box : SeedBox
        lot : str
            In capitals or not; its last season is taken.
        opening : float

        Returns
        -------
        Stationary or None
        """
        mine = joined([*self.earlier, self.trials]).of(box=box.name)
        names = [name for name in dict.fromkeys(mine.lot.tolist()) if name.lower() == lot.lower()]
        if not names:
            return None
        mine = mine.of(lot=names[-1])
        season = last_season(mine)
        history = self.history(box, names[-1], season)
        return stationary(mine, box, opening, lot=names[-1], season=season, history=history, drill=self.drill)

    @cached_property
    def field(self) -> FieldResult | None:
        """What the field checks say; None where there are none."""
        return None if self.checks is None else field_factors(self.checks, self.drill, self.plan, self.stationary)

    def budgets(self, tolerance: float = TOLERANCE, confidence: float = CONFIDENCE) -> list[Budget]:
        """The uncertainty budget of every box and lot in hand that has a plan and catches, at its advised setting.

        Parameters
        ----------
        tolerance, confidence : float
            As for `recommend`, which advises the setting.

        Returns
        -------
        list of Budget
            In the drill's order.
        """
        found = []
        for task in self.in_hand():
            entry = None if self.plan is None else self.plan.target(task.box.name, task.lot)
            if entry is None:
                continue
            advice = self.advice(task, tolerance, confidence)
            if advice.setting is None or not advice.catches_used:
                continue
            standing = self.stationary(task.box, task.lot, task.box.control.opening(advice.setting))
            found.append(
                live_seed_budget(
                    entry,
                    standing,
                    self.drill,
                    field=self.field,
                    turns=advice.turns,
                    rows=advice.rows,
                )
            )
        return found

    def corrected(self) -> Job:
        """The job with target catches for the field factors that its checks showed."""
        if self.field is None or not self.use_field_factor or self.plan is None:
            return self
        return replace(self, plan=self.plan.with_field_factors(self.field.factors(), self.drill))

    def tasks(self, box: str | None = None, lot: str | None = None, target_g: float | None = None) -> list[Task]:
        """Every box and lot with a target, in the drill's order.

        Parameters
        ----------
        box, lot : str, optional
            These only, in capitals or not.
        target_g : float, optional
            Target catch, grams over the turns and rows of the last catch; goes before a target in a row of the trials,
            and that before the plan's.

        Returns
        -------
        list of Task
        """
        tasks = []
        for seed_box in self.drill.boxes:
            if box is not None and seed_box.name.lower() != box.lower():
                continue
            mine = self.trials.of(box=seed_box.name)
            lots = list(dict.fromkeys(mine.lot.tolist()))
            caught = {each.lower() for each in lots}
            planned = (
                [] if self.plan is None else [each.lot for each in self.plan.boxes if each.box.name == seed_box.name]
            )
            for name in [*lots, *(each for each in dict.fromkeys(planned) if each.lower() not in caught)]:
                if lot is not None and name.lower() != lot.lower():
                    continue
                only = None if lots and name != lots[-1] and lot is None else target_g
                task = self._task(seed_box, name, mine, target_g, only)
                if task is not None:
                    tasks.append(task)
        return tasks

    def _task(self, box: SeedBox, lot: str, mine: Trials, given: float | None, target_g: float | None):
        """One box and lot, where it has a target."""
        part = mine.of(lot=lot)
        season = last_season(part) if len(part) else None
        entry = None if self.plan is None else self.plan.target(box.name, lot)
        factor = entry.field_factor if entry else 1.0
        if given is not None:
            if target_g is None:
                return None
            catch = self.drill.catch
            size = part.turns[-1] * part.rows[-1] if season is not None else catch.turns * catch.rows
            return Task(box, lot, season, float(target_g / size), factor)
        if season is not None:
            named = part.target_g / (part.turns * part.rows)
            named = named[np.isfinite(named)]
            if len(named):
                return Task(box, lot, season, float(named[-1]), factor)
        return Task(box, lot, season, entry.target_output, factor) if entry else None

    def in_hand(self) -> list[Task]:
        """The boxes as they are filled: of each box the lot of its last catch, else the first of the plan."""
        return [self._last(found) for box in self.drill.boxes if (found := self.tasks(box.name))]

    def _last(self, tasks: list[Task]) -> Task:
        mine = self.trials.of(box=tasks[0].box.name)
        last = str(mine.lot[-1]) if len(mine) else ""
        return next((task for task in tasks if task.lot == last), tasks[0])

    def nothing_to_do(self, box: str | None = None, lot: str | None = None) -> str:
        """Why there is no task, in a sentence.

        Parameters
        ----------
        box, lot : str, optional
            What was asked for.

        Returns
        -------
        str
        """
        pairs = zip(self.trials.box.tolist(), self.trials.lot.tolist(), strict=True)
        there = ", ".join(sorted({f"{name} {lot_name}" for name, lot_name in pairs})) or "none"
        if box or lot:
            wanted = " ".join(filter(None, (box, lot)))
            return f"No catches or target for {wanted}. Boxes and lots in the trials: {there}."
        return (
            f"No box has a target. Boxes and lots in the trials: {there}. Write them into plan.csv beside the trials, "
            "add a column target_g, or give --box and --target-g."
        )


def read_job(
    drill: str | Path,
    *,
    trials: str | Path | None = None,
    plan: str | Path | None = None,
    checks: str | Path | None = None,
    earlier: Sequence[str | Path] = (),
    viable: str | None = None,
    use_history: bool = True,
    use_field_factor: bool = True,
    today=None,
) -> Job:
    """Read the files of a job.

    Parameters
    ----------
    drill, trials, plan, checks : str or path
        drill.toml, trials.csv, plan.csv and field.csv; None for what there is not.
    earlier : sequence of str or path
        Trials of earlier seasons.
    viable : {"germination", "total"}, optional
    use_history, use_field_factor : bool
    today : date, optional
        For the age of the seed tests.

    Returns
    -------
    Job

    Raises
    ------
    InputError
        All problems of all files.
    """
    machine = read_drill(drill)
    problems, messages = [], []

    def read(reader, path, *rest, **options):
        if path is None:
            return None
        try:
            found = reader(path, *rest, **options)
        except InputError as error:
            problems.extend(error.problems)
            return None
        messages.extend(found.assumed)
        return found

    caught = read(read_trials, trials, machine) or no_trials(machine)
    mix = read(read_plan, plan, machine, viable=viable, today=today)
    fields = read(read_field, checks, machine)
    logs: list[Trials] = []
    for file in earlier:
        log = read(read_trials, file, machine)
        if log is None:
            continue
        new = without_copies(log, joined([*logs, caught]))
        if len(new) < len(log):
            count = len(log) - len(new)
            messages.append(f"{file}: {count} of its catches stand in another file too and were counted once.")
        if len(new):
            logs.append(new)
    if problems:
        raise InputError(problems)
    job = Job(machine, caught, mix, tuple(logs), fields, use_history, use_field_factor, tuple(messages))
    return job.corrected()
