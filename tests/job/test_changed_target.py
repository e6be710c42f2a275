"""A target that moved after the catches, since plan or drill file changed, is named; a rounded one is not."""

import pytest

import predictor

DRILL = """
name = "made up"
rows = 12
row_spacing_in = 7.5
rolling_circumference_ft = {around}
[[box]]
name = "small"
holds = "small"
control = "lever"
lowest = 0
highest = 40
"""
PLAN = "box,lot,species,bulk_rate_lb_ac,purity_pct,germination_pct\nsmall,A,switchgrass,{rate},97,80\n"
CHECK = "date,box,lot,setting,area_ac,seed_used_lb\n2026-11-10,small,B,14,2,{used}\n"


def changed(folder, *, rate=5.0, around=7.2, used=None, factor_then=1.0, turns=28):
    (folder / "drill.toml").write_text(DRILL.format(around=around))
    (folder / "plan.csv").write_text(PLAN.format(rate=rate))
    if used:
        (folder / "field.csv").write_text(CHECK.format(used=used))
    # worked by hand: 5 lb/ac over 28 turns of 7.2 ft and 3 rows 7.5 in apart; 43560 ft2 in an acre
    wanted = 5 * 453.59237 * turns * 7.2 * 3 * 7.5 / 12 / 43560 / factor_then
    row = f"2026-11-20,small,A,14,{turns},3,{wanted:.1f},{wanted:.1f},\n"
    before = "2026-11-09,small,B,14,28,3,19.7,,19.7\n"  # what the check was compared with
    head = "date,box,lot,setting,turns,rows,catch_g,wanted_g,target_g\n"
    (folder / "trials.csv").write_text(head + 3 * before + 3 * row)
    job = predictor.read_job(folder)
    assert (job.plan.target("small", "A").field_factor == 1) == (used is None)
    return [each for each in job.messages if "was to weigh" in each]


def test_an_unchanged_job_is_quiet(tmp_path):
    assert changed(tmp_path) == []
    assert changed(tmp_path, turns=5) == []  # 3.5 g, rounded to a tenth


@pytest.mark.parametrize("change", [{"rate": 5.2}, {"rate": 2.5}, {"around": 7.5}])
def test_a_changed_rate_or_wheel_is_named_with_its_line(tmp_path, change):
    (said,) = changed(tmp_path, **change)
    assert "line 7" in said
    assert "19.7 g" in said
    assert "field check" not in said


def test_what_a_field_check_corrects_is_not_blamed_on_the_plan(tmp_path):
    assert changed(tmp_path, used=9.0) == []
    (said,) = changed(tmp_path, used=9.0, rate=7)
    assert "field check" in said
