"""An audit in tables that terminal and page share, and line by line for a terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from predictor.audit.results import Audit, BoxAudit, Check, Figure, LotAudit, Opinion, View
from predictor.domain.result import Remark
from predictor.format import count, in_100
from predictor.text.audit import (
    CHECKS,
    DIGITS,
    MORE,
    box_notes,
    box_title,
    by_chance,
    not_shown,
    notes,
    p_value,
    title,
    worth_note,
)
from predictor.text.fold import fold
from predictor.text.table import Strong, Table

Rows = list[tuple[str, ...]]

METHODS = {
    "wls": "least squares",
    "gamma": "Gamma model",
    "ols": "least squares",
    "mixed": "mixed model",
}
FIGURES = {
    "intercept": "intercept",
    "slope": "slope",
    "intercept_se": "its standard error",
    "slope_se": "its standard error",
    "spread": "residual CV",
    "setting": "setting on target",
    "setting_lower": "lower limit (Fieller)",
    "setting_upper": "upper limit (Fieller)",
    "mean": "mean log output",
    "mean_se": "its standard error",
    "between": "variance between lots",
    "within": "variance within lots",
    "criterion": "-2 x restricted log likelihood",
    "bend": "bend of the curve",
}
VIEWS = {
    "history": "catches and earlier lots",
    "default": "catches and usual boxes",
    "classical": "catches alone",
}
# Ratios of lots that a terminal shows, those that agree least.
MOST_RATIOS = 6


def audit_lines(audit: Audit, width: int, *, details: bool) -> Iterator[str]:
    """The verdicts for a terminal of so many columns; with `details` every figure behind them."""
    if len(audit.lots) < audit.all_lots:
        yield from _folded(not_shown(audit), width, "")
        yield ""
    for each in audit.lots:
        yield from lot_lines(each, width, details=details)
        yield ""
    for box in audit.boxes:
        yield from box_lines(box, width, details=details)
        yield ""
    for sentence in (by_chance(audit), *((worth_note(), DIGITS) if details else (DIGITS, MORE))):
        yield from _folded(sentence, width, "")


def lot_lines(found: LotAudit, width: int, *, details: bool) -> Iterator[str]:
    """One lot: the verdict, and with `details` both answers, the tests, and what prior knowledge contributed."""
    yield from _folded(f"{title(found)}: {count(found.catches, 'catch', 'catches')}", width, "")
    yield from _verdict(found.verdict, width)
    for sentence in notes(found):
        yield from _folded(sentence, width)
    for header, rows in (figure_rows(found.opinions), check_rows(found.checks), view_rows(found.views)):
        if details and rows:
            yield ""
            yield from _table(header, rows, width)
    if details and found.opinions:
        yield ""
        yield from (line for each in found.opinions for line in _folded(str(each.why), width))


def box_lines(found: BoxAudit, width: int, *, details: bool) -> Iterator[str]:
    """The lots of one box."""
    yield from _folded(box_title(found), width, "")
    yield from _verdict(found.verdict, width)
    for sentence in box_notes(found):
        yield from _folded(sentence, width)
    if not details:
        return
    for opinion in found.opinions:
        yield ""
        yield from _table(*figure_rows((opinion,), most=MOST_RATIOS), width)
        yield from _folded(str(opinion.why), width)
    if found.season is not None:
        yield ""
        yield from _table(*check_rows((found.season,)), width)


def _verdict(remark: Remark, width: int) -> list[str]:
    lines = _folded(str(remark), width)
    return [Strong(lines[0], 2), *lines[1:]]


def figure_rows(opinions: Sequence[Opinion], *, most: int | None = None) -> tuple[tuple[str, ...], Rows]:
    """A row a figure: ours, and of each opinion theirs and the digits that agree."""
    if not opinions:
        return (), []
    header = ("figure", "ours", *(each for one in opinions for each in (METHODS[one.method], "digits")))
    figures = [each for each in opinions[0].figures if each.of]
    shown = set(map(id, sorted(figures, key=lambda each: each.digits)[:most]))
    rows: Rows = []
    for k, figure in enumerate(opinions[0].figures):
        if figure.of and id(figure) not in shown:
            continue
        beside = [each for one in opinions for each in _beside(one.figures[k])]
        rows.append((_name(figure), _number(figure.ours, figure.name), *beside))
    return header, rows


def _name(figure: Figure) -> str:
    return f"ratio of {figure.of}" if figure.of else FIGURES[figure.name]


def _beside(figure: Figure) -> tuple[str, str]:
    return _number(figure.theirs, figure.name), str(int(figure.digits))


def check_rows(checks: Sequence[Check]) -> tuple[tuple[str, ...], Rows]:
    """A row a test: its statistic, its p value, the catches, and the size of what it looks for."""
    rows: Rows = []
    for each in checks:
        if each.p is None:
            rows.append((CHECKS[each.name], str(each.reason)))
        else:
            rows.append(
                (
                    CHECKS[each.name],
                    statistic(each),
                    p_value(each.p).removeprefix("p ").removeprefix("= "),
                    f"{each.catches:,}",
                    effect(each),
                )
            )
    return (("residuals against", "statistic", "p", "catches", "change"), rows) if rows else ((), [])


def statistic(check: Check) -> str:
    """A statistic with its degrees of freedom."""
    if check.statistic is None or check.df1 is None:
        return ""
    if check.df2 is None:
        return f"chi2({check.df1:g}) = {check.statistic:.3g}"
    return f"F({check.df1:g}, {check.df2:g}) = {check.statistic:.3g}"


def effect(check: Check) -> str:
    """How large what was looked for is."""
    if check.effect is None:
        return ""
    return f"{100 * check.effect:+.2g} % {'a catch' if check.name == 'order' else 'empty to full'}"


def view_rows(views: Sequence[View]) -> tuple[tuple[str, ...], Rows]:
    """A row a fit: the setting, its limits, the chance at the nearest setting, and what the knowledge is worth."""
    rows: Rows = []
    for each in views:
        middle, low, high = each.readings
        limits = "no limits" if low == high else f"{low} to {high}"
        rows.append((VIEWS[each.name], middle, limits, each.at, f"{in_100(each.chance)} in 100", _worth(each)))
    return (("setting by", "ideal", "limits", "set at", "chance", "worth"), rows) if rows else ((), [])


def _worth(view: View) -> str:
    if view.worth is None:
        return ""
    return f"{view.worth:.1f} catches" if view.worth > 0 else "none"


def _number(value: float, name: str) -> str:
    if not math.isfinite(value):
        return "none" if math.isnan(value) else "no limit"
    return f"{value:.6g}" if name == "criterion" else f"{value:.4g}"


def _folded(text: str, width: int, indent: str = "  ") -> list[str]:
    return fold(text, indent, indent, width=width).split("\n")


def _table(header: Sequence[str], rows: Rows, width: int) -> list[str]:
    right: frozenset[int] = frozenset(k for k, name in enumerate(header) if name in ("digits", "catches", "p"))
    return Table(width, tuple(header), right).lines(rows)
