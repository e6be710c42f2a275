"""What no other test meets in reading and deciding: rare turns of the code, one by one. All values are invented."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from predictor import InputError, Lever, SeedBox, compare_lots, learn_history, read_drill, read_plan, recommend
from predictor.advice.evidence import row_differences
from predictor.advice.history import box_of
from predictor.advice.lot_fit import fit_lot
from predictor.advice.prospects import Prospect
from predictor.domain.control import Sprockets
from predictor.domain.drill import CatchDefaults, Drill
from predictor.domain.result import Remark
from predictor.field.factors import field_factors
from predictor.files import log as trials_log
from predictor.files.cells import MOST_PROBLEMS
from predictor.files.field import read_field
from predictor.files.table import read_table
from predictor.files.trials import as_trials
from predictor.job.job import Job, Task
from predictor.lots.limits import RatioLimits, compare_fits, fieller
from predictor.pages.decision_card import decision_card
from tests.conftest import SAMPLE

BOX = SeedBox("small", "small", Lever(0, 60, 1))
DRILL = Drill("invented", 12, 0.19, 2.2, (BOX,), CatchDefaults(28, 3, 5, 0.1))
CATCH = {"box": "small", "lot": "A", "turns": 28, "rows": 3}


def problems_of(call):
    with pytest.raises(InputError) as caught:
        call()
    return [each.message for each in caught.value.problems]


# Reading


def table(tmp_path, text):
    path = tmp_path / "t.csv"
    path.write_text(text, encoding="utf-8")
    return read_table(path, known=("lot", "weight_g"), required=("lot",))


def test_a_row_of_empty_quotes_is_blank_where_a_comment_holds_a_quote(tmp_path):
    assert table(tmp_path, '# 12" wide\nlot,weight_g\n"",""\nA,1\n').cells["lot"] == ["A"]


def test_more_problems_than_anyone_reads_are_said_once(tmp_path):
    rows = "only one\n" + "A\x01,1\n" * (MOST_PROBLEMS + 1)
    messages = problems_of(lambda: table(tmp_path, f"lot,weight_g\n{rows}"))
    assert sum("more problems" in each for each in messages) == 1


def test_a_thousand_wrong_weights_are_not_all_worded():
    frame = pd.DataFrame({**CATCH, "setting": 14, "catch_g": [f"x{k}" for k in range(MOST_PROBLEMS + 50)]})
    messages = problems_of(lambda: as_trials(frame))
    assert len(messages) == MOST_PROBLEMS + 1
    assert "more problems" in messages[-1]


def drill_of(tmp_path, old, new):
    path = tmp_path / "drill.toml"
    text = (SAMPLE / "drill.toml").read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return lambda: read_drill(path)


def test_a_length_that_nothing_explains_is_refused_without_a_guess(tmp_path):
    (message,) = problems_of(drill_of(tmp_path, "row_spacing_in = 7.5", "row_spacing_in = 5e8"))
    assert message.endswith("Measure from the middle of one row to the next.")


def test_a_full_box_has_one_weight(tmp_path):
    (message,) = problems_of(drill_of(tmp_path, 'name = "small"', 'name = "small"\nfull_lb = 40\nfull_kg = 18'))
    assert message == "The weight of the full box stands in pounds and in kilograms. Keep one of them."


def test_a_ratio_beside_the_teeth_is_one_problem(tmp_path):
    (message,) = problems_of(drill_of(tmp_path, 'label = "1", ', 'label = "1", ratio = 0.4, '))
    assert message.startswith("A ratio is worked out from the teeth.")


def test_two_columns_of_one_kind_filled_in_one_row_are_refused(tmp_path):
    path = tmp_path / "field.csv"
    path.write_text("date,box,lot,setting,area_ac,area_ha,seed_used_lb\n2026-11-18,small,A,14,1,1,5\n")
    assert problems_of(lambda: read_field(path, DRILL)) == ["area_ac and area_ha say the same thing. Fill one of them."]
    path.write_text("date,box,lot,setting,area_ac,seed_used_lb\n2026-11-18,small,A,14,1,5\n")
    assert len(read_field(path, DRILL)) == 1


def test_a_count_that_is_no_number_hides_no_other_problem(tmp_path):
    path = tmp_path / "plan.csv"
    path.write_text(
        "box,lot,species,seeds_per_ft2,purity_pct,germination_pct,seeds_per_lb\nsmall,A,no such seed,8,98,80,many\n"
    )
    (message,) = problems_of(lambda: read_plan(path, DRILL))
    assert message.startswith('"many" is not a count of seeds.')


# Deciding


def test_a_lot_without_catches_that_count_has_no_stationary_output():
    frame = pd.DataFrame({**CATCH, "setting": [14], "catch_g": [22.0], "use": ["no"]})
    assert fit_lot(as_trials(frame), BOX, drill=DRILL).standing(14.0) is None


def test_a_single_row_tells_nothing_of_how_rows_differ():
    trials = as_trials(
        pd.DataFrame({**CATCH, "rows": 1, "setting": [14], "catch_g": [22.0], "rows_g": ["22.0"]}), DRILL
    )
    assert row_differences(trials, 0.05, 12) is None


def test_rows_that_no_number_of_them_evens_out_are_all_to_be_caught(monkeypatch):
    monkeypatch.setattr(Prospect, "more_catches", lambda *_, **__: (None, "rows"))
    frame = pd.DataFrame(
        {**CATCH, "setting": [30, 30], "catch_g": [60.0, 61.0], "rows_g": ["10;20;30", "10.5;20.2;30.3"]}
    )
    advice = recommend(frame, BOX, target_output=70 / 84, drill=DRILL)
    assert advice.decision == "lengthen"
    assert advice.next_rows == 12


def test_a_name_needs_trials_that_know_their_drill():
    with pytest.raises(ValueError, match="as a SeedBox"):
        box_of(as_trials(pd.DataFrame({**CATCH, "setting": [14], "catch_g": [22.0]})), "small")


def test_seasons_with_next_to_no_repeats_are_not_said_to_drift():
    rows = [
        {**CATCH, "lot": f"L{k}", "season": str(2024 + k % 2), "setting": 14 + k, "catch_g": 20.0 + k} for k in range(5)
    ]
    assert not learn_history(pd.DataFrame(rows), BOX).drifted


def test_a_card_is_made_from_a_spline_too():
    box = SeedBox("small", "small", Sprockets({str(k): 0.1 * k for k in range(1, 9)}))
    drill = replace(DRILL, boxes=(box,), catch=CatchDefaults(28, 3, 5, 2.0))  # few ranges, few weights to look at
    settings = np.repeat(np.arange(1, 9), 2)
    grams = 100 * (1 - np.exp(-settings / 1.2)) * (1 + 0.004 * np.sin(9 * settings))
    trials = as_trials(pd.DataFrame({**CATCH, "setting": settings, "catch_g": grams}), drill)
    target = 70.0 / 84
    assert recommend(trials, box, target_output=target).curve.family == "spline"
    tables = decision_card(Job(drill, trials, None, use_history=False), Task(box, "A", "", target), second=False)
    assert sum(each.likely for each in tables[0].ranges) == pytest.approx(1, abs=0.02)


def test_second_tables_follow_ranges_that_do_not_end_the_work():
    frame = pd.DataFrame({**CATCH, "setting": [30, 30, 30, 30, 31], "catch_g": [60.0, 60.2, 59.9, 60.1, 66.0]})
    job = Job(DRILL, as_trials(frame, DRILL), None, use_history=False)
    found = decision_card(job, Task(BOX, "A", "", 63.2 / 84), tolerance=0.04)
    assert [each.after is None for each in found] == [True] + [False] * (len(found) - 1)
    assert not {each.after.decision for each in found[1:]} & {"lock", "unreachable"}


# Field checks and ratios


def test_seeds_whose_count_in_a_pound_is_unknown_are_said_to_be(tmp_path):
    (tmp_path / "plan.csv").write_text(
        "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct\nsmall,A,no such seed,2,98,80\n"
    )
    path = tmp_path / "field.csv"
    path.write_text("date,box,lot,setting,seeds_counted,row_length_ft\n2026-11-18,small,A,14,40,10\n")
    found = field_factors(read_field(path, DRILL), DRILL, read_plan(tmp_path / "plan.csv", DRILL), lambda *_: None)
    assert found.checks[0].why_not.code == "field.seeds_unknown"


def test_a_lot_of_a_blend_is_named_by_the_blend(tmp_path):
    (tmp_path / "plan.csv").write_text(
        "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,blend\nsmall,A,switchgrass,2,98,80,forb mix\n"
    )
    path = tmp_path / "field.csv"
    path.write_text("date,box,lot,setting,area_ac,seed_used_lb\n2026-11-18,small,A,14,1,5\n")
    found = field_factors(read_field(path, DRILL), DRILL, read_plan(tmp_path / "plan.csv", DRILL), lambda *_: None)
    assert found.checks[0].why_not == Remark("field.part_of_blend", {"lot": "A", "blend": "forb mix"})


def test_ratios_that_cannot_be_are_refused_or_said():
    assert RatioLimits(2.0, ((3.0, 4.0),)).around == (-np.inf, np.inf)
    with pytest.raises(ValueError, match="not zero"):
        fieller(1.0, 0.0, var_top=1.0, var_bottom=1.0, critical=2.0)
    with pytest.raises(ValueError, match="No test"):
        compare_fits(1.0, 5, 1.0, 5)
    assert compare_fits(0.0, 5, 0.0, 4).p == 1.0
    assert compare_fits(1.0, 5, 0.0, 4).p == 0.0


def test_lots_are_compared_in_a_box_that_is_named():
    with pytest.raises(InputError, match="no box"):
        compare_lots(pd.DataFrame({**CATCH, "setting": [14], "catch_g": [22.0]}), "large")


def test_a_box_is_found_by_its_name_in_the_trials_own_drill():
    trials = as_trials(pd.DataFrame({**CATCH, "setting": [14], "catch_g": [22.0]}), DRILL)
    assert box_of(trials, "small") is BOX


# Guards of the log that no form known leads to


def test_a_row_that_would_not_stand_apart_is_not_written(tmp_path, monkeypatch):
    path = tmp_path / "trials.csv"
    path.write_text("box,lot,setting,catch_g\nsmall,A,14,22\n")
    before = path.read_bytes()
    form = trials_log._form(before, str(path))
    with pytest.raises(InputError, match="would not stand apart"):
        trials_log._check_file(form, ["small", "A", "15", "23"], before, str(path))
    monkeypatch.setattr(trials_log._Form, "line", lambda self, cells: "")
    with pytest.raises(InputError, match="Nothing was changed"):
        trials_log.undo_last(path)
    assert path.read_bytes() == before


def test_a_log_in_which_rows_cannot_be_placed_takes_no_catch(tmp_path, monkeypatch):
    path = tmp_path / "trials.csv"
    path.write_text("box,lot,setting,catch_g\nsmall,A,14,22\n")
    monkeypatch.setattr(trials_log, "_records", lambda text, separator: ((), 0))
    with pytest.raises(InputError, match="cannot tell where its rows stand"):
        trials_log.check_log(path)
