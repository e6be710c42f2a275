"""Prints how many digits of the certified cases are reached: `python -m tests.benchmarks.bench_digits`.

The figure is the log relative error -log10 |found - certified| / |certified|, at most 15 (McCullough 1998, Amer.
Statist. 52, 358-366). The certified values are NIST's (StRD, read). The data are in tests/published/data.
"""

from __future__ import annotations

import numpy as np

from predictor import fit_curve
from predictor.lots.random_levels import one_way_anova
from tests.published.test_curves_published import columns
from tests.published.test_lots_published import ANOVA, codes, digits, table

NORRIS = {
    "intercept": -0.262323073774029,
    "slope": 1.00211681802045,
    "intercept, error": 0.232818234301152,
    "slope, error": 0.429796848199937e-03,
    "sd": 0.884796396144373,
}
NOINT1 = {"slope": 2.07438016528926, "slope, error": 0.165289256198347e-01, "sd": 3.56753034006338}


def show(case: str, quantity: str, found: float, certified: float) -> None:
    print(f"{case:<14}{quantity:<22}{min(float(digits(found, certified)), 15.0):>6.1f}")


def line(case: str, certified: dict[str, float], **options) -> None:
    x, y = columns(case, "x", "y")
    curve = fit_curve(x, y, prior=None, noise="constant", **options)
    found = {**curve.params, **{f"{name}, error": each for name, each in curve.std_errors.items()}, "sd": curve.sd}
    for quantity, value in certified.items():
        show(case.removeprefix("strd_"), quantity, found[quantity], value)


def main() -> None:
    print(f"{'case':<14}{'quantity':<22}{'digits':>6}")
    line("strd_norris", NORRIS)
    line("strd_noint1", NOINT1, dead_setting=0.0)
    for case, certified in ANOVA.items():
        data = table(case)
        names = data.dtype.names
        group = next(each for each in names if len(np.unique(data[each])) < len(data) / 4)
        value = next(each for each in names if each != group)
        found = one_way_anova(data[value].astype(float), codes(data[group]))
        sums = (found.ss_between, found.ss_within, found.F)
        for quantity, a, b in zip(("between", "within", "F"), sums, certified, strict=True):
            show(case.removeprefix("strd_"), quantity, a, b)


if __name__ == "__main__":
    main()
