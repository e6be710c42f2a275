"""Practice and operating characteristics in words and tables."""

from __future__ import annotations

from predictor.study.characteristics import COVER_CV, Result as RuleResult, Setup, Study
from predictor.study.practice import PracticeCatch
from predictor.text.fold import fold

NAMES = {"one-catch": "one-catch rule", "two-catch": "two-catch rule", "oracle": "oracle", "advice": "this program"}


def catch_words(catch: PracticeCatch) -> str:
    """A practice catch in one line."""
    return f"Box {catch.box} at {catch.setting}: {catch.grams:.1f} g (target {catch.target_g:.1f} g)"


def study_words(study: Study) -> list[str]:
    """A study as two tables: how often the advice is right, and how often the intervals hold the truth."""
    return [*_rules(study), *_cover(study)]


def _folded(text: str) -> str:
    return fold(text, "", width=90)


def _rules(study: Study) -> list[str]:
    """Mean catches and share right, with Monte Carlo errors."""
    lines = [
        _folded(
            f"Each row counts {study.runs} made-up calibrations with a tolerance of {100 * study.tolerance:g} %. It "
            "gives the mean number of catches, and the share of locked settings that are truly within tolerance, each "
            "+- one Monte Carlo standard error. The oracle knows the true shape of the curve and the scatter. The "
            "figure in brackets is the number of catches over the oracle's."
        ),
        "",
        f"{'repeatability':<22}{'rule':<40}{'catches':>14}{'right, %':>14}",
    ]
    oracle = {setup.cv: each.catches for setup, results in study.rows for each in results if each.rule == "oracle"}
    for setup, results in study.rows:
        where = f"{100 * setup.cv:g} %, {setup.holds}"
        for result in results:
            lines.append(
                f"{where:<22}{_name(setup, result, oracle[setup.cv]):<40}"
                f"{result.catches:>7.2f} +-{result.catches_error:>4.2f}"
                f"{100 * result.right:>8.1f} +-{100 * result.right_error:>3.1f}"
            )
            where = ""
    return lines


def _name(setup: Setup, result: RuleResult, oracle: float) -> str:
    if result.rule != "advice":
        return NAMES[result.rule]
    known = f"{setup.earlier_lots} earlier lots" if setup.earlier_lots else "cold"
    return f"{NAMES[result.rule]}, {known} ({result.catches / oracle:.2f} x)"


def _cover(study: Study) -> list[str]:
    """How often 95 % intervals held the truth."""
    low, high, error = (100 * each for each in (*COVER_CV, study.cover[0].error))
    lines = [
        "",
        _folded(
            "The share of 95 % intervals that held the truth, in per cent, for free-flowing seed without history and a "
            f"repeatability from {low:g} to {high:g} %. One Monte Carlo standard error is {error:.1f}."
        ),
        "",
        f"{'catches':<10}{'mean':>10}{'next catch':>14}{'setting':>12}",
    ]
    for each in study.cover:
        shares = (100 * share for share in (each.mean, each.next, each.setting))
        lines.append("{:<10}{:>10.1f}{:>14.1f}{:>12.1f}".format(each.catches, *shares))
    return lines
