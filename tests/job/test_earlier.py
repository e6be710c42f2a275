"""Earlier logs are found in one way, each catch belongs to one drill, and it counts once."""

import json

import pytest

from predictor.errors import InputError
from predictor.job.earlier import MOST_LOGS, find_logs
from predictor.job.read import read_job

DRILL = """{history}
name = "{name}"
rows = 12
row_spacing_in = 7.5
rolling_circumference_ft = 7.2
[[box]]
name = "{box}"
holds = "small"
control = "lever"
lowest = 0
highest = {highest}
step = 0.5
"""
HEADER = "date,box,lot,setting,turns,rows,catch_g,drill\n"
PLAN = "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,test_date\n"
PLAN += "small,{lot},switchgrass,1.5,95,90,2026-06-01\n"


def catches(year, lots, *, drill="", box="small", grams=1.0, slot=3.0):
    """Rows of lots, three catches each on a line with a dead setting."""
    return "".join(
        f"{year}-05-0{day},{box},{lot},{at},28,3,{grams * level * (at - slot):.1f},{drill}\n"
        for lot, level in lots.items()
        for day, at in ((1, 12), (2, 20), (3, 28))
    )


@pytest.fixture
def farm(tmp_path):
    """Two seasons of one drill, a folder each; the later one has a plan and no catch yet."""

    def write(year, history="", rows="", name="Invented drill", box="small", highest=40, lot="N-26"):
        folder = tmp_path / year
        folder.mkdir(exist_ok=True)
        text = DRILL.format(history=history, name=name, box=box, highest=highest)
        (folder / "drill.toml").write_text(text)
        (folder / "plan.csv").write_text(PLAN.format(lot=lot))
        if rows:
            (folder / "trials.csv").write_text(HEADER + rows)
        return folder

    write("2025", rows=catches(2025, {"A": 1.0, "B": 1.1, "C": 0.9}))
    write("2026", 'history = ["../*/trials.csv"]')
    write.root = tmp_path
    return write


def test_every_command_learns_from_the_same_logs(run, farm):
    folder = farm.root / "2026"
    log = folder / "trials.csv"
    add = ("record", log, "--box", "small", "--lot", "N-26", "--setting", "15", "--catch", "12.1", "--json")
    recorded = json.loads(run(*add).stdout)["results"][0]
    recommended = json.loads(run("recommend", log, "--json").stdout)["results"][0]
    carded = json.loads(run("card", log, "--json", "--out", folder / "card.html").stdout)["results"][0]
    assert run("report", "--job", folder, "--out", folder / "r.html").returncode == 0
    compared = json.loads(run("compare", log, "--json").stdout)["results"][0]
    assert "3 earlier lots" in recorded["history"]
    for name in ("setting", "chance", "decision", "history"):
        assert recorded[name] == recommended[name] == carded[name]
    assert "3 earlier lots" in " ".join((folder / "r.html").read_text().split())
    assert [each["lot"] for each in compared["lots"]] == ["A", "B", "C", "N-26"]


def test_no_command_learns_where_it_is_not_wanted(run, farm):
    folder = farm.root / "2026"
    log = folder / "trials.csv"
    add = ("record", log, "--box", "small", "--lot", "N-26", "--setting", "15", "--catch", "12.1", "--json")
    found = [
        json.loads(run(*command, "--no-history").stdout)["results"][0]
        for command in (add, ("recommend", log, "--json"), ("card", log, "--json", "--out", folder / "c.html"))
    ]
    assert [each["history"] for each in found] == ["", "", ""]
    assert run("report", "--job", folder, "--out", folder / "r.html", "--no-history").returncode == 0
    assert "earlier lots" not in " ".join((folder / "r.html").read_text().split())
    (folder / "field.csv").write_text("date,box,lot,setting,area_ac,seed_used_lb\n2026-05-09,small,N-26,15,2,4\n")
    assert run("check", folder / "field.csv", "--no-history").returncode == 0
    assert run("plan", "--job", folder, "--no-history").returncode == 0
    assert [
        each["lot"] for each in json.loads(run("compare", log, "--no-history", "--json").stdout)["results"][0]["lots"]
    ] == ["N-26"]


def test_files_named_by_options_add_to_those_of_the_drill_file(run, farm):
    folder = farm.root / "2026"
    (folder / "old.csv").write_text(HEADER + catches(2024, {"D": 1.0}))
    more = json.loads(run("recommend", folder / "trials.csv", "--history", folder / "old.csv", "--json").stdout or "{}")
    assert more == {}  # no log yet: the command says how it is begun
    job = read_job(folder, earlier=[folder / "old.csv"])
    assert job.history(job.drill.boxes[0], "N-26", "2026").lots == ("D (2024)", "A (2025)", "B (2025)", "C (2025)")


def test_a_path_a_folder_and_a_single_string_are_read(farm):
    for history in ('history = "../2025/trials.csv"', 'history = ["../2025"]', 'history = ["../20[2]5", "../2025"]'):
        (log,) = read_job(farm("2026", history)).earlier
        assert len(log) == 9


def test_a_missing_file_is_named_with_line_and_key(farm):
    with pytest.raises(InputError) as error:
        read_job(farm("2026", 'history = ["../2031/trials.csv", "../2030/trials.csv"]'))
    first, second = error.value.problems
    assert (first.line, first.key) == (1, "history")
    assert "2031" in first.message
    assert "2030" in second.message


@pytest.mark.parametrize("value", ["5", '[""]', '["a", 3]', '{a = "b"}', '["../**/trials.csv"]', '["a\\u0000b"]'])
def test_what_cannot_be_a_log_is_refused(farm, value):
    with pytest.raises(InputError) as error:
        read_job(farm("2026", f"history = {value}"))
    (problem,) = error.value.problems
    assert (problem.line, problem.key) == (1, "history")


def test_a_pattern_that_matches_nothing_is_said_and_no_error(farm):
    job = read_job(farm("2026", 'history = ["../19*/trials.csv"]'))
    assert job.earlier == ()
    assert any("19*" in each and "line 1" in each for each in job.messages)


def test_a_pattern_that_matches_thousands_of_files_ends_at_once(farm, tmp_path):
    folder = farm("2026", 'history = ["many/*.csv"]')
    (folder / "many").mkdir()
    for k in range(MOST_LOGS + 1):
        (folder / "many" / f"{k}.csv").write_text("")
    with pytest.raises(InputError, match=f"more than {MOST_LOGS} files"):
        read_job(folder)


def test_the_own_log_and_a_log_that_is_only_begun_are_left_out(farm):
    folder = farm("2026", 'history = ["*.csv"]', catches(2026, {"N-26": 1.0}))
    (folder / "plan.csv").rename(folder / "plan.txt")
    (folder / "begun.csv").write_text(HEADER)
    job = read_job(folder, plan=folder / "plan.txt")
    assert job.earlier == ()
    assert job.messages == ()


def test_a_catch_in_two_logs_counts_once(farm):
    folder = farm("2026", 'history = ["../*/trials.csv"]', catches(2025, {"A": 1.0}) + catches(2026, {"N-26": 1.0}))
    job = read_job(folder)
    assert len(job.everything) == 12
    assert any("counted once" in each for each in job.messages)


def test_a_log_beside_another_drill_is_read_by_its_control_and_kept_apart(farm):
    farm("other", rows=catches(2025, {"X": 1.0}).replace(",28,28,3,", ",70,28,3,"), name="South drill", highest=80)
    job = read_job(farm.root / "2026")
    (other,) = job.others
    assert set(other.drill_name.tolist()) == {"South drill"}
    assert other.opening.max() == 70
    assert set(job.everything.lot.tolist()) == {"A", "B", "C"}
    assert any("South drill" in each for each in job.messages)


def test_rows_of_another_drill_in_the_own_log_are_no_catches_of_this_one(farm):
    own = catches(2026, {"N-26": 1.0}, drill="invented Drill") + catches(2026, {"N-26": 3.0}, drill="South drill")
    job = read_job(farm("2026", "", own))
    assert job.trials.drill_name.tolist() == ["invented Drill"] * 3
    assert [each.drill_name.tolist() for each in job.others] == [["South drill"] * 3]
    said = [each for each in job.messages if "South drill" in each]
    assert len(said) == 1


def test_catches_of_this_drill_in_a_log_beside_another_come_home(farm):
    rows = catches(2024, {"X": 1.0}, drill="South drill") + catches(2024, {"Y": 1.0}, drill="Invented drill")
    farm("other", rows=rows, name="South drill", highest=80)
    job = read_job(farm.root / "2026")
    assert "Y" in job.everything.lot
    assert "X" not in job.everything.lot


def test_one_other_spelling_of_the_name_loses_no_catches(farm):
    job = read_job(farm("2026", "", catches(2026, {"N-26": 1.0}, drill="the big one")))
    assert (len(job.trials), job.others) == (3, ())
    assert any("the big one" in each and "Invented drill" in each for each in job.messages)


def test_standard_input_has_no_folder_of_its_own(farm):
    folder = farm.root / "2026"
    job = read_job(folder)
    assert find_logs(job.drill, folder / "drill.toml", [], ["-"])[0] == [str(farm.root / "2025" / "trials.csv")]


def test_plan_and_record_give_the_first_setting_that_recommend_gives(run, farm):
    folder = farm.root / "2026"
    (box,) = json.loads(run("plan", folder, "--json").stdout)["boxes"]
    assert box["first_setting_from"] == "from 3 earlier lots"
    lines = run("plan", folder).stdout.splitlines()
    assert f"  First setting {box['first_setting']:g}, from 3 earlier lots" in lines
    asked = run("record", folder, stdin=f"small\nN-26\n\ns\ny\n{box['target_catch_g']:.1f}\n")
    assert f"(advised {box['first_setting']:g}, from 3 earlier lots)" in " ".join(asked.stderr.split())
    log = (folder / "trials.csv").read_text()
    assert f",N-26,{box['first_setting']:g}," in log
    # once it is caught, the advice takes over
    (box,) = json.loads(run("plan", folder, "--json").stdout)["boxes"]
    assert (box["first_setting"], box["first_setting_from"]) == (None, None)


def test_without_history_the_first_setting_is_the_middle_and_enter_does_not_take_it(run, farm):
    folder = farm.root / "2026"
    (box,) = json.loads(run("plan", folder, "--no-history", "--json").stdout)["boxes"]
    assert (box["first_setting"], box["first_setting_from"]) == (20.0, "the middle of the control")
    asked = run("record", folder, "--no-history", stdin="small\nN-26\n\n15\ns\ny\n14.1\n")
    assert ",N-26,15," in (folder / "trials.csv").read_text(), asked.stderr


def test_enter_never_takes_the_setting_of_another_lot(run, farm):
    folder = farm("2026", "", catches(2026, {"M-26": 1.0}))
    # by a weight of an option neither
    done = run("record", folder, "--box", "small", "--lot", "N-26", "--catch", "12", "--yes", stdin="")
    assert done.returncode == 1
    assert "--setting" in done.stderr
    asked = run("record", folder, stdin="small\nN-26\n\n15\ns\ny\n14.1\n")
    assert "; last catch at 28)" in " ".join(asked.stderr.split())
    assert ",N-26,15," in (folder / "trials.csv").read_text()


def test_the_same_bags_give_the_first_setting_of_the_next_season(run, farm):
    folder = farm("2026", 'history = ["../*/trials.csv"]', lot="A")
    (box,) = json.loads(run("plan", folder, "--json").stdout)["boxes"]
    assert box["first_setting_from"] == "from the same lot in 2025"
    job = read_job(folder)
    first = job.advice(job.tasks()[0])
    assert first.setting == box["first_setting"]
    # 1.0 x (setting - 3) grams, by the made-up line
    assert box["first_setting"] == pytest.approx(3 + box["target_catch_g"] / 1.0, abs=1.0)


def test_a_blend_of_the_same_name_is_another_lot(farm):
    rows = (
        "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,test_date,blend\n"
        "small,x,switchgrass,1,95,90,2026-06-01,A\nsmall,y,little bluestem,1,95,90,2026-06-01,A\n"
    )
    folder = farm.root / "2026"
    (folder / "plan.csv").write_text(rows)
    job = read_job(folder)
    assert job.is_blend(job.drill.boxes[0], "a")
    history = job.history(job.drill.boxes[0], "A", "2026")
    assert (history.same_lot, history.reused) == ("", True)


def test_a_plan_is_made_where_an_earlier_log_is_broken(run, farm):
    farm.root.joinpath("2025", "trials.csv").write_text("box,lot,setting,catch_g\nsmall,A,10,heavy\n")
    done = run("plan", farm.root / "2026", "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["boxes"][0]["first_setting"] == 20.0
    assert "cannot be read" in done.stderr
