"""Verdicts of field checks in a job: leave, move, weigh, what stays locked, which season is meant. Numbers invented."""

import datetime
import json
import math
from dataclasses import replace

import pytest

from predictor.domain.catch import output_for_rate
from predictor.domain.planted import Evidence, Planted, PlantedLine
from predictor.field.usual import CHECK_SPREAD, FIELD_CENTRE, OWN_SPREAD, SHARED_SPREAD
from predictor.files.drill import read_drill
from predictor.job.read import read_job
from predictor.text.advice import standing_note
from predictor.units import LB_PER_ACRE

DRILL = """
name = "made up"
rows = 12
row_spacing_in = 7.5
rolling_circumference_ft = 7.2
[[box]]
name = "grain"
holds = "free-flowing"
control = "lever"
lowest = 0
highest = 40
step = 1
[[box]]
name = "small"
holds = "small"
control = "lever"
lowest = 0
highest = 40
step = 1
"""
PLAN = """box,lot,blend,species,bulk_rate_lb_ac,purity_pct,germination_pct
grain,A1,A,switchgrass,5,98,80
grain,B1,B,switchgrass,5,98,80
small,C1,C,switchgrass,3,98,80
"""
TODAY = datetime.date(2026, 11, 25)


def catches(box, lot, day, rate, settings, at=24, year=2026):
    """Catches that repeat to a few per cent about a line that gives a rate, lb/ac, at one setting."""
    drill = _drill()
    output = output_for_rate(rate * LB_PER_ACRE, drill, drill.box(box))
    wobble = (1.012, 0.991, 1.004, 0.987, 1.008, 0.996)
    return [f"{box},{lot},{x},{output * 84 * x / at * wobble[i % 6]:.2f},{year}-{day}" for i, x in enumerate(settings)]


def _drill(kept=[]):  # noqa: B006  read once
    if not kept:
        import tempfile
        from pathlib import Path

        path = Path(tempfile.mkdtemp()) / "drill.toml"
        path.write_text(DRILL, encoding="utf-8")
        kept.append(read_drill(path))
    return kept[0]


LOCKED = catches("grain", "A", "11-02", 5, [20, 24, 24, 24])


def job(tmp_path, checks, trials=LOCKED, plan=PLAN, **options):
    for name, text in {
        "drill.toml": DRILL,
        "plan.csv": plan,
        "trials.csv": "\n".join(["box,lot,setting,catch_g,date", *trials]) + "\n",
        "field.csv": "\n".join(["date,box,lot,setting,area_ac,seed_used_lb", *checks]) + "\n",
    }.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    if not checks:
        (tmp_path / "field.csv").unlink()
    return read_job(tmp_path, today=TODAY, **options)


def check(share, day="11-10", lot="A", setting=24, acres=4, box="grain", target=5, year=2026):
    return f"{year}-{day},{box},{lot},{setting},{acres},{acres * target * share:.3f}"


def told(found):
    task = next(each for each in found.tasks("grain", "A"))
    advice = found.advice(task)
    return advice.decision, advice.setting, advice.chance, advice.aim.target_output, task.field_factor


def test_a_box_at_94_percent_is_left_with_its_limits(tmp_path):
    verdict = job(tmp_path, [check(0.94)]).verdict("grain", "a")
    assert (verdict.answer, verdict.setting.text, verdict.season, verdict.checks) == ("leave", "24", "2026", (2,))
    assert verdict.ratio_lower < 0.94 < verdict.ratio_upper
    assert verdict.ratio == pytest.approx(0.94, abs=0.02)
    assert verdict.chance > 0.75
    assert (verdict.move_to, verdict.chance_there) == (None, None)


def test_a_box_at_83_percent_is_moved_to_a_setting_within_tolerance(tmp_path):
    """The made-up curve is a straight line through zero, so the rate at setting x is 83 % of x / 24."""
    verdict = job(tmp_path, [check(0.83)]).verdict("grain", "A")
    assert verdict.answer == "move"
    assert 0.9 <= 0.83 * verdict.move_to.value / 24 <= 1.1
    assert verdict.chance < 0.3 < 0.85 < verdict.chance_there


def test_a_box_at_189_percent_is_weighed_again_and_nothing_uses_the_check(tmp_path):
    found = job(tmp_path, [check(1.89)])
    verdict = found.verdict("grain", "A")
    assert (verdict.answer, verdict.why.code, verdict.checks) == ("weigh", "field.slip", ())
    assert verdict.ratio == pytest.approx(0.918, abs=0.02)
    assert (found.field.boxes, found.field.checks[0].finding) == ((), "slip")
    assert found.field.checks[0].ratio == pytest.approx(1.89)
    budget = found.budgets()[0]
    assert "field_checks" not in {each.name for each in budget.sources}
    assert budget == job(tmp_path, []).budgets()[0]


@pytest.mark.parametrize(("share", "cause"), [(1.89, "half"), (0.46, "half"), (2.04, "pounds"), (9.3, "decimal")])
def test_the_likely_cause_of_a_slip_is_named(tmp_path, share, cause):
    assert cause in job(tmp_path, [check(share)]).verdict("grain", "A").why["causes"]


def test_area_and_seed_that_changed_places_are_named(tmp_path):
    row = "2026-11-10,grain,A,24,18.6,4"
    assert job(tmp_path, [row]).verdict("grain", "A").why["causes"][0] == "swapped"


def test_a_second_check_that_agrees_makes_an_odd_rate_real_and_a_copy_of_the_row_does_not(tmp_path):
    odd = check(0.94, "11-10").replace(",18.800", ",29.0")  # 1.45 times the standing rate
    assert job(tmp_path, [odd]).verdict("grain", "A").answer == "weigh"
    assert job(tmp_path, [odd, odd]).verdict("grain", "A").answer == "weigh"
    found = job(tmp_path, [odd, check(1.47, "11-11", acres=6)])
    verdict = found.verdict("grain", "A")
    assert (verdict.answer, verdict.why.code) == ("move", "verdict.move_fault")
    assert 0.9 <= 1.46 * verdict.move_to.value / 24 <= 1.1
    assert found.field.boxes == ()  # a fault says nothing of other lots


def test_beyond_half_as_much_again_no_second_check_is_believed(tmp_path):
    rows = [check(1.6, "11-10"), check(1.62, "11-11", acres=6)]
    assert job(tmp_path, rows).verdict("grain", "A").answer == "weigh"


@pytest.mark.parametrize("share", [0.91, 0.94, 1.0, 1.05])
def test_a_check_within_tolerance_changes_nothing_that_was_locked(tmp_path, share):
    before = told(job(tmp_path, []))
    assert before[:2] == ("lock", 24.0)
    found = job(tmp_path, [check(share)])
    assert found.verdict("grain", "A").answer == "leave"
    assert told(found) == before
    assert found.plan.target("grain", "A") == job(tmp_path, []).plan.target("grain", "A")


def test_a_check_within_tolerance_corrects_other_lots_and_not_a_lock_made_before_it(tmp_path):
    trials = [*LOCKED, *catches("grain", "B", "11-04", 5, [20, 24, 24, 24])]
    found = job(tmp_path, [check(0.94)], trials)
    assert found.plan.target("grain", "A").field_factor == 1
    assert found.plan.target("grain", "B").field_factor == 1  # locked before the check
    found = job(tmp_path, [check(0.94)], LOCKED)
    assert 0.9 < found.plan.target("grain", "B").field_factor < 0.95  # not caught yet
    assert found.plan.target("small", "C").field_factor == 1  # another box


def test_a_box_out_of_tolerance_is_unlocked_and_the_advice_agrees_with_the_verdict(tmp_path):
    found = job(tmp_path, [check(0.83)])
    verdict = found.verdict("grain", "A")
    decision, setting, *_, factor = told(found)
    assert factor == pytest.approx(verdict.factor)
    assert (decision, setting) != ("lock", 24.0)
    assert abs(setting - verdict.move_to.value) <= 1


@pytest.mark.parametrize("share", [0.78, 1.25])
def test_a_box_that_was_caught_at_one_setting_alone_is_moved_both_ways(tmp_path, share):
    """The shapes that the catches leave are lines with a dead setting below a third of the way, nearly all of them."""
    verdict = job(tmp_path, [check(share)], catches("grain", "A", "11-02", 5, [24, 24, 24])).verdict("grain", "A")
    assert verdict.answer == "move"
    assert 0.9 <= share * verdict.move_to.value / 24 <= 1.1
    assert verdict.chance < 0.4 < 0.6 < verdict.chance_there


def test_a_box_out_of_tolerance_is_unlocked_also_where_no_setting_is_better(tmp_path):
    top = catches("grain", "A", "11-02", 5, [36, 40, 40, 40], at=40)  # the end of the scale
    check = "2026-11-10,grain,A,40,4,16.0"
    found = job(tmp_path, [check], top)
    verdict = found.verdict("grain", "A")
    assert (verdict.answer, verdict.why.code) == ("leave", "verdict.leave_no_better")
    assert verdict.chance < 0.5
    assert found.plan.target("grain", "A").field_factor == pytest.approx(verdict.factor)
    assert told(found)[0] == "unreachable"
    assert told(job(tmp_path, [], top))[:2] == ("lock", 40.0)


def test_after_the_move_a_check_within_tolerance_keeps_what_the_move_taught(tmp_path):
    moved = job(tmp_path, [check(0.83)])
    to = moved.verdict("grain", "A").move_to
    found = job(tmp_path, [check(0.83), check(0.97, "11-12", setting=to.text)])
    assert (found.verdict("grain", "A").answer, found.verdict("grain", "A").setting) == ("leave", to)
    assert told(found) == told(moved)


def test_a_move_with_another_lot_in_the_box_unlocks_this_one(tmp_path):
    trials = [*LOCKED, *catches("grain", "B", "11-04", 5, [20, 24, 24, 24])]
    found = job(tmp_path, [check(0.83, lot="B")], trials)
    assert found.verdict("grain", "B").answer == "move"
    assert found.plan.target("grain", "A").field_factor < 0.9


def test_a_check_of_last_year_is_judged_by_last_years_catches_and_never_by_this_years_plan(tmp_path):
    trials = [*catches("grain", "A", "11-02", 2, [12, 12, 12], at=12, year=2025), *LOCKED]
    found = job(tmp_path, [check(0.94, year=2025, setting=12, target=2)], trials)
    (last,) = found.field.checks
    assert (last.seasons, last.target, last.why_not.code) == (("2025",), None, "field.other_season")
    assert last.factor == pytest.approx(0.94, abs=0.02)  # over that year's standing rate of 2 lb/ac
    assert found.verdicts() == []
    assert 0.9 < found.plan.target("grain", "A").field_factor < 0.95


def evidence(season, target):
    nothing = math.nan
    amounts = (0.10, 0.95, target * LB_PER_ACRE, 0.0, nothing, nothing, nothing, 1.0, nothing, 28.0, 3.0)
    return Evidence("1", "", season, "lock", "24", 0.97, *amounts, False, 0.03, "line", (), 0, "", "", (), ())


def test_what_was_planted_is_what_a_check_is_held_against(tmp_path):
    """The plan was changed to 7 lb/ac afterwards; the lines say 5 and then 6 of the same season, and 3 of another."""
    found = job(tmp_path, [check(0.94, "11-10")], plan=PLAN.replace("A,switchgrass,5", "A,switchgrass,7"))
    box, setting = found.drill.box("grain"), found.checks.checks[0].parts[0].setting
    lines = [
        PlantedLine(day, "", box, "a", setting, 4e4, 1e5, 1e4, "", "", True, evidence(season, target), i)
        for i, (day, season, target) in enumerate(
            [("2025-11-01", "2025", 3), ("2026-11-03", "2026", 5), ("2026-11-20", "2026", 6)]
        )
    ]
    for kept, target in ((lines, 5), (lines[2:], 6), (lines[:1], 7)):
        again = replace(found, planted=Planted(tuple(kept)), _kept={})
        assert again.field.checks[0].target == pytest.approx(target * LB_PER_ACRE)


def test_boxes_weighed_together_are_judged_by_their_total_and_none_is_moved(tmp_path):
    trials = [*LOCKED, *catches("small", "C", "11-02", 3, [20, 24, 24, 24])]
    for share, answer in ((0.95, "leave"), (0.80, "weigh")):
        row = f"2026-11-10,grain+small,A+C,24+24,4,{4 * 8 * share:.2f}"
        found = job(tmp_path, [row], trials)
        for box, lot in (("grain", "A"), ("small", "C")):
            verdict = found.verdict(box, lot)
            assert (verdict.answer, verdict.move_to, verdict.together) == (answer, None, ("grain", "small"))
            assert min(share, FIELD_CENTRE) < verdict.ratio < max(share, FIELD_CENTRE)  # the catches gave the target
        if answer == "weigh":
            assert verdict.why.code == "verdict.weigh_alone"


def test_a_tolerance_that_was_asked_for_is_the_one_judged_by(tmp_path):
    found = job(tmp_path, [check(0.92)])
    assert found.verdict("grain", "A").answer == "leave"
    assert found.verdict("grain", "A", tolerance=0.05).answer == "move"


def test_no_catch_or_no_check_is_no_verdict(tmp_path):
    found = job(tmp_path, [check(0.94, lot="B")])
    assert found.verdict("grain", "A") is None
    assert found.verdict("grain", "B") is None


def test_a_check_within_tolerance_leaves_every_command_but_its_own_as_it_was(tmp_path, run):
    """But for where the box is on its way, and what comes next. Nothing asks for a check of a box just checked."""

    def advised(answer):
        values = json.loads(answer.stdout)
        found = [values, *values.get("results", ())]
        return [
            {name: each[name] for name in each if name not in ("stage", "stages", "next", "results")} for each in found
        ]

    shown, only = [], "".join(PLAN.splitlines(keepends=True)[:2])
    for rows in ([], [check(0.94)]):
        job(tmp_path, rows, plan=only)
        answers = [run(name, tmp_path, "--json") for name in ("recommend", "plan")]
        assert [each.returncode for each in answers] == [0, 0], answers
        shown.append([advised(each) for each in answers])
    assert shown[0] == shown[1]
    found = job(tmp_path, [check(0.94)])
    advice = next(found.advice(each) for each in found.tasks("grain", "A"))
    assert advice.checked
    assert "early" not in standing_note([advice])
    said = run("plan", tmp_path).stdout
    assert "corrected the target of small." in " ".join(said.split())  # the other lot of grain is corrected


def test_a_likely_slip_is_no_check_of_a_box(tmp_path):
    found = job(tmp_path, [check(1.89)])
    advice = next(found.advice(each) for each in found.tasks("grain", "A"))
    assert not advice.checked
    assert "early" in standing_note([advice])


def test_a_towed_lot_is_judged_by_its_own_catches_and_gives_no_factor(tmp_path):
    """The same catches, made over 28 turns' worth of ground: slip is in them, so that the field should give as much."""
    drill = _drill()
    distance = 28 * drill.rolling_circumference_m
    for share, answer in ((0.96, "leave"), (0.82, "move")):
        job(tmp_path, [check(share)])
        rows = [f"{row},{distance:.4f}" for row in LOCKED]
        text = "\n".join(["box,lot,setting,catch_g,date,distance_m", *rows]) + "\n"
        (tmp_path / "trials.csv").write_text(text, encoding="utf-8")
        found = read_job(tmp_path, today=TODAY)
        verdict = found.verdict("grain", "A")
        assert (verdict.answer, found.field.boxes) == (answer, ())
        assert share < verdict.ratio < 1.0  # drawn towards what the towed drill gave, and not to 0.918
        decision, setting, *_, factor = told(found)
        if answer == "leave":
            assert (decision, setting, factor) == ("lock", 24.0, 1.0)
        else:
            assert abs(setting - verdict.move_to.value) <= 1
            assert (setting > 26, factor) == (True, pytest.approx(verdict.factor))


def test_a_check_does_not_move_the_target_of_its_own_lot_before_a_lock_either(tmp_path):
    found = job(tmp_path, [check(0.95)], LOCKED[1:2])
    assert told(found)[0] != "lock"
    assert found.verdict("grain", "A").answer == "leave"
    assert found.plan.target("grain", "A").field_factor == 1


def test_the_rate_of_a_verdict_is_what_hand_work_makes_of_catches_and_checks(tmp_path):
    """Conjugate normal model: a prior of 0.918 and 5.5 % on top of what the catches leave open, and one check of 4 %.

    By hand from the standing rate; Student's limits with 4 + 1 degrees of freedom, t = 2.5706 (from memory).
    """
    found = job(tmp_path, [check(0.88)])
    verdict = found.verdict("grain", "A")
    standing = found.stationary(found.drill.box("grain"), "A", verdict.setting)
    base = standing.log_output - math.log(output_for_rate(5 * LB_PER_ACRE, found.drill, found.drill.box("grain")))
    usual, seen = math.log(FIELD_CENTRE), math.log(0.88) - base
    prior, own = SHARED_SPREAD**2 + OWN_SPREAD**2 + standing.log_sd**2, CHECK_SPREAD**2
    weight = prior / (prior + own)
    middle = base + weight * seen + (1 - weight) * usual
    scale = (4 + (seen - usual) ** 2 / (prior + own)) / 5
    reach = 2.5706 * math.sqrt(scale * prior * own / (prior + own))
    expected = [math.exp(middle + way * reach) for way in (0, -1, 1)]
    assert [verdict.ratio, verdict.ratio_lower, verdict.ratio_upper] == pytest.approx(expected, rel=1e-4)


def test_a_check_at_another_setting_counts_by_the_curve(tmp_path):
    """The true field rate is 90 % of what a straight line gives: 0.90 of the target at 24, and 1.05 at 28."""
    found = job(tmp_path, [check(0.90), check(1.05, "11-12", setting=28)])
    verdict = found.verdict("grain", "A")
    assert (verdict.setting.text, verdict.checks) == ("28", (2, 3))
    assert verdict.ratio == pytest.approx(1.05, abs=0.02)
