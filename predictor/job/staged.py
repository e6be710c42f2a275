"""What a job makes of its stages: the lots that are in the boxes, where each lot is, and the next step."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING

from predictor.advice.aim import CONFIDENCE, TOLERANCE
from predictor.advice.result import Advice
from predictor.domain.arguments import text_of
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.planted import Planted, is_over
from predictor.domain.seed import Plan
from predictor.domain.trials import Trials
from predictor.field.verdict import Verdict
from predictor.job import asked
from predictor.job.planting import still_to_plant
from predictor.job.stage import Stage, lot_in_hand, stage_of
from predictor.job.steps import Step, next_step
from predictor.job.task import Task
from predictor.slips.finding import Finding


class Staged:
    """The part of a `Job` that is about its stages; the rest of it is only named here."""

    drill: Drill
    trials: Trials
    plan: Plan | None
    planted: Planted
    today: datetime.date
    if TYPE_CHECKING:

        def advice(self, task: Task, tolerance: float = ..., confidence: float = ...) -> Advice: ...

        def tasks(
            self, box: str | None = None, lot: str | None = None, target_g: float | None = None
        ) -> list[Task]: ...

        def _of_box(self, box: SeedBox) -> Trials: ...

        def verdict(self, box: str, lot: str, tolerance: float = ...) -> Verdict | None: ...

    def slips(self, tolerance: float = TOLERANCE, confidence: float = CONFIDENCE) -> tuple[Finding, ...]:
        """What looks like a slip in the catches of every box and lot with a target.

        Parameters
        ----------
        tolerance, confidence : float
            As for `recommend`.

        Returns
        -------
        tuple of Finding
            In the order of `tasks`, of each the likeliest first.

        Examples
        --------
        >>> import predictor
        >>> predictor.read_job("sample_trials").slips()
        ()
        """
        found = (each for task in self.tasks() for each in self.advice(task, tolerance, confidence).slips)
        return tuple(dict.fromkeys(found))

    def in_hand(self) -> list[Task]:
        """The boxes as they are filled: of each box the lot last caught or planted, else the first of the plan."""
        found = []
        for box in self.drill.boxes:
            lines = [each for each in self.planted.lines if each.use and each.box.name == box.name]
            tasks = self.tasks(box.name)
            lot = lot_in_hand(self._of_box(box), lines, [task.lot for task in tasks])
            found += [task for task in tasks if task.lot == lot] or tasks[:1]
        return found

    def stages(
        self,
        box: str | None = None,
        lot: str | None = None,
        target_g: float | None = None,
        *,
        tolerance: float = TOLERANCE,
        confidence: float = CONFIDENCE,
        day: str = "",
    ) -> list[Stage]:
        """Where every box and lot with a target is, from the first catch to the field.

        Parameters
        ----------
        box, lot, target_g : str, str, float, optional
            As for `tasks`.
        tolerance, confidence : float
            As for `recommend`.
        day : str
            Lines and checks of the season of planting that this day is in count; the job's day where not given.

        Returns
        -------
        list of Stage
            In the order of `tasks`.

        Examples
        --------
        >>> import datetime
        >>> import predictor
        >>> job = predictor.read_job("sample_trials", today=datetime.date(2026, 11, 25))
        >>> [(each.box, str(each.headline)) for each in job.stages()]
        [('chaffy', 'LOCK AT 4'), ('grain', 'LEAVE IT AT 17'), ('small', 'SET 14, CATCH AGAIN')]
        """
        return self._stages_of(self.tasks(box, lot, target_g), tolerance, confidence, asked.day_of(day))

    def _stages_of(self, tasks: Sequence[Task], tolerance: float, confidence: float, day: str = "") -> list[Stage]:
        """The stages of some tasks; only their lots are fitted."""
        hand, day = {(task.box.name, task.lot) for task in self.in_hand()}, day or self.today.isoformat()
        return [
            stage_of(
                task,
                self.advice(task, tolerance, confidence),
                self.planted.of(task.box.name, task.lot, day),
                self._verdict_on(day, task, tolerance),
                in_hand=(task.box.name, task.lot) in hand,
            )
            for task in tasks
        ]

    def stages_in_hand(self, tolerance: float = TOLERANCE, confidence: float = CONFIDENCE) -> list[Stage]:
        """The stages of the lots that are in the boxes.

        Parameters
        ----------
        tolerance, confidence : float
            As for `stages`.

        Returns
        -------
        list of Stage
            In the drill's order.
        """
        return self._stages_of(self.in_hand(), tolerance, confidence)

    def _verdict_on(self, day: str, task: Task, tolerance: float) -> Verdict | None:
        """What the field checks say of a lot on a day; nothing once their season of planting is over."""
        found = self.verdict(task.box.name, task.lot, tolerance)
        return None if found is None or is_over(found.date, day) else found

    def season_stages(self, tolerance: float = TOLERANCE, confidence: float = CONFIDENCE, day: str = "") -> list[Stage]:
        """The stages of this season's lots: of the plan, in a box, planted, or caught in the season of the lot in it.

        Parameters
        ----------
        tolerance, confidence, day : float, float, str
            As for `stages`.

        Returns
        -------
        list of Stage
        """
        hand, day = self.in_hand(), day or self.today.isoformat()
        seasons = {(task.box.name, task.season) for task in hand if task.season}
        planned = {(each.box.name, each.lot.lower()) for each in self.plan.boxes} if self.plan else set()

        def is_of_season(task: Task) -> bool:
            where = task.box.name
            return task in hand or (where, task.season) in seasons or (where, task.lot.lower()) in planned

        # lots of other seasons are not fitted, unless lines of this one may be theirs
        tasks = [each for each in self.tasks() if is_of_season(each) or self.planted.of(each.box.name, each.lot, day)]
        stages = self._stages_of(tasks, tolerance, confidence, day)
        return [each for each in stages if each.planted or is_of_season(each.task)]

    def next_step(self, done: str = "") -> Step | None:
        """The next useful step of the whole job.

        Parameters
        ----------
        done : str
            Name of the command that was run.

        Returns
        -------
        Step or None
            None where nothing is left to do.
        """
        text_of(done, "done", "the name of a command")
        hand, lines = self.in_hand(), self.planted.season(self.today.isoformat())
        boxes = [task.box.name for task in hand]
        # of other lots only those count that may follow: they have no catch yet
        tasks = [each for each in self.tasks() if each in hand or each.season is None]
        stages = self._stages_of(tasks, TOLERANCE, CONFIDENCE)
        return next_step(stages, still_to_plant(lines, boxes, self.drill.fields), done)
