"""predictor plan: what a technician reads, and what a program reads. The job is invented."""

import datetime
import json
import re

import pytest

from predictor.text.cautions import CAUTIONS, SHORT
from tests.conftest import SAMPLE
from tests.running import TODAY

DRILL = """
name = "North shed drill"
rows = 12
row_spacing_in = 7.5
rolling_circumference_ft = 7.2
[catch]
turns = 28
rows = 3
scale_resolution_g = 0.1
[[box]]
name = "chaffy"
holds = "chaffy"
control = "sprockets"
positions = [{label = "1", driver = 12, driven = 30}, {label = "2", driver = 15, driven = 28}]
[[box]]
name = "grain"
holds = "free-flowing"
control = "lever"
highest = 100
[[box]]
name = "small"
holds = "small"
control = "lever"
highest = 60
"""
COLUMNS = "purity_pct,germination_pct,dormant_pct,test_date,blend,carrier_lb_ac"
PLAN = f"""box,lot,species,pls_rate_lb_ac,seeds_per_ft2,{COLUMNS}
chaffy,B12,big bluestem,4,,62.5,71,12,{{fresh}},tall mix,5
chaffy,I7,Indiangrass,3,,70,65,20,{{fresh}},tall mix,
grain,W3,western wheatgrass,6,,94,88,0,{{fresh}},,
small,S9,switchgrass,,8,98,60,30,{{old}},,
"""


@pytest.fixture
def job(tmp_path):
    (tmp_path / "drill.toml").write_text(DRILL)
    (tmp_path / "plan.csv").write_text(PLAN.format(fresh=TODAY, old=TODAY - datetime.timedelta(days=400)))
    return tmp_path


@pytest.fixture
def plan(job, run):
    """Runs the command on the job; gives exit code, output and messages."""

    def call(*arguments, columns=80):
        done = run("plan", "--job", job, *arguments, columns=columns)
        return done.returncode, done.stdout, done.stderr

    return call


def test_catch_rate_load_and_seeds_of_a_box_are_those_worked_out_by_hand(plan):
    """8 seeds/ft2 of 259,000 per lb are 1.3455 PLS lb/ac, and over 0.98 x 0.60 they are 2.2882 bulk lb/ac.

    On 12 ac this is 27.46 lb. A catch of 28 turns x 7.2 ft x 7.5 in x 3 rows covers 378 ft2, hence 9.01 g.
    """
    found = json.loads(plan("--json", "--area-ac", "12")[1])
    box, lot = found["boxes"][2], found["lots"][3]
    assert (box["box"], box["lot"], box["turns"], box["rows"]) == ("small", "S9", 28, 3)
    assert box["target_catch_g"] == pytest.approx(9.01, abs=5e-3)
    assert lot["pls_rate"] == pytest.approx(1.3455, abs=5e-5)
    assert box["bulk_rate"] == lot["bulk_rate"] == pytest.approx(2.2882, abs=5e-5)
    assert box["load"] == lot["load"] == pytest.approx(27.46, abs=5e-3)
    assert (box["seeds_per_ft2"], box["seeds_per_row_ft"]) == pytest.approx((8.0, 5.0))


def test_carrier_and_every_lot_of_a_blend_are_added_up(plan):
    """4 / (0.625 x 0.71) + 3 / (0.70 x 0.65) + 5 = 20.607 lb/ac; x 378 / 43560 x 453.59237 = 81.11 g."""
    found = json.loads(plan("--json", "--area-ac", "12")[1])
    box, lots = found["boxes"][0], found["lots"][:2]
    assert (box["bulk_rate"], box["carrier_rate"]) == pytest.approx((20.607, 5.0), abs=5e-4)
    assert box["target_catch_g"] == pytest.approx(81.11, abs=5e-3)
    assert [each["load"] for each in lots] == pytest.approx([12 * 4 / 0.44375, 12 * 3 / 0.455], abs=1e-6)
    assert box["load"] == pytest.approx(sum(each["load"] for each in lots) + 60)


def test_the_load_is_for_the_fields_of_the_drill_file_where_no_area_is_given(plan, job):
    path = job / "drill.toml"
    path.write_text(DRILL + '[[field]]\nname = "n"\narea_ac = 12\n[[field]]\nname = "s"\narea_ac = 8\n')
    found = json.loads(plan("--json")[1])
    assert (found["area"], found["area_unit"]) == (pytest.approx(20), "ac")
    assert [(each["field"], each["area"]) for each in found["fields"]] == [("n", 12.0), ("s", 8.0)]
    assert found["boxes"][2]["load"] == pytest.approx(20 * 2.28816, rel=1e-4)  # lb/ac as worked out above
    assert "12 + 8 = 20 ac in 2 fields" in " ".join(plan()[1].split())
    given = json.loads(plan("--json", "--area-ac", "12")[1])
    assert given["boxes"][2]["load"] == pytest.approx(27.46, abs=5e-3)
    assert (given["area"], given["fields"]) == (pytest.approx(12), [])
    assert "in 2 fields" not in " ".join(plan("--area-ac", "12")[1].split())


def test_text_has_the_numbers_of_the_json(plan):
    """The words around them are held by the golden files of the sample job."""
    text = plan("--area-ac", "12", "--details")[1]
    blend, small = text[text.index("BOX chaffy") : text.index("BOX grain")], text[text.index("BOX small") :]
    for number in ("81.1 g", "20.6 lb/ac", "5.00", "247 lb", "60.0", "108 lb", "79.1 lb"):
        assert number in blend, number
    for number in ("9.0 g", "2.29 lb/ac", "27.5 lb", "58.8 %", "88.2 %", "1.35 lb/ac", "8.00", "5.00", "259,000"):
        assert number in small, number


@pytest.mark.parametrize(("viable", "pls", "bulk_rate"), [("germination", 0.588, 2.2882), ("total", 0.882, 1.5255)])
def test_the_rule_for_live_seed_can_be_chosen(plan, viable, pls, bulk_rate):
    found = json.loads(plan("--json", "--viable", viable)[1])
    assert found["viable"] == viable
    assert (found["lots"][3]["pls"], found["lots"][3]["bulk_rate"]) == pytest.approx((pls, bulk_rate), abs=5e-5)


def test_metric_output_says_the_same_in_metric_units(plan):
    us, metric = (json.loads(plan("--json", "--units", units, *area)[1]) for units, area in (
        ("us", ("--area-ac", "10")), ("metric", ("--area-ha", "4.0468564224"))
    ))  # fmt: skip
    assert metric["rate_unit"] == "kg/ha"
    for ours, theirs in zip(us["boxes"], metric["boxes"], strict=True):
        assert theirs["target_catch_g"] == ours["target_catch_g"]
        # 1 lb/ac is 1.120851 kg/ha (7 digits), 1 lb 0.45359237 kg, 1 ft2 0.09290304 m2, 1 ft 0.3048 m
        assert theirs["bulk_rate"] / ours["bulk_rate"] == pytest.approx(1.120851, rel=1e-6)
        assert theirs["load"] / ours["load"] == pytest.approx(0.45359237, rel=1e-12)
        assert theirs["seeds_per_m2"] * 0.09290304 == pytest.approx(ours["seeds_per_ft2"], rel=1e-12)
        assert theirs["seeds_per_row_m"] * 0.3048 == pytest.approx(ours["seeds_per_row_ft"], rel=1e-12)
    text = plan("--units", "metric", "--area-ha", "5")[1]
    assert not {"lb", "lb/ac", "foot", "seeds/ft2"} & set(text.replace("\n", " ").split(" "))


def test_json_has_the_agreed_shape_and_no_nan(plan, job):
    path = job / "plan.csv"
    path.write_text(path.read_text().replace("western wheatgrass", "unheard of"))
    text = plan("--json")[1]
    assert "NaN" not in text
    found = json.loads(text)
    assert found["schema"] == 1
    assert {"boxes", "lots", "warnings"} <= found.keys()
    assert [(box["box"], box["lot"]) for box in found["boxes"]] == [
        ("chaffy", "tall mix"), ("grain", "W3"), ("small", "S9"),
    ]  # fmt: skip
    assert found["boxes"][1]["seeds_per_ft2"] is None
    assert found["boxes"][1]["load"] is None
    assert found["lots"][0]["pls_germination"] == 0.625 * 0.71
    assert any("unheard of" in warning for warning in found["warnings"])


def test_json_has_the_count_of_seeds_of_each_lot_with_its_range_and_sources(plan, job):
    """Switchgrass in the shipped table: 259,000 a pound, sources from 224,000 to 259,000. A pound is 453.59237 g."""
    lot = json.loads(plan("--json")[1])["lots"][3]
    counts = 259_000, 224_000, 259_000
    assert (lot["seeds_per_lb"], lot["seeds_low"], lot["seeds_high"]) == pytest.approx(counts, rel=1e-12)
    assert lot["seeds_sources"][0] == "usda"
    metric = json.loads(plan("--json", "--units", "metric")[1])["lots"][3]
    in_a_gram = [each / 453.59237 for each in counts]
    assert [metric[f"seeds_{each}"] for each in ("per_g", "low", "high")] == pytest.approx(in_a_gram, rel=1e-12)
    path = job / "plan.csv"
    path.write_text(path.read_text().replace("switchgrass", "unheard of").replace(",,8,98", ",8,,98"))
    lot = json.loads(plan("--json")[1])["lots"][3]
    assert (lot["seeds_per_lb"], lot["seeds_low"], lot["seeds_sources"]) == (None, None, [])


def test_text_and_json_carry_the_same_warnings(plan):
    warnings = json.loads(plan("--json")[1])["warnings"]
    shown = " ".join(plan()[1].split())
    assert len(warnings) == 3
    for warning in warnings:
        assert f"! {warning}" in shown


def test_turns_and_rows_of_the_catch_can_be_chosen(plan):
    usual = json.loads(plan("--json")[1])["boxes"][0]["target_catch_g"]
    found = json.loads(plan("--json", "--turns", "14", "--rows", "12")[1])["boxes"][0]
    assert (found["turns"], found["rows"]) == (14, 12)
    assert found["target_catch_g"] == pytest.approx(2 * usual, rel=1e-14)


@pytest.mark.parametrize("mend", [("--turns", "32"), ("--rows", "4")])
def test_a_coarse_scale_is_mended_by_what_is_said(plan, mend):
    usual, mended = (json.loads(plan("--json", *each)[1])["warnings"] for each in ((), mend))
    assert [each for each in usual if each not in mended and each.startswith("Box small")]
    assert not [each for each in mended if each.startswith("Box small")]


@pytest.mark.parametrize("columns", [40, 60, 80, 200])
@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("more", [[], ["--details"]], ids=["short", "details"])
def test_no_line_is_wider_than_the_terminal(plan, columns, units, more):
    text = plan("--units", units, "--area-ac", "12", *more, columns=columns)[1]
    lines = [line for line in text.splitlines() if "predictor record" not in line]
    assert max(map(len, lines)) <= min(columns, 100)
    assert "9.0 g" in text


def test_the_targets_of_all_boxes_stand_in_one_table_at_the_top(plan):
    """Setting, weight, turns and rows, bulk rate and load, each as in the JSON."""
    lines = plan("--area-ac", "12")[1].splitlines()
    found = json.loads(plan("--area-ac", "12", "--json")[1])["boxes"]
    assert lines[0].split() == ["box", "lot", "setting", "catch", "in", "drop", "load"]
    for line, box in zip(lines[1:], found, strict=False):
        cells = re.split("  +", line.strip())
        assert cells[:2] == [box["box"], box["lot"]]
        assert cells[2] == f"SET {box['first_setting']}".removesuffix(".0")
        assert float(cells[3].removesuffix(" g")) == pytest.approx(box["target_catch_g"], abs=0.05)
        assert cells[4] == "28 turns, 3 rows"
        assert float(cells[5].removesuffix(" lb/ac")) == pytest.approx(box["bulk_rate"], rel=5e-3)
        assert float(cells[6].removesuffix(" lb")) == pytest.approx(box["load"], rel=5e-3)
    assert lines[4] == ""


def test_the_plan_of_three_boxes_fits_on_one_screen(run):
    assert len(run("plan", SAMPLE, "--area-ac", "14").stdout.splitlines()) <= 24


def test_it_ends_with_a_caution_and_the_next_command(plan, job):
    _, text, messages = plan()
    assert " ".join(text.split()).endswith(SHORT)
    assert messages.splitlines()[-1] == f"  predictor record {job}"


def test_files_elsewhere_can_be_named(plan, job, tmp_path_factory):
    other = tmp_path_factory.mktemp("elsewhere")
    usual = plan("--json")[1]
    for name in ("drill.toml", "plan.csv"):
        (job / name).rename(other / name)
    code, text, _ = plan("--json", "--drill", str(other / "drill.toml"), "--plan", str(other / "plan.csv"))
    assert (code, text) == (0, usual)


def test_plan_is_read_from_standard_input(run, job):
    usual = run("plan", "--job", job, "--json").stdout
    found = run("plan", "--job", job, "--plan", "-", "--json", stdin=(job / "plan.csv").read_text())
    assert (found.returncode, found.stdout) == (0, usual)


def test_what_was_assumed_is_said_as_a_message(plan, job):
    path = job / "plan.csv"
    path.write_text(path.read_text().replace(",", ";"))
    code, text, messages = plan("--json")
    assert code == 0
    assert json.loads(text)["boxes"]
    assert '";"' in messages


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("--turns", "nan"), "--turns"),
        (("--turns", "0"), "--turns"),
        (("--rows", "2.5"), "--rows"),
        (("--rows", "13"), "--rows"),
        (("--area-ac", "1_0"), "--area-ac"),
        (("--area-ac", "1", "--area-ha", "1"), "--area-ac"),
        (("--viable", "alive"), "--viable"),
        (("--units", "furlongs"), "--units"),
        (("--on", "spring"), "--on"),
        (("--colour", "red"), "--colour"),
    ],
)
def test_a_wrong_option_is_wrong_usage_and_named(plan, arguments, named):
    code, text, messages = plan(*arguments)
    assert (code, text) == (2, "")
    assert "Error: " in messages
    assert named in messages


def test_missing_files_are_named_with_the_option_to_pass(plan, job):
    (job / "plan.csv").unlink()
    for arguments, file, advice in (
        ((), job / "plan.csv", "--plan"),
        (("--job", job / "none"), job / "none" / "drill.toml", "Name the folder of the job."),
        (("--drill", "none.toml"), "none.toml", "folder"),
    ):
        code, text, messages = plan(*arguments)
        assert (code, text) == (1, "")
        assert messages.startswith(f"{file}: ")
        assert advice in messages


def test_everything_wrong_with_a_plan_is_said_on_standard_error(plan, job):
    path = job / "plan.csv"
    path.write_text(path.read_text().replace("62.5", "0.625").replace("grain,", "grian,"))
    code, text, messages = plan()
    assert (code, text) == (1, "")
    assert len(messages.splitlines()) == 2
    assert f"{path} line 2, column purity_pct: " in messages
    assert f"{path} line 4, column box: " in messages


def test_help_has_an_example_and_every_caution(plan):
    code, text, _ = plan("--help")
    shown = " ".join(text.split())
    assert code == 0
    assert "predictor plan myjob --area-ac 12" in shown
    for caution in CAUTIONS:
        assert caution in shown


def test_seed_tests_are_as_old_as_the_day_of_planting_makes_them(run):
    fresh, stale = (
        json.loads(run("plan", "--job", SAMPLE, "--json", "--on", day).stdout)["warnings"]
        for day in ("2026-11-25", "2027-09-01")
    )
    assert len(stale) > len(fresh)
    assert set(fresh) < set(stale)


def test_a_log_without_days_says_what_to_do_as_one_with_days_does(run, job):
    rows = "".join(f"grain,W3,{setting},{grams}\n" for setting, grams in ((50, 31.4), (40, 25.6), (40, 25.1)))
    (job / "trials.csv").write_text("box,lot,setting,catch_g\n" + rows)
    results = json.loads(run("recommend", job, "--json").stdout)["results"]
    advised = next(each["stage"]["headline"] for each in results if each["box"] == "grain")
    assert advised in [line.strip() for line in run("plan", job, "--details").stdout.splitlines()]
    setting = advised.partition(",")[0]
    for command in ("plan", "recommend"):
        (row,) = [each for each in run(command, job).stdout.splitlines() if each.split()[:2] == ["grain", "W3"]]
        assert f"grain W3 {setting} " in " ".join(row.split()), command
