"""Thin, odd and made-up logs of lots: what is said, what is not, how often limits hold. All catches are invented."""

import json
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from predictor.domain.control import Lever, Sprockets
from predictor.domain.drill import Drill, SeedBox
from predictor.errors import InputError
from predictor.files.trials import as_trials
from predictor.lots.compare import compare_lots
from predictor.lots.limits import many_to_one_critical
from predictor.text.lot_lines import comparison_lines
from tests.lots.lot_logs import codes

BOX = SeedBox("small", "small", Lever(0, 60, 1))
CHAIN = SeedBox("small", "small", Sprockets({"1": 0.4, "2": 0.5, "3": 0.7}))


def log(rows, **columns):
    """Rows of (lot, setting, catch) or (lot, setting, catch, season) as a DataFrame of catches."""
    frame = pd.DataFrame([(*row, "2025")[:4] for row in rows], columns=["lot", "setting", "catch_g", "season"])
    return frame.assign(box="small", turns=28, rows=3, **columns)


def made_up(levels, *, per_lot=4, dead=3.0, cv=0.04, seed=1, at=(20, 30, 40, 50), season=None, drift=0.0):
    """Catches of lots with log levels `levels`; `dead` is one number or one for each lot."""
    rng = np.random.default_rng(seed)
    rows = []
    for k, level in enumerate(levels):
        zero = dead if np.isscalar(dead) else dead[k]
        for i in range(per_lot):
            x = at[i % len(at)]
            year = season(k, i) if season else 2025
            y = 6 * math.exp(level + drift * (year - 2023) + cv * rng.normal()) * (x - zero)
            rows.append((f"L{k}", x, round(y, 3), str(year)))
    return log(rows)


def plain(result):
    return json.loads(json.dumps(result.to_dict(), allow_nan=False))


# --- any log at all


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["A", "B", "C", "D"]),
            st.integers(0, 60),
            st.floats(0.01, 5000),
            st.sampled_from(["2023", "2024", ""]),
        ),
        min_size=1,
        max_size=14,
    )
)
def test_no_log_ends_in_an_error_or_in_a_number_that_is_none(rows):
    found = compare_lots(log(rows), BOX)
    assert plain(found)["catches_used"] == len(rows)
    for row in found.lots:
        if row.lower is not None and row.upper is not None:  # a limit too large for a double is none
            assert row.lower <= row.ratio <= row.upper
    assert all(len(line) <= 60 for line in "\n".join(comparison_lines(found, 60, details=True)).splitlines())


def test_a_dead_setting_at_a_caught_one_gives_numbers_all_the_same():
    """Found by the test above: the lot's curve starts where it was caught, so its level there has no bound."""
    plain(compare_lots(log([("A", 0, 1.0), ("A", 0, 1.0), ("B", 2, 1.0), ("B", 5, 3.0)]), BOX))


def test_comparisons_that_share_nearly_everything_count_as_one():
    """Found by the test above: lots far off the reference's settings hang on the common slope alone."""
    far = many_to_one_critical([1e-9, 1e-9], [[1e-5, 3.0], [1e-5, 3.0]], df=2)
    assert far.value == pytest.approx(many_to_one_critical([1.0], [[0.0]], df=2).value, rel=1e-3)


# --- thin logs: each says what can be said, and why no more


def test_one_lot_only_says_so():
    found = compare_lots(made_up([0.0]), BOX)
    assert [row.lot for row in found.lots] == ["L0"]
    assert found.lots[0].ratio == 1.0
    assert found.spread is None
    assert found.shape.reason.code == "lots.untestable"
    plain(found)


def test_a_single_catch_has_no_limits():
    found = compare_lots(log([("A", 20, 50)]), BOX)
    assert found.repeatability.cv is None
    assert found.catches_used == 1
    plain(found)


def test_lots_with_one_catch_each_give_ratios_without_limits():
    found = compare_lots(log([("A", 20, 50), ("B", 20, 60)]), BOX, reference="A")
    assert found.lot("B").ratio == pytest.approx(1.2)
    assert found.lot("B").lower is None
    assert found.adjustment == ""
    assert codes(found.lot("B").notes) == ["one_catch"]
    assert codes(found.warnings) == ["dead_assumed", "no_repeats"]


def test_one_lot_with_one_catch_among_others_gets_wider_limits():
    frame = pd.concat([made_up([0, 0.1]), log([("single", 30, 170.0)])], ignore_index=True)
    found = compare_lots(frame, BOX, reference="L0")
    width = {row.lot: math.log(row.upper / row.lower) for row in found.lots if row.lower}
    assert width["single"] > 1.3 * width["L1"]
    assert codes(found.lot("single").notes) == ["one_catch"]


def test_lots_without_a_common_setting_lean_on_the_line_and_say_so():
    rows = [("A", x, 3.0 * x * e) for x, e in ((10, 1), (12, 1.03), (14, 0.98), (14, 1.01))]
    rows += [("B", x, 3.3 * x * e) for x, e in ((40, 1), (44, 1.02), (50, 0.99), (50, 1.0))]
    found = compare_lots(log(rows), BOX, reference="A")
    row, near = found.lot("B"), compare_lots(made_up([0, 0.1]), BOX, reference="L0").lot("L1")
    assert codes(row.notes) == ["no_common_setting"]
    assert row.upper / row.lower > near.upper / near.lower


def test_one_chain_position_only_compares_there():
    rows = [("A", "2", 50), ("A", "2", 52), ("B", "2", 60), ("B", "2", 61)]
    found = compare_lots(as_trials(log(rows), Drill("d", 12, 0.19, 2.2, (CHAIN,))), "small", reference="A")
    assert found.lot("B").ratio == pytest.approx(math.sqrt(60 * 61 / (50 * 52)))
    assert found.lot("B").setting.value in ("1", "2")


def test_chain_labels_without_a_drill_are_compared_at_the_position_most_lots_share():
    rows = [("A", "low", 50), ("A", "low", 52), ("B", "low", 60), ("B", "low", 61), ("B", "high", 90)]
    found = compare_lots(log(rows), "small", reference="A")
    assert found.lot("B").ratio == pytest.approx(math.sqrt(60 * 61 / (50 * 52)))
    assert [(each.reason.code, each.reason["label"], each.catches) for each in found.left_out] == [
        ("lots.elsewhere", "low", 1)
    ]
    assert codes(found.warnings) == ["one_label"]


def test_labels_without_a_drill_are_never_shown_as_numbers():
    found = compare_lots(log([("A", "low", 50), ("A", "low", 52), ("B", "low", 60), ("B", "low", 61)]), "small")
    assert found.reference.setting is None
    assert found.shape.dead_opening is None
    assert all(row.setting is None for row in found.lots)
    assert [[each.value for each in row.settings] for row in found.lots] == [["low", "low"]] * 2


def test_identical_catches_are_held_to_the_resolution_of_the_scale():
    rows = [("A", 20, 50.0), ("A", 20, 50.0), ("B", 20, 60.0), ("B", 20, 60.0)]
    found = compare_lots(log(rows), BOX, reference="A")
    assert 0 < found.repeatability.cv < 0.001
    assert found.lot("B").lower < 1.2 < found.lot("B").upper


def test_a_box_where_no_catch_counts_gives_an_empty_table_with_the_reason():
    found = compare_lots(log([("A", 20, 50)], use=["no"]), BOX)
    assert found.lots == ()
    assert found.reference is None
    assert codes(found.warnings) == ["no_catch"]
    plain(found)


def test_output_that_falls_with_the_setting_is_not_taken_for_a_curve():
    found = compare_lots(log([(lot, x, 100 - x) for lot in "AB" for x in (20, 30, 40, 50)]), BOX)
    assert found.shape.assumed
    plain(found)


def test_shapes_that_cannot_be_tested_are_assumed():
    found = compare_lots(log([("A", 20, 50), ("A", 20, 51), ("B", 20, 40), ("B", 20, 41)]), BOX)
    assert found.shape.same is None
    assert found.shape.reason.code == "lots.untestable"
    assert codes(found.warnings) == ["dead_assumed"]


def test_a_lot_with_one_setting_is_compared_there_where_shapes_differ():
    frame = made_up([0, 0.1], dead=(0, 12), per_lot=12, cv=0.02)
    more = log([("one", 50, 310.0), ("one", 50, 300.0)])
    found = compare_lots(pd.concat([frame, more], ignore_index=True), BOX, reference="L0")
    assert found.shape.same is False
    assert found.lot("one").at_setting.value == 50
    assert found.lot("one").ratio == pytest.approx(305 / (6 * 50), rel=0.03)


# --- what is asked for


def test_an_unknown_reference_is_answered_with_the_near_one():
    with pytest.raises(InputError, match="Did you mean K-26"):
        compare_lots(log([("K-26", 20, 50), ("J-25", 20, 51)]), BOX, reference="k-26")


def test_a_reference_without_a_catch_that_counts_is_refused():
    frame = log([("A", 20, 50), ("A", 20, 51), ("B", 20, 40)], use=["yes", "yes", "no"])
    with pytest.raises(InputError, match="no lot 'B' with a catch that counts"):
        compare_lots(frame, BOX, reference="B")


@pytest.mark.parametrize("level", [0, 1, -0.5, 2, math.nan])
def test_a_level_that_is_no_probability_is_refused(level):
    with pytest.raises(InputError, match="level"):
        compare_lots(made_up([0, 0.1]), BOX, level=level)


@pytest.mark.parametrize("target", [0, -1, math.nan, math.inf])
def test_a_target_that_is_no_output_is_refused(target):
    with pytest.raises(InputError, match="target"):
        compare_lots(made_up([0, 0.1]), BOX, target_output=target)


def test_a_box_must_be_named_only_where_there_are_several():
    one = made_up([0, 0.1])
    assert compare_lots(one).box == "small"
    with pytest.raises(InputError, match="Name the box"):
        compare_lots(pd.concat([one, one.assign(box="other")], ignore_index=True))


def test_the_wanted_output_moves_settings_and_leaves_ratios():
    frame = made_up([0, 0.2, -0.1])
    usual = compare_lots(frame, BOX, reference="L0")
    more = compare_lots(frame, BOX, reference="L0", target_output=1.5 * usual.reference.output)
    assert more.lot("L1").ratio == usual.lot("L1").ratio
    assert more.reference.setting.value > usual.reference.setting.value
    assert more.lot("L1").setting.value > usual.lot("L1").setting.value


def test_a_setting_beyond_the_scale_is_noted_and_not_shown():
    rows = [("A", 50, 100), ("A", 50, 101), ("A", 30, 58), ("B", 50, 50), ("B", 50, 51), ("B", 30, 29)]
    found = compare_lots(log(rows), BOX, reference="A")
    assert found.lot("B").setting is None
    assert [(note.code, note["end"]) for note in found.lot("B").notes] == [("lots.beyond", "most")]


def test_a_faster_lot_starts_at_a_lower_setting():
    rows = [("J-25", x, 5.0 * (x - 2) * e) for x, e in ((38, 1.01), (38, 0.99), (30, 1.0), (46, 1.0))]
    rows += [("K-26", x, 5.9 * (x - 2) * e) for x, e in ((38, 1.0), (30, 1.01), (46, 0.99))]
    found = compare_lots(log(rows), BOX)
    # (38 - 2) / 1.18 + 2 = 32.5
    assert (found.reference.setting.value, found.lot("K-26").setting.value) in ((38, 32), (38, 33))


def test_a_setting_that_the_control_does_not_have_is_refused():
    with pytest.raises(InputError) as caught:
        compare_lots(log([("A", 20, 50), ("A", 70, 51)]), BOX)
    assert [(each.line, each.column) for each in caught.value.problems] == [(2, "setting")]


def test_a_label_among_readings_is_left_out():
    found = compare_lots(log([("A", "20", 50), ("A", "20", 51), ("B", "low", 60)]), "small")
    assert [(each.reason.code, each.catches) for each in found.left_out] == [("lots.unplaced", 1)]


# --- lots in general and seasons


def test_lots_in_general_find_the_spread_that_was_put_in():
    """Lots that differ by 12 %, catches by 4 %: the standard error of the former is about 1.2 % with 60 lots."""
    levels = np.random.default_rng(2).normal(0, 0.12, 60)
    found = compare_lots(made_up(levels), BOX)
    assert found.adjustment == "Dunnett"
    assert found.spread.cv == pytest.approx(float(levels.std(ddof=1)), abs=0.02)
    assert found.spread.cv_lower < 0.12 < found.spread.cv_upper


def test_a_lot_that_stands_apart_is_named_and_alike_lots_are_not():
    found = compare_lots(made_up([0, 0.02, -0.03, 0.01, -0.01, 0.6, 0.0, 0.02]), BOX)
    assert found.spread.unusual == ("L5",)
    assert not compare_lots(made_up([0.0] * 6, seed=11), BOX).spread.unusual


def test_two_lots_are_too_few_for_an_unseen_one():
    found = compare_lots(made_up([0, 0.2]), BOX)
    assert found.spread.next_lower is None
    assert found.spread.reason.code == "lots.two_lots"


def test_lots_caught_once_say_why_their_spread_is_not_given():
    found = compare_lots(log([(name, 20, 50 + k) for k, name in enumerate("ABCD")]), BOX)
    assert found.spread.cv is None
    assert found.spread.reason.code == "lots.spread_unknown"


def test_a_drift_that_was_put_in_is_found():
    frame = made_up([0, 0.1, -0.1, 0.05], per_lot=9, season=lambda k, i: 2022 + i % 3, drift=-0.06)
    found = compare_lots(frame, BOX)
    drift = found.seasons.drift
    assert drift.linked_lots == 4
    assert drift.lower < math.exp(-0.06) < drift.upper
    assert drift.shown
    assert "drift_inside" in codes(found.warnings)
    last = found.seasons.table[-1].change
    assert last.since == "2022"
    assert last.lower < math.exp(-0.12) < last.upper


def test_no_drift_is_not_called_one():
    found = compare_lots(made_up([0, 0.1, -0.1], per_lot=9, season=lambda k, i: 2022 + i % 3), BOX)
    assert not found.seasons.drift.shown
    assert "drift_inside" not in codes(found.warnings)


def test_without_a_lot_in_two_seasons_drift_is_judged_between_lots_and_less_surely():
    linked = compare_lots(made_up([0, 0.1, -0.1, 0.2], per_lot=6, season=lambda k, i: 2022 + i % 2), BOX)
    apart = compare_lots(made_up([0, 0.1, -0.1, 0.2], per_lot=6, season=lambda k, i: 2022 + k % 2), BOX)
    widths = [math.log(each.seasons.drift.upper / each.seasons.drift.lower) for each in (linked, apart)]
    assert widths[1] > 2 * widths[0]
    assert apart.seasons.drift.linked_lots == 0
    assert all(row.change is None for row in apart.seasons.table)


def test_one_season_and_seasons_without_years_have_no_drift_and_say_why():
    frame = made_up([0, 0.1], per_lot=8)
    one = compare_lots(frame, BOX).seasons
    other = compare_lots(frame.assign(season=["spring", "autumn"] * 8), BOX).seasons
    assert one.drift is None
    assert other.drift is None
    assert "one_season" in codes(one.reasons)
    assert "no_years" in codes(other.reasons)


def test_a_season_of_worse_repeatability_is_found():
    calm = made_up([0, 0.1, -0.1], per_lot=10, cv=0.02, season=lambda k, i: 2024)
    wild = made_up([0, 0.1, -0.1], per_lot=10, cv=0.12, season=lambda k, i: 2025, seed=9)
    found = compare_lots(pd.concat([calm, wild], ignore_index=True), BOX)
    assert found.seasons.same_repeatability.p < 0.001
    low, high = (row.repeatability for row in found.seasons.table)
    assert low.cv_lower < 0.02 < low.cv_upper
    assert high.cv_lower < 0.12 < high.cv_upper


# --- how often limits hold


@pytest.mark.slow
def test_an_unseen_lot_falls_within_its_limits_as_often_as_they_say():
    """200 made-up sets of six lots: 95 % of new lots or a little more; Monte Carlo error 1.5 %."""
    inside = 0
    for seed in range(200):
        rng = np.random.default_rng(10_000 + seed)
        levels = rng.normal(0, 0.1, 6)
        found = compare_lots(made_up(levels, cv=0.06, seed=seed), BOX, reference="L0")
        ratio = math.exp(rng.normal(0, 0.1) - levels[0]) / found.spread.average_to_reference
        inside += found.spread.next_lower <= ratio <= found.spread.next_upper
    assert inside / 200 >= 0.905  # three errors below


def test_a_box_given_with_a_frame_tells_what_its_settings_mean():
    """Labels that are numbers are no openings, and a lever may count the other way: as with the drill's own file."""
    rows = [("A", "1", 40), ("A", "2", 51), ("A", "2", 50), ("B", "1", 48), ("B", "3", 83), ("B", "2", 60)]
    frame = log(rows)
    drill = Drill("made up", 12, 0.19, 2.2, (CHAIN,))
    alone, known = compare_lots(frame, CHAIN), compare_lots(as_trials(frame, drill), "small")
    assert alone.to_dict() == known.to_dict()
    down = SeedBox("small", "small", Lever(0, 60, 1, more_is="lower"))
    up = made_up([0.0, 0.2])
    mirrored = compare_lots(up.assign(setting=60 - up.setting), down)
    assert mirrored.lot("L1").ratio == pytest.approx(compare_lots(up, BOX).lot("L1").ratio, rel=1e-9)
