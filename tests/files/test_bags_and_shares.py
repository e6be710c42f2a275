"""plan.csv: premixed bags, bulk rates, and blends by shares. All lots here are invented."""

import math

import pytest
from hypothesis import given, settings, strategies as st

from predictor import read_plan
from predictor.domain.result import Remark
from predictor.files.rates import rounding
from predictor.units import KG_PER_HECTARE, LB_PER_ACRE, rate_in
from tests.domain.test_seed import DRILL, TODAY
from tests.refused import places_of, problems_of, refusals

FT2 = 0.3048**2
COLUMNS = (
    "box", "lot", "species", "blend", "bag", "bulk_rate_lb_ac", "pls_rate_lb_ac", "seeds_per_ft2", "seed_share_pct",
    "weight_share_pct", "purity_pct", "germination_pct", "seeds_per_lb",
)  # fmt: skip
BAG = (
    {"lot": "M1", "species": "little bluestem", "bag": "MIX-1", "purity_pct": 30, "germination_pct": 80},
    {"lot": "M1", "species": "Indiangrass", "bag": "MIX-1", "purity_pct": 24, "germination_pct": 70},
    {"lot": "M1", "species": "purple prairie clover", "bag": "MIX-1", "purity_pct": 16, "germination_pct": 90},
)
COUNTS = 240_670, 174_720, 300_000  # Of the shipped table
PLS = (0.30 * 0.80, 0.24 * 0.70, 0.16 * 0.90)
LIVE = tuple(pls * count for pls, count in zip(PLS, COUNTS, strict=True))  # Live seeds in a pound of the bag


def read(tmp_path, *rows, columns=COLUMNS, **options):
    path = tmp_path / "plan.csv"
    lines = [",".join(str(({"box": "chaffy"} | row).get(name, "")) for name in columns) for row in rows]
    path.write_text("\n".join([",".join(columns), *lines, ""]), encoding="utf-8")
    return read_plan(path, DRILL, today=TODAY, **options)


def bag(rate, rows=BAG, **values):
    """The rows of the bag with a rate in the first one."""
    return [row | values | (rate if k == 0 else {}) for k, row in enumerate(rows)]


RATES = {
    "of the bag": ({"bulk_rate_lb_ac": 10}, 10.0),
    "of its live seed": ({"pls_rate_lb_ac": 5.52}, 5.52 / sum(PLS)),
    "of its live seeds": ({"seeds_per_ft2": 40}, 40 * 43_560 / sum(LIVE)),
}


@pytest.mark.parametrize(("rate", "pounds"), RATES.values(), ids=RATES)
def test_a_premixed_bag_is_planted_once_and_not_once_a_species(tmp_path, rate, pounds):
    plan = read(tmp_path, *bag(rate))
    (box,) = plan.boxes
    assert box.lot == "MIX-1"
    assert rate_in(box.bulk_rate, "us") == pytest.approx(pounds, rel=1e-12)
    assert [rate_in(lot.bag_rate, "us") for lot in plan.lots] == pytest.approx([pounds] * 3, rel=1e-12)
    for lot, pls, live, count in zip(plan.lots, PLS, LIVE, COUNTS, strict=True):
        assert rate_in(lot.pls_rate, "us") == pytest.approx(pounds * pls, rel=1e-12)
        assert lot.seeds_per_m2 * FT2 == pytest.approx(pounds * live / 43_560, rel=1e-12)
        assert lot.pure_seeds_per_m2 * FT2 == pytest.approx(pounds * lot.purity * count / 43_560, rel=1e-12)
    # each species has the part of the bulk weight that its pure seed is of all pure seed, 70 %
    parts = [rate_in(lot.bulk_rate, "us") / pounds for lot in plan.lots]
    assert parts == pytest.approx([30 / 70, 24 / 70, 16 / 70], rel=1e-12)


@pytest.mark.parametrize("column", ["bulk_rate_lb_ac", "pls_rate_lb_ac", "seeds_per_ft2"])
def test_the_rate_of_a_bag_may_be_in_one_row_or_the_same_in_all(tmp_path, column):
    last = [*BAG[:2], BAG[2] | {column: 7}]
    plans = [read(tmp_path, *rows) for rows in (bag({column: 7}), last, bag({}, **{column: 7}))]
    assert plans[0].lots == plans[1].lots == plans[2].lots


@pytest.mark.parametrize(("column", "us", "per"), [
    ("bulk_rate_kg_ha", "bulk_rate_lb_ac", LB_PER_ACRE / KG_PER_HECTARE),
    ("pls_rate_kg_ha", "pls_rate_lb_ac", LB_PER_ACRE / KG_PER_HECTARE),
    ("seeds_per_m2", "seeds_per_ft2", 1 / FT2),
])  # fmt: skip
def test_a_bag_in_metric_units_is_the_same(tmp_path, column, us, per):
    theirs = read(tmp_path, *bag({us: 9}))
    columns = tuple(column if name == us else name for name in COLUMNS)
    ours = read(tmp_path, *bag({column: repr(9 * per)}), columns=columns)
    assert ours.boxes[0].target_output == pytest.approx(theirs.boxes[0].target_output, rel=1e-12)
    assert ours.boxes[0].seeds_per_m2 == pytest.approx(theirs.boxes[0].seeds_per_m2, rel=1e-12)


parts = st.lists(st.tuples(st.floats(2.1, 20), st.floats(5, 100), st.floats(1e4, 1e6)), min_size=1, max_size=5)


@settings(max_examples=40)
@given(species=parts, pounds=st.floats(0.5, 60))
def test_however_many_species_a_bag_has_its_bulk_weight_is_its_rate(tmp_path_factory, species, pounds):
    rows = [
        {"lot": "L", "species": f"species {k}", "bag": "B", "bulk_rate_lb_ac": pounds,
         "purity_pct": round(pure, 3), "germination_pct": round(alive, 3), "seeds_per_lb": round(count)}
        for k, (pure, alive, count) in enumerate(species)
    ]  # fmt: skip
    plan = read(tmp_path_factory.getbasetemp(), *rows)
    assert rate_in(plan.boxes[0].bulk_rate, "us") == pytest.approx(pounds)
    assert sum(lot.pls_rate for lot in plan.lots) == pytest.approx(plan.boxes[0].bulk_rate * sum(
        lot.pls for lot in plan.lots
    ))  # fmt: skip
    # asked for by what it then has of live seed or of live seeds, it is the same weight
    pls = [row | {"bulk_rate_lb_ac": "", "pls_rate_lb_ac": rate_in(sum(lot.pls_rate for lot in plan.lots), "us")}
           for row in rows]  # fmt: skip
    seeds = [row | {"bulk_rate_lb_ac": "", "seeds_per_ft2": plan.boxes[0].seeds_per_m2 * FT2} for row in rows]
    for again in (pls, seeds):
        if any(
            row["pls_rate_lb_ac"] > 500 if "pls_rate_lb_ac" in row else row["seeds_per_ft2"] > 5000 for row in again
        ):
            continue
        found = read(tmp_path_factory.getbasetemp(), *again)
        assert rate_in(found.boxes[0].bulk_rate, "us") == pytest.approx(pounds)


LB, IG = (
    {"lot": "LB", "species": "little bluestem", "blend": "mix", "purity_pct": 62, "germination_pct": 71},
    {"lot": "IG", "species": "Indiangrass", "blend": "mix", "purity_pct": 71, "germination_pct": 68},
)


def test_forty_seeds_a_square_foot_of_which_thirty_per_cent_are_little_bluestem(tmp_path):
    plan = read(tmp_path, LB | {"seeds_per_ft2": 40, "seed_share_pct": 30}, IG | {"seed_share_pct": 70})
    seeds = [lot.seeds_per_m2 * FT2 for lot in plan.lots]
    assert seeds == pytest.approx([12, 28], rel=1e-12)
    # by hand: 12 x 43560 / 240670 pounds of live seed, over 0.62 x 0.71
    assert rate_in(plan.lots[0].bulk_rate, "us") == pytest.approx(12 * 43_560 / 240_670 / (0.62 * 0.71), rel=1e-12)


def of_bulk(lot):
    return lot.bulk_rate


def of_pls(lot):
    return lot.pls_rate


def of_seeds(lot):
    return lot.seeds_per_m2


PAIRINGS = {
    ("bulk_rate_lb_ac", "seed_share_pct"): (of_bulk, of_seeds),
    ("bulk_rate_lb_ac", "weight_share_pct"): (of_bulk, of_bulk),
    ("pls_rate_lb_ac", "seed_share_pct"): (of_pls, of_seeds),
    ("pls_rate_lb_ac", "weight_share_pct"): (of_pls, of_pls),
    ("seeds_per_ft2", "seed_share_pct"): (of_seeds, of_seeds),
    ("seeds_per_ft2", "weight_share_pct"): (of_seeds, of_pls),
}


@pytest.mark.parametrize(("columns", "measured"), PAIRINGS.items(), ids=map("-".join, PAIRINGS))
def test_every_pairing_of_rate_and_share_is_met(tmp_path, columns, measured):
    (rate, share), (total, part) = columns, measured
    plan = read(tmp_path, LB | {rate: 9, share: 37.5}, IG | {share: 62.5})
    unit = 1 / FT2 if rate == "seeds_per_ft2" else LB_PER_ACRE
    assert sum(map(total, plan.lots)) == pytest.approx(9 * unit, rel=1e-12)
    assert part(plan.lots[0]) / sum(map(part, plan.lots)) == pytest.approx(0.375, rel=1e-12)


def test_a_bag_and_a_lot_are_mixed_by_shares(tmp_path):
    rows = bag({"seeds_per_ft2": 50, "seed_share_pct": 60}, blend="mix")
    plan = read(tmp_path, *rows, IG | {"seed_share_pct": 40})
    seeds = [lot.seeds_per_m2 * FT2 for lot in plan.lots]
    assert (sum(seeds[:3]), seeds[3]) == pytest.approx((30, 20), rel=1e-12)
    assert [lot.bag for lot in plan.lots] == ["MIX-1"] * 3 + [""]
    assert [box.lot for box in plan.boxes] == ["mix"]
    assert plan.boxes[0].bulk_rate == pytest.approx(plan.lots[0].bag_rate + plan.lots[3].bulk_rate, rel=1e-12)


@pytest.mark.parametrize(("texts", "most"), [
    (["33", "33", "33"], 1.5), (["33.3", "33.3", "33.3"], 0.15), (["50", "50"], 1.0), (["5,0"] * 48, 0.05 * 12),
])  # fmt: skip
def test_sums_may_miss_by_what_rounding_does(texts, most):
    """Half a step of each; of 48, three standard deviations of their sum: 3 x sqrt(48 / 12) = 6 steps."""
    assert rounding(texts) == pytest.approx(most)


def test_rounded_shares_are_taken_for_what_they_are(tmp_path):
    third = [
        {"lot": name, "species": "switchgrass", "blend": "mix", "purity_pct": 90, "germination_pct": 80,
         "pls_rate_lb_ac": 3, "weight_share_pct": 33.3} for name in "ABC"
    ]  # fmt: skip
    plan = read(tmp_path, *third)
    assert [rate_in(lot.pls_rate, "us") for lot in plan.lots] == pytest.approx([1, 1, 1], rel=1e-12)


def test_a_bulk_rate_with_a_tag_gives_the_live_seed(tmp_path):
    plan = read(tmp_path, LB | {"blend": "", "bulk_rate_lb_ac": 10})
    assert rate_in(plan.lots[0].pls_rate, "us") == pytest.approx(10 * 0.62 * 0.71, rel=1e-12)


OATS = {"box": "grain", "lot": "oats", "species": "oats", "bulk_rate_lb_ac": 30}


@pytest.mark.parametrize("columns", [COLUMNS, COLUMNS[:10]], ids=["empty cells", "no columns"])
def test_a_cover_crop_needs_no_tag(tmp_path, columns):
    plan = read(tmp_path, OATS, columns=columns)
    (lot,) = plan.lots
    assert rate_in(plan.boxes[0].bulk_rate, "us") == pytest.approx(30)
    assert not lot.tagged
    assert all(map(math.isnan, (lot.pls, lot.pls_rate, lot.seeds_per_m2, lot.pure_seeds_per_m2, lot.purity)))
    assert (lot.to_dict()["pls"], lot.bag_rate) == (None, lot.bulk_rate)
    assert plan.remarks == (Remark("plan.no_tag", {"lot": "oats"}),)


@pytest.mark.parametrize(("purities", "named"), [
    ((30, 25, 12, 97), ("A", "B", "C")),  # a premixed bag of three beside a nurse crop
    ((30, 25, 97), ("A", "B")),
    ((45, 50, 62), ()),  # three chaffy lots
    ((62, 71, 66), ()),
])  # fmt: skip
def test_poor_lots_beside_others_that_look_like_one_tag_are_named(tmp_path, purities, named):
    lots = [
        {"lot": lot, "species": "switchgrass", "blend": "mix", "pls_rate_lb_ac": 1, "purity_pct": purity,
         "germination_pct": 80} for lot, purity in zip("ABCD", purities, strict=False)
    ]  # fmt: skip
    found = [each["lots"] for each in read(tmp_path, *lots).remarks if each.code == "plan.may_be_a_bag"]
    assert [set(each) for each in found] == ([set(named)] if named else [])
    own = [row | {"bag": row["lot"]} for row in lots]
    assert not [each for each in read(tmp_path, *own).remarks if each.code == "plan.may_be_a_bag"]


def test_lots_that_are_each_in_a_bag_of_their_own_may_say_so(tmp_path):
    """Two chaffy lots of 45 and 50 % purity look like one tag until each has a bag name."""
    rows = [LB | {"purity_pct": 45, "pls_rate_lb_ac": 2}, IG | {"purity_pct": 50, "pls_rate_lb_ac": 2}]
    assert places_of(lambda: read(tmp_path, *rows)) == "line 2, column bag"
    plan = read(tmp_path, rows[0] | {"bag": "one"}, rows[1] | {"bag": "two"})
    assert [rate_in(lot.pls_rate, "us") for lot in plan.lots] == pytest.approx([2, 2], rel=1e-12)
    assert [lot.bag_purity for lot in plan.lots] == [0.45, 0.50]


def test_a_species_of_which_nothing_grew_does_not_spoil_its_bag(tmp_path):
    plan = read(tmp_path, *bag({"bulk_rate_lb_ac": 10}, rows=(*BAG[:2], BAG[2] | {"germination_pct": 0})))
    assert plan.lots[2].pls_rate == 0
    assert sum(lot.bulk_rate for lot in plan.lots) == pytest.approx(10 * LB_PER_ACRE)


def test_half_a_per_cent_of_a_species_in_a_bag_is_no_fraction(tmp_path):
    plan = read(tmp_path, *bag({"bulk_rate_lb_ac": 10}, rows=(*BAG[:2], BAG[2] | {"purity_pct": 0.5})))
    assert plan.lots[2].purity == 0.005


def taken_once(plan):
    return [(each["bag"], each["what"], each["rows"]) for each in plan.remarks if each.code == "plan.taken_once"]


@pytest.mark.parametrize("column", ["bulk_rate_lb_ac", "pls_rate_lb_ac", "seeds_per_ft2"])
def test_a_rate_in_every_row_of_a_bag_is_said_to_be_taken_once(tmp_path, column):
    """Who writes 2 lb/ac of each species gets 2 lb/ac of the bag."""
    assert taken_once(read(tmp_path, *bag({}, **{column: 2}))) == [("MIX-1", "rate", 3)]
    assert taken_once(read(tmp_path, *bag({column: 2}))) == []


def test_the_carrier_of_a_bag_is_that_of_the_whole_bag(tmp_path):
    columns = *COLUMNS, "carrier_lb_ac"
    once = read(tmp_path, *bag({"bulk_rate_lb_ac": 10, "carrier_lb_ac": 5}), columns=columns)
    all_rows = read(tmp_path, *bag({"bulk_rate_lb_ac": 10}, carrier_lb_ac=5), columns=columns)
    for plan in (once, all_rows):
        assert rate_in(plan.boxes[0].carrier, "us") == pytest.approx(5, rel=1e-12)
        assert rate_in(plan.boxes[0].bulk_rate, "us") == pytest.approx(15, rel=1e-12)
    assert (taken_once(once), taken_once(all_rows)) == ([], [("MIX-1", "carrier", 3)])
    two = [BAG[0] | {"bulk_rate_lb_ac": 10, "carrier_lb_ac": 5}, BAG[1] | {"carrier_lb_ac": 4}, BAG[2]]
    assert places_of(lambda: read(tmp_path, *two, columns=columns)) == "line 3, column carrier_lb_ac"


@pytest.mark.parametrize(("purities", "said"), [
    (("40", "30", "29.6"), False), (("40", "35", "25"), True), (("41", "30", "30"), True), (("99", "", ""), False),
])  # fmt: skip
def test_a_bag_of_nothing_but_pure_seed_looks_like_the_shares_of_a_mix(tmp_path, purities, said):
    rows = [row | {"purity_pct": each} for row, each in zip(BAG, purities, strict=True) if each]
    remarks = read(tmp_path, *bag({"pls_rate_lb_ac": 5}, rows=rows)).remarks
    assert [each.code for each in remarks if each.code == "plan.no_inert"] == (["plan.no_inert"] if said else [])


THREE = [
    {"lot": lot, "species": "switchgrass", "blend": "mix", "purity_pct": 90, "germination_pct": 80} for lot in "ABC"
]


@pytest.mark.parametrize(("rates", "said"), [
    ((10, 10, 10), True), ((10, 10.0, 10), True), ((10, 10, 9), False), ((10, 10), False),
])  # fmt: skip
def test_the_same_rate_of_every_lot_of_a_blend_is_said_to_be_added_up(tmp_path, rates, said):
    rows = [row | {"pls_rate_lb_ac": rate} for row, rate in zip(THREE, rates, strict=False)]
    plan = read(tmp_path, *rows)
    found = [each for each in plan.remarks if each.code == "plan.rate_repeated"]
    values = {"blend": "mix", "lots": 3, "column": "pls_rate_lb_ac", "rate": "10"}
    assert found == ([Remark("plan.rate_repeated", values)] if said else [])
    assert rate_in(sum(lot.pls_rate for lot in plan.lots), "us") == pytest.approx(sum(rates))
    shared = [row | {"weight_share_pct": share} for row, share in zip(rows, (100 / len(rates),) * 3, strict=False)]
    if len(set(rates)) == 1:
        assert not [each for each in read(tmp_path, *shared).remarks if each.code == "plan.rate_repeated"]


@pytest.mark.parametrize(("seeds", "said"), [(299, False), (301, True)])
def test_more_seed_than_anyone_sows_is_named(tmp_path, seeds, said):
    """40 seeds/ft2 with a zero too many."""
    (row, *_) = THREE
    remarks = read(tmp_path, row | {"seeds_per_ft2": seeds, "seeds_per_lb": 259_000}).remarks
    assert [each.code for each in remarks] == (["plan.many_seeds"] if said else [])


RATE = {"pls_rate_lb_ac": 3}
SHARED = [LB | {"seeds_per_ft2": 40, "seed_share_pct": 30}, IG | {"seed_share_pct": 70}]
NO_BAG = [row | {"bag": "", "blend": "mix", "pls_rate_lb_ac": 2, "lot": row["species"]} for row in BAG]
REFUSED = {
    "a premixed bag as version 1.0 had it": (NO_BAG, "line 2, column bag"),
    "one lot in all rows and no bag": (
        [row | {"lot": "M1"} for row in NO_BAG], "line 3, column lot; line 4, column lot"
    ),
    "a bag without a name in a box": ([row | {"blend": ""} for row in NO_BAG], "line 4, column blend"),
    "a bag without a rate": (bag({}), "line 2"),
    "different rates in a bag": (
        [BAG[0] | {"bulk_rate_lb_ac": 4}, BAG[1] | {"bulk_rate_lb_ac": 3}, BAG[2]], "line 3, column bulk_rate_lb_ac"
    ),
    "rates of two kinds in a bag": (
        [BAG[0] | {"bulk_rate_lb_ac": 4}, BAG[1] | {"seeds_per_ft2": 4}, BAG[2]], "line 3, column seeds_per_ft2"
    ),
    "a bag of more than all": (bag(RATE, rows=(*BAG[:2], BAG[2] | {"purity_pct": 60})), "line 4, column purity_pct"),
    "a bag in fractions": (
        [row | RATE | {"purity_pct": row["purity_pct"] / 100} for row in BAG], "line 4, column purity_pct"
    ),
    "a bag in fractions that add to more than 1": (
        [BAG[k] | RATE | {"purity_pct": each} for k, each in enumerate((0.402, 0.302, 0.3))],
        "line 4, column purity_pct",
    ),
    "a bag of one row in fractions": ([BAG[0] | RATE | {"purity_pct": 0.3}], "line 2, column purity_pct"),
    "a bag without live seed": (
        bag(RATE, rows=[row | {"germination_pct": 0} for row in BAG]), "line 2, column germination_pct"
    ),
    "a bag of one row without live seed": ([BAG[0] | RATE | {"germination_pct": 0}], "line 2, column germination_pct"),
    "shares of a bag without live seed": (
        [BAG[0] | {"blend": "mix", "germination_pct": 0, "purity_pct": 90, "bulk_rate_lb_ac": 9, "seed_share_pct": 50},
         LB | {"seed_share_pct": 50}], "line 2, column germination_pct"
    ),
    "a species without its part of the tag": (
        [*bag({"bulk_rate_lb_ac": 9})[:2], {"lot": "M1", "species": "oats", "bag": "MIX-1"}],
        "line 4, column purity_pct; line 4, column germination_pct",
    ),
    "a species twice in a bag": ([*bag(RATE), BAG[2] | {"purity_pct": 1}], "line 5, column species"),
    "a bag in two blends": ([BAG[0] | RATE | {"blend": "a"}, BAG[1] | {"blend": "b"}], "line 3, column blend"),
    "a lot beside a blend of bags": ([*bag(RATE, blend="a"), OATS | {"box": "chaffy"}], "line 5, column blend"),
    "a PLS rate without a tag": (
        [{"lot": "oats", "species": "oats", "pls_rate_lb_ac": 30}],
        "line 2, column purity_pct; line 2, column germination_pct",
    ),
    "half a tag": ([OATS | {"purity_pct": 98}], "line 2, column germination_pct"),
    "shares that do not add up": ([SHARED[0], SHARED[1] | {"seed_share_pct": 60}], "line 3, column seed_share_pct"),
    "a lot without a share": ([SHARED[0], IG], "line 3, column seed_share_pct"),
    "shares by seed and by weight": (
        [SHARED[0], IG | {"weight_share_pct": 70}], "line 3, column weight_share_pct"
    ),
    "shares without a rate": ([LB | {"seed_share_pct": 30}, SHARED[1]], "line 2"),
    "shares without a blend": ([LB | RATE | {"seed_share_pct": 100, "blend": ""}], "line 2, column seed_share_pct"),
    "two rates in a blend by shares": ([SHARED[0], SHARED[1] | {"seeds_per_ft2": 20}], "line 3, column seeds_per_ft2"),
    "seeds of a species that is not in the table": (
        [SHARED[0], SHARED[1] | {"species": "unheard of"}], "line 3, column species"
    ),
    "an absurd weight of many lots": (
        [SHARED[0] | {"seeds_per_ft2": 5000}, SHARED[1]], "line 2, column seeds_per_ft2"
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rows", "places"), REFUSED.values(), ids=REFUSED)
def test_what_could_be_misread_is_refused_at_its_place(tmp_path, rows, places):
    assert places_of(lambda: read(tmp_path, *rows)) == places


def test_the_words_of_each_refusal(tmp_path):
    refusals("refused-bags", {name: lambda rows=rows: read(tmp_path, *rows) for name, (rows, _) in REFUSED.items()})


def test_the_sum_is_said_of_what_looks_like_one_tag(tmp_path):
    assert "add to 70 %" in str(problems_of(lambda: read(tmp_path, *NO_BAG))[0])
