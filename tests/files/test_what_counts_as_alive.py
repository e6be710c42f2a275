"""plan.csv: germination, hard and dormant seed, and TZ tests, row by row. All lots here are invented."""

import math

import pytest
from hypothesis import given, strategies as st

from predictor import read_plan
from predictor.domain.drill import VIABLE
from predictor.domain.result import Remark
from predictor.domain.seed import pure_live_seed
from tests.domain.test_seed import DRILL, TODAY
from tests.refused import places_of, problems_of, refusals

HEAD = "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,tz_pct,dormant_pct,hard_pct,viable,blend"


def read(tmp_path, *rows, drill=DRILL, **options):
    path = tmp_path / "plan.csv"
    path.write_text("\n".join([HEAD, *rows, ""]), encoding="utf-8")
    return read_plan(path, drill, today=TODAY, **options)


def with_rule(rule):
    return type(DRILL)(DRILL.name, 12, 0.19, 2.2, DRILL.boxes, viable=rule)


@pytest.mark.parametrize(("rule", "alive"), [("germination", 0.60), ("hard", 0.75), ("total", 0.85)])
def test_each_row_has_its_own_rule(tmp_path, rule, alive):
    row = "small,K,switchgrass,3,98,60,,10,15,{},"
    (lot,) = read(tmp_path, row.format(rule.upper())).lots
    assert (lot.viable, lot.dormant, lot.hard) == (rule, 0.10, 0.15)
    assert lot.pls == pytest.approx(0.98 * alive, rel=1e-14)
    assert lot.bulk_rate == pytest.approx(lot.pls_rate / lot.pls, rel=1e-14)
    assert (lot.pls_germination, lot.pls_hard, lot.pls_total) == pytest.approx((0.588, 0.735, 0.833), rel=1e-14)
    # the drill's rule holds where the cell is empty
    assert read(tmp_path, row.format(""), drill=with_rule(rule)).lots == read(tmp_path, row.format(rule)).lots


def test_the_rule_that_is_typed_goes_first_and_it_is_said_where_they_differ(tmp_path):
    rules = zip("ABC", ("hard", "", "total"), strict=True)
    rows = [f"small,{name},switchgrass,{ord(name) - 64},98,60,,10,15,{rule},mix" for name, rule in rules]
    plan = read(tmp_path, *rows, viable="total")
    assert [lot.viable for lot in plan.lots] == ["total"] * 3
    assert plan.remarks == (Remark("plan.other_rule", {"rule": "total", "lots": ("A",)}),)
    assert plan.viable == "total"
    assert [lot.viable for lot in read(tmp_path, *rows).lots] == ["hard", "germination", "total"]
    assert read(tmp_path, *rows).remarks == ()


@pytest.mark.parametrize("rule", VIABLE)
def test_a_tz_test_counts_as_it_is_by_every_rule(tmp_path, rule):
    plan = read(tmp_path, f"small,T,switchgrass,3,95,,85,,0,{rule},")
    (lot,) = plan.lots
    assert [lot.pls, lot.pls_germination, lot.pls_hard, lot.pls_total] == pytest.approx([0.8075] * 4, rel=1e-14)
    assert (lot.tz, math.isnan(lot.germination)) == (0.85, True)
    assert plan.remarks == (Remark("plan.tz", {"lot": "T"}),)


fractions = st.floats(0, 1)


@given(purity=fractions, parts=st.tuples(fractions, fractions, fractions))
def test_no_rule_counts_less_than_the_one_before_it(purity, parts):
    germination, hard, dormant = (each / 3 for each in parts)
    found = [pure_live_seed(purity, germination, dormant, hard, viable=rule) for rule in VIABLE]
    assert 0 <= found[0] <= found[1] <= found[2] <= purity


def test_seed_of_which_one_in_a_hundred_germinates_and_the_rest_is_hard_is_no_fraction(tmp_path):
    (lot,) = read(tmp_path, "small,C,purple prairie clover hulled,1,98,1,,,85,hard,").lots
    assert lot.pls == pytest.approx(0.98 * 0.86)


@pytest.mark.parametrize(("rule", "cells", "said"), [
    ("hard", "12,,78,", True), ("hard", "12,,78,0", True), ("hard", "12,,3,78", False), ("hard", "12,,,", False),
    ("total", "12,,78,", False), ("germination", "12,,78,", False),
])  # fmt: skip
def test_a_rule_for_hard_seed_that_finds_none_is_named(tmp_path, rule, cells, said):
    """A tag may give one figure for "dormant or hard" seed; then the rule counts none of it."""
    plan = read(tmp_path, f"small,C,purple prairie clover hulled,1,98,{cells},{rule},")
    assert plan.remarks == ((Remark("plan.no_hard_seed", {"lot": "C", "dormant": 0.78}),) if said else ())


REFUSED = {
    "a TZ test and germination": ("small,T,switchgrass,3,95,60,85,,,,", "line 2, column tz_pct"),
    "a TZ test and hard seed": ("small,T,switchgrass,3,95,,85,,10,,", "line 2, column tz_pct"),
    "a TZ test in fractions": ("small,T,switchgrass,3,95,,0.85,,,,", "line 2, column tz_pct"),
    "a TZ test of nothing": ("small,T,switchgrass,3,95,,0,,,,", "line 2, column tz_pct"),
    "no test at all": ("small,T,switchgrass,3,95,,,,,,", "line 2, column germination_pct"),
    "another rule": ("small,T,switchgrass,3,95,60,,,,alive,", "line 2, column viable"),
    "nothing but hard seed": ("small,T,switchgrass,3,95,0,,,60,,", "line 2, column germination_pct"),
    "nothing but dormant seed": ("small,T,switchgrass,3,95,0,,60,,hard,", "line 2, column germination_pct"),
    "a TZ test beside dormant seed": ("small,T,switchgrass,3,95,,85,30,,,", "line 2, column tz_pct"),
    "hard seed beyond all": ("small,T,switchgrass,3,95,60,,,50,,", "line 2, column hard_pct"),
    "a germination that is a fraction": ("small,T,switchgrass,3,95,0.6,,,30,,", "line 2, column germination_pct"),
    "every part of the germination in fractions": (
        "small,T,switchgrass,3,95,0.2,,0.1,0.7,,",
        "line 2, column germination_pct; line 2, column dormant_pct; line 2, column hard_pct",
    ),
    "a germination of 1 and nothing else": ("small,T,switchgrass,3,95,1,,,,,", "line 2, column germination_pct"),
    "hard and dormant beyond all": ("small,T,switchgrass,3,95,50,,30,30,,", "line 2, column dormant_pct"),
}  # fmt: skip


@pytest.mark.parametrize(("row", "place"), REFUSED.values(), ids=REFUSED)
def test_a_tag_that_cannot_be_is_refused_at_its_place(tmp_path, row, place):
    assert places_of(lambda: read(tmp_path, row)) == place


def test_the_words_of_each_refusal(tmp_path):
    refusals("refused-alive", {name: lambda row=row: read(tmp_path, row) for name, (row, _) in REFUSED.items()})


@pytest.mark.parametrize(("dormant", "hint"), [(80, True), (0, False)])
def test_a_bag_that_a_rule_counts_as_dead_says_whether_another_would_not(tmp_path, dormant, hint):
    path = tmp_path / "plan.csv"
    rows = f"small,B,{{}},bag,{{}},40,0,{dormant}\n"
    head = "box,lot,species,bag,pls_rate_lb_ac,purity_pct,germination_pct,dormant_pct\n"
    path.write_text(head + rows.format("switchgrass", 5) + rows.format("Indiangrass", ""), encoding="utf-8")
    (problem,) = problems_of(lambda: read_plan(path, DRILL, today=TODAY))
    assert (problem.line, problem.column) == (2, "germination_pct")
    assert problem.message.endswith("dormant or hard seed.") == hint
    if hint:
        assert read_plan(path, DRILL, today=TODAY, viable="total").lots[0].pls == pytest.approx(0.32)
