"""Odd drills, odd names and odd places to run in: the answer stays finite, honest and an answer.

The drills and weights are invented; nothing here is a published value.
"""

import json
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest

from predictor import Drill, Lever, SeedBox, Sprockets, recommend
from tests.conftest import ROOT

ODD_CURVES = {
    "step-like": lambda share: np.floor(5 * share) / 5 + 0.02,
    "saturating early": lambda share: min(share, 0.2),
    "the same everywhere": lambda share: 0.5,
    "a cliff at half": lambda share: 0.01 if share < 0.5 else 1.0,
    "cubic": lambda share: share**3 + 1e-3,
    "falling again": lambda share: share if share < 0.5 else 1.001 - share,
}
CONTROLS = {
    "lever": Lever(0, 60, 1),
    "lever from 10": Lever(10, 50, 0.5),
    "lever below nought": Lever(-20, 20, 1),
    "lever on which less is more": Lever(0, 60, 1, more_is="lower"),
    "chain": Sprockets({"1": 0.40, "2": 0.54, "3": 0.70, "4": 0.90, "5": 1.20}),
    "one chain position": Sprockets({"A": 0.5}),
}
ENDS = ("lock", "unreachable", "lengthen")
MOST_CATCHES = 40
CATCH = {"box": "b", "lot": "A", "turns": 28, "rows": 3}


def drill_of(box):
    return Drill("invented", rows=12, row_spacing_m=0.19, rolling_circumference_m=2.2, boxes=(box,))


def strict_json(text):
    def refuse(constant):
        raise AssertionError(f"{constant} in JSON")

    return json.loads(text, parse_constant=refuse)


def check_sane(advice, control):
    """What must hold of every advice, whatever the catches."""
    assert control.has(advice.setting)
    assert advice.chance is None or 0 <= advice.chance <= 1
    assert advice.decision != "lock" or advice.chance >= advice.confidence
    result = strict_json(json.dumps(advice.to_dict(), allow_nan=False))
    intervals = [result["expected"]["rate_interval"], result["expected"]["next_catch_interval_g"]]
    if isinstance(control, Lever):
        intervals.append(result["setting_interval"])
    assert all(low <= high for low, high in intervals if low is not None and high is not None)


@pytest.mark.parametrize("control", CONTROLS.values(), ids=CONTROLS)
@pytest.mark.parametrize("curve", ODD_CURVES.values(), ids=ODD_CURVES)
def test_following_the_advice_comes_to_an_end_on_odd_drills(curve, control):
    box = SeedBox("b", "small", control)
    rng = np.random.default_rng(4)
    setting, rows = control.settings[len(control.settings) // 2].value, []
    for _ in range(MOST_CATCHES):
        share = (control.opening(setting) - control.lowest_opening) / control.span
        grams = 25 * curve(share) * np.exp(rng.normal(0, 0.12))
        rows.append({**CATCH, "setting": setting, "catch_g": round(grams, 2)})
        advice = recommend(pd.DataFrame(rows), box, target_output=25 * curve(0.65) / 84, drill=drill_of(box))
        check_sane(advice, control)
        if advice.decision in ENDS:
            return
        setting = advice.setting
    pytest.fail(f"no end after {MOST_CATCHES} catches: {advice.decision}, {advice.reason}")


@pytest.mark.parametrize(
    "catches",
    [
        [(30, 22.0)],
        [(30, 22.0)] * 5,
        [(30, 22.0), (30, 44.0)],
        [(30, 40.0), (40, 20.0), (30, 41.0), (40, 21.0)],
        [(0, 3.0), (0, 3.1)],
        [(60, 3.0), (60, 3.1)],
        [(30, 0.1), (31, 9e5)],
    ],
    ids=["one", "all alike", "two contradict", "falling", "closed", "wide open", "huge and tiny"],
)
@pytest.mark.parametrize("target_g", [0.5, 25.0, 900.0])
def test_poor_catches_still_give_a_sane_answer(catches, target_g):
    box = SeedBox("b", "small", Lever(0, 60, 1))
    settings, grams = zip(*catches, strict=True)
    frame = pd.DataFrame({"setting": settings, "catch_g": grams}).assign(**CATCH)
    check_sane(recommend(frame, box, target_output=target_g / 84, drill=drill_of(box)), box.control)


@pytest.mark.parametrize(
    "dtypes",
    [
        {"setting": [30, 38, 38.0, 38]},
        {"setting": ["30", "38", "38.0", " 38 "]},
        {"setting": pd.array([30, 38, 38, 38], dtype="Int64")},
        {"catch_g": pd.Series([48.0, "61", 62.2, 60.9], dtype=object)},
        {"lot": pd.Categorical(["A"] * 4)},
        {"date": pd.to_datetime(["2026-04-01"] * 4)},
    ],
    ids=["mixed numbers", "text", "nullable", "object", "categorical", "timestamps"],
)
def test_columns_of_any_kind_give_the_same_advice(dtypes):
    box = SeedBox("b", "small", Lever(0, 60, 1))
    plain = {"setting": [30, 38, 38, 38], "catch_g": [48.0, 61.0, 62.2, 60.9]}
    plain = {**{name: [value] * 4 for name, value in CATCH.items()}, **plain}
    wanted = recommend(pd.DataFrame(plain), box, target_output=61 / 84)
    found = recommend(pd.DataFrame({**plain, **dtypes}), box, target_output=61 / 84)
    assert (found.decision, found.setting, found.chance) == (wanted.decision, wanted.setting, wanted.chance)


@pytest.mark.parametrize("lot", ["=cmd|'/c calc'!A1", 'a"b', "\u05d0\u05d1", "\u65e5\u672c", "x" * 500])
def test_odd_lot_names_come_back_unchanged_in_json(job, run, lot):
    frame = pd.DataFrame({"box": "small", "lot": [lot], "setting": 30, "catch_g": 22.0})
    frame.to_csv(job / "odd.csv", index=False)
    done = run("recommend", job / "odd.csv", "--box", "small", "--target-g", "25", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert strict_json(done.stdout)["results"][0]["lot"] == lot


@pytest.mark.parametrize("lot", ["\x1b[31mred", "\u202eabc"], ids=["terminal escape", "right-to-left"])
def test_names_that_could_play_with_the_terminal_are_refused(job, run, lot):
    (job / "odd.csv").write_text(f"box,lot,setting,catch_g\nsmall,{lot},30,22\n", encoding="utf-8")
    done = run("recommend", job / "odd.csv", "--box", "small", "--target-g", "25")
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith(f"{job / 'odd.csv'} line 2, column lot: ")
    assert lot[0] not in done.stderr


@pytest.mark.slow
def test_a_terminal_without_letters_and_a_bare_environment_are_enough(run, job):
    command = ["recommend", job / "trials.csv", "--no-field-factor"]
    bare = {"PYTHONPATH": str(ROOT), "LC_ALL": "C", "PYTHONIOENCODING": "ascii"}
    call = [sys.executable, "-m", "predictor", *map(str, command)]
    done = subprocess.run(call, capture_output=True, text=True, env=bare, timeout=60, check=False)
    wanted = run(*command)
    assert (done.returncode, done.stdout, done.stderr) == (0, wanted.stdout, wanted.stderr)
