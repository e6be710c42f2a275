"""Meters that a crank, a motor or the hydraulics turn, in US and metric units. The jobs are invented."""

import json

import pytest

from tests import golden

DRILL = """
name = "Made-up drill"
rows = 12
row_spacing_{spacing}
{wheel}
[catch]
{catch}
rows = 3
[[box]]
name = "grain"
holds = "free-flowing"
control = "lever"
highest = 60
{box}
"""
PLAN = """box,lot,species,pls_rate_{rate},purity_pct,germination_pct,seeds_per_lb
grain,W,western wheatgrass,{amount},94,88,110000
"""
WHEEL = {"wheel": "rolling_circumference_ft = 7.2", "catch": "turns = 28"}
SECONDS = {"catch": 'counted = "seconds"\nturns = 28\neach_covers_ft = 7.2'}
CRANK = {**WHEEL, "box": 'counted = "crank turns"\nturns = 40\neach_covers_ft2 = 30'}


@pytest.fixture
def job(tmp_path):
    """Makes a job with a drill of these keys; gives its folder."""

    def make(catches="", unit="us", spacing="in = 7.5", wheel="", catch="", box=""):
        rate, amount = ("lb_ac", 6) if unit == "us" else ("kg_ha", 6.7)
        text = DRILL.format(spacing=spacing, wheel=wheel, catch=catch, box=box)
        (tmp_path / "drill.toml").write_text(text)
        (tmp_path / "plan.csv").write_text(PLAN.format(rate=rate, amount=amount))
        log = tmp_path / "trials.csv"
        log.unlink(missing_ok=True)
        if catches:
            log.write_text("box,lot,setting,catch_g\n" + catches)
        return tmp_path

    return make


def advised(run, folder):
    done = run("recommend", folder / "trials.csv", "--json")
    assert done.returncode == 0, done.stderr
    (found,) = json.loads(done.stdout)["results"]
    return found


def test_a_second_that_covers_a_turn_of_the_wheel_gives_the_same_advice(run, job):
    catches = "grain,W,30,24.1\ngrain,W,36,28.9\n"
    wheel, seconds = (advised(run, job(catches, **keys)) for keys in (WHEEL, SECONDS))
    assert (wheel["next_catch"].pop("counted"), seconds["next_catch"].pop("counted")) == ("wheel turns", "seconds")
    assert "7.2 ft a turn" in wheel.pop("given")
    assert "7.2 ft a second" in seconds.pop("given")
    assert wheel == seconds


def test_a_motor_that_turns_often_makes_no_longer_catch(run, job):
    """1,120 turns of 0.18 ft are 28 turns of 7.2 ft: the same ground, so the same evidence."""
    catches = "grain,W,30,24.1\ngrain,W,36,28.9\n"
    motor = {"catch": 'counted = "motor turns"\nturns = 1120\neach_covers_ft = 0.18'}
    wheel, found = (advised(run, job(catches, **keys)) for keys in (WHEEL, motor))
    for name in ("setting", "decision", "catches_expected_more"):
        assert found[name] == wheel[name]
    assert found["chance"] == pytest.approx(wheel["chance"], rel=1e-9)
    assert found["target"]["catch_g"] == pytest.approx(wheel["target"]["catch_g"])


def test_the_ground_of_a_crank_turn_is_over_the_whole_width(run, job):
    """6 lb/ac PLS over 0.94 x 0.88 is 7.2534 lb/ac. 40 turns of 30 ft2 cover 1,200 ft2 in 12 rows, so 300 ft2 in three:
    7.2534 x 453.59237 x 300 / 43,560 = 22.66 g. Own arithmetic.
    """
    (box,) = json.loads(run("plan", "--job", job(**CRANK), "--json").stdout)["boxes"]
    assert (box["counted"], box["turns"]) == ("crank turns", 40)
    assert box["target_catch_g"] == pytest.approx(22.66, abs=5e-3)


@pytest.mark.slow
def test_seconds_are_said_wherever_the_size_of_a_catch_is_shown(run, job):
    """60 seconds at 4.4 ft/s, which is 3 mph, in metres per second here: 1.34112."""
    seconds = {"catch": 'counted = "seconds"\nturns = 60\ncharge_turns = 10\neach_covers_m = 1.34112'}
    folder = job(unit="metric", spacing="cm = 19", **seconds)
    said = [run("plan", "--job", folder).stdout]
    asked = run("record", folder / "trials.csv", stdin="grain\nW\n30\ns\ny\n31.2\ny\n")
    said += [asked.stderr, asked.stdout, run("recommend", folder / "trials.csv").stdout]
    for name, more in (("card", ()), ("decision", ("--decision",))):
        page = folder / f"{name}.html"
        assert run("card", folder / "trials.csv", *more, "--out", page).returncode == 0
        text = page.read_text(encoding="utf-8")
        assert "60 seconds, 3 rows" in text, name
        assert "10 seconds to charge" in text
        assert "turns" not in text.replace("turns to", "")
    assert run("report", "--job", folder, "--out", folder / "report.html").returncode == 0
    assert "60 seconds, 3 rows" in (folder / "report.html").read_text(encoding="utf-8")
    golden.check("seconds", "\n".join(said).replace(str(folder), "myjob"))


def test_a_longer_catch_is_asked_for_in_turns_of_the_crank(run, job):
    catches = "".join(f"grain,W,30,{grams}\n" for grams in (14, 31, 22, 17, 29, 21))
    text = run("recommend", job(catches, **CRANK) / "trials.csv").stdout
    assert "turns of the crank a catch from here" in " ".join(text.split())


def test_crank_turns_are_in_the_remark_on_a_coarse_scale(run, job):
    folder = job(**{**CRANK, "catch": "turns = 28\nscale_resolution_g = 0.5"})
    assert "turns of the crank" in " ".join(run("plan", "--job", folder).stdout.split("!")[1].split())


def test_no_slip_of_a_wheel_is_foretold_of_meters_that_a_motor_turns(run, job):
    for keys, foretold in ((SECONDS, False), (CRANK, True)):
        folder = job("grain,W,30,24.1\ngrain,W,30,24.3\n", **keys)
        (folder / "field.csv").unlink(missing_ok=True)
        report = folder / "report.html"
        pages = [run("plan", "--job", folder).stdout, run("recommend", folder / "trials.csv").stdout]
        assert run("report", "--job", folder, "--out", report).returncode == 0
        for text in (*pages, report.read_text(encoding="utf-8")):
            assert ("8 % on average" in " ".join(text.split())) is foretold


def test_a_towed_and_a_standing_box_show_the_cautions_of_both(run, job):
    folder = job(**WHEEL, box='[[box]]\nname = "small"\nholds = "small"\ncontrol = "lever"\nhighest = 60')
    head = "box,lot,setting,distance_ft,turns,catch_g,target_g\n"
    (folder / "trials.csv").write_text(head + "grain,W,30,100,,14,14\nsmall,S,30,,28,14,14\n")
    text = " ".join(run("recommend", folder / "trials.csv").stdout.split())
    assert "on stands" in text
    assert "Nobody rides on a towed drill" in text
