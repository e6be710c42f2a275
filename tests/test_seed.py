"""The planting plan: tags to bulk rates, warnings, and what is refused."""

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from predictor.drill_file import read_drill
from predictor.errors import InputError
from predictor.seed import pure_live_seed, read_plan, seeds_per_pound, seeds_per_row_foot
from predictor.units import LB_PER_ACRE, rate_in
from tests.conftest import SAMPLE

DRILL = read_drill(SAMPLE / "drill.toml")
TODAY = datetime.date(2026, 11, 25)
HEAD = "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,dormant_pct,seeds_per_lb,test_date,blend,carrier_lb_ac\n"


def read(tmp_path, rows, head=HEAD, **options):
    path = tmp_path / "plan.csv"
    path.write_text(head + rows, encoding="utf-8")
    return read_plan(path, DRILL, today=TODAY, **options)


def test_bulk_rate_is_pls_rate_over_pls_and_nothing_is_rounded(tmp_path):
    plan = read(tmp_path, "small,K,switchgrass,3.0,97.5,62,27,,,,\n")
    lot = plan.lots[0]
    assert lot.pls_germination == 0.975 * 0.62
    assert lot.pls_total == 0.975 * (0.62 + 0.27)
    assert rate_in(plan.boxes[0].bulk_rate, "us") == pytest.approx(3.0 / (0.975 * 0.62), rel=1e-14)


def test_the_rule_for_viable_seed_is_the_users(tmp_path):
    row = "small,K,switchgrass,3.0,97.5,62,27,,,,\n"
    low, high = read(tmp_path, row, viable="total"), read(tmp_path, row, viable="germination")
    assert low.boxes[0].bulk_rate < high.boxes[0].bulk_rate
    assert low.lots[0].pls == low.lots[0].pls_total


def test_a_blend_adds_up_and_carrier_adds_to_what_is_caught(tmp_path):
    rows = "small,K,switchgrass,1.6,97.5,62,,,,forbs,\nsmall,P,purple prairie clover,0.9,98,81,,,,forbs,2.0\n"
    plan = read(tmp_path, rows)
    box = plan.boxes[0]
    assert box.lot == "forbs"
    assert len(plan.boxes) == 1
    expected = 1.6 / (0.975 * 0.62) + 0.9 / (0.98 * 0.81) + 2.0
    assert rate_in(box.bulk_rate, "us") == pytest.approx(expected, rel=1e-13)
    assert rate_in(box.carrier, "us") == pytest.approx(2.0)
    assert plan.target("small", "Forbs") is box
    assert plan.target("small", "other") is None


def test_us_and_metric_plans_are_equal(tmp_path):
    us = read(tmp_path, "small,K,switchgrass,3.0,97.5,62,27,259000,,,\n")
    metric = read(
        tmp_path,
        f"small,K,switchgrass,{3.0 * LB_PER_ACRE * 10!r},97.5,62,27,{259000 / 453.59237!r},,,\n",
        HEAD.replace("pls_rate_lb_ac", "pls_rate_kg_ha").replace("seeds_per_lb", "seeds_per_g").replace("carrier_lb_ac", "carrier_kg_ha"),
    )
    assert metric.boxes[0].bulk_rate == pytest.approx(us.boxes[0].bulk_rate, rel=1e-12)
    assert metric.lots[0].seeds_per_m2 == pytest.approx(us.lots[0].seeds_per_m2, rel=1e-12)


def test_a_rate_in_seeds_is_turned_into_weight(tmp_path):
    by_weight = read(tmp_path, "small,K,switchgrass,3.0,97.5,62,27,259000,,,\n")
    per_foot2 = 3.0 * 259000 / 43560
    by_count = read(tmp_path, f"small,K,switchgrass,{per_foot2!r},97.5,62,27,259000,,,\n", HEAD.replace("pls_rate_lb_ac", "seeds_per_ft2"))
    assert by_count.boxes[0].bulk_rate == pytest.approx(by_weight.boxes[0].bulk_rate, rel=1e-12)
    per_m2 = per_foot2 / 0.3048**2
    by_metre = read(tmp_path, f"small,K,switchgrass,{per_m2!r},97.5,62,27,259000,,,\n", HEAD.replace("pls_rate_lb_ac", "seeds_per_m2"))
    assert by_metre.boxes[0].bulk_rate == pytest.approx(by_weight.boxes[0].bulk_rate, rel=1e-12)


def test_seeds_a_pound_come_from_the_shipped_table_and_it_is_said(tmp_path):
    plan = read(tmp_path, "small,K,PANICUM virgatum,3.0,97.5,62,,,,,\n")
    assert "USDA PLANTS" in plan.lots[0].seeds_from
    assert "259,000" in plan.lots[0].seeds_from
    assert seeds_per_pound("PAVI2") == seeds_per_pound("switchgrass") == ("switchgrass", 259000)
    assert seeds_per_pound("unheard of") is None


def test_old_and_future_seed_tests_are_named(tmp_path):
    rows = "small,A,switchgrass,1,97,62,,,2026-02-25,m,\nsmall,B,switchgrass,1,97,62,,,2026-02-26,m,\nsmall,C,switchgrass,1,97,62,,,2027-01-01,m,\n"
    warnings = read(tmp_path, rows).warnings
    assert len(warnings) == 2
    assert "Lot A: its seed test is 9 months old" in warnings[0]
    assert "after today" in warnings[1]


@pytest.mark.parametrize("species", ["little bluestem", "Schizachyrium scoparium", "SCSC", "Liatris unknownii"])
def test_chaffy_seed_in_another_box_is_named(tmp_path, species):
    warnings = read(tmp_path, f"small,A,{species},1,97,62,,200000,,,\n").warnings
    assert "is chaffy seed and box small is for small seed" in warnings[0]
    assert not read(tmp_path, f"chaffy,A,{species},1,97,62,,200000,,,\n").warnings


def test_a_debearded_lot_may_say_what_it_is(tmp_path):
    head = HEAD.replace("blend", "kind")
    assert not read(tmp_path, "small,A,little bluestem,1,97,62,,,,free-flowing,\n", head).warnings
    assert read(tmp_path, "small,A,switchgrass,1,97,62,,,,chaffy,\n", head).warnings


REFUSED = {
    "an unknown box": ("smal,A,switchgrass,1,97,62,,,,,\n", "Did you mean small?"),
    "a fraction for per cent": ("small,A,switchgrass,1,0.97,62,,,,,\n", "Write per cent: 97"),
    "more than all of it": ("small,A,switchgrass,1,97,62,40,,,,\n", "add to more than 100"),
    "purity above 100": ("small,A,switchgrass,1,197,62,,,,,\n", "between 0 and 100"),
    "nothing alive": ("small,A,switchgrass,1,97,0,,,,,\n", "nothing would grow"),
    "no rate": ("small,A,switchgrass,,97,62,,,,,\n", "found none"),
    "a rate of nothing": ("small,A,switchgrass,0,97,62,,,,,\n", "above 0"),
    "a unit in a cell": ("small,A,switchgrass,1 lb,97,62,,,,,\n", "is not a rate"),
    "two lots and no blend": ("small,A,switchgrass,1,97,62,,,,,\nsmall,B,switchgrass,1,97,62,,,,,\n", "column blend"),
    "a lot twice": ("small,A,switchgrass,1,97,62,,,,,\nsmall,A,switchgrass,1,97,62,,,,,\n", "stands twice"),
    "no lot": ("small,,switchgrass,1,97,62,,,,,\n", "column lot: The cell is empty"),
    "a test date that is none": ("small,A,switchgrass,1,97,62,,,spring,,\n", "is not a date"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_plan_that_cannot_be_is_refused_in_the_right_words(tmp_path, name):
    rows, words = REFUSED[name]
    with pytest.raises(InputError) as caught:
        read(tmp_path, rows)
    assert words in str(caught.value)


def test_a_rate_in_seeds_needs_to_know_how_many_make_a_pound(tmp_path):
    with pytest.raises(InputError, match=r"Did you mean switchgrass\?"):
        read(tmp_path, "small,A,swichgrass,20,97,62,,,,,\n", HEAD.replace("pls_rate_lb_ac", "seeds_per_ft2"))


def test_two_rates_in_a_row_and_doubled_columns_are_refused(tmp_path):
    head = HEAD.replace("pls_rate_lb_ac", "pls_rate_lb_ac,seeds_per_ft2")
    with pytest.raises(InputError, match="exactly one of"):
        read(tmp_path, "small,A,switchgrass,1,20,97,62,,,,,\n", head)
    with pytest.raises(InputError, match="seeds_per_lb and seeds_per_g"):
        read(tmp_path, "small,A,switchgrass,1,97,62,,,,,,\n", HEAD.replace("seeds_per_lb", "seeds_per_lb,seeds_per_g"))
    with pytest.raises(InputError, match="A rate is missing"):
        read(tmp_path, "small,A,switchgrass,97,62,,,,,\n", HEAD.replace("pls_rate_lb_ac,", ""))


def test_all_problems_of_a_plan_are_reported_together(tmp_path):
    with pytest.raises(InputError) as caught:
        read(tmp_path, "smal,A,switchgrass,x,97,62,,,,,\nsmall,B,switchgrass,1,0.9,62,50,,,,\n")
    assert len(caught.value.problems) >= 4


@given(purity=st.floats(0.01, 1), germination=st.floats(0.01, 1), dormant=st.floats(0, 1))
def test_pls_is_never_more_than_purity_and_grows_with_each_part(purity, germination, dormant):
    dormant = min(dormant, 1 - germination)
    low = pure_live_seed(purity, germination, dormant)
    high = pure_live_seed(purity, germination, dormant, viable="total")
    assert 0 < low <= high <= purity * (1 + 1e-12)


def test_seeds_per_foot_of_row_from_seeds_per_metre():
    assert seeds_per_row_foot(1 / 0.3048) == pytest.approx(1.0)
