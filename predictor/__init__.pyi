"""The names of the library for type checkers, which do not see what is loaded when first used."""

from predictor.advice.aim import Aim as Aim
from predictor.advice.history import History as History, learn_history as learn_history
from predictor.advice.lot_fit import Stationary as Stationary
from predictor.advice.recommend import recommend as recommend
from predictor.advice.result import Advice as Advice
from predictor.curves import Curve as Curve, Prior as Prior, SettingEstimate as SettingEstimate, fit_curve as fit_curve
from predictor.domain.catch import CatchSize as CatchSize
from predictor.domain.control import Lever as Lever, Setting as Setting, Sprockets as Sprockets
from predictor.domain.drill import CatchDefaults as CatchDefaults, Drill as Drill, SeedBox as SeedBox
from predictor.domain.drives import LeverAndDrive as LeverAndDrive, OnDrive as OnDrive
from predictor.domain.fields import Field as Field
from predictor.domain.result import Remark as Remark
from predictor.domain.seed import BoxPlan as BoxPlan, LotPlan as LotPlan, Plan as Plan
from predictor.domain.trials import Trials as Trials
from predictor.errors import InputError as InputError, NotEnoughCatches as NotEnoughCatches, Problem as Problem
from predictor.field.budget import Budget as Budget, Source as Source
from predictor.field.results import BoxFactor as BoxFactor, CheckResult as CheckResult, FieldResult as FieldResult
from predictor.field.verdict import Verdict as Verdict
from predictor.files.drill import read_drill as read_drill
from predictor.files.plan import read_plan as read_plan
from predictor.files.trials import as_trials as as_trials, read_trials as read_trials
from predictor.job.job import Job as Job
from predictor.job.read import read_job as read_job
from predictor.job.task import Task as Task
from predictor.lots.compare import compare_lots as compare_lots
from predictor.lots.results import Lot as Lot, LotComparison as LotComparison
from predictor.slips.finding import Finding as Finding

__version__: str
