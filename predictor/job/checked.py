"""What a job makes of its field checks: the factors they show, the verdicts, and the targets they correct."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import partial
from typing import TYPE_CHECKING, Self, TypeVar

from predictor.advice.aim import TOLERANCE
from predictor.advice.lot_fit import LotFit
from predictor.advice.result import Advice
from predictor.domain.arguments import kind, label, text_of
from predictor.domain.checks import FieldChecks, Part
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.planted import Planted
from predictor.domain.seed import BoxPlan, Plan
from predictor.domain.trials import Trials, last_season
from predictor.field.comparing import Compared, Known, compare
from predictor.field.factors import field_factors
from predictor.field.results import CheckResult, FieldResult
from predictor.field.slips import sifted
from predictor.field.verdict import Place, Verdict
from predictor.job import asked
from predictor.job.task import Task
from predictor.job.verdicts import in_hand, known_of, lot_factor, named, verdicts_in_time

Made = TypeVar("Made")


class Checked:
    """The part of a `Job` that is about its field checks; the rest of it is only named here."""

    drill: Drill
    trials: Trials
    plan: Plan | None
    planted: Planted
    checks: FieldChecks | None
    use_field_factor: bool
    if TYPE_CHECKING:

        @property
        def everything(self) -> Trials: ...

        def _once(self, key: Hashable, make: Callable[[], Made]) -> Made: ...

        def is_towed(self, box: SeedBox, lot: str) -> bool: ...

        def with_plan(self, plan: Plan) -> Self: ...

        def advice(self, task: Task) -> Advice: ...

        def tasks(self, box: str | None = None, lot: str | None = None) -> list[Task]: ...

        def _fit_of_season(
            self, box: SeedBox, lot: str, season: str, target_output: float | None, drive: str
        ) -> LotFit: ...

    @property
    def field(self) -> FieldResult | None:
        """What the field checks say; None where there are none."""
        if self.checks is None:
            return None
        return self._once("field", lambda: field_factors(sifted(self._compared(), self.drill), self.drill))

    def _compared(self) -> list[Compared]:
        """The field checks, each against its target and catches."""
        checks = self.checks.checks if self.checks else ()

        def known(part: Part, date: str) -> Known:
            return known_of(self, part, date)

        return self._once("compared", lambda: [compare(each, self.drill, known) for each in checks])

    def verdict(self, box: str, lot: str, tolerance: float = TOLERANCE) -> Verdict | None:
        """What the field checks of a box say of the setting it is at with a lot.

        Parameters
        ----------
        box, lot : str
            In capitals or not; the season of its last check is taken.
        tolerance : float
            As for `recommend`.

        Returns
        -------
        Verdict or None
            None without a check, a target or a catch of that lot.

        Examples
        --------
        >>> import predictor
        >>> verdict = predictor.read_job("sample_trials").verdict("grain", "CW-26")
        >>> verdict.answer, round(verdict.chance, 2)
        ('leave', 1.0)
        """
        tolerance = asked.tolerance_of(tolerance)
        wanted = text_of(box, "box").lower(), label(lot, "lot").lower()
        ours = [each for one in self._compared() for each in one.places if (each[0].lower(), each[1]) == wanted]
        found = [each for place in dict.fromkeys(ours) for each in self._verdicts(place, tolerance)]
        return sorted(found, key=lambda each: each.date)[-1] if found else None

    def _judged(self, box: str, lot: str, season: str | None) -> bool:
        """Whether a field check judged the setting of a lot in a season."""
        found = self.verdict(box, lot)
        return found is not None and found.season == season and found.answer != "weigh"

    def _verdicts(self, place: Place, tolerance: float) -> list[Verdict]:
        """What each check of a box, lot and season said."""
        make = partial(verdicts_in_time, self, self._compared(), place, tolerance)
        return self._once(("verdicts", place, tolerance), make)

    def verdicts(self, tolerance: float = TOLERANCE) -> list[Verdict]:
        """The verdict on every box and lot that was checked in the season in hand, in the drill's order.

        Parameters
        ----------
        tolerance : float
            As for `recommend`.

        Returns
        -------
        list of Verdict
        """
        tolerance = asked.tolerance_of(tolerance)
        places = dict.fromkeys((place[:2]) for one in self._compared() for place in one.places)
        found = [
            self.verdict(*place, tolerance) for box in self.drill.boxes for place in places if place[0] == box.name
        ]
        return [each for each in found if each and in_hand(self, each.season, each.date)]

    def is_of_now(self, check: CheckResult) -> bool:
        """Whether a field check was made in the season in hand, in one of its boxes at least.

        Parameters
        ----------
        check : CheckResult

        Returns
        -------
        bool
        """
        kind(check, "check", CheckResult, "a CheckResult, one of job.field.checks")
        return any(in_hand(self, season, check.date) for season in check.seasons or (None,))

    def corrected(self) -> Self:
        """The job with target catches for the field factors that its checks showed."""
        if self.field is None or not self.use_field_factor or self.plan is None:
            return self
        # what is kept does not depend on the targets, so both jobs share it
        factors = {(each.box.name, each.lot): self._lot_factor(each) for each in self.plan.boxes}
        return self.with_plan(self.plan.with_field_factors(factors, self.drill))

    def _slip(self, box: SeedBox) -> tuple[float, float] | None:
        """The field factor of a box that checks measured, and how sure; None without one or where it is not used."""
        found = self.field.of(box.name) if self.field is not None and self.use_field_factor else None
        return None if found is None else (found.factor, found.log_sd)

    def _lot_factor(self, entry: BoxPlan) -> float:
        """The field factor of one box and lot of the plan."""
        assert self.plan is not None
        plan, box = self.plan, entry.box.name
        mine = named(self.trials.of(box=box), entry.lot)
        season = last_season(mine) if len(mine) else None
        last_day = max(mine.where((mine.season == season) | (mine.season == "")).date.tolist(), default="")

        def locks(factor: float) -> bool:
            job = self.with_plan(plan.with_field_factors({(box, entry.lot): factor}, self.drill))
            return any(job.advice(task).decision == "lock" for task in job.tasks(box, entry.lot))

        place = box, entry.lot.lower(), season
        towed = self.is_towed(entry.box, entry.lot)
        return lot_factor(self, self._compared(), place, last_day, locks, towed=towed)
