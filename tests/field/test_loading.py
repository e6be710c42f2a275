"""What goes into each box, fill by fill. All boxes, lots and fields are invented."""

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given, settings, strategies as st

from predictor import Field, InputError, Lever, SeedBox, read_drill, read_plan
from predictor.domain.seed import BoxPlan
from predictor.field.filling import refill
from predictor.field.loading import COARSEST, full_box, load_boxes, place
from predictor.field.stops import STEPS
from tests.conftest import SAMPLE
from tests.running import TODAY

LB, AC, KG, HA = 453.59237, 4046.8564224, 1000.0, 10_000.0
LB_AC, KG_HA = LB / AC, KG / HA
LOT = read_plan(SAMPLE / "plan.csv", read_drill(SAMPLE / "drill.toml"), today=TODAY).target("grain", "CW-26").lots[0]


def box(rates, full_g=None, holds="free-flowing", name="grain", carrier=0.0, bag_g=math.nan, bags=()):
    """A box with lots of these bulk rates; `bags` names the premixed bag of each, where they are in one."""
    names = bags or [""] * len(rates)
    lots = tuple(
        replace(LOT, box=name, lot=f"lot {k}", bag=bag, bulk_rate=rate, bag_weight=bag_g, carrier=0.0)
        for k, (rate, bag) in enumerate(zip(rates, names, strict=True))
    )
    plan = BoxPlan(SeedBox(name, holds, Lever(0, 60), full_g), "mix", lots, sum(rates) + carrier, carrier, 1.0)
    return plan, refill(plan.box, None, 0.1)


def test_fills_bags_and_stops_are_those_worked_out_by_hand():
    """5 lb/ac on 12 + 8 = 20 ac take 100 lb. The box holds 40 lb and is refilled at a quarter, 10 lb; 4 lb stay in it.

    It takes 39.9 lb, since a weight may be 0.1 lb too high. From there to 10 lb are 29.9 lb, 5.98 ac, so the stops are
    every 5.9 ac. The first two refills are 5.9 x 5 = 29.5 lb. At 17.7 ac 2.3 ac are left, for which 11.5 + 4 = 15.5 lb
    must be there. The box then has 39.9 - 29.5 = 10.4 lb, so 5.1 lb are added.
    """
    fields = [Field("north", 12 * AC), Field("south", 8 * AC)]
    found = load_boxes([box([5 * LB_AC], 40 * LB, bag_g=50 * LB)], fields, LB, AC)
    (load,) = found.boxes
    assert [each.weight_g / LB for each in load.fills] == pytest.approx([39.9, 29.5, 29.5, 5.1])
    assert [each.plants_m2 / AC for each in load.fills] == pytest.approx([5.9, 5.9, 5.9, 2.3])
    assert [each.level_g / LB for each in load.fills] == pytest.approx([39.9, 39.9, 39.9, 15.5])
    assert load.fills[0].lasts_m2 / AC == pytest.approx(5.98)
    assert load.fills[-1].lasts_m2 / AC == pytest.approx(20)
    assert [(stop.field.name, stop.within_m2 / AC) for stop in found.stops] == [
        ("north", 0.0), ("north", pytest.approx(5.9)), ("north", pytest.approx(11.8)), ("south", pytest.approx(5.7)),
    ]  # fmt: skip
    assert load.total_g / LB == pytest.approx(104)
    assert load.left_g(20 * AC) / LB == pytest.approx(4)
    assert load.left_g(12 * AC) / LB == pytest.approx(39.9 + 2 * 29.5 - 60)
    # 39.9, 69.4, 98.9 and 104 lb of bags of 50 lb
    opened, left = zip(*load.parts[0].bags, strict=True)
    assert opened == (1, 1, 0, 1)
    assert [each / LB for each in left] == pytest.approx([10.1, 30.6, 1.1, 46.0])


def test_a_metric_box_is_loaded_in_round_kilograms_and_hectares():
    """6 kg/ha on 8 ha take 48 kg; 2 kg should stay. 19.9 - 5 = 14.9 kg last 2.483 ha.

    After two such parts 3.03 ha are left, and the full box has 19.9 - 18.2 = 1.7 kg at their end. That is less than
    2 kg and more than four fifths of it, so there is no third stop. Stops every 2.4 ha would need one, and every
    2.48 ha not. Of 48 + 2 - 0.3 = 49.7 kg 34.78 kg go in up to the first stop, 34.8 kg by the scale.
    """
    (load,) = load_boxes([box([6 * KG_HA], 20 * KG)], [Field("", 8 * HA)], KG, HA).boxes
    assert [each.weight_g / KG for each in load.fills] == pytest.approx([19.9, 14.9, 14.9])
    assert [each.at_m2 / HA for each in load.fills] == pytest.approx([0, 2.48, 4.96])
    assert load.left_g(8 * HA) / KG == pytest.approx(1.7)
    assert load.parts[0].bags is None


def test_a_stop_fills_every_box_that_would_not_last_to_the_next():
    """Full, grain lasts 5.98 ac and small, 20 lb at 1 lb/ac, 14.9 ac: it is filled at 11.8 ac, since 17.7 is too far.

    Alone it would be filled at 14.9 ac, which is one stop more.
    """
    boxes = [box([5 * LB_AC], 40 * LB), box([LB_AC], 20 * LB, "small", "small")]
    found = load_boxes(boxes, [Field("", 20 * AC)], LB, AC)
    filled = [[(load.plan.box.name, k) for load, k in stop.fills] for stop in found.stops]
    assert filled == [[("grain", 0), ("small", 0)], [("grain", 1)], [("grain", 2), ("small", 1)], [("grain", 3)]]
    assert (len(found.stops), found.stops_alone) == (4, 5)


def test_a_box_of_unknown_size_gets_one_load_without_reserve():
    (load,) = load_boxes([box([5 * LB_AC])], [Field("", 20 * AC)], LB, AC).boxes
    assert [each.weight_g / LB for each in load.fills] == pytest.approx([100.0])
    assert load.reserve_g == 0


def test_species_of_a_premixed_bag_are_weighed_out_as_one_and_the_carrier_by_itself():
    (load,) = load_boxes([box([1.0, 2.0, 3.0], bags=("m", "M", ""), carrier=0.5)], [Field("", HA)], KG, HA).boxes
    assert [(part.name, part.rate, len(part.lots)) for part in load.parts] == [
        ("m", 3.0, 2),
        ("lot 2", 3.0, 1),
        ("", 0.5, 0),
    ]
    assert [part.total_g for part in load.parts] == pytest.approx([30_000, 30_000, 5_000])


def test_a_small_weight_is_given_to_a_finer_step():
    """A tenth of a pound is 2 % of 5 lb, and a hundredth of 0.5 lb: common hanging scales show a tenth."""
    (load,) = load_boxes([box([4 * LB_AC, 0.1 * LB_AC, 0.01 * LB_AC])], [Field("", 10 * AC)], LB, AC).boxes
    assert [part.step_g / LB for part in load.parts] == pytest.approx([0.1, 0.01, 0.001])
    assert [part.total_g / LB for part in load.parts] == pytest.approx([40, 1, 0.1])


def test_a_full_box_plants_what_lies_above_its_refill_level():
    load = full_box(*box([2 * LB_AC, 3 * LB_AC], 40 * LB), LB)
    assert load.fills[0].plants_m2 / AC == pytest.approx(29.8 / 5)  # 0.1 lb each are left for rounding up
    assert sum(part.weights[0] for part in load.parts) / LB == pytest.approx(39.9)
    assert [part.weights[0] / LB for part in load.parts] == pytest.approx([16.0, 23.9])


def test_the_end_of_a_field_is_in_that_field():
    fields = [Field("a", 10.0), Field("b", 5.0)]
    assert [place(fields, each)[0].name for each in (0, 10, 10.1, 15)] == ["a", "a", "b", "b"]


def test_a_box_in_another_unit_is_refused_in_a_sentence():
    with pytest.raises(InputError, match="Box grain would have to be filled more than 200 times"):
        load_boxes([box([5 * LB_AC], 40.0)], [Field("", 20 * AC)], LB, AC)


RATES = st.lists(st.floats(0.005, 3.0), min_size=1, max_size=4)


@st.composite
def made_boxes(draw):
    holds = st.sampled_from(["chaffy", "free-flowing", "small"])
    return [
        box(
            draw(RATES),
            draw(st.one_of(st.none(), st.floats(4_000, 80_000))),
            draw(holds),
            f"box {k}",
            draw(st.sampled_from([0.0, 0.3])),
            draw(st.sampled_from([math.nan, 11_340.0, 22_680.0])),
        )
        for k in range(draw(st.integers(1, 3)))
    ]


@settings(max_examples=150)
@given(
    made_boxes(),
    st.lists(st.floats(500, 60_000), min_size=1, max_size=3),
    st.sampled_from([(LB, AC), (KG, HA)]),
    st.floats(0.01, 0.5),
)
def test_whatever_the_boxes_and_fields(boxes, areas, units, reserve):
    """Fills add up, no box overflows or starves, every piece of ground is planted once, and stops go forward."""
    fields = [Field(f"field {k}", each) for k, each in enumerate(areas)]
    whole = sum(areas)
    try:
        found = load_boxes(boxes, fields, *units, reserve)
    except InputError:
        return  # more than 200 stops
    at = [each.at_m2 for each in found.stops]
    assert at[0] == 0
    assert all(old < new < whole for old, new in itertools.pairwise([*at, whole * (1 - 1e-12)][:-1]))
    assert len(found.stops) <= found.stops_alone
    for load in found.boxes:
        full, rate, steps = load.plan.box.full_g, load.plan.bulk_rate, sum(part.step_g for part in load.parts)
        assert load.fills[0].at_m2 == 0
        assert [each.to_m2 for each in load.fills] == [*(each.at_m2 for each in load.fills[1:]), whole]
        assert sum(each.plants_m2 for each in load.fills) == pytest.approx(whole)
        # rounded up: never less than what is needed, and by less than a step of each part more
        need = rate * whole + load.reserve_g
        assert (need - 0.2 * load.reserve_g) * (1 - 1e-6) <= load.total_g + 1e-5 * steps <= need + steps * 1.001
        for k, fill in enumerate(load.fills):
            assert full is None or fill.level_g <= full * (1 + 1e-9)
            before_next = fill.level_g - rate * fill.plants_m2
            last = k == len(load.fills) - 1
            least = 0.8 * load.reserve_g if last or full is None else load.refill.at * full
            assert before_next >= least * (1 - 1e-6) - 1e-5 * steps
            for part in load.parts:
                share = part.rate / rate
                assert part.weights[k] == pytest.approx(share * fill.weight_g, abs=steps + part.step_g)
                assert part.weights[k] / part.step_g == pytest.approx(round(part.weights[k] / part.step_g), abs=1e-6)
        for part in load.parts:
            assert part.step_g <= COARSEST * part.weights[0] * 1.01 or part.step_g == STEPS[-1] * units[0]
            if part.bags is not None:
                taken = sum(part.weights)
                count = sum(opened for opened, _ in part.bags)
                assert (count - 1) * part.bag_g < taken <= count * part.bag_g * (1 + 1e-9)
                assert part.bags[-1][1] == pytest.approx(count * part.bag_g - taken, abs=1e-6)
