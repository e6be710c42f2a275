"""Misuse of the library ends in its own error, which names the argument; what holds elsewhere is a right answer."""

import datetime
import io
import math
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pandas as pd
import pytest

import predictor
from predictor import (
    CatchDefaults,
    Drill,
    Field,
    InputError,
    Lever,
    LeverAndDrive,
    OnDrive,
    SeedBox,
    Sprockets,
)
from tests import golden
from tests.conftest import ROOT

NAN, INF = math.nan, math.inf
LEVER, CHAIN = Lever(0, 60), Sprockets({"1": 0.4, "2": 0.54})
BOTH = LeverAndDrive(LEVER, {"high": 2.0, "low": 1.0, "creep": None})
BOX = SeedBox("small", "small", LEVER)
DRILL = Drill("ours", 12, 0.19, 2.2, (BOX, SeedBox("Grain", "free-flowing", CHAIN)))
NO_NUMBER = [None, "1", "abc", True, [1.0], (), {}, 1j, np.array([1.0, 2.0]), pd.NA, NAN, INF, -INF, 10**400,
             pd.Series([1.0, 2.0]), Decimal("NaN"), object(), DRILL]  # fmt: skip
NO_NAME = [None, 1, 2026.0, True, ["small"], b"small", np.nan, pd.NA, {}, BOX, pd.Series(["small"])]
NO_FLAG = [None, "yes", 1, 0, [], NAN]
NO_DRILL = ["drill.toml", None, BOX, LEVER, 12, {}, pd.DataFrame()]
NO_BOX = ["small", None, DRILL, LEVER, 1, {}]


def only(*some):
    """No numbers, and these numbers too."""
    return [*NO_NUMBER, *some]


def optional(misuses):
    """What may be None."""
    return [each for each in misuses if each is not None]


def no_text(misuses):
    return [each for each in misuses if not isinstance(each, str)]


# What is called with each of the misuses of one argument, the first word being its name in the message.
DOMAIN = {
    "lowest": (lambda bad: Lever(bad, 60), only(60, 61)),
    "highest": (lambda bad: Lever(0, bad), only()),
    "step": (lambda bad: Lever(0, 60, bad), only(0, -1, 61)),
    "more_is": (lambda bad: Lever(0, 60, 1, bad), [*NO_NAME, "Lower", "low", "", "less"]),
    "shut": (lambda bad: Lever(0, 60, 1, shut=bad), optional(only(60, 61, -1))),
    "opening": (LEVER.at, only()),
    "opening of the nearest": (LEVER.nearest, only()),
    "opening on a drive": (OnDrive(0, 60, drive="high").at, only()),
    "opening of a chain": (CHAIN.at, only()),
    "reading": (LEVER.opening, [*no_text(NO_NUMBER), "", "1_0", "nan", "٣"]),
    "reading on the scale": (LEVER.has, [*no_text(NO_NUMBER), "", "1_0", "nan"]),
    "setting": (LEVER.between_steps, only("30", 30.0)),
    "text": (LEVER.find, [*NO_NAME, 30]),
    "text of a chain": (CHAIN.find, NO_NAME),
    "text of two": (BOTH.find, NO_NAME),
    "decimal": (lambda bad: LEVER.find("1", bad), [*NO_NAME, ";", "", "comma"]),
    "ratios": (Sprockets, [None, {}, [], ["1"], "12", 0.4, {"1": 0.4, 1: 0.5}, {1.5: 0.4}, {None: 0.4}, {"": 0.4}]),
    "drive ratio": (lambda bad: Sprockets({"1": bad}), only(0, -1)),
    "teeth": (lambda bad: Sprockets({"1": 0.4}, bad), [None, 3, "12", [12, 30]]),
    "chain position": (CHAIN.opening, [None, "3", 3, 0.4, "", True]),
    "lever": (lambda bad: LeverAndDrive(bad, {"a": 1.0}), [None, CHAIN, BOTH, "lever", 60]),
    "drives": (lambda bad: LeverAndDrive(LEVER, bad), [None, {}, ["a"], "ab", {1: 1.0}, {"a/b": 1.0}, {" ": 1.0},
                                                       {"a": 1.0, "A": 2.0}]),
    "ratio of drive": (lambda bad: LeverAndDrive(LEVER, {"a": bad}), optional(only(0, -1))),
    "drive": (BOTH.on, [*NO_NAME, "fast", "hig"]),
    "drive to compare": (lambda bad: BOTH.times(bad, "low"), [*NO_NAME, "fast", ""]),
    "other": (lambda bad: BOTH.times("low", bad), NO_NAME),
    "name": (lambda bad: SeedBox(bad, "small", LEVER), [*NO_NAME, "", " "]),
    "holds": (lambda bad: SeedBox("a", bad, LEVER), [*NO_NAME, "Small", "fluffy", "free flowing", ""]),
    "control": (lambda bad: SeedBox("a", "small", bad), [None, "lever", 60, BOX, DRILL, {"1": 0.4}]),
    "full_g": (lambda bad: SeedBox("a", "small", LEVER, full_g=bad), optional(only(0, -1))),
    "rows": (lambda bad: SeedBox("a", "small", LEVER, rows=bad), optional(only(0, -1, 2.5))),
    "row_spacing_m": (lambda bad: SeedBox("a", "small", LEVER, row_spacing_m=bad), optional(only(0, -0.19))),
    "catch": (lambda bad: SeedBox("a", "small", LEVER, catch=bad), [28, "28", {}, DRILL]),
    "turns": (lambda bad: CatchDefaults(turns=bad), only(0, -28)),
    "rows caught": (lambda bad: CatchDefaults(rows=bad), only(0, -3, 2.5)),
    "charge_turns": (lambda bad: CatchDefaults(charge_turns=bad), only(-1)),
    "scale_resolution_g": (lambda bad: CatchDefaults(scale_resolution_g=bad), only(-0.1)),
    "counted": (lambda bad: CatchDefaults(counted=bad), [*NO_NAME, "turns", "Seconds", "wheel"]),
    "each_covers_m": (lambda bad: CatchDefaults(each_covers_m=bad), optional(only(0, -1))),
    "name of a drill": (lambda bad: replace(DRILL, name=bad), NO_NAME),
    "rows of a drill": (lambda bad: replace(DRILL, rows=bad), only(0, -12, 7.5)),
    "rows of the drill for a box": (lambda bad: replace(DRILL, boxes=(replace(BOX, rows=bad),)), [13, 200]),
    "row_spacing_m of a drill": (lambda bad: replace(DRILL, row_spacing_m=bad), only(0, -0.19)),
    "rolling_circumference_m": (lambda bad: replace(DRILL, rolling_circumference_m=bad), optional(only(0, -2.2))),
    "boxes": (lambda bad: replace(DRILL, boxes=bad), [None, BOX, "small", {"small": BOX}, ("small",), (BOX, BOX),
                                                      (BOX, replace(BOX, name="SMALL"))]),
    "catch of a drill": (lambda bad: replace(DRILL, catch=bad), [None, 28, {}, BOX]),
    "viable": (lambda bad: replace(DRILL, viable=bad), [*NO_NAME, "Total", "germ", ""]),
    "units": (lambda bad: replace(DRILL, units=bad), [*NO_NAME, "US", "imperial", ""]),
    "fields": (lambda bad: replace(DRILL, fields=bad), [None, "north", ("north",), Field("north", 1.0)]),
    "history": (lambda bad: replace(DRILL, history=bad), [None, "trials.csv", (1,), 1]),
    "box": (DRILL.box, ["smal", "", "other"]),
    "name of a box": (DRILL.box, NO_NAME),
    "box for rows": (DRILL.rows_of, NO_BOX),
    "box for spacing": (DRILL.spacing_of, NO_BOX),
    "box for width": (DRILL.width_of, NO_BOX),
    "box for catch": (DRILL.catch_of, NO_BOX),
    "box for ground": (DRILL.covers_of, NO_BOX),
    "name of a field": (lambda bad: Field(bad, 1.0), NO_NAME),
    "area_m2": (lambda bad: Field("north", bad), only(0, -1)),
}  # fmt: skip


def refused(case, call, misuses):
    """The name in the message is the first word of a case, or its whole name."""
    missed = []
    for bad in misuses:
        try:
            answer = call(bad)
        except InputError as error:
            message = str(error)
            named = case.split(" of a ")[0].split(" for ")[0]
            names = (case, named, named.split()[0])
            if not any(each in message for each in names) or not message.endswith((".", "?")):
                missed.append(f"{bad!r:.60}: {message}")
        except Exception as error:
            missed.append(f"{bad!r:.60}: {type(error).__name__}: {error}")
        else:
            missed.append(f"{bad!r:.60}: {answer!r:.60}")
    assert not missed, "\n".join(missed)


@pytest.mark.parametrize("case", DOMAIN)
def test_what_a_drill_and_its_boxes_cannot_be_is_refused_by_name(case):
    refused(case, *DOMAIN[case])


@pytest.mark.parametrize("sixty", [60, 60.0, np.int16(60), np.float32(60), Decimal(60), Fraction(60), np.array(60)])
def test_a_number_of_any_kind_makes_the_same_lever(sixty):
    assert Lever(0, sixty) == LEVER
    assert repr(Lever(0, sixty)) == repr(LEVER)
    assert LEVER.at(sixty) == LEVER.at(60.0)
    assert LEVER.opening("60") == 60.0


def test_names_are_found_in_other_capitals_as_in_files():
    assert DRILL.box("GRAIN").name == "Grain"
    assert BOTH.on("High") == BOTH.on("high")
    assert BOTH.times("HIGH", "low") == 2.0


def test_a_name_that_is_not_there_is_a_key_error_too_and_lists_those_that_are():
    with pytest.raises(KeyError) as caught:
        DRILL.box("smal")
    assert isinstance(caught.value, predictor.InputError)
    assert str(caught.value) == 'ours has no box "smal". Did you mean small? Known: small, Grain.'


JOB = predictor.read_job(ROOT / "sample_trials", today=datetime.date(2026, 11, 25))
TRIALS, SAMPLE, PLAN = JOB.trials, JOB.drill, JOB.plan
SMALL, TASK = SAMPLE.box("small"), JOB.tasks("small", "forb mix")[0]
ADVICE, BUDGET, HISTORY = JOB.advice(TASK), JOB.budgets()[0], predictor.learn_history(JOB.everything, "small")
LOTS = predictor.compare_lots(TRIALS, "small")
FRAME = pd.DataFrame({"box": "small", "lot": "A", "setting": [30, 38], "catch_g": [48.0, 61.0], "turns": 28, "rows": 3})
NO_TRIALS = ["trials.csv", None, [1, 2], {"box": ["a"]}, SAMPLE, np.ones((2, 2)), (each for each in [1]), 7]
NO_LABEL = [True, 2.5, ["A"], b"A", NAN, {}, BOX, pd.Series(["A"])]
NO_PATH = [None, 0, 1, True, b"plan.csv", SAMPLE, TRIALS, FRAME, ["plan.csv"], 2.5, "a\0b", io.StringIO("x")]
NO_DAY = ["2026-11-25", 2026, True, []]
NO_SHARE = only(0, 1, -0.1, 10, 95)
MASKED = np.ma.array(np.ones(len(TRIALS), bool), mask=np.arange(len(TRIALS)) == 1)


def asked(**given):
    return predictor.recommend(TRIALS, "small", **{"target_output": 0.3, **given})


RESULTS = {
    "trials": (lambda bad: predictor.recommend(bad, BOX, target_g=60), NO_TRIALS),
    "trials to learn": (lambda bad: predictor.learn_history(bad, BOX), NO_TRIALS),
    "trials to compare": (predictor.compare_lots, NO_TRIALS),
    "trials to take": (predictor.as_trials, NO_TRIALS),
    "box": (lambda bad: predictor.recommend(TRIALS, bad, target_g=60), [*NO_NAME[:-2], DRILL, LEVER, "smal", ""]),
    "box to learn": (lambda bad: predictor.learn_history(TRIALS, bad), [*NO_NAME[:-2], DRILL, LEVER, "smal", ""]),
    "box to compare": (lambda bad: predictor.compare_lots(TRIALS, bad), [*NO_NAME[1:-2], DRILL, "smal", ""]),
    "box that has no catch": (lambda bad: predictor.recommend(FRAME, bad, target_g=60),
                              [SeedBox("smal", "small", LEVER), SeedBox("grain", "small", LEVER)]),
    "box that has no lots": (lambda bad: predictor.compare_lots(FRAME, bad), [SeedBox("smal", "small", LEVER)]),
    "target_output": (lambda bad: asked(target_output=bad), optional(only(0, -1))),
    "target_g": (lambda bad: asked(target_output=None, target_g=bad), optional(only(0, -1))),
    "target_rate": (lambda bad: asked(target_output=None, target_rate=bad), optional(only(0, -1))),
    "target": (lambda bad: asked(**bad), [{"target_g": 3}, {"target_output": None}]),
    "lot": (lambda bad: asked(lot=bad), NO_LABEL),
    "season": (lambda bad: asked(season=bad), NO_LABEL),
    "tolerance": (lambda bad: asked(tolerance=bad), NO_SHARE),
    "confidence": (lambda bad: asked(confidence=bad), only(0.4, 1, 95)),
    "history": (lambda bad: asked(history=bad), ["default", True, TRIALS, predictor.Prior(), 1]),
    "history of a": (lambda bad: asked(history=bad), [predictor.learn_history(TRIALS, "grain"),
                                                      replace(HISTORY, scale=(0.0, 6.0))]),
    "drill": (lambda bad: asked(drill=bad), optional(NO_DRILL)),
    "field_factor": (lambda bad: asked(field_factor=bad), only(0, -1)),
    "before": (lambda bad: predictor.learn_history(TRIALS, "small", before=bad), ["AB", "forb mix", 3, ("A",), [],
                                                                                 ("A", "B", "C"), {"lot": "A"}]),
    "lot of before": (lambda bad: predictor.learn_history(TRIALS, "small", before=(bad, None)), NO_LABEL),
    "season of before": (lambda bad: predictor.learn_history(TRIALS, "small", before=("A", bad)), NO_LABEL),
    "others": (lambda bad: predictor.learn_history(TRIALS, "small", others=bad), [TRIALS, FRAME, (FRAME,), "a", None]),
    "reused": (lambda bad: predictor.learn_history(TRIALS, "small", reused=bad), NO_FLAG),
    "reference": (lambda bad: predictor.compare_lots(TRIALS, "small", reference=bad), NO_LABEL),
    "lot to compare with": (lambda bad: predictor.compare_lots(TRIALS, "small", reference=bad), ["nobody", "", 12]),
    "level": (lambda bad: predictor.compare_lots(TRIALS, "small", level=bad), NO_SHARE),
    "target output of lots": (lambda bad: predictor.compare_lots(TRIALS, "small", target_output=bad),
                              [0, -1, NAN, INF, -INF]),
    "target_output of lots": (lambda bad: predictor.compare_lots(TRIALS, "small", target_output=bad),
                              ["1", True, [1.0], 1j, BOX]),
    "path": (predictor.read_drill, NO_PATH),
    "path of a plan": (lambda bad: predictor.read_plan(bad, SAMPLE), NO_PATH),
    "path of a log": (predictor.read_trials, NO_PATH),
    "drill of a plan": (lambda bad: predictor.read_plan(ROOT / "sample_trials/plan.csv", bad), NO_DRILL),
    "drill of a log": (lambda bad: predictor.read_trials(ROOT / "sample_trials/trials.csv", bad), optional(NO_DRILL)),
    "drill of a frame": (lambda bad: predictor.as_trials(FRAME, bad), optional(NO_DRILL)),
    "viable": (lambda bad: predictor.read_plan(ROOT / "sample_trials/plan.csv", SAMPLE, viable=bad),
               [*NO_NAME[1:], "Total", "germ", ""]),
    "today": (lambda bad: predictor.read_plan(ROOT / "sample_trials/plan.csv", SAMPLE, today=bad), NO_DAY),
    "folder": (predictor.read_job, NO_PATH),
    "earlier": (lambda bad: predictor.read_job(ROOT / "sample_trials", earlier=bad), ["a.csv", None, [1], [TRIALS], 3]),
    "checks": (lambda bad: predictor.read_job(ROOT / "sample_trials", checks=bad), NO_PATH[1:]),
    "drill of a job": (lambda bad: predictor.read_job(ROOT / "sample_trials", drill=bad), NO_PATH[1:]),
    "with_trials": (lambda bad: predictor.read_job(ROOT / "sample_trials", with_trials=bad), NO_FLAG),
    "use_history": (lambda bad: predictor.read_job(ROOT / "sample_trials", use_history=bad), NO_FLAG),
    "use_field_factor": (lambda bad: predictor.read_job(ROOT / "sample_trials", use_field_factor=bad), NO_FLAG),
    "today of a job": (lambda bad: predictor.read_job(ROOT / "sample_trials", today=bad), NO_DAY),
    "mask": (TRIALS.where, [[True], TRIALS.use[:-1], np.ones(len(TRIALS)), [0, 1], 3, None, "yes", MASKED, slice(3),
                            np.ones((len(TRIALS), 1), bool), np.arange(len(TRIALS)), True]),
    "box of a filter": (lambda bad: TRIALS.of(box=bad), NO_LABEL),
    "lot of a filter": (lambda bad: TRIALS.of(lot=bad), NO_LABEL),
    "box of a log": (TRIALS.in_box, NO_BOX),
    "control": (lambda bad: TRIALS.on_drive(bad, "high"), [None, "lever", BOX]),
    "control of a log": (TRIALS.drives, [None, "lever", BOX]),
    "catch_g": (lambda bad: replace(TRIALS, catch_g=bad), [TRIALS.catch_g[:-1], 3.0, None, [1.0],
                                                           TRIALS.catch_g[:, None],
                                                           np.ma.array(TRIALS.catch_g), pd.Series(TRIALS.catch_g)]),
    "rows_g": (lambda bad: replace(TRIALS, rows_g=bad), [(), (None,)]),
    "spacing_m": (PLAN.lots[0].seeds_per_row_m, only(0, -1)),
    "turns": (lambda bad: PLAN.boxes[0].target_catch_g(bad, 3), only(0, -1)),
    "rows": (lambda bad: PLAN.boxes[0].target_catch_g(28, bad), only(0, -1)),
    "area_m2": (PLAN.boxes[0].load_g, only(-1)),
    "box of a plan": (lambda bad: PLAN.target(bad, "A"), NO_NAME),
    "lot of a plan": (lambda bad: PLAN.target("small", bad), NO_LABEL),
    "name": (lambda bad: PLAN.filling_of("small", bad), NO_LABEL),
    "factors": (lambda bad: PLAN.with_field_factors(bad, SAMPLE), [None, 0.9, {("grian", "CW-26"): 0.9},
                                                                  {"grain": 0.9},
                                                                  *({("grain", "CW-26"): each} for each in only(0))]),
    "drill of a correction": (lambda bad: PLAN.with_field_factors({}, bad), NO_DRILL),
    "share": (ADVICE.next_weights, [0, 1, 1.5, "0.5", None, True, [0.5, 2]]),
    "opening": (lambda bad: ADVICE.next_weights(0.5, bad), ["14", True, INF, {}, [[1], [1, 2]]]),
    "output": (ADVICE.rate, optional(only())),
    "units": (lambda bad: ADVICE.rate(1.0, bad), [*NO_NAME[1:], "US", "Metric", "", "lb/ac"]),
    "units of a result": (ADVICE.to_dict, [*NO_NAME[1:], "US", ""]),
    "units of a check": (JOB.field.checks[0].to_dict, [*NO_NAME, "US", ""]),
    "source": (BUDGET.share, [None, "catches", 0, JOB.budgets()[1].sources[0]]),
    "source to mend": (BUDGET.after, [None, "catches", 0]),
    "box of a factor": (JOB.field.of, NO_NAME),
    "name of a lot": (LOTS.lot, NO_LABEL),
    "lot of a comparison": (LOTS.lot, ["nobody", ""]),
    "axes": (ADVICE.plot, ["file.png", 1, np.ones(2)]),
    "code": (lambda bad: str(predictor.Remark(bad)), ["nonsense", "advice.nonsense", "", "nowhere.lock"]),
    "box of a task": (lambda bad: replace(TASK, box=bad), NO_BOX),
    "lot of a task": (lambda bad: replace(TASK, lot=bad), NO_LABEL),
    "target_output of a task": (lambda bad: replace(TASK, target_output=bad), only(0, -1)),
    "target of an aim": (predictor.Aim, only()),
    "slip": (lambda bad: predictor.Aim(1.0, slip=bad), [0.9, (0.9,), (0, 0.1), (0.9, -0.1), "ab", (0.9, NAN)]),
    "plan": (JOB.with_plan, [None, "plan.csv", SAMPLE]),
    "box of a job": (lambda bad: JOB.history(bad, "A", None), [*NO_BOX, BOX]),
    "box of a blend": (lambda bad: JOB.is_blend(bad, "A"), [*NO_BOX, BOX]),
    "box of a towed lot": (lambda bad: JOB.is_towed(bad, "A"), [*NO_BOX, BOX]),
    "box of a standing drill": (lambda bad: JOB.stationary(bad, "A", 14.0), [*NO_BOX, BOX]),
    "setting": (lambda bad: JOB.stationary(SMALL, "forb mix", bad), only()),
    "setting of a task": (lambda bad: JOB.given(TASK, bad), only(14.0)),
    "task": (JOB.advice, [None, "small", SMALL, ("small", "A"), replace(TASK, box=BOX)]),
    "tolerance of a job": (lambda bad: JOB.advice(TASK, bad), NO_SHARE),
    "tolerance of a verdict": (lambda bad: JOB.verdict("grain", "CW-26", bad), NO_SHARE),
    "tolerance of all": (JOB.verdicts, NO_SHARE),
    "tolerance of stages": (JOB.stages_in_hand, NO_SHARE),
    "tolerance of a season": (JOB.season_stages, NO_SHARE),
    "tolerance of budgets": (JOB.budgets, NO_SHARE),
    "tolerance of slips": (JOB.slips, NO_SHARE),
    "confidence of a job": (lambda bad: JOB.advice(TASK, 0.1, bad), only(0.4, 1)),
    "box of tasks": (JOB.tasks, optional(NO_NAME)),
    "lot of tasks": (lambda bad: JOB.tasks("small", bad), NO_LABEL),
    "target_g of tasks": (lambda bad: JOB.tasks("small", None, bad), optional(only(0, -1))),
    "day": (lambda bad: JOB.stages(day=bad), [*NO_NAME, "25 November", "2026"]),
    "box of a verdict": (lambda bad: JOB.verdict(bad, "CW-26"), NO_NAME),
    "check": (JOB.is_of_now, [None, 1, "2026-11-25", TASK]),
    "done": (JOB.next_step, NO_NAME),
}  # fmt: skip


@pytest.mark.parametrize("case", RESULTS)
def test_what_trials_plans_jobs_and_results_cannot_be_asked_is_refused_by_name(case):
    refused(case, *RESULTS[case])


def test_a_season_as_a_number_and_names_in_other_capitals_are_those_of_the_log():
    frame = FRAME.assign(season=[2025, 2026], lot=26, box="Small")
    wanted = predictor.recommend(frame, SeedBox("Small", "small", LEVER), target_g=61, season="2026")
    for season, lot in ((2026, 26), (np.int64(2026), "26"), ("2026", 26.0), (2026.0, None)):
        found = predictor.recommend(frame, BOX, target_g=61, season=season, lot=lot)
        assert (found.box, found.lot, found.season, found.catches_used) == ("Small", "26", "2026", 1)
        assert found.setting == wanted.setting
    assert asked(lot="FORB MIX").to_dict() == asked(lot="forb mix").to_dict()
    assert predictor.learn_history(TRIALS, "GRAIN", before=("cw-26", 2026)).lots == (
        predictor.learn_history(TRIALS, "grain", before=("CW-26", "2026")).lots
    )
    assert predictor.compare_lots(TRIALS, "SMALL") == LOTS
    assert JOB.verdict("GRAIN", "cw-26") == JOB.verdict("grain", "CW-26")
    assert PLAN.target("GRAIN", "cw-26") == PLAN.target("grain", "CW-26")


def test_a_lot_or_season_that_has_no_catch_is_named_in_the_warnings():
    mistyped, new, season = asked(lot="forb mux"), asked(lot="K-99"), asked(season=2031)
    assert [each.remarks[0].code for each in (mistyped, new, season)] == [
        "advice.no-such-lot", "advice.no-such-lot", "advice.no-such-season",
    ]  # fmt: skip
    assert mistyped.remarks[0]["near"] == "forb mix"
    assert new.remarks[0]["near"] is None
    golden.check("not-caught", "\n".join(each.warnings[0] for each in (mistyped, new, season)))


def test_a_history_of_the_same_scale_is_used():
    assert asked(history=HISTORY).history
    assert asked(history=replace(HISTORY, scale=None)).history


def test_a_mask_of_any_kind_of_true_and_false_picks_the_same():
    wanted = TRIALS.where(TRIALS.charged)
    for mask in (TRIALS.charged.tolist(), pd.Series(TRIALS.charged), tuple(TRIALS.charged.tolist())):
        assert TRIALS.where(mask) == wanted


def test_every_public_function_and_method_with_arguments_is_attacked_here_or_named():
    """What is not in a table: results made by hand, whose fields nothing but the library itself fills."""
    import inspect

    source = (ROOT / "tests/house/test_misuse.py").read_text() + (ROOT / "tests/curves/test_asked.py").read_text()
    missing = []
    for name in predictor.__all__:
        thing = getattr(predictor, name)
        if inspect.isfunction(thing):
            missing += [name] if name not in source else []
        for method, code in inspect.getmembers(thing, inspect.isfunction) if inspect.isclass(thing) else ():
            if not method.startswith("_") and len(inspect.signature(code).parameters) > 1:
                missing += [] if f".{method}" in source else [f"{name}.{method}"]
    assert not set(missing) - {"Prior.log_density"}, missing
