"""Figures that hardly any drill or plan has are asked about; usual ones are not."""

import math

import pytest

import predictor
from predictor.slips.plausible import remarks
from predictor.units import METRES

FEET = METRES["ft"]
BOX = predictor.SeedBox("small", "small", predictor.Lever(0, 40, 1))


def codes(rows=12, spacing_in=7.5, around_ft=7.2, **more):
    drill = predictor.Drill("made up", rows, spacing_in * METRES["in"], around_ft * FEET, (BOX,), **more)
    return [each.code.partition(".")[2] for each in remarks(drill, None)]


@pytest.mark.parametrize("spacing_in", [6, 7, 7.5, 8, 10, 15, 30])  # common practice
@pytest.mark.parametrize("wheel_in", [16, 20, 28, 36, 48])  # diameters of drive wheels, common practice
def test_usual_drills_are_quiet(spacing_in, wheel_in):
    assert codes(12, spacing_in, wheel_in * math.pi / 12) == []


@pytest.mark.parametrize("wheel_in", [20, 28, 36])
def test_a_diameter_or_radius_in_place_of_the_circumference_is_asked_about(wheel_in):
    assert codes(around_ft=wheel_in / 12) == ["odd_wheel"]
    assert codes(around_ft=wheel_in / 24 + 1e-9) == ["odd_wheel"]


def test_ten_turns_and_other_units_are_asked_about():
    assert codes(around_ft=24.0) == ["odd_wheel"]
    assert codes(spacing_in=7.5 / 2.54) == ["odd_spacing"]  # 7.5 cm
    assert codes(rows=36, spacing_in=19) == ["odd_width"]  # 19 cm, written as inches
    assert codes(around_ft=2.3, measured="2026-03-14") == []


def plan_codes(folder, rate, column="pls_rate_lb_ac"):
    head = 'name = "made up"\nrows = 12\nrow_spacing_in = 7.5\nrolling_circumference_ft = 7.2\n'
    box = '[[box]]\nname = "small"\nholds = "small"\ncontrol = "lever"\nlowest = 0\nhighest = 40\n'
    (folder / "drill.toml").write_text(head + box)
    row = f"box,lot,species,{column},purity_pct,germination_pct\nsmall,A,switchgrass,{rate},97,80\n"
    (folder / "plan.csv").write_text(row)
    drill = predictor.read_drill(folder / "drill.toml")
    return [(each.code, each["few"]) for each in remarks(drill, predictor.read_plan(folder / "plan.csv", drill))]


def test_far_too_few_and_too_many_seeds_are_asked_about(tmp_path):
    # 259,000 seeds in a pound of switchgrass by the USDA table, 43560 ft2 in an acre: 5.9 seeds/ft2 for a pound
    assert plan_codes(tmp_path, 5) == []
    assert plan_codes(tmp_path, 0.5) == [("files.odd_seeds", True)]
    assert plan_codes(tmp_path, 30) == [("files.odd_seeds", False)]


def test_the_sample_job_is_quiet():
    job = predictor.read_job("sample_trials")
    assert remarks(job.drill, job.plan) == []
