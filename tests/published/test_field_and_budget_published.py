"""Field checks and uncertainty budgets agree with published values.

Each test says where its figures come from and whether they were read. If a title, year or page is missing, it was not
recorded when they were read. Catches, areas and distances are invented.
"""

import math

import numpy as np
import pytest
from scipy.special import stdtrit
from statsmodels.stats.rates import confint_poisson

from predictor.domain.catch import rate_for_output
from predictor.domain.control import Lever
from predictor.domain.drill import Drill, SeedBox
from predictor.field.budget import combined_uncertainty, germination_tolerance
from predictor.field.seeds import poisson_limits
from predictor.field.usual import FIELD_CENTRE, OWN_SPREAD, SHARED_SPREAD
from predictor.files.field import read_field
from predictor.units import KG_PER_HECTARE, METRES, SQUARE_METRES, rate_in

# 95 % limits for the mean of a Poisson count, from memory: Garwood (1936), Biometrika 28, 437-442, and Pearson &
# Hartley (1966), Biometrika Tables for Statisticians 1, table 40.
GARWOOD = {
    0: (0.0, 3.689),
    1: (0.0253, 5.572),
    2: (0.242, 7.225),
    3: (0.619, 8.767),
    5: (1.623, 11.668),
    10: (4.795, 18.390),
    20: (12.217, 30.888),
    50: (37.111, 65.919),
}


@pytest.mark.parametrize("count", GARWOOD)
def test_exact_poisson_limits_are_those_of_the_table(count):
    assert poisson_limits(count) == pytest.approx(GARWOOD[count], abs=6e-4)


@pytest.mark.parametrize("count", [1, 7, 63, 500, 20_000])
@pytest.mark.parametrize("level", [0.9, 0.95, 0.99])
def test_exact_poisson_limits_are_those_of_statsmodels(count, level):
    """statsmodels.stats.rates.confint_poisson(count, 1, method="exact-c"). The last run had version 0.15.0."""
    other = confint_poisson(count, 1, method="exact-c", alpha=1 - level)
    assert poisson_limits(count, level) == pytest.approx([float(end) for end in other], rel=1e-9)


def test_what_is_known_before_a_check_is_what_was_published():
    """Yousif, Gedarif University, field seasons 2006-2008 (read; title and page not recorded): field rates in per cent
    of stationary ones of sorghum, millet, sesame, sunflower and cotton.
    """
    factors = np.array([95, 88, 96, 95, 85]) / 100
    assert factors.mean() == pytest.approx(FIELD_CENTRE, abs=5e-4)
    assert np.log(factors).std(ddof=1) == pytest.approx(math.hypot(SHARED_SPREAD, OWN_SPREAD), abs=5e-4)


def test_end_gauge_of_the_guide():
    """JCGM 100:2008, H.1 (from memory): u_c = 32 nm, 16.7 degrees of freedom, U99 = 93 nm with t(16) = 2.92."""
    parts = [(25.0, 18), (9.7, 25.6), (2.9, 50), (16.6, 2)]
    combined, dof, k = combined_uncertainty(parts, 0.99)
    assert combined == pytest.approx(32, abs=0.5)
    assert dof == pytest.approx(16.7, abs=0.1)
    assert k == pytest.approx(2.92, abs=0.005)
    assert k * combined == pytest.approx(93, abs=0.7)  # The guide multiplies the rounded 32


def test_welch_satterthwaite_of_the_guide():
    """JCGM 100:2008, example of G.4.1 (from memory): 0.25, 0.57, 0.82 % with 9, 4 and 14 give u_c = 1.03 % with 19.

    The factor is that of scipy.special.stdtrit. The last run had SciPy 1.17.1.
    """
    combined, dof, k = combined_uncertainty([(0.25, 9), (0.57, 4), (0.82, 14)])
    assert combined == pytest.approx(1.03, abs=0.005)
    assert dof == pytest.approx(19.0, abs=0.1)
    assert k == pytest.approx(float(stdtrit(math.floor(dof), 0.975)), rel=1e-12)


@pytest.mark.parametrize(
    ("percent", "points"),
    [(96, 5), (95.9, 6), (90, 6), (85, 7), (80, 7), (70, 8), (69.9, 9), (60, 9), (59, 10), (0, 10)],
)
def test_germination_tolerances_are_those_of_the_regulation(percent, points):
    """7 CFR 201.63 (read): 96 or over 5 points, 90 to below 96 6, 80 7, 70 8, 60 9, below 60 10."""
    assert germination_tolerance(percent) == points


def drill(rows, spacing_m):
    return Drill("made up", rows, spacing_m, 2.2, (SeedBox("grain", "free-flowing", Lever(0, 60)),), units="metric")


def read(tmp_path, header, row, machine):
    path = tmp_path / "field.csv"
    path.write_text(f"date,box,lot,setting,{header}\n2026-11-18,grain,A,30,{row}\n", encoding="utf-8")
    return read_field(path, machine).checks[0]


def test_refilling_to_a_mark_after_one_round_gives_the_rate_of_the_field_note(tmp_path):
    """kg/ha = 5000 x kg / (run in m x width in m), where the round goes there and back.

    The formula was read in a field-check note in Russian. Its author, title and year were not recorded, so nobody can
    look it up. It holds by own arithmetic: 10,000 m2 in a hectare over twice the run.
    """
    check = read(tmp_path, "distance_m,seed_used_kg", "1200,13.5", drill(24, 0.15))
    assert rate_in(check.rate, "metric") == pytest.approx(5000 * 13.5 / (600 * 24 * 0.15), rel=1e-12)


def test_grams_in_ten_metres_of_row_over_the_spacing_are_kg_per_hectare():
    """Grain SA, planter guide, 2018 (read; page not recorded): kg/ha = grams in 10 m of row / row spacing in m."""
    spacing, grams = 0.91, 3.64
    machine = drill(6, spacing)
    output = grams * machine.rolling_circumference_m / 10  # grams a row and turn
    assert rate_for_output(output, machine, machine.boxes[0]) / KG_PER_HECTARE == pytest.approx(
        grams / spacing, rel=1e-12
    )


def test_seeds_in_a_foot_of_row_are_those_of_the_drill_page(tmp_path):
    """University of Kentucky, web page on seeding rates (read; document, author and year not recorded): 35 seeds/ft2
    in 7-in rows is 20 seeds per foot of row. Unrounded it is 20.4 (own arithmetic), here 204 seeds in 10 ft.
    """
    machine = drill(12, 7 * METRES["in"])
    check = read(tmp_path, "seeds_counted,row_length_ft", "204,10", machine)
    assert check.seeds_per_m2(machine.row_spacing_m) * METRES["ft"] ** 2 == pytest.approx(35, abs=0.05)


def test_pounds_over_acres_are_the_rate(tmp_path):
    """18 lb on 2.5 ac, by own arithmetic."""
    check = read(tmp_path, "area_ac,seed_used_lb", "2.5,18", drill(12, 0.19))
    assert rate_in(check.rate, "us") == pytest.approx(18 / 2.5, rel=1e-14)
    assert check.area_m2 == 2.5 * SQUARE_METRES["ac"]
