"""predictor plan: what a technician reads, and what a program reads. The job is invented."""

import datetime
import json

import pytest

from predictor.text.cautions import CAUTIONS, SHORT
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


def test_technician_reads_catch_rate_load_and_tag_of_every_box(plan):
    code, text, messages = plan("--area-ac", "12")
    assert (code, messages.count("\n")) == (0, 2)  # the next command alone
    small = text[text.index("BOX small") : text.index("\n\n!")]
    # 8 seeds/ft2 of 259,000 per lb is 1.3455 PLS lb/ac; over 0.98 x 0.60 it is 2.2882 bulk lb/ac, on 12 ac
    # 27.46 lb; 28 turns x 7.2 ft x 7.5 in x 3 rows are 378 ft2, hence 9.01 g
    assert small.splitlines() == [
        "BOX small: S9",
        "  CATCH 9.01 g in 28 turns, 3 rows",
        "  Drop 2.29 lb/ac bulk",
        "  Load 27.5 lb",
        "  Lot S9, switchgrass",
        "    PLS 58.8 % by germination (used), PLS 88.2 % with dormant",
        "    1.35 lb/ac PLS is 2.29 lb/ac bulk",
        "    8.00 live seeds/ft2, 5.00 per foot of row",
        "    Seeds: 259,000 per lb, USDA table for switchgrass",
        "",
        "Each load covers the area. Add the seed that must stay in the box.",
    ]


def test_carrier_and_every_lot_of_a_blend_are_shown(plan):
    text = plan("--area-ac", "12")[1]
    blend = text[: text.index("BOX grain")]
    # 4 / (0.625 x 0.71) + 3 / (0.70 x 0.65) + 5 = 20.607 lb/ac; x 378 / 43560 x 453.59237 / 1 = 81.11 g
    for line in (
        "BOX chaffy: tall mix",
        "  CATCH 81.1 g in 28 turns, 3 rows",
        "  Drop 20.6 lb/ac bulk, 5.00 of it carrier",
        "  Load 247 lb, 60.0 of it carrier",
        "    Load 108 lb of this lot",
        "    Load 79.1 lb of this lot",
        "  All lots together",
    ):
        assert line in blend.splitlines(), line


def test_the_rule_in_use_is_marked_and_can_be_chosen(plan):
    assert "PLS 58.8 % by germination (used), PLS 88.2 % with dormant\n" in plan()[1]
    text = plan("--viable", "total")[1]
    assert "PLS 58.8 % by germination, PLS 88.2 % with dormant (used)\n" in text
    assert "1.35 lb/ac PLS is 1.53 lb/ac bulk" in text


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
    assert "Drop 23.1 kg/ha bulk" in text
    assert "seeds/m2" in text
    assert "per metre of row" in text
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
def test_coarse_scale_is_named_and_what_is_said_mends_it(plan, mend):
    text = " ".join(plan()[1].split())
    assert (
        "Box small: the scale's step of 0.1 g is 1.1 % of the catch. Catch 32 turns or 4 rows, or use a scale" in text
    )
    assert "Box small: the scale" not in plan(*mend)[1]


@pytest.mark.parametrize("columns", [40, 60, 80, 200])
@pytest.mark.parametrize("units", ["us", "metric"])
def test_no_line_is_wider_than_the_terminal(plan, columns, units):
    text = plan("--units", units, "--area-ac", "12", columns=columns)[1]
    lines = [line for line in text.splitlines() if "predictor record" not in line]
    assert max(map(len, lines)) <= min(columns, 80)
    assert "CATCH 9.01 g" in text


def test_it_ends_with_a_caution_and_the_next_command(plan, job):
    _, text, messages = plan()
    assert " ".join(text.split()).endswith(SHORT)
    assert messages.splitlines()[-1] == f"  predictor record {job / 'trials.csv'}"


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
    assert 'Read with ";" between cells' in messages


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--turns", "nan"), '"nan" is not a number'),
        (("--turns", "0"), "must be above 0"),
        (("--rows", "2.5"), "2.5 must be a whole number."),
        (("--rows", "13"), "13 is more than the drill's 12 rows."),
        (("--area-ac", "1_0"), '"1_0" is not a number'),
        (("--area-ac", "1", "--area-ha", "1"), "Give the area once"),
        (("--viable", "alive"), "germination, total"),
        (("--units", "furlongs"), "us, metric"),
        (("--colour", "red"), "No such option"),
    ],
)
def test_wrong_options_are_wrong_usage_in_a_sentence(plan, arguments, words):
    code, text, messages = plan(*arguments)
    assert (code, text) == (2, "")
    assert words in messages


def test_missing_files_are_named_with_what_to_do(plan, job):
    (job / "plan.csv").unlink()
    code, text, messages = plan()
    assert (code, text) == (1, "")
    words = "There is no plan file here. Name its folder with --job, or the file with --plan."
    assert f"{job / 'plan.csv'}: {words}" in messages
    assert "There is no folder" in plan("--job", str(job / "none"))[2]
    assert "There is no drill file here. Check the name" in plan("--drill", "none.toml")[2]


def test_everything_wrong_with_a_plan_is_said_on_standard_error(plan, job):
    path = job / "plan.csv"
    path.write_text(path.read_text().replace("62.5", "0.625").replace("grain,", "grian,"))
    code, text, messages = plan()
    assert (code, text) == (1, "")
    assert len(messages.splitlines()) == 2
    assert "line 2, column purity_pct: 0.625 looks like a fraction" in messages
    assert 'line 4, column box: The drill has no box "grian". Did you mean grain?' in messages


def test_help_has_an_example_and_every_caution(plan):
    code, text, _ = plan("--help")
    shown = " ".join(text.split())
    assert code == 0
    assert "predictor plan --job myjob --area-ac 12" in shown
    for caution in CAUTIONS:
        assert caution in shown


def test_seed_tests_are_as_old_as_the_day_of_planting_makes_them(run):
    from tests.conftest import SAMPLE

    fresh = run("plan", "--job", SAMPLE, "--on", "2026-11-25")
    stale = run("plan", "--job", SAMPLE, "--on", "2027-09-01")
    assert "months old" not in fresh.stdout
    assert "months old" in " ".join(stale.stdout.split())
    wrong = run("plan", "--job", SAMPLE, "--on", "spring")
    assert wrong.returncode == 2
    assert "2026-04-18" in wrong.stderr
