"""plan.csv: tags to bulk rates, warnings, and what is refused with which words. All lots here are invented."""

# One case on each line reads better than wrapped cases.

import datetime
import math
from functools import partial

import pytest
from hypothesis import given, strategies as st

from predictor import Drill, InputError, Lever, SeedBox, Sprockets, read_plan
from predictor.domain.result import Remark
from predictor.domain.seed import pure_live_seed
from predictor.units import LB_PER_ACRE, SQUARE_METRES_PER_ACRE, rate_in
from tests.refused import places_of, refusals

DRILL = Drill(
    "made up",
    12,
    7.5 * 0.0254,
    7.2 * 0.3048,
    (
        SeedBox("chaffy", "chaffy", Sprockets({"1": 0.4, "2": 0.54})),
        SeedBox("grain", "free-flowing", Lever(0, 100)),
        SeedBox("small", "small", Lever(0, 60)),
    ),
)
TODAY = datetime.date(2026, 11, 25)
HEAD = (
    "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,dormant_pct,seeds_per_lb,test_date,blend,carrier_lb_ac"
)


def read(tmp_path, rows, head=HEAD, **options):
    path = tmp_path / "plan.csv"
    path.write_text(f"{head}\n{rows}\n", encoding="utf-8")
    return read_plan(path, DRILL, today=TODAY, **options)


def problems(tmp_path, rows, head=HEAD):
    with pytest.raises(InputError) as caught:
        read(tmp_path, rows, head)
    return [str(problem).partition("plan.csv")[2].lstrip(" ") for problem in caught.value.problems]


def lot(tmp_path, rows, head=HEAD, **options):
    return read(tmp_path, rows, head, **options).lots[0]


def test_bulk_rate_is_pls_rate_over_pls_and_nothing_is_rounded(tmp_path):
    plan = read(tmp_path, "small,K,switchgrass,3.0,97.5,62,27,,,,")
    assert plan.lots[0].pls_germination == 0.975 * 0.62
    assert plan.lots[0].pls_total == 0.975 * (0.62 + 0.27)
    assert rate_in(plan.boxes[0].bulk_rate, "us") == pytest.approx(3.0 / (0.975 * 0.62), rel=1e-14)
    assert plan.boxes[0].load_g(SQUARE_METRES_PER_ACRE) == pytest.approx(3.0 / (0.975 * 0.62) * 453.59237, rel=1e-14)


def test_the_rule_for_viable_seed_is_the_users(tmp_path):
    row = "small,K,switchgrass,3.0,97.5,62,27,,,,"
    total, germination = read(tmp_path, row, viable="total"), read(tmp_path, row)
    assert total.boxes[0].bulk_rate / germination.boxes[0].bulk_rate == pytest.approx(62 / 89, rel=1e-14)
    assert total.lots[0].pls == total.lots[0].pls_total
    with pytest.raises(ValueError, match="germination"):
        read(tmp_path, row, viable="tz")


def test_a_blend_adds_up_and_carrier_adds_to_what_is_caught(tmp_path):
    rows = "small,K,switchgrass,1.6,97.5,62,,,,forbs,\nsmall,P,white prairie clover,0.9,98,81,,,,Forbs,2.0"
    plan = read(tmp_path, rows)
    (box,) = plan.boxes
    assert (box.lot, plan.remarks) == ("forbs", ())
    expected = 1.6 / (0.975 * 0.62) + 0.9 / (0.98 * 0.81) + 2.0
    assert rate_in(box.bulk_rate, "us") == pytest.approx(expected, rel=1e-14)
    assert rate_in(box.carrier, "us") == pytest.approx(2.0, rel=1e-14)
    assert box.seeds_per_m2 == pytest.approx(sum(each.seeds_per_m2 for each in plan.lots), rel=1e-14)
    assert plan.target("small", "FORBS") is box
    assert plan.target("small", "K") is None
    assert plan.target("grain", "forbs") is None


def test_a_lot_may_be_split_between_two_boxes(tmp_path):
    plan = read(tmp_path, "grain,K,switchgrass,2,97.5,62,,,,,\nsmall,K,switchgrass,1,97.5,62,,,,,")
    assert [(box.box.name, box.lot) for box in plan.boxes] == [("grain", "K"), ("small", "K")]
    assert plan.boxes[0].bulk_rate == pytest.approx(2 * plan.boxes[1].bulk_rate, rel=1e-14)


def test_us_and_metric_plans_are_equal(tmp_path):
    us = read(tmp_path, "small,K,switchgrass,3.0,97.5,62,27,259000,,,1.5")
    head = HEAD.replace("_lb_ac", "_kg_ha").replace("per_lb", "per_g")
    kg_ha = LB_PER_ACRE * 10
    row = f"small,K,switchgrass,{3.0 * kg_ha!r},97.5,62,27,{259000 / 453.59237!r},,,{1.5 * kg_ha!r}"
    metric = read(tmp_path, row, head)
    assert metric.boxes[0].bulk_rate == pytest.approx(us.boxes[0].bulk_rate, rel=1e-14)
    assert metric.boxes[0].target_output == pytest.approx(us.boxes[0].target_output, rel=1e-14)
    assert metric.lots[0].seeds_per_m2 == pytest.approx(us.lots[0].seeds_per_m2, rel=1e-14)


@pytest.mark.parametrize(("column", "factor"), [("seeds_per_ft2", 1.0), ("seeds_per_m2", 1 / 0.3048**2)])
def test_a_rate_in_live_seeds_is_turned_into_weight(tmp_path, column, factor):
    by_weight = lot(tmp_path, "small,K,switchgrass,3.0,97.5,62,27,259000,,,")
    row = f"small,K,switchgrass,{3.0 * 259000 / 43560 * factor!r},97.5,62,27,259000,,,"
    by_count = lot(tmp_path, row, HEAD.replace("pls_rate_lb_ac", column))
    assert by_count.bulk_rate == pytest.approx(by_weight.bulk_rate, rel=1e-13)
    assert by_count.seeds_per_m2 * 0.3048**2 == pytest.approx(3.0 * 259000 / 43560, rel=1e-13)


def test_rows_may_be_filled_in_different_rates(tmp_path):
    head = HEAD.replace("pls_rate_lb_ac", "pls_rate_lb_ac,seeds_per_ft2")
    plan = read(tmp_path, "small,K,switchgrass,3.0,,97.5,62,,,,,\ngrain,L,switchgrass,,20,97.5,62,,,,,", head)
    assert plan.lots[1].seeds_per_m2 * 0.3048**2 == pytest.approx(20, rel=1e-14)


@pytest.mark.parametrize(
    "name",
    [
        "switchgrass",
        "SWITCHGRASS",
        "Panicum virgatum",
        "panicum virgatum L.",
        "pavi2",
        "Switch grass",
        "Panicum virgatum var. made-up",
    ],
)
def test_seeds_in_a_pound_come_from_the_shipped_table_by_any_name_and_it_is_kept(tmp_path, name):
    found = lot(tmp_path, f"small,K,{name},3.0,97.5,62,,,,,")
    assert (found.seeds_from, found.table_species) == ("table", "switchgrass")
    assert found.seeds_per_g * 453.59237 == pytest.approx(259000, rel=1e-14)


def test_a_counted_sample_overrides_the_table(tmp_path):
    found = lot(tmp_path, "small,K,switchgrass,3.0,97.5,62,,301000,,,")
    assert found.seeds_from == "plan"
    assert found.seeds_per_g * 453.59237 == pytest.approx(301000, rel=1e-14)


def test_unknown_species_with_a_rate_by_weight_is_planned_and_named(tmp_path):
    plan = read(tmp_path, "small,K,swichgrass,3.0,97.5,62,,,,,")
    assert math.isnan(plan.lots[0].seeds_per_m2)
    assert plan.lots[0].to_dict()["seeds_per_g"] is None
    assert plan.remarks == (Remark("plan.no_count", {"lot": "K", "species": "swichgrass"}),)


AGES = {
    "2026-02-25": [],  # nine months to the day are within nine months
    "2026-02-24": ["plan.old_test"],
    "2025-11-30": ["plan.old_test"],
    "2026-11-25": [],
    "2026-11-26": ["plan.future_test"],
    "2026-03": [],  # a month is taken from its first day
    "2026-02": ["plan.old_test"],
    "2026-11": [],
    "2026-12": ["plan.future_test"],
    "": [],
}


@pytest.mark.parametrize(("date", "codes"), AGES.items())
def test_old_and_future_seed_tests_are_named(tmp_path, date, codes):
    remarks = read(tmp_path, f"small,K,switchgrass,1,97,62,,,{date},,").remarks
    assert remarks == tuple(Remark(code, {"lot": "K", "date": date, "months": 9}) for code in codes)


@pytest.mark.parametrize(
    ("written", "month"),
    [
        *((text, "2026-08") for text in ("2026-08", "2026-8", "2026/08", "08/2026", "8.2026", "Aug 2026", "AUG-2026")),
        *((text, "2026-09") for text in ("Sept. 2026", "september 2026", "9/2026")),
    ],
)
def test_a_test_date_may_be_a_month(tmp_path, written, month):
    plan = read(tmp_path, f"small,K,switchgrass,1,97,62,,,{written},,")
    assert [lot.test_date for lot in plan.lots] == [month]
    assert plan.remarks == ()


@pytest.mark.parametrize(
    "written", ["8/26", "Aug-26", "Aug 26", "26-Aug", "2026", "13/2026", "0/2026", "J 2026", "ju 2026"]
)
def test_a_month_that_can_be_something_else_is_refused(tmp_path, written):
    with pytest.raises(InputError, match="line 2, column test_date"):
        read(tmp_path, f"small,K,switchgrass,1,97,62,,,{written},,")


@pytest.mark.parametrize("name", ["little bluestem", "Schizachyrium scoparium", "SCSC", "Liatris unknownii"])
def test_chaffy_seed_in_a_box_for_other_seed_is_named(tmp_path, name):
    (remark,) = read(tmp_path, f"small,A,{name},1,97,62,,200000,,,").remarks
    assert remark == Remark("plan.may_be_chaffy", {"lot": "A", "species": name, "box": "small", "holds": "small"})
    assert not read(tmp_path, f"chaffy,A,{name},1,97,62,,200000,,,").remarks


def test_a_lot_may_say_itself_what_kind_of_seed_it_is(tmp_path):
    head = HEAD.replace("blend", "kind")
    assert not read(tmp_path, "small,A,little bluestem,1,97,62,,,,Free flowing,", head).remarks
    (remark,) = read(tmp_path, "small,A,switchgrass,1,97,62,,,,chaffy,", head).remarks
    assert remark == Remark("plan.chaffy", {"lot": "A", "species": "switchgrass", "box": "small", "holds": "small"})


def test_count_far_from_the_table_is_named(tmp_path):
    assert not read(tmp_path, "small,A,switchgrass,1,97,62,,180000,,,").remarks
    (remark,) = read(tmp_path, "small,A,switchgrass,1,97,62,,25900,,,").remarks
    assert (remark.code, remark["column"], remark["species"]) == ("plan.odd_count", "seeds_per_lb", "switchgrass")
    assert (remark["count"], remark["low"], remark["high"]) == pytest.approx((25_900, 224_000, 259_000))


def test_a_count_of_another_species_is_named_with_that_species(tmp_path):
    """Sources have 224,000 to 259,000 seeds of switchgrass in a pound, and 83,200 to 114,000 of Canada wildrye."""
    rows = "small,A,switchgrass,1,97,62,,{},,,\ngrain,B,Canada wildrye,1,97,62,,{},,,"

    def whose(text):
        return [(each["lot"], each["whose"]) for each in read(tmp_path, text).remarks if each.code == "plan.odd_count"]

    assert whose(rows.format(230_000, 112_000)) == []
    assert whose(rows.format(112_000, 112_000)) == [("A", ("Canada wildrye",))]
    # beyond its sources alone it is nobody's count, until it is so by three times
    assert whose("small,A,switchgrass,1,97,62,,112000,,,") == []
    assert whose("small,A,switchgrass,1,97,62,,62000,,,") == [("A", ())]
    # of a species that the plan does not have, where the table has the very number
    assert whose("small,A,switchgrass,1,97,62,,65000,,,") == [("A", ("partridge pea",))]


@pytest.mark.parametrize(
    ("column", "count", "unit"),
    [
        ("seeds_per_lb", 16_000, "oz"),
        ("seeds_per_lb", 562, "g"),
        ("seeds_per_lb", 562_000, "kg"),
        ("seeds_per_g", 16_000, "oz"),
        ("seeds_per_g", 255_000 / 3, ""),
    ],
)
def test_a_count_in_another_unit_than_its_column_is_named(tmp_path, column, count, unit):
    """Prairie dropseed has 255,000 seeds in a pound, 16,000 in an ounce, 562 in a gram."""
    head = HEAD.replace("seeds_per_lb", column)
    (remark,) = read(tmp_path, f"small,A,prairie dropseed,0.1,97,62,,{count},,,", head).remarks
    assert remark.code == ("plan.count_in_other_unit" if unit else "plan.odd_count")
    assert not unit or (remark["unit"], remark["column"]) == (unit, column)


def test_a_species_sold_as_two_kinds_of_seed_names_the_one_taken(tmp_path):
    plan = read(tmp_path, "grain,A,buffalograss,1,97,62,,,,,")
    (remark,) = plan.remarks
    assert remark.code == "plan.kind_of_seed"
    assert remark["counts"] == {"buffalograss burs": 45_000, "buffalograss grain": 335_360}
    assert plan.lots[0].table_species == "buffalograss burs"
    for row, species in (("buffalograss grain,1,97,62,,", "buffalograss grain"), ("buffalograss,1,97,62,,300000", "")):
        plan = read(tmp_path, f"grain,A,{row},,,")
        assert plan.remarks == ()
        assert plan.lots[0].table_species == species or plan.lots[0].seeds_from == "plan"


def test_a_lot_says_how_sure_its_count_is(tmp_path):
    known, single, counted, unknown = (
        lot(tmp_path, f"chaffy,A,{species},1,97,62,,{count},,,")
        for species, count in (
            ("Canada wildrye", ""),
            ("sand bluestem", ""),
            ("sand bluestem", 99_000),
            ("no such", ""),
        )
    )
    assert (known.seeds_low * 453.59237, known.seeds_high * 453.59237) == pytest.approx((83_200, 114_000))
    assert (known.seeds_sources, single.seeds_sources) == (("usda", "strips", "tpc", "mn"), ("usda",))
    assert (known.seeds_log_sd, single.seeds_log_sd) == pytest.approx((math.log(114 / 83.2) / 2, 0.40))
    assert (counted.seeds_sources, counted.seeds_log_sd) == ((), 0.03)
    assert math.isnan(single.seeds_low)
    assert math.isnan(counted.seeds_low)
    assert math.isnan(unknown.seeds_log_sd)


def test_counts_of_a_blend_are_as_sure_as_their_seeds_weigh(tmp_path):
    """Standard deviations of independent parts of a sum add in quadrature."""
    rows = "chaffy,A,sand bluestem,2,97,62,,,,mix,\nchaffy,B,switchgrass,1,97,62,,259000,,mix,"
    (box,) = read(tmp_path, rows).boxes
    seeds = 2 * 96_640, 259_000
    assert box.seeds_log_sd == pytest.approx(math.hypot(seeds[0] * 0.40, seeds[1] * 0.03) / sum(seeds))


def test_a_rate_in_seeds_names_the_count_its_weight_rests_on(tmp_path):
    head = HEAD.replace("pls_rate_lb_ac", "seeds_per_ft2")
    (remark,) = read(tmp_path, "small,A,switchgrass,20,97,62,,,,,", head).remarks
    assert (remark.code, remark["lot"]) == ("plan.count_of_table", "A")
    assert remark["seeds_per_lb"] == pytest.approx(259_000)
    (remark,) = read(tmp_path, "small,A,BATI,5,97,62,,,,,", head).remarks
    assert remark.code == "plan.doubtful_count"
    assert not read(tmp_path, "small,A,switchgrass,20,97,62,,259000,,,", head).remarks


def test_one_remark_names_all_lots_whose_weight_rests_on_the_table(tmp_path):
    head = HEAD.replace("pls_rate_lb_ac", "seeds_per_ft2")
    species = "switchgrass", "little bluestem", "BATI", "buffalograss"
    rows = "\n".join(f"chaffy,{each[:2]},{each},{len(each)},97,62,,,,mix," for each in species)
    remarks = read(tmp_path, rows, head).remarks
    assert [each.code for each in remarks] == ["plan.counts_of_table", "plan.doubtful_count", "plan.kind_of_seed"]
    assert (remarks[0]["lots"], remarks[1]["lot"], remarks[2]["lot"]) == (("sw", "li"), "BA", "bu")


def test_a_species_sold_as_two_kinds_is_named_once_by_a_rate_in_seeds(tmp_path):
    head = HEAD.replace("pls_rate_lb_ac", "seeds_per_ft2")
    (remark,) = read(tmp_path, "grain,A,buffalograss,5,97,62,,,,,", head).remarks
    assert (remark.code, remark["weighed"]) == ("plan.kind_of_seed", True)
    assert "its weight is worked out from that" in str(remark)
    (remark,) = read(tmp_path, "grain,A,buffalograss,5,97,62,,,,,").remarks
    assert "weight" not in str(remark)


def test_large_counts_are_written_out(tmp_path):
    (remark,) = read(tmp_path, "small,A,switchgrass,1,97,62,,2590000,,,").remarks
    assert "seeds_per_lb is 2,590,000, but" in str(remark)


def test_two_blends_in_a_box_are_two_fillings_and_it_is_said(tmp_path):
    plan = read(tmp_path, "small,A,switchgrass,1,97,62,,,,early,\nsmall,B,switchgrass,1,97,62,,,,late,")
    assert [box.lot for box in plan.boxes] == ["early", "late"]
    assert plan.remarks[0] == Remark("plan.several_blends", {"box": "small", "blends": ("early", "late")})


def test_two_lots_without_a_blend_are_planted_one_after_the_other_and_it_is_said(tmp_path):
    plan = read(tmp_path, "small,A,switchgrass,1,97,62,,,,,\nsmall,B,switchgrass,2,90,62,,,,,")
    assert [(box.lot, len(box.lots)) for box in plan.boxes] == [("A", 1), ("B", 1)]
    # each lot has its own rate: pounds of live seed over its purity and germination
    for box, pls in zip(plan.boxes, (1 / (0.97 * 0.62), 2 / (0.90 * 0.62)), strict=True):
        assert rate_in(box.bulk_rate, "us") == pytest.approx(pls)
    assert Remark("plan.in_turn", {"box": "small", "lots": ("A", "B")}) in plan.assumed


def test_carrier_that_stands_in_every_row_of_a_blend_is_named(tmp_path):
    plan = read(tmp_path, "small,A,switchgrass,1,97,62,,,,mix,5\nsmall,B,switchgrass,1,97,62,,,,mix,5")
    assert rate_in(plan.boxes[0].carrier, "us") == pytest.approx(10)
    assert plan.remarks[0] == Remark("plan.carrier_repeated", {"box": "small", "blend": "mix", "rows": 2})


def test_field_factor_raises_the_target_and_not_the_rate(tmp_path):
    row = "small,K,switchgrass,3.0,97.5,62,27,,,,"
    plan = read(tmp_path, row)
    drill = DRILL
    plain, corrected = plan.boxes[0], plan.with_field_factors({("small", "K"): 0.85}, drill).boxes[0]
    assert corrected.target_output == pytest.approx(plain.target_output / 0.85, rel=1e-14)
    assert (corrected.bulk_rate, corrected.field_factor) == (plain.bulk_rate, 0.85)
    for nowhere in (("chaffy", "K"), ("small", "L"), ("Small", "K"), "small", 3):
        with pytest.raises(InputError, match=r"Known: small K\."):
            plan.with_field_factors({nowhere: 0.85}, drill)
    with pytest.raises(ValueError, match=r"small K must be a finite number, above 0; got 0"):
        plan.with_field_factors({("small", "K"): 0}, drill)


def test_dormant_seed_alone_counts_under_the_rule_that_counts_it(tmp_path):
    row = "small,K,switchgrass,3.0,97.5,0,80,,,,"
    assert lot(tmp_path, row, viable="total").pls == 0.975 * 0.8
    assert 'By the rule "total" its dormant seed would count.' in problems(tmp_path, row)[0]


def test_half_a_per_cent_of_dormant_seed_is_no_fraction(tmp_path):
    assert lot(tmp_path, "small,K,switchgrass,3.0,97.5,62,0.5,,,,").pls_total == 0.975 * (0.62 + 0.005)


def test_germination_and_dormant_may_add_to_all_of_it_and_no_more(tmp_path):
    assert lot(tmp_path, "small,K,switchgrass,1,100,62.1,37.9,,,,").pls_total == pytest.approx(1, rel=1e-14)
    assert "add to more than 100" in problems(tmp_path, "small,K,switchgrass,1,100,62.1,38,,,,")[0]


OK = "small,A,switchgrass,1,97,62,,,,,"
REFUSED = {
    "an unknown box": ("smal,A,switchgrass,1,97,62,,,,,", "line 2, column box"),
    "a box like no other": ("zzz,A,switchgrass,1,97,62,,,,,", "line 2, column box"),
    "no box": (",A,switchgrass,1,97,62,,,,,", "line 2, column box"),
    "no lot": ("small,,switchgrass,1,97,62,,,,,", "line 2, column lot"),
    "no species": ("small,A,,1,97,62,,200000,,,", "line 2, column species"),
    "no purity": ("small,A,switchgrass,1,,62,,,,,", "line 2, column purity_pct"),
    "a fraction for purity": ("small,A,switchgrass,1,0.85,62,,,,,", "line 2, column purity_pct"),
    "a fraction for germination": ("small,A,switchgrass,1,97,0.62,,,,,", "line 2, column germination_pct"),
    "one for all": ("small,A,switchgrass,1,1,62,,,,,", "line 2, column purity_pct"),
    "germination and dormant beyond all": ("small,A,switchgrass,1,97,62,40,,,,", "line 2, column dormant_pct"),
    "purity above 100": ("small,A,switchgrass,1,197,62,,,,,", "line 2, column purity_pct"),
    "purity negative": ("small,A,switchgrass,1,-97,62,,,,,", "line 2, column purity_pct"),
    "per cent sign": ("small,A,switchgrass,1,97%,62,,,,,", "line 2, column purity_pct"),
    "nothing pure": ("small,A,switchgrass,1,0,62,,,,,", "line 2, column purity_pct"),
    "nothing alive": ("small,A,switchgrass,1,97,0,,,,,", "line 2, column germination_pct"),
    "nan": ("small,A,switchgrass,nan,97,62,,,,,", "line 2, column pls_rate_lb_ac"),
    "no rate": ("small,A,switchgrass,,97,62,,,,,", "line 2"),
    "a rate of nothing": ("small,A,switchgrass,0,97,62,,,,,", "line 2, column pls_rate_lb_ac"),
    "an absurd rate": ("small,A,switchgrass,5000,97,62,,,,,", "line 2, column pls_rate_lb_ac"),
    "a unit in a cell": ("small,A,switchgrass,1 lb,97,62,,,,,", "line 2, column pls_rate_lb_ac"),
    "an absurd carrier": ("small,A,switchgrass,1,97,62,,,,,-5", "line 2, column carrier_lb_ac"),
    "thousands of seeds a pound": ("small,A,switchgrass,1,97,62,,25.9,,,", "line 2, column seeds_per_lb"),
    "two lots and no blend, which may be one bag": (
        "small,A,switchgrass,1,57,62,,,,,\nsmall,B,sideoats grama,1,40,62,,,,,",
        "line 3, column blend",
    ),
    "a lot beside a blend": (f"{OK}\nsmall,B,switchgrass,1,97,62,,,,mix,", "line 2, column blend"),
    "a lot twice": (f"{OK}\n{OK}", "line 3, column lot"),
    "a lot twice in a blend": (f"{OK[:-1]}mix,\nsmall,a,switchgrass,1,97,62,,,,mix,", "line 3, column lot"),
    "a test date that is none": ("small,A,switchgrass,1,97,62,,,spring,,", "line 2, column test_date"),
    "a date in two ways": ("small,A,switchgrass,1,97,62,,,3/4/2026,,", "line 2, column test_date"),
    "a cell too many": (f"{OK},", "line 2"),
    "a decimal comma": ("small,A,switchgrass,1,97,5,62,,,,,", "line 2"),
}  # fmt: skip


@pytest.mark.parametrize(("rows", "places"), REFUSED.values(), ids=REFUSED)
def test_odd_plan_is_refused_with_the_one_thing_that_is_wrong(tmp_path, rows, places):
    assert places_of(lambda: read(tmp_path, rows)) == places


def test_the_words_of_each_refusal(tmp_path):
    calls = {name: partial(read, tmp_path, rows) for name, (rows, _) in REFUSED.items()}
    calls |= {name: partial(read, tmp_path, rows, names) for name, (rows, names, _) in REFUSED_WITH_HEAD.items()}
    refusals("refused-plan", calls)


def head(**renamed):
    """The header with other columns."""
    names = dict.fromkeys(HEAD.split(",")) | renamed
    return ",".join(names[name] or name for name in HEAD.split(","))


# 8 seeds/ft2 x 43,560 ft2 / 259 seeds a pound is 1,345 lb/ac: the count lacks its thousands.
# 4,000 x 43,560 / 174,720 is 997 lb/ac with a count from the table.
BY_SEEDS = head(pls_rate_lb_ac="seeds_per_ft2")
TWO_RATES, TWO_COUNTS = (
    head(pls_rate_lb_ac="pls_rate_lb_ac,seeds_per_ft2"),
    head(seeds_per_lb="seeds_per_lb,seeds_per_g"),
)
REFUSED_WITH_HEAD = {
    "a kind that is none": ("small,A,switchgrass,1,97,62,,,,fluffy,", head(blend="kind"), "line 2, column kind"),
    "seeds of an unknown species": ("small,A,swichgrass,20,97,62,,,,,", BY_SEEDS, "line 2, column species"),
    "a count without its thousands": ("small,A,an ecotype,8,97,62,,259,,,", BY_SEEDS, "line 2, column seeds_per_lb"),
    "an absurd rate in seeds": ("small,A,Indiangrass,4000,97,62,,,,,", BY_SEEDS, "line 2, column seeds_per_ft2"),
    "a count that is no number": ("small,A,no such seed,8,97,62,,many,,,", BY_SEEDS, "line 2, column seeds_per_lb"),
    "two rates in a row": ("small,A,switchgrass,1,20,97,62,,,,,", TWO_RATES, "line 2"),
    "two columns for the count": ("small,A,switchgrass,1,97,62,,,,,,", TWO_COUNTS, ""),
    "no column for the rate": ("small,A,switchgrass,1,97,62,,,,,", head(pls_rate_lb_ac="mine"), ""),
}  # fmt: skip


@pytest.mark.parametrize(("rows", "names", "places"), REFUSED_WITH_HEAD.values(), ids=REFUSED_WITH_HEAD)
def test_odd_plan_with_other_columns_is_refused_with_the_one_thing_that_is_wrong(tmp_path, rows, names, places):
    assert places_of(lambda: read(tmp_path, rows, names)) == places


def test_a_lot_with_hardly_any_live_seed_is_named_with_what_the_other_rule_gives(tmp_path):
    row = "small,A,switchgrass,1,98,2,90,,,,"
    (found,) = read(tmp_path, row).remarks
    assert (found.code, found["lot"]) == ("plan.little_live_seed", "A")
    assert (found["pls"], found["total"]) == pytest.approx((0.0196, 0.9016))
    assert "so its bulk rate is high" in str(found)
    (given,) = read(tmp_path, row, HEAD.replace("pls_rate", "bulk_rate")).remarks
    assert "bulk rate" not in str(given)
    assert read(tmp_path, row, viable="total").remarks == ()
    assert read(tmp_path, "small,A,switchgrass,1,20,50,,,,,").remarks == ()  # exactly a tenth


@pytest.mark.parametrize("missing", ["box", "lot", "species", "purity_pct", "germination_pct"])
def test_a_missing_column_is_named_with_those_found(tmp_path, missing):
    columns = HEAD.split(",")
    cells = OK.split(",")
    del cells[columns.index(missing)]
    columns.remove(missing)
    found = problems(tmp_path, ",".join(cells), ",".join(columns))
    assert any(f"The column {missing} is missing." in problem for problem in found)


def test_several_problems_of_a_plan_are_reported_together_in_the_order_of_its_rows(tmp_path):
    rows = (
        "smal,A,switchgrass,x,97,62,,,,,\nsmall,B,switchgrass,1,0.9,62,50,,spring,,\n\nsmall,,switchgrass,1,90,62,,,,,"
    )
    found = problems(tmp_path, rows)
    assert [problem.partition(":")[0] for problem in found] == [
        "line 2, column box",
        "line 2, column pls_rate_lb_ac",
        "line 3, column purity_pct",
        "line 3, column dormant_pct",
        "line 3, column test_date",
        "line 5, column lot",
    ]


def test_a_plan_saved_by_a_european_spreadsheet_is_read_and_what_was_assumed_is_said(tmp_path):
    plain = read(tmp_path, "small,K,switchgrass,3.5,97.5,62,27,,,,")
    text = HEAD.upper().replace(",", ";") + "\r\nsmall;K;switchgrass;3,5;97,5;62;27;;;;\r\n;;;;;;;;;;\r\n"
    (tmp_path / "plan.csv").write_bytes(b"\xef\xbb\xbf" + text.encode())
    other = read_plan(tmp_path / "plan.csv", DRILL, today=TODAY)
    assert other.lots == plain.lots
    assert other.assumed == (Remark("files.signs", {"separator": ";", "decimal": ","}),)


fractions = st.floats(0.01, 1)


@given(purity=fractions, germination=fractions, dormant=st.floats(0, 1))
def test_pls_is_never_more_than_purity_and_grows_with_each_part(purity, germination, dormant):
    dormant = min(dormant, 1 - germination)
    low = pure_live_seed(purity, germination, dormant)
    high = pure_live_seed(purity, germination, dormant, viable="total")
    assert 0 < low <= high <= purity * (1 + 1e-12)


@given(order=st.permutations(range(4)))
def test_order_of_rows_does_not_matter(tmp_path_factory, order):
    rows = [
        "chaffy,A,big bluestem,4,62.5,71,12,,,tall,5",
        "chaffy,B,Indiangrass,3,70,65,20,,,tall,",
        "grain,C,western wheatgrass,6,94,88,0,,,,",
        "small,D,switchgrass,2,98,60,30,,,,",
    ]
    folder = tmp_path_factory.getbasetemp()
    plain = read(folder, "\n".join(rows))
    mixed = read(folder, "\n".join(rows[k] for k in order))
    assert [box.box.name for box in mixed.boxes] == ["chaffy", "grain", "small"]
    for ours, theirs in zip(plain.boxes, mixed.boxes, strict=True):
        assert theirs.bulk_rate == pytest.approx(ours.bulk_rate, rel=1e-14)
        assert theirs.seeds_per_m2 == pytest.approx(ours.seeds_per_m2, rel=1e-14)
