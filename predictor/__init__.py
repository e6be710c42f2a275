"""Which setting of a seed drill gives the planned rate, how sure that is, and when to stop testing.

Everything here works without files. Names are loaded when first used, so that `import predictor` costs
nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "1.0.0"

_HOMES = {
    "Advice": "advice",
    "BoxPlan": "seed",
    "CatchDefaults": "drill",
    "Curve": "curves",
    "Drill": "drill",
    "History": "history",
    "InputError": "errors",
    "Lever": "drill",
    "NotEnoughCatches": "errors",
    "Plan": "seed",
    "SeedBox": "drill",
    "Sprockets": "drill",
    "Trials": "trials",
    "as_trials": "trials",
    "compare_lots": "lots",
    "fit_curve": "curves",
    "learn_history": "history",
    "read_drill": "drill_file",
    "read_plan": "plan_file",
    "read_trials": "trials",
    "recommend": "advice",
}

__all__ = ["__version__", *sorted(_HOMES)]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'predictor' has no attribute {name!r}")
    value = getattr(import_module(f"predictor.{_HOMES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
