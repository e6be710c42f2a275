"""What an audit found, in sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from predictor.audit.results import SUSPECT, Audit, BoxAudit, LotAudit
from predictor.domain.result import Remark
from predictor.format import count

CHECKS = {
    "setting": "straight line",
    "order": "order of catches",
    "filling": "filling of the box",
    "season": "seasons of the lot",
    "seasons": "seasons of all lots",
    "noise": "one repeatability",
}
TARGETS = {
    "plan": "that of the plan",
    "log": "named in the log",
    "usual": "the output at the setting caught most",
}
DIGITS = (
    "Digits say how many leading digits of two figures agree (the log relative error); a computer keeps 15. Limits "
    "hold with 95 %. Outputs are grams per row per turn, settings of the line are openings."
)
TESTS = (
    "The tests take residuals as shares of the line. Straightness is held against the scatter of repeated catches, or "
    "without any by a quadratic term; order and filling are added to the line; seasons are compared about one line; "
    "the scatter is tested by Breusch and Pagan's statistic, whose p value is counted among made-up normal catches."
)
WHAT = (
    "This page is for whoever checks the work. It puts the line by catches alone beside the answers of statsmodels on "
    "the same catches, tests what the line takes for granted, and shows what prior knowledge contributed."
)
MORE = "Pass --details for every figure and test, or --out FILE.html for a page with pictures."


# Single steps of some twenty sums lose no more than the rest of fifteen digits.
ROUNDED = 9


def _exact(remark: Remark) -> str:
    ours, theirs = remark["ours"], remark["theirs"]
    nearer = "both are" if ours == theirs else "ours is" if ours > theirs else "statsmodels is"
    rest = "as near" if ours == theirs else "nearer"
    left = ", and what is left is rounding" if min(ours, theirs) >= ROUNDED else ""
    return (
        f"Least squares: in exact arithmetic with the same weights, ours is right to {ours} digits and statsmodels' to "
        f"{theirs}; {nearer} {rest}{left}."
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
    "same": "Least squares: no figure differs by more than rounding.",
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
    "levels_off": lambda remark: (
        "Least squares: a column for each lot, on outputs made linear about our curve. It leads "
        f"{_small(remark['ours'])} standard errors away from ours: the sum of squares is less there, so ours is wrong."
    ),
    "edge": "The curve comes to nothing at a catch, so least squares about it says nothing of the ratios.",
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
    "other_season": "not tested: it is with the last season of the lot",
    "one_season": "not tested: caught in one season only",
    "no_link": "not tested: it needs two lots or more that were caught in the same two seasons",
    "goes_with_setting_order": "not tested: the order goes with the setting",
    "goes_with_setting_filling": "not tested: the filling goes with the setting",
    "goes_with_setting_season": "not tested: the season goes with the setting",
    "goes_with_setting_setting": "not tested: too few settings",
}


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
        yield f"Look at: {look_at(found)}."
    yield from (str(each) for each in (found.remarks if found.line is not None else found.remarks[1:]))


def look_at(found: LotAudit) -> str:
    """The tests of a lot with a small p."""
    return ", ".join(f"{CHECKS[each.name]} ({p_value(each.p)})" for each in found.doubtful)


def look_at_box(found: BoxAudit) -> str:
    """The same of all lots of a box."""
    season = found.season
    small = season is not None and season.p is not None and season.p < SUSPECT
    return f"{CHECKS[season.name]} ({p_value(season.p)})" if season is not None and small else ""


def limits(found: LotAudit) -> str:
    """Where the setting lies by catches alone."""
    _, low, high, _ = found.readings
    if found.line is None or found.line.shape == "whole scale" or low == high == "no limit":
        return f"These catches alone bound the {found.scale} on no side (Fieller's limits)."
    if found.line.shape == "two pieces":
        return "These catches alone only leave out a stretch of the scale (Fieller's limits)."
    if "no limit" in (low, high):
        bound = f"above {low}" if high == "no limit" else f"below {high}"
        return f"By Fieller's limits the {found.scale} lies {bound}."
    return f"By Fieller's limits the {found.scale} lies between {low} and {high}."


def box_notes(found: BoxAudit) -> Iterator[str]:
    """What goes below the verdict on the lots of a box."""
    if look_at_box(found):
        yield f"Look at: {look_at_box(found)}."
    yield from (str(each) for each in (found.remarks if found.opinions else found.remarks[1:]))


def by_chance(audit: Audit) -> str:
    """How many tests may fall below 5 % by chance."""
    if not audit.checks:
        return "These catches allow no test of residuals."
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
        "Worth says how many more catches would narrow the mean output at the target as much as prior knowledge does. "
        "It says none where few catches happen to scatter so little that knowledge of such boxes makes them less sure."
    )


def p_value(value: float | None) -> str:
    """A p value with its sign, to three decimals."""
    return "" if value is None else "p < 0.001" if value < 0.001 else f"p = {value:.3f}"


def pictured(lots: Sequence[LotAudit]) -> str:
    """The picture of the residuals of lots."""
    shown = [each for each in lots if each.line is not None and each.residuals is not None]
    return " ".join(_pictured(each) for each in shown) or "No lot has a line to show."


def _pictured(found: LotAudit) -> str:
    tests = ", ".join(
        f"{CHECKS[each.name]} {p_value(each.p)}" if each.p is not None else f"{CHECKS[each.name]} not tested"
        for each in found.checks
    )
    largest = "" if found.residuals is None else f"{abs(found.residuals.value).max():.2g}"
    return (
        f"{title(found)}: {count(found.catches, 'catch', 'catches')} about the line by catches alone, and their "
        f"standardised residuals, of which the largest is {largest}. {limits(found)} Tests: {tests}."
    )


def seasons_pictured(found: BoxAudit) -> str:
    """The picture of residuals by season."""
    means = ", ".join(f"{name} {values.mean():+.2g}" for name, values in found.by_season)
    return f"{found.box}: mean standardised residuals of {count(found.lots, 'lot')} by season: {means}."


def _small(value: float) -> str:
    return f"{value:.0e}" if value < 0.01 else f"{value:.2g}"
