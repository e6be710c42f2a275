"""A premixed bag, a blend by shares, a cover crop without a tag, hard seed and TZ tests through the commands.

The job is invented, with the drill and the catches of the sample job under other names.
"""

import json

import pytest

from tests import golden

PLAN = """\
box,lot,species,blend,bag,bulk_rate_{rate},pls_rate_{rate},seeds_per_{area},seed_share_pct,purity_pct,germination_pct,tz_pct,\
dormant_pct,hard_pct,viable,seeds_per_{weight},treatment,carrier_{rate}
chaffy,M-26,little bluestem,,MIX-1,{bag},,,,31,72,,6,,,,,
chaffy,M-26,Indiangrass,,MIX-1,,,,,24,68,,9,,,,,
chaffy,M-26,big bluestem,,MIX-1,,,,,20,75,,4,,,,,
chaffy,M-26,purple prairie clover,,MIX-1,,,,,4,20,,,70,hard,,,
chaffy,M-26,blackeyed Susan,,MIX-1,,,,,1.5,80,,,,,,,
grain,oats,oats,,,{oats},,,,,,,,,,,,
small,KS-26,switchgrass,forb mix,,,,{seeds},70,97.5,,88,,,,,,
small,PC-26,purple prairie clover,forb mix,,,,,30,98,12,,3,78,,{count},inoculated,{carrier}
"""
US = {
    "rate": "lb_ac",
    "area": "ft2",
    "weight": "lb",
    "bag": 10,
    "oats": 30,
    "seeds": 20,
    "count": 293_000,
    "carrier": 2,
}
# 1 lb/ac is 1.12085116 kg/ha, 1 ft2 is 0.09290304 m2, and 1 lb 453.59237 g
KG_HA = 0.45359237 / 0.40468564224
METRIC = {
    "rate": "kg_ha", "area": "m2", "weight": "g", "bag": 10 * KG_HA, "oats": 30 * KG_HA, "seeds": 20 / 0.09290304,
    "count": 293_000 / 453.59237, "carrier": 2 * KG_HA,
}  # fmt: skip


@pytest.fixture
def mixed(job):
    """The sample job with other seed in its boxes; its catches are those of the new lots."""
    (job / "plan.csv").write_text(PLAN.format(**US))
    for name in ("trials.csv", "field.csv"):
        text = (job / name).read_text().replace("tall mix", "MIX-1").replace("CW-26", "oats")
        (job / name).write_text(text)
    return job.rename(job.with_name("myjob"))


def plan(run, folder, *arguments):
    return json.loads(run("plan", "--job", folder, "--no-field-factor", "--json", *arguments).stdout)


def test_ten_pounds_of_a_premixed_bag_are_ten_pounds(run, mixed):
    """In grams, over 28 turns x 7.2 ft x 7.5 in x 3 rows = 378 ft2: 10 x 453.59237 x 378 / 43560 = 39.36."""
    found = plan(run, mixed, "--area-ac", "14")
    box, bag = found["boxes"][0], found["bags"][0]
    assert (box["lot"], bag["bag"]) == ("MIX-1", "MIX-1")
    assert box["bulk_rate"] == bag["bulk_rate"] == pytest.approx(10, rel=1e-12)
    assert box["target_catch_g"] == pytest.approx(39.36, abs=5e-3)
    assert (box["load"], bag["load"]) == pytest.approx((140, 140), rel=1e-12)
    lots = found["lots"][:5]
    assert sum(lot["bulk_rate"] for lot in lots) == pytest.approx(10, rel=1e-12)
    assert sum(lot["pls_rate"] for lot in lots) == pytest.approx(bag["pls_rate"], rel=1e-12)
    assert sum(lot["seed_share"] for lot in lots) == pytest.approx(1, rel=1e-12)
    # 31 % of 10 lb/ac x 72 % x 240,670 a pound / 43,560 ft2
    assert lots[0]["seeds_per_ft2"] == pytest.approx(10 * 0.31 * 0.72 * 240_670 / 43_560, rel=1e-12)


def test_the_same_plan_in_metric_units_has_the_same_catches(run, mixed):
    us = plan(run, mixed)
    (mixed / "plan.csv").write_text(PLAN.format(**METRIC))
    metric = plan(run, mixed, "--units", "metric")
    for ours, theirs in zip(us["boxes"], metric["boxes"], strict=True):
        assert theirs["target_catch_g"] == pytest.approx(ours["target_catch_g"], rel=1e-12)


def test_twenty_seeds_of_which_thirty_per_cent_are_clover(run, mixed):
    found = plan(run, mixed)
    assert [lot["seeds_per_ft2"] for lot in found["lots"][6:]] == pytest.approx([14, 6], rel=1e-12)
    assert [lot["seed_share"] for lot in found["lots"][6:]] == pytest.approx([0.7, 0.3], rel=1e-12)


def test_a_cover_crop_has_a_target_and_nothing_is_claimed_of_its_live_seed(run, mixed):
    """30 x 453.59237 x 378 / 43560 = 118.1 g."""
    found = plan(run, mixed)
    box, lot = found["boxes"][1], found["lots"][5]
    assert (box["bulk_rate"], box["target_catch_g"]) == pytest.approx((30, 118.1), abs=0.05)
    assert (box["seeds_per_ft2"], lot["pls"], lot["pls_rate"], lot["seed_share"]) == (None, None, None, None)


def test_what_the_rule_costs_is_the_ratio_of_the_live_seed(run, mixed):
    """12 germinated, 78 hard, 3 dormant: 12, 90 and 93 of a hundred."""
    found = plan(run, mixed)
    clover = found["lots"][7]
    rates = clover["bulk_rate_by_rule"]
    assert rates["germination"] == clover["bulk_rate"]
    assert rates["germination"] / rates["hard"] == pytest.approx(90 / 12, rel=1e-12)
    assert rates["germination"] / rates["total"] == pytest.approx(93 / 12, rel=1e-12)
    for rule in ("hard", "total"):
        other = plan(run, mixed, "--viable", rule)["lots"][7]
        assert (other["viable"], other["bulk_rate"]) == (rule, pytest.approx(rates[rule], rel=1e-12))
    # the bulk of the bag was given, so no rule changes it
    assert found["bags"][0]["bulk_rate_by_rule"] == dict.fromkeys(rates, pytest.approx(10, rel=1e-12))


def test_inoculated_seed_and_carrier_are_caught_as_they_are_sown(run, mixed):
    """Common practice: coats, inoculants and carriers change how seed flows."""
    text = " ".join(run("plan", "--job", mixed, columns=200).stdout.split())
    said = "as it will be sown: inoculated (PC-26), with its carrier mixed in"
    assert text.count("as it will be sown") == text.count(f"Catch the seed {said}") == 1
    run("card", mixed / "trials.csv", "--out", mixed / "c.html")
    assert golden.words((mixed / "c.html").read_text(encoding="utf-8")).count(said) == 1
    assert plan(run, mixed)["lots"][7]["treatment"] == "inoculated"


@pytest.mark.parametrize("columns", [40, 80])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_words_of_the_plan(run, mixed, units, columns):
    arguments = ("plan", "--job", "myjob", "--area-ac", "14", "--units", units, "--details")
    golden.check(f"plan-mixed-{units}-{columns}", golden.session_text(
        run(*arguments, cwd=mixed.parent, columns=columns), *arguments
    ))  # fmt: skip


@pytest.mark.slow
def test_every_command_takes_such_a_plan(run, mixed):
    log, checks = mixed / "trials.csv", mixed / "field.csv"
    for arguments in (
        ("recommend", log, "--json"),
        ("check", checks, "--json"),
        ("card", log, "--out", mixed / "c.html"),
        ("card", log, "--decision", "--out", mixed / "d.html"),
        ("report", "--job", mixed, "--out", mixed / "r.html", "--csv", mixed / "s.csv"),
    ):
        done = run(*arguments)
        assert (done.returncode, "nan" in done.stdout.lower()) == (0, False), (arguments, done.stderr)
    for page in ("c.html", "d.html", "r.html", "s.csv"):
        words = (mixed / page).read_text(encoding="utf-8").lower()
        assert ">nan" not in words
        assert ",nan" not in words
    assert "alive)" not in (mixed / "c.html").read_text(encoding="utf-8")


@pytest.mark.slow
def test_the_words_of_its_report(run, mixed):
    run("report", "--job", mixed, "--out", mixed / "r.html", "--csv", mixed / "s.csv")
    page = golden.words((mixed / "r.html").read_text(encoding="utf-8"))
    seed = page[page.index("Seed tags\n") : page.index("Catches\n")]
    golden.check("report-mixed", f"{seed}\n{(mixed / 's.csv').read_text(encoding='utf-8')}")
