"""The record of a season: everything that a landowner, a programme or the next season asks of a job, worked out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from predictor.advice.aim import CONFIDENCE, TOLERANCE
from predictor.advice.result import Advice
from predictor.domain.planted import PlantedLine
from predictor.domain.seed import BoxPlan
from predictor.domain.trials import Trials
from predictor.field.budget import Budget
from predictor.job.job import Job
from predictor.job.planting import Planting, ToPlant, planting, still_to_plant
from predictor.job.stage import Stage
from predictor.lots.compare import compare_lots
from predictor.lots.results import LotComparison

# What a catch is to a record: why it does not count (as of `Trials.status`), or what it was used for.
Use = Literal["unused", "uncharged", "nothing", "set aside", "standing", "used", "earlier"]


@dataclass(frozen=True)
class Particulars:
    """What no file of the job holds; "" is left to be filled in by hand."""

    client: str = ""
    place: str = ""
    depth: str = ""
    operator: str = ""
    area_m2: float | None = None
    planted: str = ""  # Day of planting, as YYYY-MM-DD


@dataclass(frozen=True)
class Record:
    """Everything that a report shows."""

    job: Job
    stages: tuple[Stage, ...]  # Of every box and lot of this season
    budgets: tuple[Budget, ...]
    comparisons: tuple[LotComparison, ...]  # For the boxes with catches of two lots, or of one in two seasons
    files: tuple[tuple[str, str], ...] = ()  # Name and SHA-256 of each file read
    particulars: Particulars = field(default_factory=Particulars)

    @property
    def results(self) -> tuple[Advice, ...]:
        """The advice on every box and lot of this season."""
        return tuple(each.advice for each in self.stages)

    def stage_of(self, advice: Advice) -> Stage:
        """Where the box and lot of an advice are."""
        return next(each for each in self.stages if (each.box, each.lot) == (advice.box, advice.lot))

    @property
    def date(self) -> str:
        """Day of the last catch or check; "" where none is dated."""
        return _last_test(self.job)

    @property
    def operators(self) -> str:
        """Who did it: as was said, else those whom catches and planted lines name."""
        planters = [each.operator for each in self.planting.lines]
        return self.particulars.operator or ", ".join(
            dict.fromkeys(filter(None, [*self.job.trials.operator.tolist(), *planters]))
        )

    @property
    def planting(self) -> Planting:
        """What was planted this season, from its lines alone."""
        return planting(self._season)

    @property
    def left(self) -> tuple[ToPlant, ...]:
        """What the boxes have still to plant this season."""
        boxes = [task.box.name for task in self.job.in_hand()]
        return still_to_plant(self._season, boxes, self.job.drill.fields)

    @property
    def planted_before(self) -> tuple[PlantedLine, ...]:
        """The lines of earlier seasons, which are in no amount."""
        return tuple(each for each in self.job.planted.lines if each.use and each not in self._season)

    @property
    def _season(self) -> tuple[PlantedLine, ...]:
        return self.job.planted.season(_last_day(self.job))

    def is_planted(self, advice: Advice) -> bool:
        """Whether the lot was planted, so that advice on it is for next time."""
        return self.stage_of(advice).reached == "planted"

    def plan_of(self, advice: Advice) -> BoxPlan | None:
        """The plan of a box and lot."""
        return self.job.plan.target(advice.box, advice.lot) if self.job.plan else None

    def uses(self) -> list[Use]:
        """What each catch was used for, in the order of the log."""
        return uses_of(self.job.trials, self.results)


def uses_of(trials: Trials, advices: Sequence[Advice]) -> list[Use]:
    """What the advice on some lots used each catch for; catches of other lots are earlier ones."""
    aside = {line for each in advices for line in each.set_aside}
    # catches that count in the log, but not beside the towed ones of their lot
    standing = {line for each in advices for line in each.trials.line[~each.trials.use].tolist()}
    in_hand = {(each.box, each.lot, season) for each in advices for season in (each.season, "")}
    uses: list[Use] = []
    columns = (trials.status, trials.line, trials.box, trials.lot, trials.season)
    for status, line, *place in zip(*(each.tolist() for each in columns), strict=True):
        # catches without a season go with any season
        found: Use = "set aside" if line in aside else "standing" if line in standing else "used"
        uses.append(status or (found if found != "used" or tuple(place) in in_hand else "earlier"))
    return uses


def _last_test(job: Job) -> str:
    checks = job.checks.checks if job.checks else ()
    return max([*job.trials.date.tolist(), *(each.date for each in checks)], default="")


def _last_day(job: Job) -> str:
    """Day of the last catch, check or planted line, in whose season the record is."""
    return max([_last_test(job), *(each.date for each in job.planted.lines if each.use)])


def make_record(
    job: Job,
    files: Sequence[tuple[str, str]] = (),
    particulars: Particulars | None = None,
    *,
    tolerance: float = TOLERANCE,
    confidence: float = CONFIDENCE,
) -> Record:
    """Work out everything that a report shows."""
    caught = [(box.name, job.trials.of(box=box.name)) for box in job.drill.boxes]
    several = [name for name, each in caught if len(set(zip(each.lot.tolist(), each.season.tolist(), strict=True))) > 1]
    compared = [compare_lots(job.trials, name) for name in several]
    return Record(
        job,
        # a record of last season says where each box was then, whenever it is made
        tuple(job.season_stages(tolerance, confidence, _last_day(job))),
        tuple(job.budgets(tolerance, confidence, _last_day(job))),
        tuple(each for each in compared if len(each.lots) > 1 or each.lots_in_seasons),
        tuple(files),
        particulars or Particulars(),
    )
