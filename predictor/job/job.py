"""A job as one thing: drill, plan, catches and field checks, and what they ask of each box."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from predictor.advice.aim import CONFIDENCE, TOLERANCE, Aim
from predictor.advice.history import History, history_of
from predictor.advice.lot_fit import LotFit, Stationary, fit_lot, is_towed
from predictor.advice.other_drills import OtherDrills
from predictor.advice.recommend import advise
from predictor.advice.result import Advice
from predictor.domain.arguments import POSITIVE, kind, maybe_label, maybe_number, number, text_of
from predictor.domain.checks import FieldChecks
from predictor.domain.control import Setting
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.planted import Planted
from predictor.domain.seed import Plan
from predictor.domain.trials import Trials, joined, last_season
from predictor.field.budget import Budget, live_seed_budget
from predictor.job import asked
from predictor.job.age import with_age
from predictor.job.checked import Checked
from predictor.job.elsewhere import with_other_places
from predictor.job.log_slips import log_slips, names_in
from predictor.job.staged import Staged
from predictor.job.task import Task, last_caught
from predictor.job.verdicts import named
from predictor.job.waiting import waiting_for
from predictor.slips.examples import findings as example_findings

Made = TypeVar("Made")


@dataclass(frozen=True)
class Job(Checked, Staged):
    """What one folder holds, read once; every history, fit and advice is worked out once and kept.

    Two jobs are equal where they hold the same. They cannot be hashed, since trials cannot.

    Attributes
    ----------
    drill : Drill
    trials : Trials
        Empty where there are none.
    plan : Plan or None
        Its target catches corrected by the field factor of each box.
    earlier : tuple of Trials
        Logs of earlier seasons, without catches that are in another log as well.
    checks : FieldChecks or None
    use_history, use_field_factor : bool
    messages : tuple of str
        What was assumed or left out in reading, in sentences.
    planted : Planted
        What was planted; empty where nothing is noted.
    today : date
        The day for which it answers.
    others : tuple of Trials
        Catches of other drills in any of the logs, each of one drill.
    """

    drill: Drill
    trials: Trials
    plan: Plan | None
    earlier: tuple[Trials, ...] = ()
    checks: FieldChecks | None = None
    use_history: bool = True
    use_field_factor: bool = True
    messages: tuple[str, ...] = ()
    planted: Planted = field(default_factory=Planted)
    today: datetime.date = field(default_factory=datetime.date.today)
    others: tuple[Trials, ...] = ()
    _kept: dict[Hashable, Any] = field(default_factory=dict, repr=False, compare=False)

    def _once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What was made under this key, or what is made now."""
        if key not in self._kept:
            self._kept[key] = make()
        made: Made = self._kept[key]
        return made

    def with_plan(self, plan: Plan) -> Job:
        """The job with another plan; what is kept does not depend on the plan, so both share it.

        Parameters
        ----------
        plan : Plan

        Returns
        -------
        Job
        """
        kind(plan, "plan", Plan, "a Plan, as `read_plan` gives")
        return replace(self, plan=plan)

    @property
    def everything(self) -> Trials:
        """The catches of all logs, those of earlier seasons first."""
        return self._once("everything", lambda: joined([*self.earlier, self.trials]))

    def history(self, box: SeedBox, lot: str, season: str | None) -> History | None:
        """What earlier lots of a box say, those of further files included; None where it is not to be used.

        Parameters
        ----------
        box : SeedBox
        lot, season : str, str or None
            The lot in hand; without its season the lots of all seasons count as earlier.

        Returns
        -------
        History or None
            None too where no earlier lot has a catch that counts.
        """
        box, lot = asked.home(self.drill, box, lot)
        season = maybe_label(season, "season")
        if not self.use_history:
            return None
        before, reused = (lot, season or None), self.is_blend(box, lot)
        others = self._once("others", lambda: OtherDrills(self.others)).learned
        key = "history", box.name, *before
        return self._once(key, lambda: history_of(self.everything, box, before, others, reused=reused))

    def is_blend(self, box: SeedBox, lot: str) -> bool:
        """Whether the plan mixes the lot of that name from others, so that it is other seed each season.

        Parameters
        ----------
        box : SeedBox
        lot : str
            In capitals or not.

        Returns
        -------
        bool
        """
        box, lot = asked.home(self.drill, box, lot)
        lots = self.plan.lots if self.plan else ()
        return any(each.box == box.name and each.blend.lower() == lot.lower() for each in lots if each.blend)

    def _fit(
        self,
        box: SeedBox,
        lot: str,
        season: str | None,
        near: float | None,
        trials: Trials | None = None,
        drive: str = "",
        by_slip: bool = True,
    ) -> LotFit:
        """The curve of one lot near an output; from this job's log where no other catches are given."""
        source = self.trials if trials is None else trials
        near = None if near is None else float(f"{near:.12g}")  # so that a corrected target keeps its fit
        # only a towed lot asks for it: what it rests on are fits of the standing drill
        slip = self._slip(box) if by_slip and is_towed(source, box, lot, season) else None

        def fit() -> LotFit:
            known = self.history(box, lot, season)
            given: dict[str, Any] = {"history": known, "drill": self.drill, "near": near, "slip": slip, "drive": drive}
            return fit_lot(source, box, lot=lot, season=season, **given)

        return self._once(("fit", box.name, lot, season or "", near, slip, trials is None, drive), fit)

    def is_towed(self, box: SeedBox, lot: str) -> bool:
        """Whether a lot was caught while the drill was towed, so that slip is in its catches.

        Parameters
        ----------
        box : SeedBox
        lot : str
            In capitals or not; its last season is taken.

        Returns
        -------
        bool
        """
        box, lot = asked.home(self.drill, box, lot)
        return any(is_towed(self.trials, box, each, None) for each in self._lots(box) if each.lower() == lot.lower())

    def _of_box(self, box: SeedBox) -> Trials:
        """The catches of a box in the job's own log."""
        return self._once(("of", box.name), lambda: self.trials.of(box=box.name))

    def _lots(self, box: SeedBox) -> list[str]:
        """The lots caught of a box, the first one first."""
        return self._once(("lots", box.name), lambda: list(dict.fromkeys(self._of_box(box).lot.tolist())))

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
            A target, tolerance or confidence is out of its range.

        Examples
        --------
        >>> import predictor
        >>> job = predictor.read_job("sample_trials")
        >>> advice = job.advice(job.tasks()[0])
        >>> advice.box, advice.decision, advice.setting
        ('chaffy', 'lock', '4')
        """
        asked.task_of(self.drill, task)
        named = task.box, task.lot, task.season
        slip = self._slip(task.box) if self.is_towed(task.box, task.lot) else None
        aim = Aim(task.target_output, tolerance, confidence, self.history(*named), task.field_factor, slip)
        entry = None if self.plan is None else self.plan.target(task.box.name, task.lot)
        carrier = entry is not None and entry.carrier > 0
        findings = example_findings(self.drill, self.plan, task.box, task.lot)
        names = names_in(self.plan, task.box.name)
        key = ("advice", task, tolerance, confidence, carrier, findings, names)

        def make() -> Advice:
            advice = with_other_places(advise(self._fit(*named, aim.near), aim), self.trials, self._fit_on)
            advice = with_age(advice, self.today)
            advice = replace(advice, checked=self._judged(task.box.name, task.lot, task.season), carrier=carrier)
            return waiting_for(
                advice, (*findings, *log_slips(advice, self._of_box(task.box), names, self.today.isoformat()))
            )

        return self._once(key, make)

    def _fit_on(self, box: SeedBox, lot: str, drive: str = "") -> LotFit:
        """The curve of a lot's last season near its target, on one drive of a box with two controls."""
        task = next(iter(self.tasks(box.name, lot)), None)
        if task is not None:
            return self._fit(box, task.lot, task.season, task.target_output * task.field_factor, drive=drive)
        name = next((each for each in self._lots(box) if each.lower() == lot.lower()), lot)
        mine = self.trials.of(box=box.name, lot=name)
        return self._fit(box, name, last_season(mine) if len(mine) else None, None, drive=drive)

    def stationary(self, box: SeedBox, lot: str, setting: Setting | float) -> Stationary | None:
        """What a box gives at a setting while the drill stands; None without a catch of that lot that counts.

        Parameters
        ----------
        box : SeedBox
        lot : str
            In capitals or not; its last season is taken.
        setting : Setting or float
            A number is an opening; of a box with two controls, on the drive of the last catch.

        Returns
        -------
        Stationary or None
            None too where all its catches were made while the drill was towed.
        """
        box, lot = asked.home(self.drill, box, lot)
        setting = setting if isinstance(setting, Setting) else number(setting, "setting")
        mine = named(self.everything.of(box=box.name), lot)
        mine = mine.where(~mine.towed)  # what was towed does not say what the standing drill gives
        if not len(mine):
            return None
        name, season = str(mine.lot[-1]), last_season(mine)
        near = next((task.target_output * task.field_factor for task in self.tasks(box.name, name)), None)
        opening, drive = (setting.opening, setting.drive) if isinstance(setting, Setting) else (setting, "")
        return self._fit(box, name, season, near, self._elsewhere(box, name, towed=False), drive).standing(opening)

    def _elsewhere(self, box: SeedBox, lot: str, *, towed: bool) -> Trials | None:
        """The catches of a lot of all logs, as they say something of it; None where this job's log has them all."""
        mine = self.everything.of(box=box.name, lot=lot)
        mine = mine if towed else mine.where(~mine.towed)
        return None if len(mine) == len(self.trials.of(box=box.name, lot=lot)) else mine

    def _fit_of_season(self, box: SeedBox, lot: str, season: str, target_output: float | None, drive: str) -> LotFit:
        """The curve of a lot in one of its seasons, near what was wanted of it there.

        It is that of the standing drill; of the towed one where no catch of the standing drill counts.
        """
        tasks = [each for each in self.tasks(box.name, lot) if each.season in (season, "")]
        near = tasks[0].target_output * tasks[0].field_factor if tasks else target_output
        mine = self.everything.of(box=box.name, lot=lot)
        mine = mine.where((mine.season == season) | (mine.season == ""))
        towed = not (mine.counts & ~mine.towed).any()
        return self._fit(box, lot, season, near, self._elsewhere(box, lot, towed=towed), drive, by_slip=False)

    def budgets(self, tolerance: float = TOLERANCE, confidence: float = CONFIDENCE, day: str = "") -> list[Budget]:
        """The uncertainty budget of every box and lot in hand or planted that has a plan and catches.

        It is that of the setting in force, before a lock of the advised one.

        Parameters
        ----------
        tolerance, confidence, day : float, float, str
            As for `stages`.

        Returns
        -------
        list of Budget
            In the drill's order.
        """
        found = []
        for stage in self.season_stages(tolerance, confidence, day):
            task, advice, setting = stage.task, stage.advice, stage.setting or stage.advice.advised
            entry = None if self.plan is None else self.plan.target(task.box.name, task.lot)
            if not (stage.in_hand or stage.planted) or entry is None or setting is None or not advice.catches_used:
                continue
            given = self.given(task, setting)
            if given is not None:
                budget = live_seed_budget(
                    entry,
                    given,
                    self.drill,
                    field=self.field,
                    turns=advice.turns,
                    rows=advice.rows,
                    towed=advice.towed,
                    season=task.season,
                )
                found.append(budget)
        return found

    def given(self, task: Task, setting: Setting) -> Stationary | None:
        """What a box gives at a setting: while the drill stands, or in the field where its lot was towed.

        Parameters
        ----------
        task : Task
        setting : Setting

        Returns
        -------
        Stationary or None
            None without a catch that counts.
        """
        asked.task_of(self.drill, task)
        asked.setting_of(setting)
        if not self.is_towed(task.box, task.lot):
            return self.stationary(task.box, task.lot, setting)
        fit = self._fit(task.box, task.lot, task.season, task.target_output, drive=setting.drive)
        return fit.standing(setting.opening)

    def tasks(self, box: str | None = None, lot: str | None = None, target_g: float | None = None) -> list[Task]:
        """Every box and lot with a target, in the drill's order.

        Parameters
        ----------
        box, lot : str, optional
            These only, in capitals or not.
        target_g : float, optional
            Target catch, grams over the turns and rows of the last catch, for the lot named or last caught. It goes
            before a target in a row of the trials, and that before the plan's.

        Returns
        -------
        list of Task
        """
        box, lot = None if box is None else text_of(box, "box"), maybe_label(lot, "lot")
        target_g = maybe_number(target_g, "target_g", POSITIVE)
        tasks: list[Task | None] = []
        for seed_box in self.drill.boxes:
            if box is not None and seed_box.name.lower() != box.lower():
                continue
            lots = self._lots(seed_box)
            caught, plans = {each.lower() for each in lots}, self.plan.boxes if self.plan else ()
            planned = dict.fromkeys(each.lot for each in plans if each.box.name == seed_box.name)
            names = [*lots, *(each for each in planned if each.lower() not in caught)]
            if lot is not None:
                names = [each for each in names if each.lower() == lot.lower()]
            elif target_g is not None:
                names = lots[-1:] or names
            tasks += [self._task(seed_box, each, target_g) for each in names]
        return [each for each in tasks if each is not None]

    def _task(self, box: SeedBox, lot: str, target_g: float | None) -> Task | None:
        """One box and lot, where it has a target."""
        entry = None if self.plan is None else self.plan.target(box.name, lot)
        factor = entry.field_factor if entry else 1.0
        caught = self._once(("caught", box.name), lambda: last_caught(self._of_box(box), box)).get(lot)
        if caught is None:
            usual = self.drill.catch_of(box)
            caught = None, usual.turns * usual.rows, None
        season, size, named = caught
        if target_g is not None:
            return Task(box, lot, season, target_g / size, factor)
        if named is not None:
            return Task(box, lot, season, named, factor)
        return None if entry is None else Task(box, lot, season, entry.target_output, factor)
