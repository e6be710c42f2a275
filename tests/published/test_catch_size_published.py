"""Published catches by turns of a wheel, over a distance and in the field, worked out by the commands.

Each test says where its figures come from. If a title, year or page is missing, it was not recorded when they were
read. What is not printed there is own arithmetic, and said so.
"""

import json

import pytest

PLAN = "box,lot,species,bulk_rate_{unit}\ngrain,G,{species},{rate}\n"
DRILL = """
name = "Made-up drill"
rows = 12
row_spacing_{spacing}
rolling_circumference_in = {around}
[catch]
scale_resolution_g = 0.001
[[box]]
name = "grain"
holds = "free-flowing"
control = "lever"
highest = 60
"""


@pytest.fixture
def target(run, tmp_path):
    """Target catch of a bulk rate, as the command plan prints it."""

    def ask(spacing, rate, *size, around=60, unit="lb_ac", species="annual ryegrass"):
        (tmp_path / "drill.toml").write_text(DRILL.format(spacing=spacing, around=around))
        (tmp_path / "plan.csv").write_text(PLAN.format(unit=unit, rate=rate, species=species))
        done = run("plan", "--job", tmp_path, "--json", "--rows", "1", *size)
        assert done.returncode == 0, done.stderr
        (box,) = json.loads(done.stdout)["boxes"]
        return box["target_catch_g"]

    return ask


def test_a_hundred_square_feet_of_the_soil_health_worksheet(target):
    """Worksheet of a soil-health outreach programme (read; issuer, title and year not recorded): a wheel 8 ft around,
    rows 7.5 in apart and 20 turns of one row are 100 ft2. At 25 lb/ac that is 26.03 g (own arithmetic, exact units).
    """
    assert round(target("in = 7.5", 25, "--turns", "20", around=96), 2) == 26.03
    assert round(target("in = 7.5", 25, "--distance-ft", "160", around=96), 2) == 26.03


@pytest.mark.parametrize(("spacing", "grams"), [(6, 0.78), (7, 0.91), (7.5, 0.98), (8, 1.04)])
def test_grams_a_row_over_a_hundred_and_fifty_feet_of_the_kentucky_page(target, spacing, grams):
    """University of Kentucky, wheat page (read; title, author and year not recorded): grams in one row over 150 ft for
    1 lb/ac, printed as .78, .91, .98 and 1.04.
    """
    assert round(target(f"in = {spacing}", 1, "--distance-ft", "150"), 2) == grams


def test_fifty_feet_are_ten_turns_of_the_kentucky_wheel(target):
    """University of Kentucky, web page on seeding rates (read; document, author and year not recorded): a wheel 60 in
    around covers 50 ft in 10 turns.
    """
    turns, distance = (target("in = 7", 90, *size) for size in (("--turns", "10"), ("--distance-ft", "50")))
    assert turns == pytest.approx(distance, rel=1e-12)


def test_grams_in_ten_metres_of_row_of_the_planter_guide(target, run, tmp_path):
    """Grain SA, planter guide, 2018 (read; page not recorded): kg/ha = grams in 10 m of row / row spacing in m. The
    spacing and the rate are invented.
    """
    assert target("m = 0.91", 4, "--distance-m", "10", unit="kg_ha") == pytest.approx(3.64, rel=1e-12)
    (tmp_path / "trials.csv").write_text("box,lot,setting,rows,distance_m,catch_g\n" + "grain,G,30,1,10,3.64\n" * 3)
    (found,) = json.loads(run("recommend", tmp_path / "trials.csv", "--json").stdout)["results"]
    assert found["expected"]["rate"] == pytest.approx(3.64 / 0.91, rel=0.005)
    assert found["next_catch"]["length"] == pytest.approx(10)


def test_a_catch_towed_over_a_measured_hundred_feet(target):
    """The method is that of University of Maryland Extension 2019, NC State, Virginia 418-121 and Mississippi P3112
    (read; no figure taken): a measured 100 ft in the field. 100 ft of a row 7.5 in wide are 62.5 ft2, in which 100
    lb/ac are 65.1 g (own arithmetic, exact units).
    """
    assert target("in = 7.5", 100, "--distance-ft", "100") == pytest.approx(100 * 453.59237 * 62.5 / 43560, rel=1e-12)
