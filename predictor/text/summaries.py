"""Results as a person reads them: one summary for the terminal and notebooks, whatever the result."""

from __future__ import annotations

import html as markup
from functools import singledispatch

from predictor.advice.result import Advice
from predictor.curves.base import Curve
from predictor.domain.trials import Trials
from predictor.field.budget import Budget
from predictor.field.results import FieldResult
from predictor.lots.results import LotComparison
from predictor.text import budget, curves, field, lot_lines, particulars, trials
from predictor.text.fold import fold

# Columns of a summary, which no terminal limits.
WIDTH = 80


@singledispatch
def summary(result: object) -> str:
    """A result in plain words."""
    raise TypeError(f"There are no words for {type(result).__name__}.")


@summary.register
def _advice(result: Advice) -> str:
    return "\n".join(particulars.advice_lines(result, None, fold, WIDTH))


@summary.register
def _trials(result: Trials) -> str:
    return "\n".join(trials.lines(result, fold))


@summary.register
def _curve(result: Curve) -> str:
    return "\n".join(curves.lines(result))


@summary.register
def _field(result: FieldResult) -> str:
    return "\n".join(field.lines(result, result.units, fold))


@summary.register
def _budget(result: Budget) -> str:
    return "\n".join(budget.lines(result, fold))


summary.register(LotComparison)(lot_lines.comparison_words)


def html(result: object) -> str:
    """The same for a notebook."""
    return f"<pre>{markup.escape(summary(result))}</pre>"
