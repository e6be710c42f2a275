"""Made-up boxes and lots, each a case that a catch picture has to show. All numbers are invented."""

from functools import cache

import numpy as np
import pandas as pd

from predictor import Lever, LeverAndDrive, SeedBox, Sprockets, recommend
from tests.advice.test_growth import BOX, log

LEVER, HALVES, LOWER = Lever(0, 60), Lever(0, 40, 0.5), Lever(0, 60, 1, more_is="lower")
SIX = Sprockets({"1": 1 / 3, "2": 15 / 36, "3": 0.5, "4": 0.6, "5": 20 / 28, "6": 20 / 24})
CLOSE = Sprockets({f"{12 + k}-{36 - k}": 0.3 * 1.04**k for k in range(16)})
BOTH = LeverAndDrive(LEVER, {"high": 20 / 12, "low": 10 / 12})
LONG = "Andropogon gerardii from the north pasture, second cut, cleaned twice, bag 17 of 43 and what remained"


def made(settings, grams, target, control=LEVER, *, box="small", holds="small", more=None, **asked):
    """The advice on a lot."""
    columns = {"box": box, "lot": "A", "setting": settings, "catch_g": np.round(grams, 2), "turns": 28, "rows": 3}
    return recommend(pd.DataFrame({**columns, **(more or {})}), SeedBox(box, holds, control), target_g=target, **asked)


def scattered(settings, spread, seed=3):
    """Weights about a straight line."""
    x = np.asarray(settings, dtype=float)
    return 1.6 * (x - 2) * np.exp(spread * np.random.default_rng(seed).standard_normal(len(x)))


THIRTY = np.tile([20, 25, 28, 30, 32, 33, 34, 35, 36, 40], 3)
NOTES = ["", "", "bridged", "wind", "spilled some seed on the ground and swept it up again", "bag tore", "wet", "clod"]
MANY_OUT = {"use": [True] * 2 + [False] * 10 + [True] * 4, "note": (NOTES + ["stopped early"] * 8)[:16]}
ONE_OUT = {"use": [True, False, True, True], "note": ["", "weighed with the container", "", ""]}
TOWED = {"turns": [28, np.nan, np.nan, np.nan], "distance_ft": [np.nan, 201.6, 201.6, 201.6]}


LOCKED = ([30, 38, 38, 38], [45, 60, 60.5, 59.8], 60)
STEPS = ([14, 15, 14.5, 14.5], [22, 25.1, 23.5, 23.3], 23.3)
DRIVES = ["24 on high", "24 on low", "30 on low", "50 on low", "50 on low"]
# Each case by name; the first ones show most of what there is.
CASES = {
    "one catch": lambda: made([30], [45.0], 60),
    "two catches": lambda: made([30, 38], [45.0, 58.0], 60),
    "locked": lambda: made(*LOCKED),
    "narrow": lambda: made([30, 39, 39, 39, 39], [45.2, 59.5, 60.5, 60.1, 59.8], 60, tolerance=0.05),
    "surer": lambda: made(*LOCKED, confidence=0.99),
    "lower gives more": lambda: made([30, 22, 21, 21, 21], [45.2, 56.5, 60.5, 60.1, 59.8], 60, LOWER),
    "halves": lambda: made(*STEPS, HALVES),
    "between steps": lambda: made([14, 15, 14.25, 14.25, 14.25], [22, 25.1, 23.5, 23.3, 23.2], 23.3, HALVES),
    "thirty": lambda: made(THIRTY, scattered(THIRTY, 0.12), 48, holds="chaffy"),
    "thousands": lambda: recommend(log(4000, 25, scatter=0.08), BOX, target_g=40.0),
    "left out": lambda: made(*LOCKED, more={"charged": [True, False, True, True]}),
    "many left out": lambda: made([30] * 2 + [38] * 14, np.r_[45, 44, np.linspace(40, 60, 14)], 60, more=MANY_OUT),
    "left out far off": lambda: made([30, 38, 38, 38], [45, 600, 60.5, 59.8], 60, more=ONE_OUT),
    "decimal sign": lambda: made([30, 38, 38, 38], [48.0, 61.0, 60.9, 610], 61),
    "contradicted": lambda: made([30, 38, 38, 38], [48.0, 61.0, 60.9, 40.2], 61),
    "set aside": lambda: made([30, 38, 38, 38, 40, 40, 40, 38], [48, 61, 60.9, 30.2, 64, 64.5, 64.1, 60.8], 61),
    "several in doubt": lambda: made([30, 38, 38, 38, 38, 38, 38], [48, 61, 60.9, 60.7, 30.4, 30.2, 30.6], 61),
    "falling": lambda: made([20, 20, 40, 40, 60, 60], [60, 61, 40, 41, 20, 21.0], 33),
    "too little": lambda: made([50, 60, 60, 60], [80, 95.0, 96, 95.5], 200),
    "too much": lambda: made([5, 1, 1, 1], [80, 45.0, 46, 45.5], 10),
    "nothing came": lambda: made([5, 10], [0, 0.0], 30),
    "none counts": lambda: made([5], [30.0], 30, more={"use": [False], "note": ["spilled"]}),
    "chain": lambda: made(["3", "4", "4", "4"], [41, 48, 49, 48.5], 48, SIX, box="chaffy", holds="chaffy"),
    "close chain": lambda: made(["13-35", "20-28", "20-28"], [41, 54, 55], 54, CLOSE),
    "between two": lambda: made(
        ["3", "4", "4", "4", "3", "3"], [41, 48, 49, 48.5, 41, 41.2], 44.7, SIX, tolerance=0.05
    ),
    "two drives": lambda: made(DRIVES, [60, 30, 38, 62, 63.0], 63, BOTH),
    "long names": lambda: made(*LOCKED, box="the very large forb and legume box behind the wheel", more={"lot": LONG}),
    "one long word": lambda: made(*LOCKED, more={"lot": "W" * 120}),
    "fine lever": lambda: made([30.05, 38.1, 38.1], [45, 60, 60.5], 60, Lever(0, 100, 0.05)),
    "heavy": lambda: made([30, 38, 38, 38], [4500, 6010, 6050, 5980.0], 6000),
    "light": lambda: made([30, 38, 38, 38], [0.45, 0.60, 0.6, 0.6], 0.6),
    "larger catches": lambda: made([20] * 6, [30, 41, 25, 38, 28, 45.0], 33, holds="chaffy"),
    "far from target": lambda: made([20, 24], [8.0, 9.0], 61),
}


@cache
def case(name):
    """The advice of a case."""
    return CASES[name]()
