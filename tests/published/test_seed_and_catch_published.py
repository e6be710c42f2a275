"""PLS and catch arithmetic agrees with agency figures, which are rounded as printed.

Each test says where its figures come from and whether they were read. If a title, year or page is missing, it was not
recorded when they were read. Figures worked out from them, unrounded or with exact units, are own arithmetic.
"""

import csv
import json
from pathlib import Path

import pytest

from predictor.domain.catch import catch_area, output_for_rate, rate_for_output, target_catch_g
from predictor.domain.control import Lever
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.seed import pure_live_seed
from predictor.domain.species import find
from predictor.files.drill import read_drill
from predictor.files.plan import read_plan
from predictor.units import GRAMS_PER_POUND, LB_PER_ACRE, rate_in
from tests.conftest import SAMPLE
from tests.running import run

DATA = Path(__file__).parent / "data"
FT, IN = 0.3048, 0.0254


def rows(name):
    with open(DATA / f"{name}.csv", encoding="utf-8") as file:
        return list(csv.DictReader(file))


BOX = SeedBox("a", "small", Lever(0, 60))


def drill(spacing_m, circumference_m):
    return Drill("made up", 12, spacing_m, circumference_m, (BOX,))


# The table is printed in steps of 0.05. In these four of sixty cells the step is not the nearest but the one after it
# (own arithmetic).
NOT_NEAREST = {("100", "70"), ("95", "65"), ("90", "95"), ("65", "95")}


@pytest.mark.parametrize(
    "row", rows("npwrc_table4_bulk_per_pls"), ids=lambda row: f"{row['purity_pct']}x{row['germination_pct']}"
)
def test_bulk_pounds_for_a_pls_pound(row):
    """USGS Northern Prairie Wildlife Research Center, Establishment of Seeded Grasslands for Wildlife Habitat in the
    Prairie Pothole Region, table 4 (after USDA-SCS job sheet ND-20, 1980); read, year of the report not recorded.
    """
    purity, germination = row["purity_pct"], row["germination_pct"]
    bulk = 1 / pure_live_seed(float(purity) / 100, float(germination) / 100)
    nearest = (purity, germination) not in NOT_NEAREST
    # Half a step where the nearest is printed, and a whole step where the one after it is.
    assert float(row["bulk_lb_per_1_lb_pls_published"]) == pytest.approx(bulk, abs=0.025 if nearest else 0.05)


def test_texas_dot_worked_example():
    """Texas DOT: purity 85 x germination 75 = 0.6375, printed as 0.64, and 1.56 bulk pounds from that.

    It was read; document, year and page were not recorded. Unrounded it is 1.5686 (own arithmetic), since nothing is
    rounded on the way.
    """
    pls = pure_live_seed(0.85, 0.75)
    assert pls == pytest.approx(0.6375, abs=1e-15)
    assert round(1 / pls, 4) == 1.5686
    assert round(1 / round(pls, 2), 2) == 1.56


def test_agencies_count_hard_and_dormant_seed_by_different_rules(tmp_path):
    """Reference Guide for Texas Ranchers, Seeding Rangeland, adds hard seed: the rule "hard". A sheet in the manner of
    NRCS, Colorado Division of Reclamation, Mining and Safety, public record 984379, p. 22, adds dormant seed: the rule
    "total". Texas DOT and Iowa DOT (IM 469.02) use germination alone.

    All were read. Issuer and page of the first and the years of all were not recorded. The tag is invented, and the
    products are own arithmetic.
    """
    path = tmp_path / "plan.csv"
    path.write_text(
        "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,dormant_pct,hard_pct\n"
        "small,K,switchgrass,3,98,60,10,20\n",
        encoding="utf-8",
    )
    drill = read_drill(SAMPLE / "drill.toml")
    for rule, alive in (("germination", 0.60), ("hard", 0.80), ("total", 0.90)):
        assert read_plan(path, drill, viable=rule).lots[0].pls == pytest.approx(0.98 * alive)


def plan(tmp_path, spacing_m, head, *lines):
    path = tmp_path / "plan.csv"
    path.write_text("\n".join((f"box,lot,species,purity_pct,germination_pct,{head}", *lines)), encoding="utf-8")
    return read_plan(path, drill(spacing_m, 2.2))


def test_colorado_reclamation_mix_adds_up(tmp_path):
    """Colorado Division of Reclamation, Mining and Safety, public record 493681, p. 15 (read; year not recorded):
    17.9 PLS pounds an acre, 44.7 to purchase, without the alternative.

    The per cents, 19 to 86, are worked out from the two printed columns, so this test checks the sums over a mix.
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
    # Per cents are rounded to a tenth. That is at most 0.05 of 19.4, a fourth of a per cent, in each.
    assert rate_in(found.boxes[0].bulk_rate, "us") == pytest.approx(44.7, rel=0.05 / 19.4)


def test_kentucky_seeds_per_foot_of_row(tmp_path):
    """University of Kentucky, web page on seeding rates (read; document, author and year not recorded): 35 seeds/ft2
    in 7-in rows is 20 a foot. Unrounded it is 35 x 7 / 12 (own arithmetic).
    """
    (lot,) = plan(tmp_path, 7 * IN, "seeds_per_ft2", "a,K,switchgrass,98,80,35").lots
    per_foot = lot.seeds_per_row_m(7 * IN) * FT
    assert per_foot == pytest.approx(35 * 7 / 12, rel=1e-12)
    assert round(per_foot) == 20


def test_kentucky_wheel_turns():
    """University of Kentucky, web page on seeding rates (read; document, author and year not recorded): a wheel 60 in
    around covers 50 ft in 10 turns.
    """
    assert catch_area(10, 1, 60 * IN, 1.0) == pytest.approx(50 * FT)


def test_a_hundred_square_feet():
    """Worksheet of a soil-health outreach programme (read; issuer, title and year not recorded): with an 8 ft wheel and
    7.5-in rows, 20 turns of one row cover 100 ft2. That is 20 x 8 x 7.5 / 12, whoever printed it.

    At 25 lb/ac it is 26.03 g with exact units (own arithmetic).
    """
    assert catch_area(20, 1, 8 * FT, 7.5 * IN) == pytest.approx(100 * FT**2)
    assert round(target_catch_g(25 * LB_PER_ACRE, drill(7.5 * IN, 8 * FT), BOX, 20, 1), 2) == 26.03


def test_small_seed_catch_is_small():
    """At 8 lb/ac one 7.5-in row over 100 ft2 gives 8.3 g, by own arithmetic: 8 x 453.59237 / 435.6 = 8.33."""
    assert round(target_catch_g(8 * LB_PER_ACRE, drill(7.5 * IN, 8 * FT), BOX, 20, 1), 1) == 8.3


def test_grams_in_ten_metres_of_row():
    """Grain SA, planter guide, 2018 (read; page not recorded): kg/ha = grams in 10 m of row / row spacing in m.

    The row spacing and the grams are invented.
    """
    spacing, grams = 0.19, 3.2
    rate = rate_for_output(grams, drill(spacing, 10.0), BOX)
    assert rate * 10 == pytest.approx(grams / spacing)
    assert output_for_rate(rate, drill(spacing, 10.0), BOX) == pytest.approx(grams)


def test_seeds_in_a_pound_from_a_twenty_gram_sample():
    """University of Kentucky, web page on seeding rates (read; document, author and year not recorded): seeds a pound
    are the count x 22.68 for a 20 g sample.
    """
    assert round(GRAMS_PER_POUND / 20, 2) == 22.68


def test_field_factor_raises_the_target_catch():
    """Yousif, Gedarif University, field seasons 2006 to 2008 (read; title, journal, year and page not recorded): cotton
    was sown at 85 % of the standing rate. The consequence for the target is own arithmetic.
    """
    plain = target_catch_g(1.0, drill(0.19, 2.2), BOX, 28, 3)
    assert target_catch_g(1.0, drill(0.19, 2.2), BOX, 28, 3, field_factor=0.85) == pytest.approx(plain / 0.85)


def test_switchgrass_of_a_suppliers_page(tmp_path):
    """A supplier's page on pure live seed (read; its name is not kept here): purity 98, germination 92 and dormant 5
    give PLS 95.06 % and 3.16 bulk pounds for 3 PLS pounds. By a TZ test of 85, purity 95 gives 80.75 %.
    """
    path = tmp_path / "plan.csv"
    path.write_text(
        "box,lot,species,blend,pls_rate_lb_ac,purity_pct,germination_pct,dormant_pct,tz_pct,viable\n"
        "a,G,switchgrass,mix,3,98,92,5,,total\n"
        "a,T,switchgrass,mix,3,95,,,85,germination\n",
        encoding="utf-8",
    )
    by_parts, by_tz = read_plan(path, drill(0.19, 2.2)).lots
    assert round(100 * by_parts.pls, 2) == 95.06
    assert round(rate_in(by_parts.bulk_rate, "us"), 2) == 3.16
    assert round(100 * by_tz.pls, 2) == 80.75


def test_hard_seed_decides_the_bulk_of_a_legume(tmp_path):
    """12 germinated and 78 hard: 7.5 times the bulk by germination alone. The tag is one that the trade knows, and the
    ratio is own arithmetic, 90 / 12.
    """
    path = tmp_path / "plan.csv"
    path.write_text(
        "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,hard_pct\na,L,purple prairie clover,1,98,12,78\n",
        encoding="utf-8",
    )
    alone, hard = (read_plan(path, drill(0.19, 2.2), viable=rule).lots[0] for rule in ("germination", "hard"))
    assert alone.bulk_rate / hard.bulk_rate == pytest.approx(7.5, rel=1e-12)


def colorado():
    return [row for row in rows("co_mix_pls_vs_bulk") if "alternative" not in row["species"]]


@pytest.mark.parametrize(("rate", "of_bag"), [("bulk_rate_lb_ac", 44.7), ("pls_rate_lb_ac", 17.9)])
def test_colorado_reclamation_mix_in_one_bag(tmp_path, rate, of_bag):
    """Colorado Division of Reclamation, Mining and Safety, public record 493681, p. 15 (read; year not recorded), as
    one premixed bag of 44.7 bulk pounds: it plants the printed PLS pounds of each species, 17.9 in all, and not 44.7
    pounds a species.

    The per cents of the whole bag are worked out from the printed PLS and bulk pounds.
    """
    mix = colorado()
    lines = [
        f"a,bag,{row['species']},BAG,{100 * float(row['pls_lb_ac_broadcast']) / 44.7!r},100,{of_bag}" for row in mix
    ]
    path = tmp_path / "plan.csv"
    head = f"box,lot,species,bag,purity_pct,germination_pct,{rate}"
    path.write_text("\n".join([head, *lines]), encoding="utf-8")
    found = read_plan(path, drill(0.19, 2.2))
    assert rate_in(found.boxes[0].bulk_rate, "us") == pytest.approx(44.7, rel=1e-12)
    for lot, row in zip(found.lots, mix, strict=True):
        assert rate_in(lot.pls_rate, "us") == pytest.approx(float(row["pls_lb_ac_broadcast"]), rel=1e-12)


MESIC = [
    line for line in (DATA / "mix_mesic_short_prairie.csv").read_text(encoding="utf-8").splitlines() if line[0] != "#"
]


@pytest.mark.parametrize("row", list(csv.DictReader(MESIC)), ids=lambda row: row["species"])
def test_seeds_a_square_foot_of_the_mesic_mix(tmp_path, row):
    """A nursery's published mesic short prairie mix, read: pounds of live seed an acre, and seeds a square foot.

    With the count that its two figures give, the command gives the printed seeds. With the count of the shipped table
    they lie in the range that the table gives for the species.
    """
    rate, seeds = float(row["pls_lb_ac"]), float(row["seeds_ft2"])
    half = 0.5 * 10.0 ** -len(row["seeds_ft2"].partition(".")[2])
    head = "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,seeds_per_lb\n"
    lines = [f"chaffy,A,{row['species']},{rate},90,80,{count}" for count in (seeds * 43_560 / rate, "")]
    found = []
    for line in lines:
        (tmp_path / "plan.csv").write_text(f"{head}{line}\n", encoding="utf-8")
        done = run("plan", "--plan", tmp_path / "plan.csv", "--drill", SAMPLE / "drill.toml", "--json", "--units", "us")
        assert done.returncode == 0, done.stderr
        (lot,) = json.loads(done.stdout)["lots"]
        found.append(lot["seeds_per_ft2"])
    assert f"{found[0]:.2f}" == f"{seeds:.2f}"
    low, high = (each * rate / 43_560 for each in find(row["species"]).range)
    assert low - half <= seeds <= high + half
    assert low * (1 - 1e-9) <= found[1] <= high * (1 + 1e-9)
