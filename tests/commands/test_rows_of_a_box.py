"""A box that feeds every second row, or half the drill, from its plan to its field check. The job is invented."""

import json

import pytest

from tests import golden

DRILL = """
name = "Made-up drill"
rows = 12
row_spacing_in = 7.5
rolling_circumference_ft = 7.2
[[box]]
name = "grass"
holds = "free-flowing"
control = "lever"
highest = 60
[[box]]
name = "legume"
holds = "small"
control = "lever"
highest = 60
"""
PLAN = """box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,seeds_per_lb
grass,G,switchgrass,4,97,70,259000
legume,L,purple prairieclover,2,98,80,300000
"""
ALTERNATE, HALF = "rows = 6\n", "rows = 6\nrow_spacing_in = 7.5\n"


@pytest.fixture
def job(tmp_path):
    """Makes a job whose legume box has further keys; gives its folder."""

    def make(keys, plan=PLAN, **files):
        (tmp_path / "drill.toml").write_text(DRILL + keys)
        (tmp_path / "plan.csv").write_text(plan)
        for name, text in files.items():
            (tmp_path / f"{name}.csv").write_text(text)
        return tmp_path

    return make


def planned(run, folder, *arguments):
    return json.loads(run("plan", "--job", folder, "--json", *arguments).stdout)["boxes"][1]


def test_alternate_rows_double_the_target_catch_and_the_seeds_in_a_foot_of_row(run, job):
    """2 lb/ac PLS over 0.98 x 0.80 are 2.551 lb/ac bulk. Twelve rows of 28 turns x 7.2 ft x 7.5 in cover 1,512 ft2,
    which take 40.16 g. Six rows share it, so three of them give 20.08 g. Own arithmetic.
    """
    every = planned(run, job(""))
    other = planned(run, job(ALTERNATE))
    assert other["target_catch_g"] == pytest.approx(20.08, abs=5e-3)
    assert other["target_catch_g"] == pytest.approx(2 * every["target_catch_g"])
    assert other["seeds_per_row_ft"] == pytest.approx(2 * every["seeds_per_row_ft"])
    assert (other["bulk_rate"], other["seeds_per_ft2"]) == (every["bulk_rate"], every["seeds_per_ft2"])
    assert (other["rows_fed"], every["rows_fed"]) == (6, 12)


def test_a_half_width_pass_keeps_the_target_catch(run, job):
    assert planned(run, job(HALF))["target_catch_g"] == planned(run, job(""))["target_catch_g"]


def test_the_rows_of_a_catch_stop_at_those_that_the_box_feeds(run, job):
    folder = job(ALTERNATE, trials="box,lot,setting,rows,catch_g\nlegume,L,30,7,20\n")
    assert planned(run, folder, "--rows", "9")["rows"] == 6
    done = run("recommend", folder / "trials.csv")
    assert done.returncode == 1
    assert "line 2, column rows" in done.stderr
    (folder / "trials.csv").unlink()
    catch = ["record", folder / "trials.csv", "--box", "legume", "--lot", "L", "--setting", "30", "--catch"]
    done = run(*catch, "20", "--rows", "7", stdin="")
    assert (done.returncode, "--rows: 7 is more than the 6 rows" in done.stderr) == (1, True)
    assert run(*catch, "3+3+3+3+3+3+3", stdin="").returncode == 1
    assert run(*catch, "3.3+3.3+3.4+3.3+3.3+3.4", "--yes", stdin="").returncode == 0


def test_the_rate_of_a_catch_in_alternate_rows_is_that_of_the_whole_width(run, job):
    trials = "box,lot,setting,catch_g\n" + "legume,L,30,20.08\n" * 3
    found = json.loads(run("recommend", job(ALTERNATE, trials=trials) / "trials.csv", "--json").stdout)["results"]
    (legume,) = [each for each in found if each["box"] == "legume"]
    assert legume["target"]["rate"] == pytest.approx(2 / 0.98 / 0.80)
    assert legume["expected"]["rate"] == pytest.approx(2 / 0.98 / 0.80, rel=0.01)
    assert legume["decision"] == "lock"


def test_a_catch_of_all_rows_of_the_box_is_of_the_whole_drill(run, job):
    rows = "box,lot,setting,rows,catch_g\n" + "legume,L,30,6,40.16\n" * 3
    said = [run("recommend", job(keys, trials=rows) / "trials.csv").stdout for keys in (ALTERNATE, "")]
    assert ["caught rows of the standing drill are" in " ".join(each.split()) for each in said] == [False, True]


def checked(run, folder, check):
    (folder / "field.csv").write_text(check)
    return json.loads(run("check", folder / "field.csv", "--json").stdout)["checks"][0]


def test_a_weighed_check_of_a_half_width_pass_is_over_the_ground_of_its_rows(run, job):
    """5,808 ft of 12 rows 7.5 in apart are an acre; six rows sow half of it in that distance."""
    head = "date,box,lot,setting,distance_ft,seed_used_lb\n2026-11-20,{},5808,{}\n"
    for keys, used in (("", 2.551), (ALTERNATE, 2.551), (HALF, 2.551 / 2)):
        found = checked(run, job(keys), head.format("legume,L,30", used))
        assert found["ratio"] == pytest.approx(1.0, abs=1e-4)
    both = head.format("grass+legume,G+L,20+30", 4 / 0.97 / 0.70 + 2.551 / 2)
    assert checked(run, job(HALF), both)["ratio"] == pytest.approx(1.0, abs=1e-4)


def test_seeds_counted_in_a_row_of_boxes_with_different_spacings_are_those_of_each(run, job):
    """In a foot of row lie 0.625 ft2 of the grass and, in every second row, 1.25 ft2 of the legume."""
    pure = {name: rate / germination * count / 43560 for name, rate, germination, count in (
        ("grass", 4, 0.70, 259000), ("legume", 2, 0.80, 300000)
    )}  # fmt: skip
    per_foot = 0.625 * pure["grass"] + 1.25 * pure["legume"]
    head = "date,box,lot,setting,seeds_counted,row_length_ft\n2026-11-20,{},{},100\n"
    both = head.format("grass+legume,G+L,20+30", round(100 * per_foot))
    found = checked(run, job(ALTERNATE), both)
    assert found["ratio"] == pytest.approx(1.0, abs=1e-3)
    assert found["target"] == pytest.approx(sum(pure.values()))
    alone = head.format("legume,L,30", round(100 * 1.25 * pure["legume"]))
    assert checked(run, job(ALTERNATE), alone)["ratio"] == pytest.approx(1.0, abs=1e-3)
    nothing_planned = job(ALTERNATE, plan=PLAN.splitlines()[0] + "\n" + PLAN.splitlines()[1] + "\n")
    assert checked(run, nothing_planned, both)["achieved"] is None


def test_the_field_factor_of_seeds_counted_takes_each_box_by_its_spacing(run, job):
    """The legume gives twice its target while the drill stands, and so it does in the row that was counted."""
    per_foot = 0.625 * 4 / 0.70 * 259000 / 43560 + 1.25 * 2 * 2 / 0.80 * 300000 / 43560
    trials = "box,lot,setting,catch_g\n" + "grass,G,20,23.18\n" * 3 + "legume,L,30,40.16\n" * 3
    head = "date,box,lot,setting,seeds_counted,row_length_ft\n"
    check = f"{head}2026-11-20,grass+legume,G+L,20+30,{100 * per_foot:.0f},100\n"
    assert checked(run, job(ALTERNATE, trials=trials), check)["factor"] == pytest.approx(1.0, abs=0.01)


def test_plan_card_and_report_name_the_rows(run, job):
    folder = job(ALTERNATE, trials="box,lot,setting,catch_g\n" + "legume,L,30,20.08\n" * 3)
    page = folder / "card.html"
    assert run("card", folder / "trials.csv", "--out", page).returncode == 0
    assert run("report", "--job", folder, "--out", folder / "report.html").returncode == 0
    for text in (page.read_text(encoding="utf-8"), (folder / "report.html").read_text(encoding="utf-8")):
        assert "6 of 12 rows, each for 15 in of width" in text
    golden.check("rows-of-a-box", run("plan", "--job", folder).stdout)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ("rows = 12\n", None),
        ("rows = 10\n", "feeds 10 of 12 rows, each for 9 in of width"),
        (HALF, "feeds 6 of 12 rows, 7.5 in apart"),
        ("rows = 6\nrow_spacing_in = 15\n", "feeds 6 of 12 rows, 15 in apart"),
    ],
)
def test_rows_are_said_to_be_apart_only_where_the_file_says_how_far(run, job, keys, words):
    """Ten rows of twelve are two closed for the wheels: the others stay 7.5 in apart."""
    said = " ".join(run("plan", "--job", job(keys)).stdout.split())
    assert ("feeds" in said) is (words is not None)
    assert (words or "") in said
