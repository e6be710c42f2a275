"""Field checks: what is read, what is refused, field factors, boxes weighed together. All numbers are invented."""

import math
import pickle
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from predictor import Drill, InputError, Lever, SeedBox, Sprockets
from predictor.advice.lot_fit import Stationary
from predictor.domain.catch import output_for_rate, rate_for_output
from predictor.domain.drill import CatchDefaults
from predictor.domain.result import Remark
from predictor.field.comparing import Known
from predictor.field.factors import compare_checks, field_factors as factors_of
from predictor.field.seeds import counted_limits, poisson_limits
from predictor.field.usual import CHECK_SPREAD, FIELD_CENTRE, OWN_SPREAD, SHARED_SPREAD
from predictor.files.field import read_field
from predictor.files.plan import read_plan
from predictor.text.field import SENTENCES
from tests.refused import places_of, refusals

DRILL = Drill(
    "made up",
    12,
    0.19,
    2.2,
    (
        SeedBox("chaffy", "chaffy", Sprockets({"1": 0.4, "2": 0.54})),
        SeedBox("grain", "free-flowing", Lever(0, 60)),
        SeedBox("a+b", "small", Lever(0, 60)),
    ),
)
HEAD = "date,box,lot,setting,area_ha,distance_m,seed_used_kg,seeds_counted,row_length_m,note"


def read(tmp_path, *rows, head=HEAD):
    path = tmp_path / "field.csv"
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    return read_field(path, DRILL)


def standing(rates, sd=0.03):
    """A drill that gives these rates, kg/ha, standing; whatever the setting."""

    def at(box, lot, opening):
        if box.name not in rates:
            return None
        log_output = math.log(output_for_rate(rates[box.name] / 10, DRILL, box))
        return Stationary(log_output, sd, sd, 0.0, 10.0)

    return at


def field_factors(checks, drill, plan, at):
    """Factors of checks that are held against a drill that gives so much, and against this season's plan."""

    def known(part, date):
        entry = plan.target(part.box.name, part.lot) if plan else None
        filling = plan.filling_of(part.box.name, part.lot) if plan else ""
        no_target = (
            Remark("field.part_of_blend", {"lot": part.lot, "blend": filling})
            if filling
            else Remark("field.not_planned")
        )
        seeds = Remark("field.count_not_planned")
        if entry:
            seeds = entry.pure_seeds_per_m2 / entry.bulk_rate
            seeds = seeds if math.isfinite(seeds) else Remark("field.seeds_unknown")
        given = at(part.box, part.lot, part.setting)
        sd = entry.seeds_log_sd if entry else math.nan
        return Known(given and "2026", given, False, entry.bulk_rate if entry else no_target, seeds, sd)

    return factors_of(compare_checks(checks.checks, drill, known), drill)


def test_rows_are_read_with_their_boxes_areas_and_counts(tmp_path):
    found = read(
        tmp_path,
        "2026-11-18,grain,A,30,2,,13,,,to the mark",
        "2026-11-18,chaffy+grain,M + A,2+30,,1000,12,,,",
        "2026-11-18,a+b,B,20,,,,41,10,",
    ).checks
    assert [tuple(part.box.name for part in each.parts) for each in found] == [
        ("grain",),
        ("chaffy", "grain"),
        ("a+b",),
    ]
    assert found[0].rate == pytest.approx(0.65)
    assert found[0].note == "to the mark"
    assert [part.lot for part in found[1].parts] == ["M", "A"]
    assert found[1].area_m2 == pytest.approx(1000 * 12 * 0.19)
    assert (found[2].counted, found[2].seeds_per_m2(0.19)) == (True, pytest.approx(41 / 1.9))


REFUSED = {
    "a box of another name": ("2026-11-18,grian,A,30,2,,13,,,", "line 2, column box"),
    "a setting off the scale": ("2026-11-18,grain,A,61,2,,13,,,", "line 2, column setting"),
    "fewer lots than boxes": ("2026-11-18,chaffy+grain,M,2+30,2,,13,,,", "line 2, column box"),
    "a box twice": ("2026-11-18,grain+grain,A+B,2+30,2,,13,,,", "line 2, column box"),
    "a lot without a name": ("2026-11-18,chaffy+grain,M+,2+30,2,,13,,,", "line 2, column lot"),
    "an area without seed": ("2026-11-18,grain,A,30,2,,,,,", "line 2"),
    "seed and a count": ("2026-11-18,grain,A,30,2,,13,40,10,", "line 2"),
    "an area and a distance": ("2026-11-18,grain,A,30,2,500,13,,,", "line 2"),
    "an area of nothing": ("2026-11-18,grain,A,30,0,,13,,,", "line 2, column area_ha"),
    "seed of nothing": ("2026-11-18,grain,A,30,2,,0,,,", "line 2, column seed_used_kg"),
    "a distance of nothing": ("2026-11-18,grain,A,30,,0,13,,,", "line 2, column distance_m"),
    "a row of no length": ("2026-11-18,grain,A,30,,,,41,0,", "line 2, column row_length_m"),
    "half a seed": ("2026-11-18,grain,A,30,,,,4.5,10,", "line 2, column seeds_counted"),
    "seeds below zero": ("2026-11-18,grain,A,30,,,,-4,10,", "line 2, column seeds_counted"),
    "a day without a year": ("18/11,grain,A,30,2,,13,,,", "line 2, column date"),
    "an area beyond every farm": ("2026-11-18,grain,A,30,9e9,,13,,,", "line 2, column area_ha"),
}


WEIGHED_TWICE = "date,field,box,lot,setting,area_ha,seed_used_kg,seed_loaded_kg,seed_left_kg,use,operator,note"
REFUSED_WEIGHTS = {
    "more left than loaded": ("2026-11-18,,grain,A,30,2,,12,25,,,", "line 2, column seed_left_kg"),
    "as much left as loaded": ("2026-11-18,,grain,A,30,2,,25,25,,,", "line 2, column seed_left_kg"),
    "nothing loaded": ("2026-11-18,,grain,A,30,2,,0,0,,,", "line 2, column seed_loaded_kg"),
    "loaded, and what is left not weighed": ("2026-11-18,,grain,A,30,2,,25,,,,", "line 2"),
    "left, and what was loaded not weighed": ("2026-11-18,,grain,A,30,2,,,12,,,", "line 2"),
    "used, and loaded and left": ("2026-11-18,,grain,A,30,2,13,25,12,,,", "line 2"),
    "used, and left": ("2026-11-18,,grain,A,30,2,13,,12,,,", "line 2"),
    "neither in use nor not": ("2026-11-18,,grain,A,30,2,,25,12,maybe,,", "line 2, column use"),
}


def test_seed_loaded_and_left_is_seed_used(tmp_path):
    row = "2026-11-18,north,chaffy+grain,M+A,2+30,2,,25,12,yes,R.,to the mark"
    one, other = (
        read(tmp_path, each, head=WEIGHED_TWICE).checks[0] for each in (row, row.replace(",,25,12,", ",13,,,"))
    )
    assert (one.used_g, one.loaded_g, one.left_g) == (13_000, 25_000, 12_000)
    assert one.rate == other.rate
    assert (one.field, one.operator, one.use) == ("north", "R.", True)
    assert math.isnan(other.loaded_g)


def test_a_check_that_was_taken_back_is_kept_apart_whatever_is_odd_in_it(tmp_path):
    rows = [f"{row[:-3]},no,," for row, _ in REFUSED_WEIGHTS.values() if row.endswith(",,,")]
    found = read(tmp_path, *rows, "2026-11-18,,grain,A,30,2,,25,12,,,", head=WEIGHED_TWICE)
    assert [each.line for each in found.checks] == [len(rows) + 2]
    assert [(each.line, each.use) for each in found.taken_back] == [(k + 2, False) for k in range(len(rows))]


@pytest.mark.parametrize(("row", "places"), REFUSED_WEIGHTS.values(), ids=REFUSED_WEIGHTS)
def test_what_is_wrong_with_weights_is_one_problem_at_its_place(tmp_path, row, places):
    assert places_of(lambda: read(tmp_path, row, head=WEIGHED_TWICE)) == places


def test_the_words_of_each_refusal_of_weights(tmp_path):
    calls = {name: partial(read, tmp_path, row, head=WEIGHED_TWICE) for name, (row, _) in REFUSED_WEIGHTS.items()}
    refusals("refused-field-weights", calls)


@pytest.mark.parametrize(("row", "places"), REFUSED.values(), ids=REFUSED)
def test_what_is_wrong_is_one_problem_at_its_place(tmp_path, row, places):
    assert places_of(lambda: read(tmp_path, row)) == places


def test_the_words_of_each_refusal(tmp_path):
    refusals("refused-field", {name: partial(read, tmp_path, row) for name, (row, _) in REFUSED.items()})


def test_all_problems_come_together(tmp_path):
    with pytest.raises(InputError) as caught:
        read(tmp_path, "2026-11-18,grian,A,30,2,,13,,,", "2026-11-18,grain,A,99,2,,13,,,", "x,grain,A,30,2,,13,,,")
    assert [problem.line for problem in caught.value.problems] == [2, 3, 4]


def test_two_columns_for_one_thing_are_refused(tmp_path):
    head = "date,box,lot,setting,area_ha,seed_used_kg,seed_used_lb"
    with pytest.raises(InputError, match="seed_used_lb and seed_used_kg say the same thing"):
        read(tmp_path, "2026-11-18,grain,A,30,2,13,", head=head)


def test_one_check_gives_the_closed_form_of_the_normal_prior(tmp_path):
    checks = read(tmp_path, "2026-11-18,grain,A,30,1,,9,,,")
    found = field_factors(checks, DRILL, None, standing({"grain": 10.0}))
    prior, error = SHARED_SPREAD**2 + OWN_SPREAD**2, CHECK_SPREAD**2 + 0.03**2
    weight, usual = prior / (prior + error), math.log(FIELD_CENTRE)
    expected = weight * math.log(0.9) + (1 - weight) * usual
    assert math.log(found.of("grain").factor) == pytest.approx(expected, rel=1e-9)
    assert found.checks[0].factor == pytest.approx(0.9)
    assert found.checks[0].factor_lower < 0.9 < found.checks[0].factor_upper
    assert found.of("grain").lower < found.of("grain").factor < found.of("grain").upper
    assert found.of("chaffy") is None


def test_many_checks_leave_nothing_of_the_prior(tmp_path):
    checks = read(tmp_path, *[f"2026-11-{day:02d},grain,L{day},30,1,,9,,," for day in range(1, 29)])
    found = field_factors(checks, DRILL, None, standing({"grain": 10.0}))
    assert found.of("grain").factor == pytest.approx(0.9, abs=0.002)
    assert found.of("grain").upper - found.of("grain").lower < 0.05


def test_checks_of_one_lot_share_the_error_of_its_catches(tmp_path):
    rows = [f"2026-11-{day:02d},grain,A,30,1,,9,,," for day in range(1, 29)]
    one = field_factors(read(tmp_path, *rows), DRILL, None, standing({"grain": 10.0}, 0.08)).of("grain")
    several = field_factors(
        read(tmp_path, *[row.replace(",A,", f",L{i},") for i, row in enumerate(rows)]),
        DRILL,
        None,
        standing({"grain": 10.0}, 0.08),
    ).of("grain")
    assert one.log_sd > 2 * several.log_sd


def test_three_boxes_weighed_together_are_corrected_alike_and_said_so(tmp_path):
    checks = read(tmp_path, "2026-11-18,chaffy+grain,M+A,2+30,1,,13.5,,,")
    found = field_factors(checks, DRILL, None, standing({"chaffy": 9.0, "grain": 6.0}))
    chaffy, grain = found.of("chaffy"), found.of("grain")
    assert (chaffy.alone, chaffy.together) == (0, 1)
    assert chaffy.factor == pytest.approx(grain.factor, rel=0.02)
    assert 0.9 < chaffy.factor < 0.95
    assert [(each.code, each["boxes"]) for each in found.remarks] == [("field.never_alone", ("chaffy", "grain"))]


def test_a_box_weighed_alone_beside_a_total_tells_the_other(tmp_path):
    """The total is 10 % short and the grain box, alone, is right: the shortfall is the chaffy box's, mostly.

    Few checks leave each near the published mean.
    """
    rows = ["2026-11-18,chaffy+grain,M+A,2+30,1,,13.5,,,", *["2026-11-18,grain,A,30,1,,6,,,"] * 3]
    found = field_factors(read(tmp_path, *rows), DRILL, None, standing({"chaffy": 9.0, "grain": 6.0}))
    assert FIELD_CENTRE + 0.03 < found.of("grain").factor < 1
    assert found.of("chaffy").factor < found.of("grain").factor - 0.02
    assert [(each.code, each["boxes"]) for each in found.remarks] == [("field.never_alone", ("chaffy",))]


def test_without_catches_of_the_lot_there_is_a_rate_and_no_factor(tmp_path):
    found = field_factors(read(tmp_path, "2026-11-18,grain,A,30,1,,9,,,"), DRILL, None, standing({}))
    assert found.boxes == ()
    assert found.checks[0].achieved == pytest.approx(0.9)
    assert found.checks[0].why_not.code == "field.not_planned"
    assert found.checks[0].factor is None


def test_no_seed_found_is_a_count_and_no_crash(tmp_path):
    found = field_factors(read(tmp_path, "2026-11-18,grain,A,30,,,,0,10,"), DRILL, None, standing({"grain": 10.0}))
    assert found.checks[0].achieved == 0
    assert found.boxes == ()  # without a plan nobody knows the seeds in a gram


def test_a_trend_is_told_with_its_limits(tmp_path):
    rows = [
        f"2026-{month:02d}-01,grain,L{month},30,1,,{10 * math.exp(-0.05 * month + wobble)},,,"
        for month, wobble in zip(range(3, 10), [0.002, -0.001, 0.001, -0.002, 0.0, 0.001, -0.001], strict=True)
    ]
    box = field_factors(read(tmp_path, *rows), DRILL, None, standing({"grain": 10.0})).of("grain")
    assert box.trend == pytest.approx(-0.048, abs=0.003)
    assert box.trend_lower < box.trend < box.trend_upper < 0


def test_three_checks_are_too_few_for_a_trend(tmp_path):
    rows = [f"2026-{month:02d}-01,grain,A,30,1,,9,,," for month in (3, 4, 5)]
    assert field_factors(read(tmp_path, *rows), DRILL, None, standing({"grain": 10.0})).of("grain").trend is None


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.6, 1.4), min_size=1, max_size=6), st.permutations(range(6)))
def test_order_of_checks_does_not_matter(tmp_path_factory, ratios, order):
    folder = tmp_path_factory.mktemp("field")
    rows = [f"2026-11-{i + 1:02d},grain,L{i % 2},30,1,,{10 * ratio},,," for i, ratio in enumerate(ratios)]
    mixed = [rows[i] for i in order if i < len(rows)]
    at = standing({"grain": 10.0})
    one = field_factors(read(folder, *rows), DRILL, None, at).of("grain")
    other = field_factors(read(folder, *mixed), DRILL, None, at).of("grain")
    if one is None:  # all of them are likely slips
        assert other is None
        return
    assert (one.factor, one.lower, one.upper) == pytest.approx((other.factor, other.lower, other.upper), rel=1e-9)
    assert min(*ratios, FIELD_CENTRE) - 1e-9 <= one.factor <= max(*ratios, FIELD_CENTRE) + 1e-9


def test_limits_hold_the_true_factor_as_often_as_they_say(tmp_path):
    """Factors drawn from the prior, checks from the model; 400 made-up jobs, Monte Carlo error 1.1 points."""
    rng = np.random.default_rng(5)
    inside = 0
    for _ in range(400):
        scale = math.sqrt(4 / rng.chisquare(4))
        true = math.log(FIELD_CENTRE) + scale * (rng.normal(0, SHARED_SPREAD) + rng.normal(0, OWN_SPREAD))
        off = scale * rng.normal(0, 0.03)  # of the catches
        rates = [10 * math.exp(true - off + scale * rng.normal(0, CHECK_SPREAD)) for _ in range(3)]
        checks = read(tmp_path, *[f"2026-11-18,grain,A,30,1,,{rate},,," for rate in rates])
        box = field_factors(checks, DRILL, None, standing({"grain": 10.0})).of("grain")
        inside += box.lower <= math.exp(true) <= box.upper
    assert abs(inside / 400 - 0.95) <= 3 * 0.011


def test_rate_of_the_standing_drill_is_the_one_assumed_here():
    at = standing({"grain": 10.0})(DRILL.boxes[1], "A", 30.0)
    assert rate_for_output(math.exp(at.log_output), DRILL, DRILL.boxes[0]) == pytest.approx(1.0)


def test_a_factor_stays_what_it_is_when_a_drill_has_more_rows(tmp_path):
    wide = replace(DRILL, rows=24)
    checks = read(tmp_path, "2026-11-18,grain,A,30,1,,9,,,")
    at = standing({"grain": 10.0})
    assert field_factors(checks, wide, None, at).boxes == field_factors(checks, DRILL, None, at).boxes


@pytest.mark.parametrize(("used", "factor"), [("90", 9.0), ("0.9", 0.09)])
def test_a_slip_of_the_decimal_point_is_named_and_makes_no_factor(tmp_path, used, factor):
    checks = read(tmp_path, f"2026-11-18,grain,A,30,1,,{used},,,", "2026-11-19,grain,A,30,1,,9.5,,,")
    found = field_factors(checks, DRILL, None, standing({"grain": 10.0}))
    assert (found.checks[0].finding, found.checks[0].why_not.code) == ("slip", "field.slip")
    assert found.checks[0].why_not["factor"] == pytest.approx(factor)
    assert "decimal" in found.checks[0].why_not["causes"]
    assert found.checks[0].factor is None
    assert found.of("grain").alone == 1
    assert FIELD_CENTRE < found.of("grain").factor < 0.95


def test_seeds_counted_of_an_unknown_lot_are_told_as_such(tmp_path):
    checks = read(tmp_path, "2026-11-18,grain,A,30,,,,40,10,")
    found = field_factors(checks, DRILL, None, standing({"grain": 10.0}))
    assert found.checks[0].why_not.code == "field.count_not_planned"


def test_results_are_compared_hashed_and_pickled_by_their_values(tmp_path):
    checks = read(tmp_path, "2026-11-18,grain,A,30,1,,9,,,", "2026-11-18,grain,A,30,,,,40,10,")
    one, other = (field_factors(checks, DRILL, None, standing({"grain": 10.0})) for _ in range(2))
    assert one == other != field_factors(checks, DRILL, None, standing({"grain": 9.0}))
    assert hash(one) == hash(other)
    assert pickle.loads(pickle.dumps(one)) == one


@pytest.mark.parametrize("remark", [f"field.{code}" for code in SENTENCES])
def test_every_remark_has_a_sentence(remark):
    values = {"lot": "A", "blend": "mix", "lots": "A, B", "factor": 9.0, "boxes": ("chaffy", "grain")}
    values |= {"season": "2025", "ratio": 9.8, "causes": ("decimal", "left")}
    values |= {
        "area_m2": 8e3,
        "row_m": 6.0,
        "how": "used",
        "units": "us",
        "lines": (3,),
        "first": 2,
        "day": "2025-11-08",
    }
    assert str(Remark(remark, values)).endswith(".")


def plan_of(tmp_path, row, columns=""):
    path = tmp_path / "plan.csv"
    path.write_text(f"box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct{columns}\n{row}\n", encoding="utf-8")
    return read_plan(path, DRILL)


def test_a_count_of_seeds_whose_weight_is_unknown_tells_no_rate(tmp_path):
    plan = plan_of(tmp_path, "grain,A,no such seed,2,98,80")
    found = field_factors(read(tmp_path, "2026-11-18,grain,A,14,,,,40,3,"), DRILL, plan, lambda *_: None)
    assert found.checks[0].why_not.code == "field.seeds_unknown"


def test_a_lot_of_a_blend_is_named_by_the_blend(tmp_path):
    plan = plan_of(tmp_path, "grain,A,switchgrass,2,98,80,forb mix", ",blend")
    found = field_factors(read(tmp_path, "2026-11-18,grain,A,14,1,,5,,,"), DRILL, plan, lambda *_: None)
    assert found.checks[0].why_not == Remark("field.part_of_blend", {"lot": "A", "blend": "forb mix"})


def test_an_area_in_two_units_is_one_problem_where_both_are_filled(tmp_path):
    head = HEAD.replace("area_ha", "area_ac,area_ha")
    with pytest.raises(InputError) as caught:
        read(tmp_path, "2026-11-18,grain,A,14,1,1,,5,,,", head=head)
    assert len(caught.value.problems) == 1
    assert len(read(tmp_path, "2026-11-18,grain,A,14,1,,,5,,,", head=head)) == 1


def test_the_limits_of_a_count_hold_the_truth_though_the_seeds_in_a_gram_are_not_sure():
    """Counts about a mean that is off by the error of the seeds in a gram; 2000 draws, Monte Carlo error 0.5 points."""
    rng = np.random.default_rng(7)
    inside = 0
    for _ in range(2000):
        expected, off = 60.0, rng.normal(0, 0.2)
        lower, upper = counted_limits(rng.poisson(expected * math.exp(off)), 0.2)
        inside += lower <= expected <= upper
    assert abs(inside / 2000 - 0.95) <= 3 * 0.005


@pytest.mark.parametrize("seeds", [0, 1, 40])
def test_limits_of_a_sure_count_are_those_of_poisson(seeds):
    assert counted_limits(seeds, 0.0) == pytest.approx(poisson_limits(seeds))
    lower, upper = counted_limits(seeds, 0.3)
    assert lower <= poisson_limits(seeds)[0]
    assert upper > poisson_limits(seeds)[1]


def test_how_sure_the_count_of_seeds_is_enters_the_limits_of_a_counted_check(tmp_path):
    """A count of the plan is known to 3 %, and the table's one of sand bluestem, which has one source, to 40 %."""
    checks = read(tmp_path, "2026-11-18,grain,A,30,,,,40,5,")
    results = []
    for count in ("96640", ""):
        plan = plan_of(tmp_path, f"grain,A,sand bluestem,2,98,80,{count}", ",seeds_per_lb")
        at = standing({"grain": 2 / 0.98 / 0.80 * 1.12085})
        results.append(field_factors(checks, DRILL, plan, at).checks[0])
    counted, table = results
    assert (counted.count_log_sd, table.count_log_sd) == pytest.approx((0.03, 0.40))
    assert counted.ratio == pytest.approx(table.ratio)
    assert counted.factor == pytest.approx(table.factor)
    assert table.ratio_upper / table.ratio == pytest.approx(
        math.exp(math.hypot(math.log(poisson_limits(40)[1] / 40), 1.959964 * 0.40)), rel=1e-4
    )
    # on the scale of logarithms: one check, a count of 40, the catches, and the seeds in a gram; Student, 4 d.f.
    sds = [math.sqrt(CHECK_SPREAD**2 + 1 / 40.5 + 0.03**2 + sd**2) for sd in (0.03, 0.40)]
    reaches = [math.log(each.factor_upper / each.factor) for each in results]
    assert reaches == pytest.approx([2.776445 * sd for sd in sds], rel=1e-5)


def test_counted_checks_of_one_lot_share_the_error_of_its_seeds_in_a_gram(tmp_path):
    """Twenty checks of a lot whose count is off by 40 % leave most of that open; those of weight do not."""
    plan = plan_of(tmp_path, "grain,A,sand bluestem,2,98,80")
    at = standing({"grain": 2 / 0.98 / 0.80 * 1.12085}, 0.001)
    pure = plan.boxes[0].pure_seeds_per_m2 * 0.19 * 100
    counted = [f"2026-11-{day:02d},grain,A,30,,,,{round(pure)},100," for day in range(1, 21)]
    weighed = [f"2026-11-{day:02d},grain,A,30,1,,2.859,,," for day in range(1, 21)]
    by_count, by_weight = (
        field_factors(read(tmp_path, *rows), DRILL, plan, at).of("grain") for rows in (counted, weighed)
    )
    assert by_count.factor == pytest.approx(FIELD_CENTRE, abs=0.01)
    assert by_count.log_sd > 3 * by_weight.log_sd


@pytest.mark.parametrize(("counted", "near"), [("wheel turns", 0.96), ("crank turns", 0.96), ("seconds", 1.0)])
def test_one_check_that_agrees_with_the_standing_drill_corrects_no_meters_that_a_motor_turns(tmp_path, counted, near):
    """What is published is of drive wheels, which slip. It draws one check of 1.00 about half the way to 0.918."""
    made = CatchDefaults(counted=counted, each_covers_m=None if counted == "wheel turns" else 1.3)
    box = replace(DRILL.box("grain"), catch=made)
    drill = replace(DRILL, boxes=(box,))
    (tmp_path / "field.csv").write_text(f"{HEAD}\n2026-11-18,grain,A,30,2,,20,,,\n", encoding="utf-8")
    log_output = math.log(output_for_rate(10 / 10, drill, box))
    found = field_factors(
        read_field(tmp_path / "field.csv", drill), drill, None, lambda *_: Stationary(log_output, 0.03, 0.03, 0.0, 10.0)
    )
    assert found.of("grain").factor == pytest.approx(near, abs=0.005 if near == 1.0 else 0.02)
