"""Which setting of a seed drill gives the planned rate, how sure that is, and when to stop testing.

Everything here works without files. Names are loaded when first used, so that `import predictor` costs
nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "1.0.0"

if TYPE_CHECKING:  # the same names for type checkers, which do not see what is loaded when first used
    from predictor.advice.aim import Aim as Aim
    from predictor.advice.history import History as History
    from predictor.advice.history import learn_history as learn_history
    from predictor.advice.recommend import recommend as recommend
    from predictor.advice.result import Advice as Advice
    from predictor.curves import Curve as Curve
    from predictor.curves import Prior as Prior
    from predictor.curves import SettingEstimate as SettingEstimate
    from predictor.curves import fit_curve as fit_curve
    from predictor.domain.control import Lever as Lever
    from predictor.domain.control import Setting as Setting
    from predictor.domain.control import Sprockets as Sprockets
    from predictor.domain.drill import CatchDefaults as CatchDefaults
    from predictor.domain.drill import Drill as Drill
    from predictor.domain.drill import SeedBox as SeedBox
    from predictor.domain.result import Remark as Remark
    from predictor.domain.seed import BoxPlan as BoxPlan
    from predictor.domain.seed import Plan as Plan
    from predictor.domain.trials import Trials as Trials
    from predictor.errors import InputError as InputError
    from predictor.errors import NotEnoughCatches as NotEnoughCatches
    from predictor.files.drill import read_drill as read_drill
    from predictor.files.plan import read_plan as read_plan
    from predictor.files.trials import as_trials as as_trials
    from predictor.files.trials import read_trials as read_trials
    from predictor.job.job import Job as Job
    from predictor.job.job import Task as Task
    from predictor.job.read import read_job as read_job
    from predictor.lots.compare import compare_lots as compare_lots

_HOMES = {
    "Advice": "advice.result",
    "Aim": "advice.aim",
    "BoxPlan": "domain.seed",
    "CatchDefaults": "domain.drill",
    "Curve": "curves",
    "Drill": "domain.drill",
    "History": "advice.history",
    "InputError": "errors",
    "Job": "job.job",
    "Lever": "domain.control",
    "NotEnoughCatches": "errors",
    "Plan": "domain.seed",
    "Prior": "curves",
    "Remark": "domain.result",
    "SeedBox": "domain.drill",
    "Setting": "domain.control",
    "SettingEstimate": "curves",
    "Sprockets": "domain.control",
    "Task": "job.job",
    "Trials": "domain.trials",
    "as_trials": "files.trials",
    "compare_lots": "lots.compare",
    "fit_curve": "curves",
    "learn_history": "advice.history",
    "read_drill": "files.drill",
    "read_plan": "files.plan",
    "read_trials": "files.trials",
    "read_job": "job.read",
    "recommend": "advice.recommend",
}

__all__ = ["__version__", *sorted(_HOMES)]


if not TYPE_CHECKING:  # else a checker would take any name for one of ours

    def __getattr__(name: str) -> object:
        if name not in _HOMES:
            raise AttributeError(f"module 'predictor' has no attribute {name!r}")
        value = getattr(import_module(f"predictor.{_HOMES[name]}"), name)
        globals()[name] = value
        return value


def __dir__() -> list[str]:
    return sorted(__all__)
