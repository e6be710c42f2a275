"""Field checks, factors and budgets in sentences."""

from __future__ import annotations

from predictor.field.budget import Budget
from predictor.field.factors import BoxFactor, CheckResult
from predictor.format import figures
from predictor.job.job import Job
from predictor.units import RATE_UNIT, SQUARE_METRES_PER_SQUARE_FOOT, rate_in


def amount(check: CheckResult, value: float, units: str) -> float:
    """A rate or a number of seeds in the user's units."""
    if check.kind == "weighed":
        return rate_in(value, units)
    return value * (SQUARE_METRES_PER_SQUARE_FOOT if units == "us" else 1.0)


def amount_unit(check: CheckResult, units: str) -> str:
    """Unit of `amount`."""
    if check.kind == "weighed":
        return RATE_UNIT[units]
    return "seeds/ft2" if units == "us" else "seeds/m2"


def check_words(check: CheckResult, units: str) -> list[str]:
    """One check in sentences."""
    boxes = " + ".join(
        f"{box}, {lot} at {setting}" for box, lot, setting in zip(check.boxes, check.lots, check.settings, strict=True)
    )
    unit = amount_unit(check, units)
    text = f"{check.date} {boxes}: {figures(amount(check, check.achieved, units))} {unit}"
    if check.ratio == check.ratio:
        text += (
            f", target {figures(amount(check, check.target, units))}: {100 * check.ratio:.0f} % of it "
            f"({100 * check.ratio_lower:.0f} to {100 * check.ratio_upper:.0f} %)"
        )
    said = [text + "."]
    if check.factor == check.factor:
        said.append(
            f"Field over stationary rate: {check.factor:.2f} ({check.factor_lower:.2f} to {check.factor_upper:.2f})."
        )
    if check.why_not:
        said.append(check.why_not)
    return said


def factor_words(box: BoxFactor) -> str:
    """One box's factor in a sentence."""
    count = []
    if box.alone:
        count.append(f"{box.alone} {'check' if box.alone == 1 else 'checks'}")
    if box.together:
        count.append(f"{box.together} {'check' if box.together == 1 else 'checks'} with other boxes")
    text = f"{box.box}: {box.factor:.2f} ({box.lower:.2f} to {box.upper:.2f}), from {' and '.join(count)}."
    if box.trend is not None:
        span = f"{100 * box.trend_lower:+.0f} to {100 * box.trend_upper:+.0f} %"
        if box.trend_lower > 0 or box.trend_upper < 0:
            text += (
                f" It moves by {100 * box.trend:+.0f} % in 30 days ({span}): look for wear, damp seed or other ground."
            )
        else:
            text += f" No trend to be seen ({span} in 30 days)."
    return text


def target_words(job: Job, box: str) -> list[str]:
    """The corrected target catch of each lot of a box."""
    catch = job.drill.catch
    said = []
    for plan in job.plan.boxes if job.plan else ():
        if plan.box.name == box:
            new = plan.target_catch_g(catch.turns, catch.rows)
            said.append(f"Target catch of {plan.lot}: {new * plan.field_factor:.1f} g becomes {new:.1f} g.")
    return said


def budget_words(budget: Budget) -> list[str]:
    """What the budget comes to, and what would tighten it most."""
    said = [f"Planted live seed is known to {100 * budget.expanded:.0f} % either way (95 %, k = {budget.k:.2f})."]
    said.append(budget.best)
    if budget.left_out:
        said.append(f"Not in it: {budget.left_out}.")
    return said
