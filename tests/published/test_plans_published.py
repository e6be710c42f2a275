"""The command `plan` gives what agencies print: rates in, weights and seeds out, to the printed digits.

Each test says where its figures come from and whether they were read. If a title, year or page is missing, it was not
recorded when they were read. Tags that a source does not print are 100 % pure and 100 % germinated, so that nothing but
the printed figures counts.
"""

import csv
import json

import pytest

from tests.published.test_seed_and_catch_published import DATA, NOT_NEAREST

DRILL = """\
name = "made up"
rows = 12
row_spacing_{spacing}
rolling_circumference_{wheel}
[catch]
turns = {turns}
rows = {rows}
[[box]]
name = "a"
holds = "free-flowing"
control = "lever"
highest = 60
"""


@pytest.fixture
def planned(tmp_path, run):
    """Plans lots with this header on a drill, by the command; gives the JSON."""

    def call(head, *lots, spacing="in = 7.5", wheel="ft = 8", turns=20, rows=1):
        (tmp_path / "drill.toml").write_text(DRILL.format(spacing=spacing, wheel=wheel, turns=turns, rows=rows))
        (tmp_path / "plan.csv").write_text("\n".join([f"box,lot,species,{head}", *lots, ""]))
        done = run("plan", "--job", tmp_path, "--json")
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return call


def test_bulk_pounds_for_a_pls_pound(planned):
    """USGS Northern Prairie Wildlife Research Center, Establishment of Seeded Grasslands for Wildlife Habitat in the
    Prairie Pothole Region, table 4 (after USDA-SCS job sheet ND-20, 1980); read, year of the report not recorded. It is
    printed in steps of 0.05; where the nearest step is not the one that is printed, the next is (own arithmetic).
    """
    with open(DATA / "npwrc_table4_bulk_per_pls.csv", encoding="utf-8") as file:
        table = list(csv.DictReader(file))
    lots = [f"a,{k},switchgrass,all,1,{row['purity_pct']},{row['germination_pct']}" for k, row in enumerate(table)]
    found = planned("blend,pls_rate_lb_ac,purity_pct,germination_pct", *lots)
    assert len(found["lots"]) == len(table) == 60
    for lot, row in zip(found["lots"], table, strict=True):
        nearest = (row["purity_pct"], row["germination_pct"]) not in NOT_NEAREST
        printed = float(row["bulk_lb_per_1_lb_pls_published"])
        assert printed == pytest.approx(lot["bulk_rate"], abs=0.025 if nearest else 0.05)


@pytest.mark.parametrize(("inches", "printed"), [
    (7, {20: 12, 30: 18, 35: 20, 40: 23, 50: 29}), (6, {20: 10, 30: 15, 35: 17, 40: 20, 50: 25}),
])  # fmt: skip
def test_kentucky_seeds_per_foot_of_row(planned, inches, printed):
    """University of Kentucky, web page on wheat (read; document, author and year not recorded): seeds per square foot
    and per foot of row, in whole seeds. It prints 30 x 7 / 12 = 17.5 as 18, and 35 x 6 / 12 = 17.5 as 17.
    """
    for seeds, per_foot in printed.items():
        found = planned(
            "seeds_per_ft2,purity_pct,germination_pct,seeds_per_lb",
            f"a,W,wheat,{seeds},100,100,14000",
            spacing=f"in = {inches}",
        )
        assert found["boxes"][0]["seeds_per_row_ft"] == pytest.approx(per_foot, abs=0.5 + 1e-9)


def test_kentucky_pounds_of_wheat(planned):
    """University of Kentucky, web page on wheat (read; document, author and year not recorded): 35 seeds/ft2 at 14,000
    seeds a pound are 109 lb/ac.
    """
    head = "seeds_per_ft2,purity_pct,germination_pct,seeds_per_lb"
    assert round(planned(head, "a,W,wheat,35,100,100,14000")["boxes"][0]["bulk_rate"]) == 109


@pytest.mark.parametrize(("inches", "grams"), [(6, 0.78), (7, 0.91), (7.5, 0.98), (8, 1.04)])
def test_kentucky_grams_of_a_row(planned, inches, grams):
    """University of Kentucky, web page on wheat (read; document, author and year not recorded): grams a row over 150 ft
    for 1 lb/ac. Planned as a bulk rate without a tag, with 30 turns of a wheel 60 in around.
    """
    found = planned("bulk_rate_lb_ac", "a,W,wheat,1", spacing=f"in = {inches}", wheel="in = 60", turns=30)
    assert round(found["boxes"][0]["target_catch_g"], 2) == grams


def test_irish_seeds_per_square_metre(planned):
    """Irish Farmers Journal (read; issue not recorded): 280 seeds/m2 of 53 g a thousand, 85 % established, are
    174.6 kg/ha. The establishment is put in the place of germination.
    """
    head = "seeds_per_m2,purity_pct,germination_pct,seeds_per_g"
    found = planned(head, f"a,B,barley,280,100,85,{1000 / 53!r}", spacing="cm = 12.5", wheel="m = 2")
    assert round(found["boxes"][0]["bulk_rate"], 1) == 174.6


def test_soil_health_worksheet(planned):
    """Worksheet of a soil-health outreach programme (read; issuer, title and year not recorded): 20 turns of an 8 ft
    wheel and one 7.5-in row are 100 ft2. At 25 lb/ac that is 26.03 g with exact units (own arithmetic), here of a cover
    crop without a tag.
    """
    assert round(planned("bulk_rate_lb_ac", "a,R,rye,25")["boxes"][0]["target_catch_g"], 2) == 26.03


def test_texas_dot(planned):
    """Texas DOT (read; document, year and page not recorded): purity 85, germination 75. It prints PLS 0.64 and, from
    that, 1.56 bulk pounds; unrounded they are 0.6375 and 1.5686 (own arithmetic). Dormant seed does not count.
    """
    head = "pls_rate_lb_ac,purity_pct,germination_pct,dormant_pct,viable"
    (lot,) = planned(head, "a,T,switchgrass,1,85,75,10,germination")["lots"]
    assert (round(lot["pls"], 4), round(lot["bulk_rate"], 4)) == (0.6375, 1.5686)


def test_suppliers_page(planned):
    """A supplier's page on pure live seed (read; its name is not kept here): purity 98, germination 92 and dormant 5
    are PLS 95.06 %, and 3.16 bulk pounds for 3 PLS pounds. A TZ test of 85 and purity 95 are 80.75 %.
    """
    head = "blend,pls_rate_lb_ac,purity_pct,germination_pct,dormant_pct,tz_pct,viable"
    lots = ("a,G,switchgrass,mix,3,98,92,5,,total", "a,T,switchgrass,mix,3,95,,,85,")
    by_parts, by_tz = planned(head, *lots)["lots"]
    assert (round(100 * by_parts["pls"], 2), round(by_parts["bulk_rate"], 2)) == (95.06, 3.16)
    assert round(100 * by_tz["pls"], 2) == 80.75


def test_colorado_mix_in_one_bag(planned):
    """Colorado Division of Reclamation, Mining and Safety, public record 493681, p. 15 (read; year not recorded): 44.7
    bulk pounds hold 17.9 PLS pounds. As one premixed bag; the per cents of the bag are worked out from the printed
    pounds.
    """
    with open(DATA / "co_mix_pls_vs_bulk.csv", encoding="utf-8") as file:
        mix = [row for row in csv.DictReader(file) if "alternative" not in row["species"]]
    pure = [100 * float(row["pls_lb_ac_broadcast"]) / 44.7 for row in mix]
    lots = [f"a,C,{row['species']},BAG,44.7,{each!r},100" for row, each in zip(mix, pure, strict=True)]
    found = planned("bag,bulk_rate_lb_ac,purity_pct,germination_pct", *lots)
    assert (found["boxes"][0]["bulk_rate"], found["bags"][0]["pls_rate"]) == pytest.approx((44.7, 17.9), rel=1e-9)
    assert [lot["pls_rate"] for lot in found["lots"]] == pytest.approx(
        [float(row["pls_lb_ac_broadcast"]) for row in mix], rel=1e-9
    )
