"""Which setting of a seed drill gives the planned rate, how sure that is, and when to stop testing.

Everything here works without files. Names are loaded when first used, so that `import predictor` costs nothing; type
checkers find them in `__init__.pyi`.
"""

from __future__ import annotations

from importlib import import_module

__version__ = "1.0.0"

_HOMES = {
    "Advice": "advice.result",
    "Aim": "advice.aim",
    "BoxFactor": "field.results",
    "BoxPlan": "domain.seed",
    "Budget": "field.budget",
    "CatchDefaults": "domain.drill",
    "CatchSize": "domain.catch",
    "CheckResult": "field.results",
    "Curve": "curves",
    "Drill": "domain.drill",
    "Field": "domain.fields",
    "FieldResult": "field.results",
    "Finding": "slips.finding",
    "History": "advice.history",
    "InputError": "errors",
    "Job": "job.job",
    "Lever": "domain.control",
    "LeverAndDrive": "domain.drives",
    "Lot": "lots.results",
    "LotComparison": "lots.results",
    "LotPlan": "domain.seed",
    "NotEnoughCatches": "errors",
    "OnDrive": "domain.drives",
    "Plan": "domain.seed",
    "Prior": "curves",
    "Problem": "errors",
    "Remark": "domain.result",
    "SeedBox": "domain.drill",
    "Setting": "domain.control",
    "SettingEstimate": "curves",
    "Source": "field.budget",
    "Sprockets": "domain.control",
    "Stationary": "advice.lot_fit",
    "Task": "job.task",
    "Trials": "domain.trials",
    "Verdict": "field.verdict",
    "as_trials": "files.trials",
    "compare_lots": "lots.compare",
    "fit_curve": "curves",
    "learn_history": "advice.history",
    "read_drill": "files.drill",
    "read_job": "job.read",
    "read_plan": "files.plan",
    "read_trials": "files.trials",
    "recommend": "advice.recommend",
}

__all__ = ["__version__", *sorted(_HOMES)]


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'predictor' has no attribute {name!r}")
    value = getattr(import_module(f"predictor.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
