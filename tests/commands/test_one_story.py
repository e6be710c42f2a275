"""Every command tells the same story of a folder, whatever stage it is in.

The folders are made by physics of their own: each box gives `SLOPE` grams more in a row and turn for each step of its
lever above a reading where it opens. So the setting that plants the target exactly is known beforehand.
"""

from __future__ import annotations

import datetime
import json
import shutil
from dataclasses import dataclass

import pytest

from predictor import read_job
from tests import golden
from tests.running import TODAY
from tests.slips.waiting import found

DRILL = """\
name = "story drill"
rows = 12
row_spacing_cm = 19
rolling_circumference_m = 2.2
[catch]
turns = 40
rows = 4
scale_resolution_g = 0.1
[[box]]
name = "grain"
holds = "free-flowing"
control = "lever"
highest = 60
[[box]]
name = "small"
holds = "small"
control = "lever"
highest = 60
[[field]]
name = "north"
area_ha = 5
[[field]]
name = "south"
area_ha = 3
"""
PLAN = "box,lot,species,bulk_rate_kg_ha\ngrain,A,oats,30\nsmall,K,purple prairie clover,4\n"
PLAN_IN_TURN = PLAN.replace("grain,A,oats,30\n", "grain,A,oats,30\ngrain,B,oats,30\n")
HEADER = "box,lot,setting,catch_g,turns,rows,date,season\n"


@dataclass(frozen=True)
class Truth:
    """What a box gives: nothing at `opens`, and the planned rate at `right`."""

    target: float  # Grams per row per turn: rate in g/m2 x circumference x row spacing
    opens: float
    right: float

    def catch(self, setting, wobble=1.0):
        """Grams from 4 rows in 40 turns."""
        return 160 * self.target * (setting - self.opens) / (self.right - self.opens) * wobble


BOXES = {"grain": Truth(3.0 * 2.2 * 0.19, 4, 24), "small": Truth(0.4 * 2.2 * 0.19, 10, 30)}
WOBBLES = (0.99, 1.0, 1.01, 1.0, 0.995)


def catches(box, lot, settings, day=datetime.date(2026, 11, 16)):
    """Rows of the log, a catch at each setting."""
    pairs = zip(settings, WOBBLES, strict=False)
    return "".join(
        f"{box},{lot},{setting},{BOXES[box].catch(setting, wobble):.1f},40,4,{day},{day.year}\n"
        for setting, wobble in pairs
    )


LOCKED = (20, 24, 24, 24)
GRAIN, SMALL = catches("grain", "A", LOCKED), catches("small", "K", (26, 30, 30, 30))


@dataclass(frozen=True)
class Folder:
    """A job in one stage, and what every command must say of it."""

    log: str = ""
    plan: str = PLAN
    checks: tuple[tuple[float, str], ...] = ()  # Field rate over target, and day
    planted: tuple[tuple[str, str, str, str, str], ...] = ()  # Box, lot, setting, field, day
    doing: str = "advised"  # Of the grain box
    reached: str = "testing"
    setting: str | None = None
    lot: str = "A"
    step: str = "catch"
    boxes: tuple[str, ...] = ("grain", "small")
    headline: str = ""


AREAS = {"north": "5", "south": "3"}
NORTH = ("grain", "A", "24", "north", "2026-11-18")
SMALL_NORTH = ("small", "K", "30", "north", "2026-11-18")
BOTH = GRAIN + SMALL
FOLDERS = {
    "no catch": Folder(),
    "history only": Folder(log=catches("grain", "Z", LOCKED, datetime.date(2025, 11, 16))),
    "testing": Folder(log=catches("grain", "A", (20,)) + catches("small", "K", (26,))),
    "one locked": Folder(
        log=GRAIN + catches("small", "K", (26,)),
        reached="locked",
        setting="24",
        boxes=("small",),
        headline="LOCK AT 24",
    ),
    "all locked": Folder(log=BOTH, reached="locked", setting="24", step="card", headline="LOCK AT 24"),
    "old catches": Folder(
        log=catches("grain", "A", LOCKED, datetime.date(2026, 4, 2))
        + catches("small", "K", (26, 30, 30, 30), datetime.date(2026, 4, 2)),
        reached="locked",
        setting="24",
        step="card",
        headline="LOCK AT 24",
    ),
    "one planted": Folder(
        log=BOTH,
        planted=(NORTH,),
        doing="planted",
        reached="planted",
        setting="24",
        step="plant",
        boxes=("small",),
        headline="PLANTED AT 24 (north, 18 Nov)",
    ),
    "planted and checked at 94 %": Folder(
        log=BOTH,
        planted=(NORTH, SMALL_NORTH),
        checks=((0.94, "2026-11-18"),),
        doing="planted",
        reached="planted",
        setting="24",
        step="check",
        boxes=("small",),
        headline="PLANTED AT 24 (north, 18 Nov), LEAVE IT",
    ),
    "checked at 94 % and not noted": Folder(
        log=BOTH,
        checks=((0.94, "2026-11-18"),),
        doing="leave",
        reached="locked",
        setting="24",
        step="check",
        boxes=("small",),
        headline="LEAVE IT AT 24",
    ),
    "slip": Folder(
        log=BOTH,
        planted=(NORTH,),
        checks=((1.89, "2026-11-18"),),
        doing="weigh",
        reached="planted",
        setting="24",
        step="weigh",
        boxes=("grain",),
        headline="CHECK THAT WEIGHING FIRST",
    ),
    "two lots in one box": Folder(
        log=BOTH + catches("grain", "B", (20,), datetime.date(2026, 11, 19)),
        plan=PLAN_IN_TURN,
        planted=(NORTH,),
        lot="B",
        boxes=("grain",),
    ),
    "a lot to follow": Folder(
        log=BOTH,
        plan=PLAN_IN_TURN,
        planted=(NORTH,),
        doing="planted",
        reached="planted",
        setting="24",
        step="next_lot",
        boxes=("grain",),
        headline="PLANTED AT 24 (north, 18 Nov)",
    ),
}


def make(run, folder, found):
    """Write a folder, and its planted lines by the command."""
    folder.mkdir()
    (folder / "drill.toml").write_text(DRILL)
    (folder / "plan.csv").write_text(found.plan)
    if found.log:
        (folder / "trials.csv").write_text(HEADER + found.log)
    for box, lot, setting, field, day in found.planted:
        plant(run, folder, box, lot, setting, field, day)
    if found.checks:
        rows = [f"{day},grain,A,24,2,{60 * ratio:.2f}\n" for ratio, day in found.checks]  # 2 ha at 30 kg/ha are 60 kg
        (folder / "field.csv").write_text("date,box,lot,setting,area_ha,seed_used_kg\n" + "".join(rows))
    return folder


def plant(run, folder, box, lot, setting, field, day):
    options = ("--box", box, "--lot", lot, "--setting", setting, "--field", field, "--area-ha", AREAS[field])
    done = run("plant", folder, *options, "--on", day, "--yes", "--json", stdin="")
    assert done.returncode == 0, done.stderr


def answer(run, *arguments):
    done = run(*arguments, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def told(found):
    """What JSON says of where a box and lot is, by box and lot."""
    if "stages" in found:
        return {(each["box"], each["lot"]): each for each in found["stages"]}
    return {
        (each["box"], each["lot"]): {
            "box": each["box"],
            "lot": each["lot"],
            "target_catch_g": each["target"]["catch_g"],
            **each["stage"],
        }
        for each in found["results"]
    }


def all_answers(run, folder):
    """What every command says of the folder: stages, and the next step."""
    commands = ["plan", "card"] + (["recommend"] if (folder / "trials.csv").exists() else [])
    commands += ["check"] if (folder / "field.csv").exists() else []
    return {name: answer(run, name, folder) for name in commands}


def page(run, folder):
    """The words of the record."""
    done = run("report", folder, "--out", folder / "record.html")
    assert done.returncode == 0, done.stderr
    return golden.words((folder / "record.html").read_text(encoding="utf-8")), done.stderr


def same_story(run, folder):
    """Hold all answers against each other; returns the stages and the next step."""
    answers = all_answers(run, folder)
    stages = told(answers["plan"])
    for name, each in answers.items():
        for place, stage in told(each).items():
            assert stage == stages[place], (name, place)
        # a command does not send a person to itself
        if answers["plan"]["next"]["step"] != name:
            assert each["next"] == answers["plan"]["next"], name
    hand = {place for place, stage in stages.items() if stage["in_hand"]}
    assert set(told(answers["card"])) == hand
    words, _ = page(run, folder)
    for stage in stages.values():
        assert stage["headline"] in words
    return stages, answers["plan"]["next"]


@pytest.mark.slow
@pytest.mark.parametrize("name", FOLDERS)
def test_every_command_says_the_same_of_a_folder(run, tmp_path, name):
    found = FOLDERS[name]
    folder = make(run, tmp_path / "job", found)
    stages, step = same_story(run, folder)
    (grain,) = (each for each in stages.values() if each["box"] == "grain" and each["in_hand"])
    assert (grain["lot"], grain["doing"], grain["reached"]) == (found.lot, found.doing, found.reached)
    assert grain["setting"] == found.setting
    assert grain["headline"].startswith(found.headline)
    assert (step["step"], tuple(step["boxes"])) == (found.step, found.boxes)
    # the target catch is the planned rate over the ground that the catch covers; no check that fits the drill moves it
    for stage in stages.values():
        truth = BOXES[stage["box"]]
        assert stage["target_catch_g"] == pytest.approx(160 * truth.target, rel=0.01) or stage["lot"] == "B"
    # the terminal ends with the command of that step
    done = run("plan", folder)
    assert step["sentence"] in " ".join(done.stderr.split())


@pytest.mark.slow
@pytest.mark.parametrize("name", FOLDERS)
def test_a_catch_is_answered_with_the_same_story(run, tmp_path, name):
    """What `record` says after a catch is what the other commands then say of the folder."""
    folder = make(run, tmp_path / "job", FOLDERS[name])
    weight = f"{BOXES['small'].catch(28):.1f}"
    catch = ("--box", "small", "--lot", "K", "--setting", "28", "--catch", weight, "--yes")
    said = json.loads(run("record", folder, *catch, "--json", stdin="").stdout)
    stages, step = same_story(run, folder)
    for place, stage in told(said).items():
        assert stage == stages[place]
    assert said["next"] == step


@pytest.mark.slow
def test_a_check_out_of_tolerance_moves_the_box_until_it_was_planted_there(run, tmp_path):
    """Checked at 83 % of target at 24: move. The setting that plants the target is 4 + 20 / 0.83 = 28.1."""
    found = Folder(log=BOTH, planted=(NORTH, SMALL_NORTH), checks=((0.83, "2026-11-18"), (0.83, "2026-11-18")))
    folder = make(run, tmp_path / "job", found)
    stages, step = same_story(run, folder)
    grain = stages["grain", "A"]
    assert (grain["doing"], step["step"], step["boxes"]) == ("move", "moved", ["grain"])
    to = grain["setting"]
    assert grain["headline"] == f"MOVE FROM 24 TO {to} FOR THE REST"
    # between the setting that leaves the field factor out and the one by these checks alone
    assert 25 <= float(to) <= 28
    words, _ = page(run, folder)
    assert grain["headline"] in words
    done = run("card", folder, "--out", folder / "card.html")
    assert grain["headline"] in golden.words((folder / "card.html").read_text(encoding="utf-8"))
    # what it planted at 24 on the day of the check is noted already
    assert done.stderr.splitlines()[-1].strip().startswith("predictor check")
    # a line at the new setting follows the advice
    plant(run, folder, "grain", "A", to, "south", "2026-11-19")
    stages, _ = same_story(run, folder)
    assert stages["grain", "A"]["headline"] == f"PLANTED AT {to} (south, 19 Nov)"
    assert stages["grain", "A"]["setting"] == to


@pytest.mark.slow
def test_two_lots_are_shown_by_recommend_and_the_record_and_the_card_has_the_one_in_hand(run, tmp_path):
    folder = make(run, tmp_path / "job", FOLDERS["two lots in one box"])
    text = run("recommend", folder, "--box", "grain").stdout
    lines = [" ".join(line.split()) for line in text.splitlines()]
    assert [line.partition(" 24 ")[0] for line in lines[:1]] == ["grain A PLANTED AT"]
    assert lines[1] == "(north, 18 Nov)"
    assert "For next time: lock at 24." in " ".join(text.split())
    assert lines[2].startswith("grain B SET ")
    words, _ = page(run, folder)
    assert "grain, A: PLANTED AT 24 (north, 18 Nov)" in words
    assert [each["lot"] for each in answer(run, "card", folder, "--box", "grain")["results"]] == ["B"]
    # of the lot in the ground no further catch is asked
    cards = answer(run, "card", folder, "--decision")
    assert {each["lot"] for each in cards["tables"]} == {"B"}


@pytest.mark.slow
def test_each_command_leads_to_the_next_from_lock_to_record(run, tmp_path):
    folder = make(run, tmp_path / "job", FOLDERS["all locked"])

    def leads(*arguments):
        done = run(*arguments, stdin="")
        assert done.returncode == 0, done.stderr
        return done.stderr.splitlines()[-1].split()[1]

    assert leads("recommend", folder) == "card"
    assert leads("card", folder) == "load"
    assert leads("load", folder) == "plant"
    for box, lot, setting, field in (
        ("grain", "A", "24", "north"),
        ("small", "K", "30", "north"),
        ("grain", "A", "24", "south"),
        ("small", "K", "30", "south"),
    ):
        options = ("--box", box, "--lot", lot, "--setting", setting, "--field", field, "--area-ha", AREAS[field])
        ends = leads("plant", folder, *options, "--on", str(TODAY), "--yes")
        expected = {("grain", "north"): "plant", ("small", "north"): "check", ("grain", "south"): "plant"}
        assert ends == expected.get((box, field), "report")
    assert leads("recommend", folder) == "report"
    _, messages = page(run, folder)
    assert "predictor" not in messages.partition("Written")[2].partition("\n")[2]


@pytest.mark.slow
def test_the_next_catch_is_offered_for_the_lot_that_follows_the_planted_one(run, tmp_path):
    folder = make(run, tmp_path / "job", FOLDERS["a lot to follow"])
    catch = ("--box", "grain", "--setting", "24", "--catch", f"{BOXES['grain'].catch(24):.1f}", "--yes")
    assert run("record", folder, *catch, stdin="").returncode == 0
    assert (folder / "trials.csv").read_text().splitlines()[-1].startswith("grain,B,24,")


def test_a_copy_of_a_folder_says_what_the_folder_says(run, tmp_path):
    """Nothing but the files of the folder counts: neither its name nor its place."""
    folder = make(run, tmp_path / "job", Folder(log=GRAIN))
    shutil.copytree(folder, tmp_path / "other")
    assert answer(run, "recommend", folder) == answer(run, "recommend", tmp_path / "other")


def test_what_was_planted_before_a_move_is_noted_at_its_own_setting(run, tmp_path):
    """Of the north field 3 ha were sown at 24 when the check moved the box: Enter must not call all of it moved."""
    folder = make(run, tmp_path / "job", Folder(log=BOTH, checks=((0.83, "2026-11-18"), (0.83, "2026-11-18"))))
    grain, step = told(json.loads(run("plan", folder, "--json").stdout))["grain", "A"], next_of(run, folder)
    assert (grain["doing"], step["step"]) == ("move", "move")
    assert "grain planted at 24" in step["sentence"]
    line = ("plant", folder, "--box", "grain", "--on", "2026-11-18")
    refused = run(*line, "--area-ha", "3", stdin="")
    assert refused.returncode == 1
    assert "--setting" in refused.stderr
    done = run(*line, stdin="\n\n24\nnorth\n3\n\n", echo=True)
    assert done.returncode == 0, done.stderr
    assert "(y/n)" not in done.stderr
    assert next_of(run, folder)["step"] == "moved"
    # on target where it was moved to, before that is noted: this is where it is to be left
    rate = next(each["bulk_rate"] for each in json.loads(run("plan", folder, "--json").stdout)["boxes"])
    check = ("--setting", grain["setting"], "--area-ha", "2", "--used", f"{2 * rate:.2f}", "--on", "2026-11-18")
    done = run("check", folder, "--box", "grain", *check, "--yes")
    assert done.stdout.startswith(f"  grain  A  LEAVE IT AT {grain['setting']}  9"), done.stdout
    done = run(*line, stdin="\n\n\n\n\n", echo=True)
    assert done.returncode == 0, done.stderr
    before, after = read_job(folder).planted.lines
    assert (before.setting.text, after.setting.text) == ("24", grain["setting"])
    whole = next(each.area_m2 for each in read_job(folder).drill.fields if each.name == before.field)
    assert before.area_m2 + after.area_m2 == pytest.approx(whole)


def next_of(run, folder):
    """The next step that `plan` names."""
    return json.loads(run("plan", folder, "--json").stdout)["next"]


def test_checks_and_lines_of_last_year_rule_nothing_this_year(run, tmp_path):
    """Half a year later the move for the rest, and what was planted, are of another season; the record keeps them."""
    last_year = datetime.date(2025, 11, 16)
    log = catches("grain", "A", LOCKED, last_year) + catches("small", "K", (26, 30, 30, 30), last_year)
    lines = tuple((*each[:4], "2025-11-18") for each in (NORTH, SMALL_NORTH))
    plan = PLAN_IN_TURN.replace("oats,30", "oats,40")
    found = Folder(log=log, plan=plan, planted=lines, checks=((0.8, "2025-11-18"),))
    folder = make(run, tmp_path / "job", found)
    plan = answer(run, "plan", folder)
    stages = told(plan)
    assert {(each["reached"], each["doing"], each["verdict"]) for each in stages.values()} == {
        ("testing", "advised", None),  # the plan of this year asks for more of the oats
        ("locked", "advised", None),
    }
    assert plan["next"]["step"] == "catch"
    first = {(each["box"], each["lot"]): each["first_setting"] for each in plan["boxes"]}
    advised = {each["lot"]: each["setting"] for each in answer(run, "recommend", folder)["results"]}
    assert {first["grain", "A"], first["small", "K"]} == {advised["A"], advised["K"]}
    words, _ = page(run, folder)
    assert "grain, A: MOVE FROM 24 TO " in words
    assert "small, K: PLANTED AT 30 (north, 18 Nov)" in words
    # the lot in hand is offered for the next catch, not the one that followed it last year
    catch = ("--box", "grain", "--setting", "24", "--catch", f"{BOXES['grain'].catch(24):.1f}", "--yes")
    assert run("record", folder, *catch, stdin="").returncode == 0
    assert (folder / "trials.csv").read_text().splitlines()[-1].startswith("grain,A,24,")


def test_the_record_has_a_budget_of_the_lot_that_was_planted_before_the_one_in_the_box(run, tmp_path):
    job = read_job(make(run, tmp_path / "job", FOLDERS["two lots in one box"]), today=TODAY)
    assert [(each.box, each.lot) for each in job.budgets()] == [("grain", "A"), ("grain", "B"), ("small", "K")]


def test_no_check_is_asked_of_a_box_that_has_nothing_left_to_plant(run, tmp_path):
    """Box small has planted both fields. Box grain was checked, and has one left: that is what is to be done."""
    small = (SMALL_NORTH, ("small", "K", "30", "south", "2026-11-18"))
    found = Folder(log=BOTH, planted=(*small, NORTH), checks=((0.94, "2026-11-18"),))
    step = next_of(run, make(run, tmp_path / "job", found))
    assert (step["step"], step["boxes"]) == ("plant", ["grain"])


@pytest.mark.slow
@pytest.mark.parametrize("name", ["one locked", "all locked", "old catches", "a lot to follow"])
def test_every_command_tells_of_a_slip_that_waits(run, tmp_path, name):
    """Line 5 is the last catch of grain: where it locks, every command says to check the log, until it is planted."""
    folder = make(run, tmp_path / "job", FOLDERS[name])
    with found("grain", 5):
        stages, step = same_story(run, folder)
        grain = stages["grain", "A"]
        if FOLDERS[name].reached == "planted":
            assert grain["headline"].startswith(FOLDERS[name].headline)
            return
        assert (grain["headline"], grain["reached"], grain["setting"]) == ("CHECK THE LOG FIRST", "testing", None)
        assert (step["step"], step["boxes"]) == ("check_log", ["grain"])
        words, _ = page(run, folder)
        assert "LOCK AT 24" not in words
