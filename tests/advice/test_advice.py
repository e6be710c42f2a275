"""Each decision comes where it belongs, and some things hold whatever was caught."""

import json

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from predictor.advice.evidence import row_differences
from predictor.advice.history import learn_history
from predictor.advice.lot_fit import fit_lot
from predictor.advice.recommend import recommend
from predictor.domain.control import Lever, Sprockets
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.errors import InputError
from predictor.files.trials import as_trials
from predictor.format import weight

SMALL = SeedBox("small", "small", Lever(0, 60, 1))
CHAFFY = SeedBox("chaffy", "chaffy", Sprockets({"1": 0.40, "2": 0.54, "3": 0.70, "4": 0.90}))
DRILL = Drill("made up", 12, 0.1905, 2.19456, (SMALL, CHAFFY), CatchDefaults(28, 3, 5, 0.1))
TARGET = 61.0 / 84


def frame(setting, catch_g, box="small", lot="A", **columns):
    return pd.DataFrame(
        {"box": box, "lot": lot, "setting": setting, "catch_g": catch_g, "turns": 28, "rows": 3, **columns}
    )


def advise(setting, catch_g, box=SMALL, target=TARGET, drill=None, **options):
    extra = {
        key: options.pop(key)
        for key in list(options)
        if key in ("use", "charged", "confirmed", "rows_g", "fill_pct", "season")
    }
    return recommend(frame(setting, catch_g, box.name, **extra), box, target_output=target, drill=drill, **options)


def test_a_setting_caught_often_and_on_target_is_locked():
    advice = advise([30, 38, 38, 38], [48.0, 61.0, 62.2, 60.9])
    assert advice.decision == "lock"
    assert advice.setting == 38
    assert advice.chance >= 0.95
    assert advice.catches_expected_more == 0


def test_one_catch_far_from_target_moves_in_proportion():
    advice = advise([30], [40.0])
    assert advice.decision == "move"
    # Output grows about in proportion to the reading: 30 x 61 / 40 = 45.75.
    assert 42 <= advice.setting <= 50
    assert advice.catches_expected_more >= 1
    low, high = advice.next_catch_interval_g
    assert low < 61 < high


def test_thin_evidence_at_the_best_setting_asks_to_repeat_there():
    advice = advise([38], [61.0])
    assert advice.decision == "repeat"
    assert advice.setting == 38
    assert 0.5 < advice.chance < 0.95


def test_no_catch_and_no_history_starts_in_the_middle():
    advice = recommend(frame([30], [50.0]), SMALL, lot="other", target_output=TARGET)
    assert advice.decision == "move"
    assert advice.setting == 30
    assert advice.chance is None
    assert advice.curve is None
    json.dumps(advice.to_dict(), allow_nan=False)


def test_target_out_of_reach_names_the_nearest_and_what_would_mend_it():
    above = advise([60, 60, 58], [20.0, 20.4, 19.5])
    assert above.decision == "unreachable"
    assert above.setting == 60
    assert above.why["off"] < 0
    assert not above.why["between"]
    below = advise([0, 0, 2], [200.0, 205.0, 330.0], confirmed="yes")
    assert below.decision == "unreachable"
    assert below.why["off"] > 0
    assert not below.why["between"]


def test_beside_a_target_out_of_reach_by_a_known_factor_the_weights_are_asked_about():
    found = advise([30, 60], [3.0, 6.1])
    assert found.decision == "unreachable"  # without earlier lots it may be so for real
    assert [each.code for each in found.slips] == ["level"]
    assert advise([30, 60], [3.0, 6.1], confirmed=["yes", ""]).slips == ()


def lever(**scale):
    return SeedBox("small", "small", Lever(0, 60, 1, **scale))


# Invented: about 1.6 g a reading above 10, so the wanted 0.5 g lies between the shut 10 and the 11 above it.
@pytest.mark.parametrize(
    ("box", "settings", "nearest"),
    [
        (lever(shut=10), [30, 11, 11, 11], 11),
        (lever(shut=50, more_is="lower"), [30, 49, 49, 49], 49),
    ],
)
def test_a_target_below_the_open_part_is_out_of_reach_and_no_shut_reading_is_advised(box, settings, nearest):
    for n in range(1, len(settings)):
        advice = advise(settings[:n], [32.0, 1.6, 1.62, 1.58][:n], box, 0.5 / 84, confirmed="yes")
        assert advice.setting == nearest
    assert advice.decision == "unreachable"
    assert advice.why["shut"] == {11: "10", 49: "50"}[nearest]
    assert not advice.why["assumed"]
    assert "carrier" in advice.reason
    assert "slower drive" in advice.reason
    assert "more turns" in advice.reason


def test_the_zero_of_a_lever_is_not_advised_until_a_catch_there_gave_seed():
    settings, weights = [30, 1, 1, 1], [46.0, 3.0, 3.02, 2.98]
    advice = advise(settings, weights, target=1.5 / 84, confirmed="yes")
    assert (advice.decision, advice.setting) == ("unreachable", 1)
    assert (advice.why["shut"], advice.why["assumed"]) == ("0", True)
    assert "taken as shut at 0" in advice.reason
    tried = advise([*settings, 0, 0], [*weights, 1.5, 1.5], target=1.5 / 84)
    assert tried.setting == 0


def test_a_target_that_the_scale_cannot_show_asks_for_longer_catches_and_comes_to_an_end():
    # 0.3 g wanted in 28 turns on a scale of 0.1 g: nothing on it says little of the box
    settings, weights, turns, found = [30], [45.0], [28], []
    for _ in range(12):
        log = frame(settings, weights).assign(turns=turns)
        advice = recommend(log, SMALL, target_output=0.3 / 84, drill=DRILL)
        found.append(advice)
        if advice.decision == "unreachable":
            break
        settings, weights, turns = [*settings, advice.setting], [*weights, 0.0], [*turns, advice.next_turns]
    assert "advice.longer-to-see" in [each.why.code for each in found]
    longer = next(each for each in found if each.why.code == "advice.longer-to-see")
    # ten steps of 0.1 g are 1 g, which takes 28 x 1 / 0.3 turns
    assert (longer.decision, longer.next_turns) == ("lengthen", 94)
    assert found[-1].decision == "unreachable"


def test_a_target_too_light_for_the_longest_catch_is_out_of_reach():
    log = frame([30, 1, 1], [45.0, 0.0, 0.0]).assign(turns=[28, 28, 224])
    advice = recommend(log, SMALL, target_output=0.03 / 84, drill=DRILL)
    assert (advice.decision, advice.why.code) == ("unreachable", "advice.too-light")
    assert "finer scale" in advice.reason


def test_a_target_within_the_scale_says_nothing_of_its_zero():
    assert "shut" not in advise([30, 38], [48.0, 61.0]).summary()


def test_seed_from_a_reading_that_is_said_to_be_shut_is_named():
    advice = advise([30, 8], [32.0, 6.0], lever(shut=10), 0.2)
    (found,) = [each for each in advice.remarks if each.code == "advice.not-shut"]
    assert (found["number"], found["shut"], found["setting"]) == (2, 10, "8")
    assert "correct shut" in str(found)
    assert not [each for each in advise([30], [32.0], lever(shut=10)).remarks if each.code == "advice.not-shut"]


def test_a_lever_that_is_shut_far_up_starts_in_the_middle_of_its_open_part():
    assert advise([], [], lever(shut=20)).setting == 41


def test_target_in_the_gap_between_two_chain_positions_is_out_of_reach():
    # Positions 2 and 3 differ by 34 %, so half way between them nothing is within 10 %.
    advice = advise(["2", "3"] * 6, [53.0, 71.4, 53.3, 71.0, 52.8, 71.2] * 2, CHAFFY, target=61.6 / 84, confirmed="yes")
    assert advice.decision == "unreachable"
    assert advice.setting in ("2", "3")
    assert isinstance(advice.setting_interval[0], str)


def test_two_catches_that_contradict_each_other_are_named():
    advice = advise([38, 38], [61.0, 30.0])
    assert advice.decision == "recheck"
    assert advice.why.code == "advice.contradicted"
    assert advice.why["number"] == 2


def test_a_bridged_catch_is_named_and_once_repeated_does_not_stop_the_work():
    advice = advise([38, 38, 38, 38], [61.0, 62.0, 60.5, 25.0])
    assert advice.decision == "recheck"
    assert advice.why["number"] == 4
    assert advice.why["ratio"] == pytest.approx(25 / 61.2, rel=0.02)
    again = advise([38, 38, 38, 38, 38], [61.0, 62.0, 60.5, 25.0, 61.2])
    assert again.decision == "lock"
    # A catch is never dropped in silence: it is named first.
    assert (again.remarks[0].code, again.remarks[0]["number"]) == ("advice.set-aside", 4)
    assert again.catches_used == 4
    assert again.catches_left_out == 1
    clean = advise([38, 38, 38, 38, 38], [61.0, 62.0, 60.5, 25.0, 61.2], use=[True, True, True, False, True])
    assert clean.decision == "lock"
    assert clean.catches_left_out == 1


@pytest.mark.slow
def test_ordinary_scatter_is_not_called_suspicious():
    rng = np.random.default_rng(4)
    false = 0
    for _ in range(100):
        catches = 61 * np.exp(0.05 * rng.standard_normal(6))
        false += advise([38] * 6, catches.tolist()).decision == "recheck"
    # 1 % of six catches or fewer, and three standard errors of 100 runs.
    assert false <= 4


def test_uncharged_unused_and_empty_catches_are_left_out_and_named():
    advice = advise(
        [38, 38, 38, 38], [61.0, 40.0, 62.0, 0.0], charged=[True, False, True, True], use=[True, True, False, True]
    )
    assert advice.catches_used == 1
    assert advice.catches_left_out == 3
    left_out = next(each for each in advice.remarks if each.code == "advice.left-out")
    assert [(each["number"], each["status"]) for each in left_out["catches"]] == [
        (2, "uncharged"), (3, "unused"), (4, "nothing"),
    ]  # fmt: skip


def test_scatter_too_wide_for_the_tolerance_asks_for_longer_catches():
    rng = np.random.default_rng(1)
    catches = 61 * np.exp(0.12 * rng.standard_normal(6))
    advice = advise([38] * 6, catches.tolist(), tolerance=0.03)
    assert advice.decision == "lengthen"
    assert advice.why.code == "advice.more-turns"
    assert advice.next_turns == advice.why["next_size"].length > 28
    assert advice.setting is not None


def test_weights_are_those_of_the_longer_catch_that_is_asked_for():
    rng = np.random.default_rng(1)
    catches = 61 * np.exp(0.12 * rng.standard_normal(6))
    advice = advise([38] * 6, catches.tolist(), tolerance=0.03)
    times, size = advice.next_turns / 28, advice.next_turns * 3
    assert (advice.turns, advice.next_rows, times > 1) == (28, 3, True)
    assert advice.next_length == pytest.approx(times)
    assert advice.target_catch_g == pytest.approx(61 * times)
    assert advice.expected_catch_g == pytest.approx(advice.expected_output * size)
    opening = advice.advised.opening
    low, high = advice.next_catch_interval_g
    limits = advice.curve.interval(opening, 0.95, "next", advice.next_length)
    assert (low, high) == pytest.approx([end * size for end in limits])
    # a longer catch averages more, so its limits are nearer to each other than those of a catch as long as the last
    short, long = advice.curve.interval(opening, 0.95, "next", advice.next_length / times)
    assert high / low < 0.95 * long / short
    said = advice.to_dict()
    assert (said["target"]["catch_g"], said["expected"]["catch_g"]) == (advice.target_catch_g, advice.expected_catch_g)
    assert said["expected"]["next_catch_interval_g"] == [low, high]
    times = {"turns": advice.next_turns, "length": advice.next_turns}
    assert said["next_catch"] == {**times, "counted": "wheel turns", "rows": 3}
    assert f"{advice.next_turns:g} turns, 3 rows, {weight(advice.target_catch_g, 0.1)} g; " in str(advice)


def test_a_catch_of_the_same_size_refers_to_the_last_one():
    advice = advise([38], [61.0])
    assert (advice.next_turns, advice.next_rows, advice.next_rows_sd) == (advice.turns, advice.rows, 0)
    assert advice.target_catch_g == pytest.approx(61)


def test_before_any_catch_nothing_is_known_of_the_next_one():
    advice = advise([], [])
    assert advice.next_catch_interval_g == (None, None)
    assert advice.expected_catch_g is None
    with pytest.raises(ValueError, match="Nothing is known"):
        advice.next_weights(0.5)


def test_rows_that_differ_cannot_be_averaged_out_by_catching_the_same_again():
    rng = np.random.default_rng(2)
    singles = [tuple(61 / 3 * np.array([1.09, 0.90, 1.01]) * np.exp(0.01 * rng.standard_normal(3))) for _ in range(6)]
    catches = [sum(each) for each in singles]
    told = advise([38] * 6, catches, rows_g=singles, drill=DRILL, tolerance=0.05, target=np.mean(catches) / 84)
    untold = advise([38] * 6, catches, drill=DRILL, tolerance=0.05, target=np.mean(catches) / 84)
    assert untold.decision == "lock"
    assert told.decision == "lengthen"
    assert told.why.code == "advice.more-rows"
    assert 3 < told.next_rows == told.why["next_rows"] <= told.why["box_rows"] == 12
    # of rows with this spread 3 were caught, and the next catch has others besides
    assert told.next_rows_sd == pytest.approx(told.why["spread"] * np.sqrt(1 / 3 - 1 / told.next_rows))
    assert told.target_catch_g == pytest.approx(np.mean(catches) / 3 * told.next_rows)
    low, high = told.next_catch_interval_g
    size = 28 * told.next_rows
    inner = told.curve.interval(told.advised.opening, 0.95, "next", told.next_length)
    assert low < inner[0] * size < inner[1] * size < high
    assert np.log(high / low) > 2 * 1.96 * told.next_rows_sd
    width = lambda advice: advice.expected_interval[1] / advice.expected_interval[0]  # noqa: E731
    assert width(told) > width(untold)


def test_whole_drill_caught_leaves_no_row_uncertainty():
    singles = [(22.0, 19.0, 20.0)] * 4
    small_drill = Drill("three rows", 3, 0.19, 2.2, (SMALL,), CatchDefaults(28, 3, 5, 0.1))
    with_all = advise([38] * 4, [61.0] * 4, rows_g=singles, drill=small_drill)
    with_some = advise([38] * 4, [61.0] * 4, rows_g=singles, drill=DRILL)
    assert with_all.chance > with_some.chance


def test_coarse_scale_widens_the_answer():
    coarse = Drill("made up", 12, 0.19, 2.2, (SMALL,), CatchDefaults(28, 3, 5, 30.0))
    fine = Drill("made up", 12, 0.19, 2.2, (SMALL,), CatchDefaults(28, 3, 5, 0.1))
    rough, sharp = (advise([38] * 5, [61.0] * 5, drill=drill) for drill in (coarse, fine))
    assert rough.chance < sharp.chance
    # five catches read to 30 g, and a rounding error is evenly spread over the step
    (low, high), mean = rough.curve.interval(38.0), rough.curve.mean(38.0)
    assert (high - low) / mean >= 2 * 1.96 * 30.0 / np.sqrt(12) / 61.0 / np.sqrt(5)


def test_a_mirrored_lever_gets_the_mirrored_advice():
    twin = SeedBox("small", "small", Lever(0, 60, 1, more_is="lower"))
    one = advise([30, 38, 38], [48.0, 60.0, 66.0])
    other = advise([30, 22, 22], [48.0, 60.0, 66.0], box=twin)
    assert other.setting == 60 - one.setting
    assert other.chance == pytest.approx(one.chance, abs=1e-9)
    assert other.setting_interval == pytest.approx(tuple(60 - end for end in reversed(one.setting_interval)), abs=1e-5)


@given(order=st.permutations(range(5)))
@settings(max_examples=15, deadline=None)
def test_order_of_rows_changes_nothing_but_where_the_lever_stands(order):
    at, grams = np.array([30, 36, 38, 40, 38]), np.array([48.0, 58.0, 61.5, 64.0, 60.0])
    advice = advise(at[list(order)].tolist(), grams[list(order)].tolist())
    assert advice.decision == "lock"
    assert advice.setting == 38


@given(factor=st.floats(0.01, 100.0))
@settings(max_examples=15, deadline=None)
def test_units_of_weight_do_not_change_the_advice(factor):
    one = advise([30, 38], [480.0, 700.0], target=610 / 84)
    other = advise([30, 38], [480.0 * factor, 700.0 * factor], target=610 * factor / 84, drill=None)
    # The scale shows 0.1 g in both cases, so only catches that it weighs well are compared.
    if 480 * factor > 40:
        assert other.setting == one.setting
        assert other.chance == pytest.approx(one.chance, abs=0.002)


@given(
    catches=st.lists(st.tuples(st.integers(0, 60), st.floats(0.0, 1e5)), min_size=1, max_size=8),
    target=st.floats(1e-3, 1e4),
    tolerance=st.floats(0.01, 0.5),
)
@settings(max_examples=80, deadline=None)
def test_any_catches_get_an_answer_that_can_be_printed(catches, target, tolerance):
    advice = advise([each[0] for each in catches], [each[1] for each in catches], target=target, tolerance=tolerance)
    printed = json.dumps(advice.to_dict(), allow_nan=False)
    assert advice.decision in ("lock", "move", "repeat", "lengthen", "unreachable", "recheck")
    assert json.loads(printed)["setting"] is not None
    assert 0 <= advice.setting <= 60
    assert advice.chance is None or 0 <= advice.chance <= 1


@pytest.mark.parametrize("seed", range(8))
def test_a_lock_is_at_a_setting_that_was_caught_and_as_sure_as_was_asked(seed):
    rng = np.random.default_rng(seed)
    settings = rng.integers(30, 46, 6).tolist()
    catches = (1.6 * np.array(settings) * np.exp(0.02 * rng.standard_normal(6))).tolist()
    advice = advise(settings, catches, target=1.6 * settings[3] / 84)
    assert advice.decision == "lock"
    assert advice.chance >= 0.95
    assert advice.setting in settings
    # a chance that is asked for and not reached locks nothing
    surer = advise(settings, catches, target=1.6 * settings[3] / 84, confidence=(1 + advice.chance) / 2)
    assert surer.decision != "lock"


def test_thirty_catches_that_never_agree_are_to_be_longer_and_end_the_asking_where_they_are_as_long_as_they_can_be():
    rng = np.random.default_rng(9)
    catches = 61 * np.exp(0.6 * rng.standard_normal(30))
    assert advise([38] * 30, catches.tolist(), tolerance=0.05).decision == "lengthen"

    def longest(count):
        log = frame([38] * count, 8 * catches[:count]).assign(turns=8 * 28)
        return recommend(log, SMALL, target_output=TARGET, tolerance=0.05, drill=DRILL)

    assert not longest(29).offers_lock
    assert longest(30).offers_lock


def test_json_has_the_promised_keys_and_rates_with_a_drill():
    advice = advise([38, 38], [61.0, 62.0], drill=DRILL)
    result = advice.to_dict()
    wanted = [
        "box",
        "lot",
        "season",
        "decision",
        "reason",
        "setting",
        "setting_interval",
        "chance",
        "tolerance",
        "confidence",
        "target",
        "expected",
        "catches_used",
        "catches_left_out",
        "catches_expected_more",
        "model",
        "repeatability",
        "warnings",
    ]
    assert set(wanted) <= set(result)
    assert set(result["target"]) == {"rate", "rate_unit", "catch_g"}
    assert set(result["expected"]) == {"rate", "rate_interval", "catch_g", "next_catch_interval_g"}
    assert result["target"]["rate_unit"] == "lb/ac" if DRILL.units == "us" else "kg/ha"
    # 61 g in 28 turns of 7.2 ft and 3 rows 7.5 in apart, as pounds per acre.
    assert result["target"]["rate"] == pytest.approx(61 / 453.59237 / (28 * 7.2 * 3 * 7.5 / 12 / 43560), rel=1e-9)
    assert advice.to_dict("metric")["target"]["rate"] == pytest.approx(result["target"]["rate"] * 1.12085, rel=1e-4)


def test_filling_is_taken_into_account_where_it_was_recorded():
    fills = [90, 90, 20, 20, 90, 20]
    effect = np.exp(0.15 * (np.array(fills) - 50) / 100)
    advice = advise(["3"] * 6, (61 * effect).tolist(), CHAFFY, fill_pct=fills)
    assert advice.expected_output * 84 == pytest.approx(61, rel=0.01)
    bare = advise(["3"] * 6, (61 * effect).tolist(), CHAFFY)
    assert [each.code for each in bare.remarks] == ["advice.chaffy-empties"]
    assert not advice.remarks


def test_history_shortens_the_next_calibration_and_proposes_a_first_setting():
    rng = np.random.default_rng(3)
    rows = []
    for lot, level in (("a", 0.95), ("b", 1.05), ("c", 1.0), ("d", 1.08)):
        for at in (30, 38, 36, 40, 37):
            rows.append((lot, at, 1.6 * level * (at - 3) * np.exp(0.03 * rng.standard_normal())))
    log = pd.DataFrame(rows, columns=["lot", "setting", "catch_g"]).assign(box="small", turns=28, rows=3, season="1")
    history = learn_history(log, SMALL)
    assert len(history.lots) == 4
    assert history.remark["lots"] == 4
    first = recommend(log, SMALL, lot="new", target_output=TARGET, history=history)
    assert first.decision == "move"
    truth = 61 / 1.6 / 1.02 + 3
    assert abs(first.setting - truth) <= 5
    cold, warm = (advise([38], [58.0], history=each) for each in (None, history))
    width = lambda advice: advice.setting_interval[1] - advice.setting_interval[0]  # noqa: E731
    assert width(warm) < width(cold)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"target": 0.0}, "target"),
        ({"target": float("nan")}, "target"),
        ({"tolerance": 0.0}, "tolerance"),
        ({"tolerance": 10}, "tolerance"),
        ({"confidence": 0.3}, "confidence"),
        ({"confidence": 1.0}, "confidence"),
    ],
)
def test_limits_that_cannot_be_are_refused(options, words):
    with pytest.raises(ValueError, match=words):
        advise([38], [61.0], **options)


def test_settings_a_box_lacks_are_refused():
    with pytest.raises(InputError, match="no setting"):
        advise(["7"], [61.0], CHAFFY)
    with pytest.raises(ValueError, match="SeedBox"):
        recommend(as_trials(frame([38], [61.0])), "small", target_output=TARGET)


def test_the_last_lot_and_season_are_advised_on_where_none_is_named():
    log = frame([38, 38, 30], [61.0, 61.0, 20.0], lot=["A", "A", "B"])
    assert recommend(log, SMALL, target_output=TARGET).lot == "B"
    assert recommend(log, SMALL, lot="A", target_output=TARGET).catches_used == 2


def test_a_spline_is_used_where_a_bent_line_will_not_do():
    at = np.repeat([10, 20, 26, 30, 34, 40, 50], 3)
    catches = 20 + 80 / (1 + np.exp(-(at - 30) / 2.0))
    rng = np.random.default_rng(0)
    advice = advise(at.tolist(), (catches * np.exp(0.01 * rng.standard_normal(21))).tolist(), target=60 / 84)
    assert advice.family == "spline"
    assert 29 <= advice.setting <= 31
    json.dumps(advice.to_dict(), allow_nan=False)


def test_a_box_with_one_chain_position_gets_an_answer():
    box = SeedBox("one", "chaffy", Sprockets({"1": 0.4}))
    assert advise(["1"] * 6, [60.0, 61.0, 61.5, 60.5, 60.2, 61.1], box).decision == "lock"
    assert advise(["1", "1"], [60.0, 61.0], box).decision == "repeat"
    assert advise(["1", "1"], [60.0, 61.0], box, target=160 / 84).decision == "unreachable"


def test_a_very_fine_scale_is_answered_as_well():
    fine = SeedBox("small", "small", Lever(0, 60, 0.001))
    coarse = advise([30, 38, 38, 38], [48.0, 61.0, 62.2, 60.9])
    sharp = advise([30, 38, 38, 38], [48.0, 61.0, 62.2, 60.9], box=fine)
    assert sharp.decision == coarse.decision == "lock"
    assert sharp.chance == pytest.approx(coarse.chance, abs=1e-9)


def test_a_lever_that_counts_the_other_way_is_asked_about():
    advice = advise([20, 25, 33], [17.1, 14.2, 11.1])
    assert advice.decision == "recheck"
    assert advice.why.code == "advice.falling"
    assert advice.why["more_is"] == "higher"


def test_chance_without_single_rows_is_that_of_the_rows_caught():
    assert not advise([38], [61.0], drill=DRILL).whole_drill
    assert advise([38], [61.0], drill=DRILL, rows_g=[(20.0, 20.5, 20.5)]).whole_drill


def test_the_nearest_setting_on_the_edge_of_tolerance_is_not_called_out_of_reach_by_far():
    rng = np.random.default_rng(3)
    catches = 61 * 1.095 * np.exp(0.03 * rng.standard_normal(12))
    box = SeedBox("one", "chaffy", Sprockets({"1": 0.4, "2": 0.8}))
    advice = advise(["1"] * 12, catches.tolist(), box)
    assert (advice.decision, advice.why.code) == ("repeat", "advice.offer")


def test_a_catch_where_the_others_say_nothing_comes_out_is_named():
    advice = advise([20, 0], [1.0, 1.0], target=1.0, tolerance=0.5)
    assert advice.decision == "recheck"
    assert advice.why["ratio"] > 1e6


def test_catches_of_nothing_lead_further_up_and_come_to_an_end():
    advice = advise([30, 30], [0.0, 0.0])
    assert advice.decision == "move"
    assert advice.setting > 30
    assert (advice.why.code, advice.why["setting"]) == ("advice.nothing-yet", "30")
    assert advise([30, 60], [0.0, 0.0]).why.code == "advice.nothing-at-most"


def test_a_plugged_row_is_named():
    advice = advise([34] * 3, [40.0] * 3, rows_g=[(20.0, 20.0, 0.0)] * 3, drill=DRILL, target=40 / 84)
    assert [each["rows"] for each in advice.remarks if each.code == "advice.plugged"] == [(3,)] * 3
    # A row that gives nothing plants nothing, so the other rows never lock the setting.
    assert advice.decision == "recheck"
    assert (advice.why.code, advice.why["rows"]) == ("advice.plugged", (3,))


def test_turns_are_not_lengthened_without_end():
    rng = np.random.default_rng(5)
    log = frame([38] * 8, (500 * np.exp(0.1 * rng.standard_normal(8))).tolist()).assign(turns=224)
    advice = recommend(log, SMALL, target_output=500 / 672, tolerance=0.03)
    assert advice.decision in ("repeat", "move")
    assert advice.next_turns == 224


def test_lengthening_waits_for_repeats_that_show_scatter():
    # an S-shaped box without any noise: what the curve cannot follow is not scatter
    x = np.array([30.0, 45.0, 37.0, 40.0])
    y = 100 / (1 + np.exp(-(x - 38) / 3))
    for count in range(1, len(x) + 1):
        assert advise(x[:count].tolist(), y[:count].tolist()).decision != "lengthen"


def test_out_of_reach_asks_the_probability_that_no_setting_will_do():
    coarse = SeedBox("coarse", "free-flowing", Lever(0, 100, 10))
    advice = advise([50] * 8, [96.0, 90.5, 122.6, 121.9, 99.6, 111.6, 102.1, 102.8], coarse, target=100 / 84)
    assert advice.decision != "unreachable"
    assert (advice.setting, advice.offers_lock, advice.why.code) == (50, True, "advice.offer")
    assert "LOCK AT 50 OR CATCH AGAIN" in [each.get_text() for each in advice.plot().texts]
    assert 0.5 < advice.chance < 0.95


def test_a_catch_of_nothing_teaches_where_the_box_opens():
    first = advise([50, 20], [70.0, 36.0], target=14 / 84)
    assert first.setting < 12
    shut = advise([50, 20, 8], [70.0, 36.0, 0.0], target=14 / 84)
    assert 8 < shut.setting < 20
    assert shut.curve.mean(8.0) == pytest.approx(0.0, abs=1e-6)
    # where something came at a lower setting, that nothing came is a slip, and says nothing of the curve
    slip = advise([50, 20, 5, 8], [70.0, 36.0, 14.0, 0.0], target=14 / 84)
    assert slip.curve.mean(8.0) > 0


def test_a_scale_that_cannot_show_the_wanted_catch_shuts_no_box():
    tiny = recommend(frame([30, 20], [0.4, 0.0]), SMALL, target_output=0.2 / 84)
    assert tiny.curve.mean(20.0) > 0
    assert advise([30, 20], [40.0, 0.0], target=20 / 84).curve.mean(20.0) == pytest.approx(0.0, abs=1e-6)


def test_an_offer_says_what_stands_in_the_way():
    rng = np.random.default_rng(4)
    grams = (61 * np.exp(0.12 * rng.standard_normal(30))).tolist()
    scattered = recommend(
        frame([38] * 30, [8 * each for each in grams]).assign(turns=224), SMALL, target_g=488, tolerance=0.02
    )
    assert (scattered.why.code, scattered.why["cause"], scattered.why["more"]) == ("advice.offer", "noise", None)
    assert "scatter" in scattered.reason
    edge = advise([38] * 30, [61.0 * 1.049] * 30, tolerance=0.05, confirmed="yes")
    assert edge.offers_lock
    assert edge.why["cause"] != "noise"


@pytest.mark.parametrize("first", [20, 30, 45])
def test_a_heavier_first_catch_never_sends_the_lever_higher(first):
    asked = [advise([first], [grams], target=28 / 84).setting for grams in np.linspace(15, 150, 60).tolist()]
    assert np.all(np.diff(asked) <= 0)


def test_a_weight_many_times_the_expected_is_made_again_before_any_move():
    for grams in (61 * 3.2, 61 / 3.2):
        assert advise([30, 38], [48.0, grams]).decision == "recheck"
    assert advise([38, 45, 40], [61.0, 74.0, 250.0]).decision == "recheck"


def test_the_noise_of_short_and_long_catches_differs():
    """Under the same three outputs a catch of many turns is worth more than one of few, up to what it has in common."""
    chances = []
    for turns in (7, 28, 112):
        log = frame([38, 38, 38], [58.0 * turns / 28, 61.0 * turns / 28, 64.0 * turns / 28]).assign(turns=turns)
        chances.append(recommend(log, SMALL, target_output=61 / 84).chance)
    assert chances[0] < chances[1] < chances[2]


def test_the_order_of_catches_of_different_length_does_not_matter():
    log = frame([30, 38, 38], [48.0, 61.0, 244.0]).assign(turns=[28, 28, 112])
    chances = [recommend(log.iloc[order], SMALL, target_output=61 / 84).chance for order in ([0, 1, 2], [2, 1, 0])]
    assert chances[0] == pytest.approx(chances[1], rel=1e-9)


def test_long_catches_weigh_more_than_short_ones():
    def at_last(turns):
        log = frame([38, 38, 38, 38], [52.0, 54.0, 61.0 * turns / 28, 60.5 * turns / 28])
        return recommend(log.assign(turns=[28, 28, turns, turns]), SMALL, target_output=61 / 84)

    short, long = at_last(28), at_last(224)
    # Two short catches are 13 % lower than two long ones on target. The long ones carry the mean.
    assert 61 / 84 > float(long.curve.mean(38.0)) > float(short.curve.mean(38.0))


def test_a_target_between_two_chain_positions_is_said_to_lie_there():
    advice = advise(["2", "3"] * 6, [53.0, 71.4, 53.3, 71.0, 52.8, 71.2] * 2, CHAFFY, target=61.6 / 84, confirmed="yes")
    assert advice.why["between"]


def test_one_catch_far_off_is_followed_by_one_at_the_nearest_setting():
    first = advise([30], [3.0])
    assert first.decision == "move"
    assert first.setting == 60
    assert first.why.code == "advice.settle-nearest"
    assert advise([30, 60], [3.0, 6.1], confirmed="yes").decision == "unreachable"


def test_a_scale_of_a_hundred_thousand_steps_is_judged_like_a_coarse_one():
    fine = SeedBox("small", "small", Lever(0, 60, 0.0006))
    one = advise([60, 60, 58], [20.0, 20.4, 19.5])
    other = advise([60, 60, 58], [20.0, 20.4, 19.5], box=fine, confirmed="yes")
    assert (other.decision, other.setting) == (one.decision, one.setting) == ("unreachable", 60)


def test_a_curve_that_levels_off_below_target_names_the_end_that_comes_nearest():
    settings = [5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60]
    levelled = [40, 70, 90, 98, 101, 102, 102, 102.4, 102.1, 101.9, 102.2, 102]
    rng = np.random.default_rng(3)
    twice = [grams * (1 + 0.004 * rng.standard_normal()) for grams in levelled * 2]
    advice = advise(settings * 2, twice, target=1.5 * 102 / 84)
    assert advice.family == "spline"
    assert advice.decision == "unreachable"
    assert advice.setting > 20


def test_two_plugged_rows_of_three_are_named():
    advice = advise([30], [60], rows_g=["0;0;60"], drill=DRILL)
    assert advice.decision == "recheck"
    assert (advice.why.code, advice.why["rows"]) == ("advice.plugged", (1, 2))


def test_a_lock_names_the_setting_to_go_back_to():
    from predictor.text.doing import headline

    advice = advise([38, 38, 38, 39], [61.0, 61.2, 60.9, 68.5])
    assert (advice.decision, advice.setting, advice.present.value) == ("lock", 38, 39)
    assert headline(advice) == "SET 38, LOCK"
    assert advice.why["back"]


def test_without_a_drill_the_chance_is_of_the_rows_caught():
    assert not advise([38], [61.0]).whole_drill


def test_a_plugged_catch_made_again_since_is_left_out_by_name():
    rows = ["11;11;11;0", "11;11;11;11", "11;11;11;11.1", "11;11;11;10.9"]
    frame_ = frame(24, [33.0, 44.0, 44.1, 43.9], rows_g=rows).assign(rows=4)
    advice = recommend(frame_, SMALL, target_output=44 / (28 * 4), drill=DRILL)
    assert (advice.decision, advice.setting) == ("lock", 24)
    assert advice.set_aside == (1,)
    (remark,) = advice.remarks
    assert (remark.code, remark["rows"], remark["again"]) == ("advice.plugged", (4,), True)


def test_one_more_catch_that_agrees_leaves_a_levelled_box_its_spline():
    box = SeedBox("small", "free-flowing", Lever(0, 50, 2))
    settings = [10, 14, 18, 22, 30, 38, 46, 50]
    grams = [10, 20, 30, 33, 33.2, 33.1, 33.1, 33]
    for more in ([], [38], [38, 30], [38, 30, 46]):
        advice = advise(settings + more, grams + [33.1] * len(more), box, target=33 / 84, confirmed="yes")
        assert advice.family == "spline"
        assert advice.decision in ("move", "lock")


def test_a_lot_without_catches_that_count_has_no_stationary_output():
    trials = as_trials(frame([14], [22.0], use="no"), DRILL)
    assert fit_lot(trials, SMALL, drill=DRILL).standing(14.0) is None


def test_a_single_row_tells_nothing_of_how_rows_differ():
    trials = as_trials(frame([14], [22.0], rows_g=["22.0"]).assign(rows=1), DRILL)
    assert row_differences(trials, 0.05, 12) is None


def test_no_weight_below_nothing_is_expected_of_a_spline():
    settings = np.array([5, 10, 15, 20, 25, 30, 35, 40] * 2)
    grams = np.where(settings < 22, 1.0, 60.0) * np.exp(np.tile([0.9, -0.9, 0.5], 6)[:16])
    advice = advise(settings, grams, target=1.0)
    assert advice.family == "spline"
    assert advice.next_catch_interval_g[0] == 0.0
    assert advice.expected_interval[0] >= 0.0


def test_a_contradiction_names_its_likely_causes_once():
    drill = Drill("invented", 12, 0.19, 2.2, (SMALL,))
    weights = [30, 38, 38, 38], [48.0, 61.0, 62.2, 244.0]
    advice = advise(*weights, drill=drill)
    assert advice.decision == "recheck"
    assert advice.why.code == "advice.contradicted"
    assert [each.code for each in advice.why["causes"]] == ["all_rows"]
    (found,) = advice.slips
    assert (found.code, found.lines, found.waits) == ("odd", (int(advice.trials.line[3]),), True)
    assert found.values == advice.why.values


def test_a_catch_that_someone_stands_by_is_repeated_without_a_question_about_typing():
    weights = [30, 38, 38, 38], [48.0, 61.0, 62.2, 244.0]
    advice = advise(*weights, confirmed=[False, False, False, True])
    assert (advice.decision, advice.why.code, advice.why["causes"]) == ("recheck", "advice.contradicted", ())
    assert advice.slips == ()
    assert "You stand by it" in advice.reason


def test_two_settings_caught_twice_show_a_lever_that_is_read_the_wrong_way():
    advice = advise([30, 30, 38, 38], [77.5, 78.6, 60.8, 61.2])
    assert (advice.decision, advice.why.code) == ("recheck", "advice.falling")
    assert advise([30, 30, 38, 38], [48.0, 48.9, 60.8, 61.2]).why.code != "advice.falling"
    assert advise([30, 38, 38], [77.5, 60.8, 61.2]).why.code != "advice.falling"
