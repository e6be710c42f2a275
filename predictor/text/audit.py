"""What an audit found, in plain words and in tables that terminal and page share."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from predictor.audit.results import Audit, BoxAudit, Check, Figure, LotAudit, Opinion, View
from predictor.domain.result import Remark
from predictor.format import count, in_100
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
CHECKS = {
    "setting": "straight line",
    "order": "order of catches",
    "filling": "filling of the box",
    "season": "seasons of the lot",
    "noise": "one repeatability",
}
VIEWS = {
    "history": "catches and earlier lots",
    "default": "catches and usual boxes",
    "classical": "catches alone",
}
TARGETS = {
    "plan": "that of the plan",
    "log": "named in the log",
    "usual": "the output at the setting caught most",
}
# Ratios of lots that a terminal shows, those that agree least.
MOST_RATIOS = 6

DIGITS = (
    "Digits say how many leading digits of two figures agree (the log relative error); a computer keeps 15. Limits "
    "hold with 95 %. Outputs are grams per row per turn, settings of the line are openings."
)
MORE = "Pass --details for every figure and test."


def _exact(remark: Remark) -> str:
    ours, theirs = remark["ours"], remark["theirs"]
    nearer = "both are" if ours == theirs else "ours is" if ours > theirs else "statsmodels is"
    rest = "as near" if ours == theirs else "nearer"
    return (
        f"Least squares: in exact arithmetic with the same weights, ours is right to {ours} digits and statsmodels' to "
        f"{theirs}; {nearer} {rest}, and what is left is rounding."
    )


def _gamma(who: str) -> Callable[[Remark], str]:
    def said(remark: Remark) -> str:
        far = f"The solution is {_small(remark['ours'])} standard errors from ours and {_small(remark['theirs'])} from"
        return (
            f"Gamma model: another estimator with the same equations, and Pearson's scale. {far} statsmodels', so "
            f"{who}. Carried on until its coefficients settle, it agrees with ours to {remark['carried']} digits."
        )

    return said


def _mixed(who: str) -> Callable[[Remark], str]:
    def said(remark: Remark) -> str:
        far = f"{_small(remark['ours'])} standard errors from ours and {_small(remark['theirs'])} from statsmodels'"
        none = " At ours the variance between lots is nothing." if remark["none"] else ""
        gap = f"-2 x the restricted log likelihood differs by {_small(remark['gap'])}"
        return f"Mixed model: {gap}, and the highest likelihood is {far}: {who}.{none}"

    return said


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "agrees": "The second opinion agrees: {scale} {ours} against {theirs}, {digits} digits.",
    "differs": "The second opinion differs: {scale} {ours} against {theirs}; one figure agrees in {worst} digits only.",
    "flat": "The line is level, so no setting gives the target.",
    "lots_agree": "The second opinion on {lots} lots agrees to {digits} digits.",
    "lots_differ": "The second opinion on {lots} lots differs: one figure agrees in {digits} digits only.",
    "exact": _exact,
    "not_exact": "Least squares: there are too many catches, or none over, for exact arithmetic.",
    "gamma_same": "Gamma model: the same equations as ours, with Pearson's scale; what differs is rounding.",
    "gamma_stops": _gamma("ours is nearer"),
    "gamma_nearer": _gamma("statsmodels is nearer"),
    "no_gamma": "statsmodels finds no Gamma model of these catches whose output stays above zero.",
    "below_zero": "The line passes zero between the catches, where no Gamma model and no test of residuals exists.",
    "mixed_higher": _mixed("ours is right, since its likelihood is higher"),
    "mixed_lower": _mixed("statsmodels is right, since its likelihood is higher"),
    "mixed_nearer": _mixed("both have the same likelihood to nine decimals, and ours is nearer"),
    "mixed_farther": _mixed("both have the same likelihood to nine decimals, and statsmodels is nearer"),
    "no_mixed": "statsmodels' mixed model finds no answer for these lots.",
    "levels": lambda remark: (
        "Least squares: a column for each lot, on outputs made linear about our curve. It leads "
        f"{_small(remark['ours'])} standard errors away from ours, so our curve is where the sum of squares is least."
    ),
    "own_shapes": "The lots have curves of their own. What follows is the fit with one curve for all.",
    "no_repeats": "No variance can be given without repeated catches.",
    "one_lot": lambda remark: f"There {'is only one lot' if remark['lots'] else 'is no lot'} with catches that count.",
    "too_many": "{catches:,} catches are more than are compared here ({most:,}). Pass a shorter log.",
    "nothing_to_compare": "There are no catches to compare.",
    "few_catches": lambda remark: (
        f"{count(remark['catches'], 'catch counts', 'catches count')}: a line without prior knowledge needs three."
    ),
    "one_setting": "All {catches} catches are at setting {setting}: a line needs two settings.",
    "unplaced": "The settings are labels without drive ratios, so no line can be fitted.",
    "no_target": "The line does not stay above zero, so it has no target.",
    "no_scatter": "The catches do not scatter about the line, so nothing can be tested.",
    "two_settings": lambda remark: (
        f"not tested: {count(remark['settings'], 'setting')}, and any line is straight between two"
    ),
    "too_few": "not tested: it needs {least} catches",
    "no_filling": "not tested: the filling was recorded in {known} catches",
    "one_filling": "not tested: the box was always equally full",
    "one_season": "not tested: caught in one season only",
    "no_link": "not tested: no lot was caught in two seasons",
    "goes_with_setting_order": "not tested: the order goes with the setting",
    "goes_with_setting_filling": "not tested: the filling goes with the setting",
    "goes_with_setting_season": "not tested: the season goes with the setting",
    "goes_with_setting_setting": "not tested: too few settings",
}


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


def title(found: LotAudit) -> str:
    """Box, lot and season."""
    return ", ".join(filter(None, (found.box, found.lot, found.season)))


def box_title(found: BoxAudit) -> str:
    """Box, lots and catches."""
    more = f" of {found.all_lots:,}, the last ones" if found.lots < found.all_lots else ""
    return f"{found.box}: {count(found.lots, 'lot')}{more}, {count(found.catches, 'catch', 'catches')}"


def notes(found: LotAudit) -> Iterator[str]:
    """What goes below the verdict on a lot."""
    if found.line is not None and found.target_output is not None:
        target = f"Target {found.target_output:.4g}, {TARGETS[found.target_from]}."
        yield f"{target} {limits(found)}"
    if found.set_aside:
        lines = ", ".join(map(str, found.set_aside))
        yield f"Left out as in the advice, since the rest contradicts them: line {lines}."
    if found.doubtful:
        named = ", ".join(f"{CHECKS[each.name]} (p = {_p(each.p)})" for each in found.doubtful)
        yield f"Look at: {named}."
    yield from (str(each) for each in (found.remarks if found.line is not None else found.remarks[1:]))


def limits(found: LotAudit) -> str:
    """Where the setting lies by catches alone."""
    _, low, high, _ = found.readings
    if found.line is None or found.line.shape == "whole scale" or low == high == "no limit":
        return f"These catches alone bound the {found.scale} on no side (Fieller's limits)."
    if found.line.shape == "two pieces":
        return "These catches alone only leave out a stretch of the scale (Fieller's limits)."
    return f"By Fieller's limits the {found.scale} lies within {low} and {high}."


def box_notes(found: BoxAudit) -> Iterator[str]:
    """What goes below the verdict on the lots of a box."""
    yield from (str(each) for each in (found.remarks if found.opinions else found.remarks[1:]))


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
            rows.append((CHECKS[each.name], statistic(each), _p(each.p), f"{each.catches:,}", effect(each)))
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


def by_chance(audit: Audit) -> str:
    """How many tests may fall below 5 % by chance."""
    expected = 0.05 * audit.checks
    any_below = 1 - 0.95**audit.checks
    return (
        f"{count(audit.checks, 'test')} of residuals, of which {audit.doubtful} fell below 5 %. Where everything is as "
        f"it should be, about {expected:.1f} would, and the chance of at least one is {100 * any_below:.0f} %."
    )


def not_shown(audit: Audit) -> str:
    """That some lots are not shown."""
    return (
        f"The last {len(audit.lots)} of {audit.all_lots:,} lots are shown, counted by season. Name others with --box "
        "and --lot."
    )


def worth_note() -> str:
    """What the worth of knowledge means."""
    return (
        "Worth says how many more catches would narrow the mean output at the target as much as the knowledge does. "
        "It says none where few catches happen to scatter so little that knowledge of such boxes makes them less sure."
    )


def _number(value: float, name: str) -> str:
    if not math.isfinite(value):
        return "none" if math.isnan(value) else "no limit"
    return f"{value:.6g}" if name == "criterion" else f"{value:.4g}"


def _p(value: float | None) -> str:
    return "" if value is None else "<0.001" if value < 0.001 else f"{value:.3f}"


def _small(value: float) -> str:
    return f"{value:.0e}" if value < 0.01 else f"{value:.2g}"


def _folded(text: str, width: int, indent: str = "  ") -> list[str]:
    return fold(text, indent, indent, width=width).split("\n")


def _table(header: Sequence[str], rows: Rows, width: int) -> list[str]:
    right: frozenset[int] = frozenset(k for k, name in enumerate(header) if name in ("digits", "catches", "p"))
    return Table(width, tuple(header), right).lines(rows)
