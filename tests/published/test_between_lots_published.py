"""The spread between lots agrees with published variance components. All three data sets are balanced."""

import csv
from pathlib import Path

import numpy as np
import pytest

from predictor.advice.pooled import between_lot_variance

DATA = Path(__file__).parent / "data"

# The variance of batches or rails by restricted maximum likelihood. Printed values were read in stored output of the R
# packages lme4 and nlme (versions not recorded). Further digits are own arithmetic by the closed form for balanced
# data.
# - Dyestuff, Davies & Goldsmith (1972) 6.4: 1764 is printed, and the closed form gives 1764.05.
# - Dyestuff2, Box & Tiao (1973): 0 is printed, and the closed form gives exactly 0.
# - Rail, Pinheiro & Bates (2000) 1.1: the standard deviation 24.80547 is printed, which is the variance 615.3111111.
CASES = {
    "mm_dyestuff": ("Batch", "Yield", 1764.05),
    "mm_dyestuff2": ("Batch", "Yield", 0.0),
    "mm_rail": ("Rail", "travel", 615.311111111111),
}


@pytest.mark.parametrize("name", CASES)
def test_variance_between_lots_matches_the_published_one(name):
    group, value, expected = CASES[name]
    lots: dict[str, list[float]] = {}
    with open(DATA / f"{name}.csv", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            lots.setdefault(row[group], []).append(float(row[value]))
    values = list(lots.values())
    within = sum(float(np.sum((np.array(v) - np.mean(v)) ** 2)) for v in values) / sum(len(v) - 1 for v in values)
    found = between_lot_variance([np.mean(v) for v in values], [len(v) for v in values], within)
    assert found == pytest.approx(expected, rel=1e-10)
