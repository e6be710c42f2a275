"""PLS and catch arithmetic against agency figures. Every source was read; roundings are those printed."""

import csv
from pathlib import Path

import pytest

from predictor.catch import catch_area, output_for_rate, rate_for_output, target_catch_g
from predictor.drill import Drill, Lever, SeedBox
from predictor.plan_file import read_plan
from predictor.seed import pure_live_seed
from predictor.units import GRAMS_PER_POUND, LB_PER_ACRE, rate_in

DATA = Path(__file__).parent / "data"
FT, IN = 0.3048, 0.0254


def rows(name):
    with open(DATA / f"{name}.csv", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def drill(spacing_m, circumference_m):
    return Drill("made up", 12, spacing_m, circumference_m, (SeedBox("a", "small", Lever(0, 60)),))


# Printed to steps of 0.05; in these four of sixty cells the step printed is not the nearest but the next.
NOT_NEAREST = {("100", "70"), ("95", "65"), ("90", "95"), ("65", "95")}


@pytest.mark.parametrize(
    "row", rows("npwrc_table4_bulk_per_pls"), ids=lambda row: f"{row['purity_pct']}x{row['germination_pct']}"
)
def test_bulk_pounds_for_a_pls_pound(row):
    """USGS Northern Prairie Wildlife Research Center, table 4 (after USDA-SCS job sheet ND-20, 1980)."""
    purity, germination = row["purity_pct"], row["germination_pct"]
    bulk = 1 / pure_live_seed(float(purity) / 100, float(germination) / 100)
    nearest = (purity, germination) not in NOT_NEAREST
    # half a step where the nearest is printed, a whole one where the next is
    assert float(row["bulk_lb_per_1_lb_pls_published"]) == pytest.approx(bulk, abs=0.025 if nearest else 0.05)


def test_texas_dot_worked_example():
    """Texas DOT: purity 85 x germination 75 = 0.6375, printed as 0.64, and 1.56 bulk pounds from that.

    Unrounded it is 1.5686: no intermediate is rounded here.
    """
    pls = pure_live_seed(0.85, 0.75)
    assert pls == pytest.approx(0.6375, abs=1e-15)
    assert round(1 / pls, 4) == 1.5686
    assert round(1 / round(pls, 2), 2) == 1.56


def plan(tmp_path, spacing_m, head, *lines):
    path = tmp_path / "plan.csv"
    path.write_text("\n".join((f"box,lot,species,purity_pct,germination_pct,{head}", *lines)), encoding="utf-8")
    return read_plan(path, drill(spacing_m, 2.2))


def test_colorado_reclamation_mix_adds_up(tmp_path):
    """Colorado DRMS, record 493681 p. 15: 17.9 PLS pounds an acre, 44.7 to purchase, without the alternative.

    Its per cents are worked out from the two printed columns, so that this checks the sums over a mix.
    """
    mix = [row for row in rows("co_mix_pls_vs_bulk") if "alternative" not in row["species"]]
    pls = [float(row["implied_pls_pct"]) for row in mix]
    assert (round(min(pls)), round(max(pls))) == (19, 86)
    found = plan(
        tmp_path,
        0.19,
        "blend,pls_rate_lb_ac",
        *(
            f"a,{row['species']},{row['species']},100,{row['implied_pls_pct']},mix,{row['pls_lb_ac_broadcast']}"
            for row in mix
        ),
    )
    assert sum(rate_in(lot.pls_rate, "us") for lot in found.lots) == pytest.approx(17.9, rel=1e-12)
    # per cents rounded to a tenth: at most 0.05 of 19.4, a fourth of a per cent, in each
    assert rate_in(found.boxes[0].bulk_rate, "us") == pytest.approx(44.7, rel=0.05 / 19.4)


def test_kentucky_seeds_per_foot_of_row(tmp_path):
    """University of Kentucky, seeding-rate page: 35 seeds/ft2 in 7-in rows is 20 a foot (20.4 unrounded)."""
    (lot,) = plan(tmp_path, 7 * IN, "seeds_per_ft2", "a,K,switchgrass,98,80,35").lots
    per_foot = lot.seeds_per_row_m(7 * IN) * FT
    assert per_foot == pytest.approx(35 * 7 / 12, rel=1e-12)
    assert round(per_foot) == 20


def test_kentucky_wheel_turns():
    """The same page: a wheel 60 in around covers 50 ft in 10 turns."""
    assert catch_area(10, 1, 60 * IN, 1.0) == pytest.approx(50 * FT)


def test_a_hundred_square_feet():
    """Soil-health outreach worksheet: 8 ft wheel, 7.5-in rows, 20 turns, one row are 100 ft2.

    At 25 lb/ac that is 26.03 g with exact units.
    """
    assert catch_area(20, 1, 8 * FT, 7.5 * IN) == pytest.approx(100 * FT**2)
    assert round(target_catch_g(25 * LB_PER_ACRE, drill(7.5 * IN, 8 * FT), 20, 1), 2) == 26.03


def test_small_seed_catch_is_small():
    """At 8 lb/ac one 7.5-in row over 100 ft2 gives 8.3 g, worked out with exact units."""
    assert round(target_catch_g(8 * LB_PER_ACRE, drill(7.5 * IN, 8 * FT), 20, 1), 1) == 8.3


def test_grams_in_ten_metres_of_row():
    """Grain SA planter guide 2018: kg/ha = grams in 10 m of row / row spacing in m."""
    spacing, grams = 0.19, 3.2
    rate = rate_for_output(grams, drill(spacing, 10.0))
    assert rate * 10 == pytest.approx(grams / spacing)
    assert output_for_rate(rate, drill(spacing, 10.0)) == pytest.approx(grams)


def test_seeds_in_a_pound_from_a_twenty_gram_sample():
    """University of Kentucky: count x 22.68 for a 20 g sample."""
    assert round(GRAMS_PER_POUND / 20, 2) == 22.68


def test_field_factor_raises_the_target_catch():
    """Yousif, Gedarif University: cotton went out at 85 % of the stationary rate."""
    plain = target_catch_g(1.0, drill(0.19, 2.2), 28, 3)
    assert target_catch_g(1.0, drill(0.19, 2.2), 28, 3, field_factor=0.85) == pytest.approx(plain / 0.85)
