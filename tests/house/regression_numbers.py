"""Writes the numbers of the engine on fixed inputs again: `python -m tests.house.regression_numbers`.

The numbers are from our own code, not from outside. They show that nothing changed, not that it is right. The tests in
tests/published/ show what is right. All catches are invented.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from predictor import Lever, SeedBox, Sprockets, as_trials, fit_curve, learn_history, recommend
from predictor.advice.aim import Aim
from predictor.advice.evidence import parts_inside, row_differences, rows_inside, suspicious
from predictor.advice.lot_fit import fit_lot
from predictor.advice.prospects import more_catches
from predictor.curves.prior import cold_prior
from predictor.domain.drill import Drill
from predictor.lots.compare import compare_lots
from predictor.slips.causes import About, Cause, likely_causes, with_places

FILE = Path(__file__).parent / "regression_numbers.json"
LEVER = SeedBox("small", "small", Lever(0, 60, 1))
CHAIN = SeedBox("chaffy", "chaffy", Sprockets({"1": 0.33, "2": 0.42, "3": 0.5, "4": 0.6, "5": 0.71, "6": 0.83}))
DRILL = Drill("made up", 12, 0.19, 2.2, (LEVER, CHAIN))
AT = np.array([12.0, 25.0, 33.0, 48.0])


def plain(value):
    """A value for JSON, with numbers to twelve digits."""
    if isinstance(value, dict):
        return {name: plain(each) for name, each in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        return [plain(each) for each in value]
    if isinstance(value, float | np.floating):
        return None if math.isnan(value) else str(value) if math.isinf(value) else float(f"{value:.12g}")
    return int(value) if isinstance(value, np.integer) else value


def curve_numbers(curve) -> dict:
    found = curve.setting_for(0.62)
    later = curve.setting_for(0.62, 0.8, "next") if curve.family != "spline" else found
    return {
        "mean": curve.mean(AT),
        "interval": [*curve.interval(AT), *curve.interval(AT, 0.8)],
        "next": [*curve.interval(AT, 0.95, "next")],
        "setting": [found.estimate, found.lower, found.upper, later.estimate, later.lower, later.upper],
        "chance": [curve.probability(AT, 0.5, 0.75), curve.probability(AT, 0.5, 0.75, 0.002)],
        "params": curve.params,
        "std_errors": curve.std_errors,
        "spread": [curve.spread, curve.df, curve.n],
    }


def curves() -> dict:
    x = np.array([20.0, 30.0, 30.0, 40.0, 35.0])
    y = np.array([0.41, 0.58, 0.63, 0.82, 0.70])
    many = np.array([5.0, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 30])
    bent = 0.9 * (1 - np.exp(-many / 18)) * np.exp(0.02 * np.sin(7 * many))
    reach = {"lowest": 0.0, "span": 60.0}
    small, chaffy = cold_prior("small"), cold_prior("chaffy")
    return {
        "one catch": curve_numbers(fit_curve(x[:1], y[:1], **reach)),
        "one catch, chaffy": curve_numbers(fit_curve(x[:1], y[:1], prior=chaffy, **reach)),
        "two catches, chaffy": curve_numbers(fit_curve(x[:2], y[:2], prior=chaffy, **reach)),
        "five catches": curve_numbers(fit_curve(x, y, **reach)),
        "weights": curve_numbers(fit_curve(x, y, weights=[1, 2, 1, 3, 0.5], **reach)),
        "fillings": curve_numbers(
            fit_curve(x, y, prior=chaffy, fill=[-0.4, 0.4, -0.1, 0.2, 0.0], fill_prior=(0.15, 0.15), **reach)
        ),
        "single rows": curve_numbers(fit_curve(x, y, prior=small, rows=(6 * 0.03**2, 6.0, 0.0), **reach)),
        "coarse scale": curve_numbers(fit_curve(x, y, prior=small, reading=np.full(5, 0.09), **reach)),
        "constant noise": curve_numbers(fit_curve(x, y, noise="constant", **reach)),
        "twelve, bent": curve_numbers(fit_curve(many, bent, family="line", **reach)),
        "spline": curve_numbers(fit_curve(many, bent, family="spline", **reach)),
        "spline, flat prior": curve_numbers(fit_curve(many, bent, family="spline", prior=None)),
        "automatic": curve_numbers(fit_curve(many, bent, **reach)),
        "no control given": curve_numbers(fit_curve(x, y)),
        "fillings, usual effect": curve_numbers(
            fit_curve(x, y, prior=chaffy, fill=[-0.4, 0.4, -0.1, 0.2, 0.0], **reach)
        ),
        "dead far below": curve_numbers(fit_curve(x, [1.0, 1.02, 1.05, 1.1, 1.06], **reach)),
        "flat prior": curve_numbers(fit_curve(x, y, prior=None)),
        "flat prior, weights": curve_numbers(fit_curve(x, y, prior=None, weights=[1, 2, 1, 3, 0.5])),
        "flat prior, constant": curve_numbers(fit_curve(x, y, prior=None, noise="constant")),
    }


def log(lots: dict, box=LEVER) -> pd.DataFrame:
    """A log made of lots: lot and season to (dead setting, slope, scatter, settings)."""
    rng = np.random.default_rng(13)
    rows = []
    for (lot, season), (dead, slope, scatter, settings) in lots.items():
        for at in settings:
            grams = 84 * slope * (at - dead) * math.exp(scatter * rng.standard_normal())
            rows.append((box.name, lot, season, at, 28, 3, round(grams, 2)))
    return pd.DataFrame(rows, columns=["box", "lot", "season", "setting", "turns", "rows", "catch_g"])


SPREAD = (15, 25, 25, 35, 45)
LOGS = {
    "one lot": {("A", "2024"): (2, 0.02, 0.04, SPREAD)},
    "six lots": {(f"L{k}", f"202{k % 3}"): (2 + 0.3 * k, 0.015 + 0.002 * k, 0.05, SPREAD) for k in range(6)},
    "a wild lot": {
        **{(f"L{k}", "2024"): (2.0, 0.02, 0.03, SPREAD) for k in range(5)},
        ("wild", "2024"): (12.0, 0.02, 0.5, SPREAD),
    },
    "drifted": {(f"L{k}", f"202{k}"): (1.0 + 3 * (k > 2), 0.02, 0.02, SPREAD * 2) for k in range(5)},
    "two seasons, few catches": {
        (f"L{k}", f"202{k}"): (1.0 + 2 * k, 0.02, 0.03, (15, 30, 45)[: 2 + k]) for k in range(2)
    },
    "drifted, three seasons": {
        (f"L{k}", f"202{k // 2}"): (1.0 + 3 * (k // 2), 0.02, 0.015, (10, 20, 20, 45, 45)) for k in range(6)
    },
    "pairs": {(f"L{k}", "2025"): (2.0, 0.01 + 0.004 * k, 0.05, (20, 20 + 10 * (k % 2))) for k in range(4)},
    "thin": {(f"L{k}", "2025"): (2.0, 0.02, 0.05, (20 + k,)) for k in range(3)},
}


def histories() -> dict:
    found = {}
    for name, lots in LOGS.items():
        history = learn_history(as_trials(log(lots), DRILL), LEVER)
        prior = history.prior
        dead, bend = np.meshgrid([-0.1, 0.0, 0.05, 0.1], [-0.1, 0.0, 0.1])
        empty = fit_curve([], [], prior=prior, lowest=0.0, span=60.0) if prior.level is not None else None
        found[name] = {
            "lots": [list(history.lots), list(history.left_out), history.catches, history.drifted],
            "spread": history.lot_spread,
            "repeatability": [list(each) for each in prior.repeatability],
            "density": prior.log_density(dead.ravel(), bend.ravel()),
            "before any catch": None if empty is None else [empty.mean(AT), *empty.interval(AT), empty.n],
            "after one": curve_numbers(fit_curve([30.0], [0.6], prior=prior, lowest=0.0, span=60.0)),
        }
    return found


def without_words(value):
    """A result without its sentences and names."""
    if isinstance(value, dict):
        return {name: without_words(each) for name, each in value.items() if not isinstance(each, str)}
    return [without_words(each) for each in value if not isinstance(each, str)] if isinstance(value, list) else value


def lots() -> dict:
    """How lots compare where they share a curve, where each has its own, and in several seasons."""
    own = {(f"L{k}", "2024"): (dead, 0.02, 0.015, SPREAD * 2) for k, dead in enumerate((2, 9, 4, 11, 6))}
    twice = {(f"L{k}", f"202{s}"): (2.0, 0.02 + 0.004 * k * s, 0.03, SPREAD) for k in range(4) for s in (4, 5)}
    uneven = {(f"L{k}", "2024"): (2.0 + 4 * (k % 2), 0.02 + 0.001 * k, 0.02, SPREAD[: k + 1] * 2) for k in range(5)}
    made = LOGS | {"own curves": own, "in two seasons": twice, "uneven": uneven}
    found = {}
    for name, each in made.items():
        for target in (None, 0.7):
            compared = compare_lots(as_trials(log(each), DRILL), LEVER, target_output=target)
            found[f"{name}, {target}"] = without_words(compared.to_dict())
    return found


def causes() -> dict:
    """What weights from a thirtieth to thirty times the expected one may have been meant as, and how likely."""
    teeth = {"1": (12, 30), "2": (15, 28), "3": (18, 24)}
    lever, chain = LEVER.control, Sprockets({label: a / b for label, (a, b) in teeth.items()}, teeth)
    both = {"rows": 3, "box_rows": 12, "usual_rows": 2.0, "turns": 28.0, "usual_turns": (28.0, 50.0)}
    known = {"tares": (14.0,), "constant": 9.0, "tare_g": 14.0, "first": True}
    on_lever = About(**both, **known, setting=lever.find("19"), control=lever, at=lambda x: (1.2 * x, 1.6 * x))
    on_chain = About(**both, setting=chain.find("2"), control=chain, at=lambda x: (44 * x, 56 * x))
    found = {}
    for k in range(-30, 31):
        grams = round(26.6 * 30 ** (k / 30), 2)
        asked = [likely_causes(grams, (23.5, 30.0), about) for about in (on_lever, on_chain)]
        elsewhere = [(Cause("other_box", grams), (40.0, 70.0)), (Cause("other_lot", grams), (60.0, 90.0))]
        asked.append(with_places((), grams, elsewhere))
        found[f"{grams:g}"] = [[[each.code, each.grams, each.likely] for each in answer] for answer in asked]
    return found


def other_drills() -> dict:
    """What the lots of one, two and four other drills say, alone and with lots of this one."""
    drills = [replace(DRILL, name=f"drill {k}") for k in range(4)]
    names = ("six lots", "drifted", "pairs", "a wild lot")
    logs = [as_trials(log(LOGS[name]), drill) for name, drill in zip(names, drills, strict=True)]
    own = as_trials(log(LOGS["one lot"]), DRILL)
    none = own.where(np.zeros(len(own), dtype=bool))
    found = {}
    for count in (1, 2, 4):
        for name, mine in (("alone", none), ("with a lot", own)):
            history = learn_history(mine, LEVER, others=logs[:count])
            advice = recommend(
                log({("X", "2026"): (2, 0.02, 0.02, (33, 35))}), LEVER, target_output=0.66, history=history, drill=DRILL
            )
            prior = history.prior
            found[f"{count}, {name}"] = {
                "shape": [prior.dead, prior.dead_spread, prior.bend, prior.bend_spread, prior.correlation],
                "repeatability": [list(each) for each in prior.repeatability],
                "advice": [advice.decision, advice.setting, advice.chance],
            }
    return found


def boundaries() -> dict:
    """Series of cases in which one more step changes an answer. A single case would not meet these numbers."""
    wild = {}
    for lots in (4, 5, 7):
        for catches in (2, 3, 5):
            for factor in (2, 3, 4, 5, 6, 8, 10, 13, 17):
                table = {
                    **{(f"L{k}", "2024"): (2.0, 0.02, 0.03, SPREAD) for k in range(lots - 1)},
                    ("odd", "2024"): (2.0, 0.02, 0.03 * factor, SPREAD[:catches]),
                }
                found = learn_history(as_trials(log(table), DRILL), LEVER)
                wild[f"{lots} lots, {catches} catches, {factor}"] = [len(found.left_out), found.prior.typical_cv]
    drifts = {}
    for step in (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0):
        for lots in (4, 6):
            table = {
                (f"L{k}", f"202{k // 2}"): (1.0 + step * (k // 2), 0.02, 0.02, (10, 20, 30, 45)) for k in range(lots)
            }
            found = learn_history(as_trials(log(table), DRILL), LEVER)
            drifts[f"{lots} lots, {step:g}"] = [found.drifted, found.prior.dead, found.prior.dead_spread]
    steep = np.repeat(np.linspace(10, 90, 9), 2)
    noise = np.exp(0.02 * np.random.default_rng(8).standard_normal(18))
    families = {
        f"{wide:g}": fit_curve(
            steep, noise * (0.3 + 3 / (1 + np.exp((50 - steep) / wide))), lowest=0.0, span=100.0
        ).family
        for wide in np.arange(34, 40, 0.75)
    }
    few = Lever(0, 60, 20)
    curve = fit_curve([20.0, 20.0, 40.0], [0.41, 0.43, 0.80], lowest=0.0, span=60.0)
    nowhere = {
        f"{target:g}": [
            curve.probability_none(few.openings, 0.9 * target, 1.1 * target),
            curve.probability_none(np.array([20.0, 40.0]), 0.9 * target, 1.1 * target, 0.001),
        ]
        for target in (0.2, 0.4, 0.55, 0.6, 0.8, 1.5)
    }
    two, three = (curve, np.array([20.0, 40.0]), Aim(0.6)), (curve, np.array([20.0, 21.0, 40.0]), Aim(0.43))
    asked = ((two, 20.0), (two, 40.0), (three, 20.0), (three, 21.0))
    prospects = [each for case, x in asked for each in more_catches(*case, x, 0.0, case[0].spread)]
    settled = {}
    for grams in range(30, 130, 4):
        for repeats in (1, 2, 4, 9):
            frame = pd.DataFrame(
                {"box": "chaffy", "lot": "X", "setting": ["2", *["3"] * repeats], "turns": 28, "rows": 3}
            )
            frame["confirmed"] = "yes"  # catches that weigh the same to the last digit are asked about
            frame["catch_g"] = [0.82 * grams, *(grams * (1 + 0.03 * (-1) ** k) for k in range(repeats))]
            advice = recommend(frame, CHAIN, target_output=0.9, drill=DRILL)
            settled[f"chain, {grams} g, {repeats}"] = [advice.decision, advice.setting, advice.chance, reason(advice)]
    scatter = {}
    for spread in (0.10, 0.14, 0.18, 0.22, 0.26, 0.30, 0.36):
        frame = pd.DataFrame({"box": "small", "lot": "X", "setting": [30] * 8, "turns": 28, "rows": 3})
        frame["catch_g"] = [60 * math.exp(spread * each) for each in (-1.3, 0.8, 1.4, -0.6, 0.1, 1.1, -1.1, -0.4)]
        advice = recommend(frame, LEVER, target_output=60 / 84, drill=DRILL)
        scatter[f"{spread:g}"] = [advice.decision, advice.setting, advice.next_turns, advice.catches_expected_more]
    fine = {}
    for step in (0.1, 0.02):
        box = SeedBox("fine", "small", Lever(0, 60, step))
        for settings, target in (([30.0, 38.0], 0.70), ([30.0, 38.0, 34.5], 0.66), ([30.0], 0.5)):
            frame = pd.DataFrame({"box": "fine", "lot": "X", "turns": 28, "rows": 3, "setting": settings})
            frame["catch_g"] = [48.0, 61.0, 55.6][: len(settings)]
            advice = recommend(frame, box, target_output=target, drill=Drill("fine", 12, 0.19, 2.2, (box,)))
            fine[f"{step:g}, {len(settings)}, {target:g}"] = [advice.decision, advice.setting, advice.chance]
    pair = as_trials(
        pd.DataFrame({"box": "small", "lot": "X", "turns": 28, "rows": 2, "setting": 30, "catch_g": [40.0, 41.0]}),
        DRILL,
    )
    pair = replace(pair, rows_g=((19.0, 21.0), (19.9, 21.1)))
    two_rows = row_differences(pair, 0.05, 12)
    odd = {}
    for grams in range(40, 110, 2):
        frame = pd.DataFrame({"box": "small", "lot": "X", "turns": 28, "rows": 3, "setting": [30, 30, 38, 34]})
        caught = as_trials(frame.assign(catch_g=[50.0, 51.0, 62.0, float(grams)]), DRILL)
        odd[f"{grams}"] = [contradictions(caught, cold_prior(kind)) for kind in ("small", "chaffy")]
    nothing = as_trials(pd.DataFrame({"box": ["small"], "lot": "X", "setting": 30, "catch_g": 1.0}), DRILL)
    nothing = recommend(nothing.where(np.array([False])), LEVER, target_output=0.7)
    none_yet = recommend(pair, LEVER, lot="Y", season="2027", target_output=0.7)
    undated = pd.DataFrame({"box": "small", "lot": "X", "turns": 28, "rows": 3, "setting": [30, 38, 38, 30]})
    undated = undated.assign(season=["2025", "", "2026", ""], catch_g=[40.0, 61.0, 60.0, 48.0])
    seasons = [
        recommend(undated, LEVER, target_output=0.72, season=each).catches_used for each in (None, "2025", "2026")
    ]
    return {
        "wild lots": wild,
        "drift": drifts,
        "families": families,
        "nowhere": nowhere,
        "prospects": prospects,
        "settled": settled,
        "scatter": scatter,
        "fine scales": fine,
        "two rows": [two_rows.spread, two_rows.mean_variance, *rows_inside(pair, 0.1)],
        "odd catches": odd,
        "nothing at all": [nothing.lot, nothing.season, nothing.decision, nothing.setting],
        "none yet": [none_yet.lot, none_yet.season, none_yet.decision, none_yet.setting],
        "seasons": seasons,
    }


CASES = {
    "first": ([30], [52.0], 0.7),
    "two": ([30, 38], [48.0, 61.0], 0.7),
    "locked": ([30, 38, 38], [48.0, 61.0, 59.0], 0.72),
    "wild": ([30, 30, 30, 38, 38], [48.0, 61.0, 40.0, 55.0, 75.0], 0.7),
    "contradicted": ([30, 38, 38, 38, 38], [48.0, 61.0, 60.0, 22.0, 62.0], 0.72),
    "contradicted, last": ([30, 38, 38, 22], [48.0, 61.0, 60.0, 90.0], 0.72),
    "beyond": ([30, 55, 60], [48.0, 88.0, 96.0], 3.0),
    "below": ([5, 2, 1, 1], [40.0, 31.0, 29.0, 28.5], 0.05),
    "falling": ([20, 30, 40], [80.0, 60.0, 40.0], 0.7),
    "scattering": ([30, 30, 30, 30, 31, 31, 30, 31, 30], [40, 66, 52, 71, 44, 63, 58, 39, 69], 0.66),
    "bent": ([5, 10, 15, 20, 25, 30, 40, 50, 55], [20, 36, 48, 58, 65, 70, 77, 81, 82], 0.8),
}


def reason(advice) -> list:
    """The code of a reason, and the numbers of its sentence."""
    return [advice.why.code, *(value for value in advice.why.values.values() if isinstance(value, float | int))]


def advice_numbers(advice) -> dict:
    """What advice says, without its words."""
    found = advice.to_dict()
    for words in ("reason", "model", "history", "warnings", "reason_code", "slips", "given"):
        del found[words]
    said = {"slips": [each.code for each in advice.slips]} if advice.slips else {}
    return {**found, **said, "why": reason(advice), "remarks": [each.code for each in advice.remarks]}


def advised() -> dict:
    found = {}
    histories = {None: None, "six lots": learn_history(as_trials(log(LOGS["six lots"]), DRILL), LEVER)}
    for name, (settings, grams, target) in CASES.items():
        frame = pd.DataFrame(
            {"box": "small", "lot": "X", "setting": settings, "turns": 28, "rows": 3, "catch_g": grams}
        )
        for known, history in histories.items():
            for drill in (DRILL, None):
                advice = recommend(frame, LEVER, target_output=target, drill=drill, history=history)
                found[f"{name}, {known}, {'drill' if drill else 'no drill'}"] = advice_numbers(advice)
    weighed = pd.DataFrame(
        {
            "box": "chaffy",
            "lot": "X",
            "setting": ["3", "4", "4"],
            "turns": [28, 28, 56],
            "rows": 3,
            "catch_g": [43.4, 47.3, 93.0],
            "rows_g": ["14.5;14.9;14.0", "16.0;15.6;15.7", "31.2;29.9;31.9"],
            "fill_pct": [90, 30, 50],
        }
    )
    for tolerance in (0.05, 0.10):
        for confidence in (0.8, 0.95):
            advice = recommend(
                weighed,
                CHAIN,
                target_output=0.58,
                tolerance=tolerance,
                confidence=confidence,
                drill=DRILL,
                field_factor=0.93,
            )
            found[f"rows and fillings, {tolerance:g}, {confidence:g}"] = advice_numbers(advice)
    still = fit_lot(as_trials(weighed, DRILL), CHAIN, drill=DRILL).standing(0.6)
    found["rows and fillings, standing"] = [still.log_output, still.curve_sd, still.rows_sd, still.fill_effect]
    return found


def contradictions(trials, prior) -> list:
    """Catches that may contradict the others, the chance of each, and how many times the expected it weighs."""

    def fit(used):
        return fit_curve(used.opening, used.output, prior=prior, lowest=0.0, span=60.0)

    found = suspicious(trials, fit(trials), lambda i: fit(trials.where(np.arange(len(trials)) != i)))
    return [[each.i, each.chance, each.ratio] for each in found]


def evidence() -> dict:
    rows = [(20.0, 21.5, 19.0), (20.5, 21.9, 19.4), (19.2, 21.0, 18.6)]
    frame = pd.DataFrame(
        {
            "box": "small",
            "lot": "X",
            "setting": 30,
            "turns": 28,
            "rows": 3,
            "catch_g": [sum(each) for each in rows],
            "rows_g": [";".join(map(str, each)) for each in rows],
        }
    )
    trials = as_trials(frame, DRILL)
    one, all_three = row_differences(trials.where(np.arange(3) == 0), 0.05, 12), row_differences(trials, 0.05, 12)
    wide = as_trials(frame.assign(catch_g=62.0, rows_g="20.0;30.0;12.0")[:1], DRILL)
    wide = row_differences(wide, 0.15, 12)
    odd = as_trials(
        pd.DataFrame({"box": "small", "lot": "X", "setting": [30, 30, 30, 38], "catch_g": [50, 51, 90, 62]}), DRILL
    )
    curve = fit_curve(odd.opening, odd.output, lowest=0.0, span=60.0)
    prospects = {}
    for target in (0.3, 0.6, 0.9):
        for variance in (0.0, 0.001, 0.01):
            case = curve, LEVER.control.openings, Aim(target)
            prospects[f"{target:g}, {variance:g}"] = [
                curve.noise_of(2.0),
                *more_catches(*case, 30.0, variance, curve.spread),
                *more_catches(*case, 38.0, variance, 0.02),
                *more_catches(*case, 12.0, 0.0, curve.spread),
            ]
    return {
        "one": [one.spread, one.mean_variance, one.variance_with(6)],
        "wide": [wide.spread, wide.mean_variance, wide.variance_with(5)],
        "three": [all_three.spread, all_three.mean_variance, *rows_inside(trials, 0.1)],
        "parts": list(parts_inside(replace(trials, parts_g=trials.rows_g), 0.1)),
        "suspicious": contradictions(odd, cold_prior("small")),
        "prospects": prospects,
    }


def numbers() -> dict:
    parts = {"curves": curves(), "histories": histories(), "advice": advised(), "evidence": evidence()}
    return plain(
        {**parts, "boundaries": boundaries(), "other drills": other_drills(), "causes": causes(), "lots": lots()}
    )


if __name__ == "__main__":
    FILE.write_text(json.dumps(numbers(), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
