"""The uncertainty budget in words."""

from __future__ import annotations

from collections.abc import Sequence

from predictor.advice.evidence import ROW_SPREAD
from predictor.advice.setup import FILL_CHAFFY
from predictor.domain.result import Remark
from predictor.field.budget import CIRCUMFERENCE_HALF_WIDTH, Budget
from predictor.field.filling import FILL_OTHER_RANGE
from predictor.field.usual import CHECK_SPREAD
from predictor.format import count, percent
from predictor.text.field import UNCHECKED
from predictor.text.fold import Fold


def _checked(remark: Remark) -> str:
    each = "good" if remark["checks"] == 1 else "each good"
    return f"{count(remark['checks'], 'weighed check')} of this lot, {each} to about {percent(CHECK_SPREAD)} %"


def _checked_elsewhere(remark: Remark) -> str:
    return f"{count(remark['checks'], 'field check')} of this box, with other lots or boxes"


def _best(remark: Remark) -> str:
    before, after = percent(remark["before"]), percent(remark["after"])
    return f"{remark['remedy']} would reduce it most, from {before} to about {after} % either way."


SENTENCES = {
    # sources
    "germination": "germination on the tag",
    "purity": "purity on the tag",
    "field_checks": "field checks",
    "catches": "catches",
    "rows": "rows not caught",
    "scale": "scale",
    "field_factor": "field factor",
    "circumference": "rolling circumference",
    "covered": "ground of one turn or second",
    "filling": "box filling",
    # where their sizes are from
    "two_tests": "tolerance between two tests, 7 CFR 201.63",
    "two_analyses": "tolerance between two analyses, from memory",
    "checked": _checked,
    "curve": "repeatability and curve",
    "rows_weighed": "single rows were weighed",
    "rows_assumed": (
        f"single rows were not weighed; {percent(ROW_SPREAD)} % between rows, the middle of published figures"
    ),
    "step": "step of {step:g} g",
    "no_check": "no field check; published field rates were 4 to 15 % below standing ones, 8 % on average",
    "no_check_of_motor": "no field check; the spread of published field rates, which are of drive wheels",
    "checked_elsewhere": _checked_elsewhere,
    "ten_turns": f"{percent(CIRCUMFERENCE_HALF_WIDTH)} % either way, ten turns in the field",
    "assumed_ground": f"{percent(CIRCUMFERENCE_HALF_WIDTH)} % either way, assumed",
    "fill_seen": "from catches at several fillings",
    "fill_chaffy": f"{percent(FILL_CHAFFY[0])} % from full to nearly empty, Australian J. Exp. Agric. 39, 1999",
    "fill_assumed": f"{percent(FILL_OTHER_RANGE)} % from full to nearly empty, assumed",
    # what would reduce them
    "mend_germination": "A second germination test",
    "mend_purity": "A second purity analysis",
    "mend_field_checks": "As many field checks again",
    "mend_catches": "As many catches again",
    "mend_rows": "Catching every row",
    "mend_scale": "A finer scale",
    "mend_field_factor": "A field check of this lot",
    "check_box": "A field check of this box",
    "mend_circumference": "Rolling the drill ten turns again",
    "mend_covered": "Measuring that ground again",
    "mend_filling": "Keeping the box more than half full",
    "best": _best,
    # usual sources that are not in it
    "without_catches": (
        "catches, rows, scale and the ground of one turn or second, since field checks of this lot measured its rate"
    ),
    "without_slip": "field factor and the ground of one turn or second, since the drill was towed for these catches",
    "without_circumference": "the ground of one turn or second, since its error is in the field factor",
}


TOGETHER = "all together"


def size(u: float) -> str:
    """A standard uncertainty, a fraction of the rate, in per cent.

    >>> size(0.0467), size(0.151)
    ('4.7 %', '15 %')
    """
    return f"{100 * u:.1f} %" if 100 * u < 9.95 else f"{100 * u:.0f} %"


def known_to(budget: Budget) -> str:
    """What the budget comes to, in one phrase."""
    tagged = any(each.name == "germination" for each in budget.sources)
    return f"{'Live seed' if tagged else 'Bulk rate'} known to {percent(budget.expanded)} % either way"


def would_be(budget: Budget) -> str:
    """What would reduce it most, and to how much."""
    best = budget.best
    return f"{best['remedy']} would make it about {percent(best['after'])} %."


def budget_words(budget: Budget) -> list[str]:
    """What the budget comes to, and what would reduce it most."""
    total = f"{percent(budget.expanded)} % either way (95 %, k = {budget.k:.2f})"
    rate = (
        "rate of planted live seed is"
        if _tagged(budget)
        else "lot has no tag, so its live seed is unknown. Its bulk rate is"
    )
    said = [f"The {rate} known to {total}.", str(budget.best)]
    if any(each.basis.code == "budget.no_check" for each in budget.sources):
        said.append(UNCHECKED)
    return said + ([f"It leaves out {budget.left_out}."] if budget.left_out else [])


def _tagged(budget: Budget) -> bool:
    return any(each.name == "germination" for each in budget.sources)


def lines(budget: Budget, fold: Fold) -> list[str]:
    """The same with every source, folded."""
    said = [f"BUDGET {budget.box}, lot {budget.lot}", *map(fold, budget_words(budget))]
    said.append(fold("Standard uncertainty of each source, and its share of the variance:"))
    for each in budget.sources:
        text = f"{size(each.u):>6}  {each.title}: {each.basis} ({percent(budget.share(each))} %)"
        said.append(fold(text, "  ", " " * 10))
    return said


def short_lines(budgets: Sequence[Budget], fold: Fold) -> list[str]:
    """What each budget comes to and what would reduce it most, folded."""
    said = ["HOW WELL THE RATE OF PLANTED LIVE SEED IS KNOWN"] if budgets else []
    for each in budgets:
        of = "" if _tagged(each) else " in bulk, since the lot has no tag"
        text = f"{each.box}, {each.lot}: to {percent(each.expanded)} % either way{of}. {each.best}"
        said.append(fold(text, "  ", "    "))
    return said
