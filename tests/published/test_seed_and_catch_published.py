"""PLS and catch arithmetic against agency figures. Every source was read; roundings are those printed."""

import csv
from pathlib import Path

import pytest

from predictor.catch import catch_area, output_for_rate, rate_for_output, target_catch_g
from predictor.drill import Drill, Lever, SeedBox
from predictor.seed import pure_live_seed, seeds_per_row_foot
from predictor.units import GRAMS_PER_POUND, LB_PER_ACRE

DATA = Path(__file__).parent / "data"
FT, IN = 0.3048, 0.0254


def rows(name):
    with open(DATA / f"{name}.csv", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def drill(spacing_m, circumference_m):
    return Drill("made up", 12, spacing_m, circumference_m, (SeedBox("a", "small", Lever(0, 60)),))


@pytest.mark.parametrize("row", rows("npwrc_table4_bulk_per_pls"), ids=lambda row: f"{row['purity_pct']}x{row['germination_pct']}")
def test_bulk_pounds_for_a_pls_pound(row):
    """USGS Northern Prairie Wildlife Research Center, table 4, printed to the nearest 0.05 (some a step up)."""
    pls = pure_live_seed(float(row["purity_pct"]) / 100, float(row["germination_pct"]) / 100)
    assert 1 / pls == pytest.approx(float(row["bulk_lb_per_1_lb_pls_published"]), abs=0.0501)


def test_texas_dot_worked_example():
    """Texas DOT: purity 85 x germination 75 = 0.6375; it prints 1.56 from the rounded 0.64, unrounded it is 1.5686."""
    pls = pure_live_seed(0.85, 0.75)
    assert pls == pytest.approx(0.6375, abs=1e-15)
    assert round(1 / pls, 4) == 1.5686
    assert round(1 / round(pls, 2), 2) == 1.56


def test_colorado_reclamation_mix_adds_up():
    """Colorado DRMS, record 493681 p. 15: 17.9 PLS and 44.7 bulk pounds without the alternative; PLS 19 to 86 %."""
    mix = [row for row in rows("co_mix_pls_vs_bulk") if "alternative" not in row["species"]]
    assert sum(float(row["pls_lb_ac_broadcast"]) for row in mix) == pytest.approx(17.9)
    assert sum(float(row["bulk_lb_to_purchase"]) for row in mix) == pytest.approx(44.7)
    for row in mix:
        pls = float(row["implied_pls_pct"]) / 100
        # the printed per cent is rounded to a tenth
        assert float(row["pls_lb_ac_broadcast"]) / pls == pytest.approx(float(row["bulk_lb_to_purchase"]), rel=0.003)


def test_kentucky_seeds_per_foot_of_row():
    """University of Kentucky, seeding-rate page: 35 seeds/ft2 in 7-in rows is 20 per foot (20.4 unrounded)."""
    per_m2 = 35 / FT**2
    assert round(seeds_per_row_foot(per_m2 * 7 * IN)) == 20


def test_kentucky_wheel_turns():
    """The same page: a wheel 60 in around covers 50 ft in 10 turns."""
    assert catch_area(10, 1, 60 * IN, 1.0) == pytest.approx(50 * FT)


def test_a_hundred_square_feet():
    """Soil-health outreach worksheet: 8 ft wheel, 7.5-in rows, 20 turns, one row: 100 ft2; 26.03 g at 25 lb/ac."""
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
    """Yousif, Gedarif University: cotton went out at 85 % of the stationary rate, so 1 / 0.85 must be caught."""
    plain = target_catch_g(1.0, drill(0.19, 2.2), 28, 3)
    assert target_catch_g(1.0, drill(0.19, 2.2), 28, 3, field_factor=0.85) == pytest.approx(plain / 0.85)
