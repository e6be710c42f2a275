"""predictor plant: asked or by options, saved before it is said, answered with what was planted so far."""

import dataclasses
import json
import math

import pytest

from predictor import read_drill, read_job
from predictor.files import log as log_file
from predictor.files.planted import read_planted
from predictor.units import GRAMS, SQUARE_METRES
from tests import golden
from tests.golden import session_text

FIELDS = '\n[[field]]\nname = "North"\narea_ac = 8\n\n[[field]]\nname = "South"\narea_ac = 6\n'
SMALL = ["--box", "small", "--area-ac", "8"]


@pytest.fixture
def fields(job):
    """The sample job with two fields."""
    with (job / "drill.toml").open("a", encoding="utf-8") as stream:
        stream.write(FIELDS)
    return job


def lines(job):
    return read_planted(job / "planted.csv", read_drill(job / "drill.toml")).lines


def words(done):
    return " ".join(done.stderr.split())


def test_enter_takes_the_next_box_its_lot_its_locked_setting_and_what_is_left_of_the_field(run, fields):
    done = run("plant", fields, stdin="\n\n\n\n\n118\n18.4\n", echo=True)
    assert done.returncode == 0, done.stderr
    (line,) = lines(fields)
    assert (line.box.name, line.lot, line.setting.text, line.field) == ("chaffy", "tall mix", "4", "North")
    assert line.area_m2 == pytest.approx(8 * SQUARE_METRES["ac"])
    assert line.used_g == pytest.approx(99.6 * GRAMS["lb"])
    assert line.date == "2026-11-25"
    done = run("plant", fields, stdin="\n\n\n\n5\n\n", echo=True)
    assert done.returncode == 0, done.stderr
    assert (lines(fields)[1].box.name, lines(fields)[1].setting.text) == ("grain", "17")
    assert math.isnan(lines(fields)[1].used_g)  # not weighed
    done = run("plant", fields, stdin="grain\n\n\n\n\n20\n11.5\n", echo=True)
    assert lines(fields)[2].area_m2 == pytest.approx(3 * SQUARE_METRES["ac"])


def test_the_evidence_is_that_of_the_setting_planted_also_where_another_is_advised(run, job):
    assert run("plant", job, *SMALL, "--setting", "14", "--yes").returncode == 0
    assert run("plant", job, *SMALL, "--setting", "15", "--yes").returncode == 0
    at_14, at_15 = (each.evidence for each in lines(job))
    advice = read_job(job).advice(read_job(job).tasks("small", "forb mix")[0])
    assert (at_14.decision, at_14.advised, at_15.advised) == ("move", "14", "14")
    assert at_14.chance == pytest.approx(advice.chance)
    assert at_15.chance < 0.9 < at_14.chance
    assert at_15.expected > at_14.expected
    assert len(at_14.catches) == advice.catches_used == 2


def test_a_line_entered_late_rests_on_what_was_known_on_its_day(run, job):
    options = ["--box", "grain", "--area-ac", "8", "--on", "2026-11-16", "--setting", "17", "--json"]
    assert run("plant", job, *options).returncode == 0
    # a catch and a check made later, which would change target, chance and the setting asked about
    with (job / "trials.csv").open("a", encoding="utf-8") as stream:
        stream.write("2026-11-20,2026,grain,CW-26,17,28,3,14.9,,yes,,yes,,\n")
    with (job / "field.csv").open("a", encoding="utf-8") as stream:
        stream.write("2026-11-21,grain,CW-26,17,3,6.6,,,\n")
    late = run("plant", job, *options, "--note", "late")
    assert late.returncode == 1  # it says the same as the line before, and nothing else is asked
    assert late.stderr.count("(y/n)") == 1
    assert run("plant", job, *options, "--yes").returncode == 0
    assert run("plant", job, *options[:4], "--on", "2026-11-22", "--setting", "17", "--yes").returncode == 0
    then, entered_late, now = (each.evidence for each in lines(job))
    assert entered_late == dataclasses.replace(then, files=entered_late.files)
    assert len(then.catches) == 3
    assert (len(now.catches), now.field_answer, now.chance) != (3, then.field_answer, then.chance)


def test_a_box_without_a_catch_is_said_to_have_none_and_not_to_be_advised_by_them(run, job):
    (job / "trials.csv").unlink()
    (job / "field.csv").unlink()
    refused = run("plant", job, "--box", "grain", "--area-ac", "8", "--setting", "17", stdin="n\n")
    assert refused.returncode == 1
    assert "not locked for CW-26: no catch was made. Was it" in words(refused)


SLIPS = {
    "not locked": ([*SMALL, "--setting", "14"], "Box small is not locked"),
    "another setting": (["--box", "grain", "--area-ac", "8", "--setting", "20"], "is to be at 17"),
    "a rate far off": (["--box", "grain", "--area-ac", "8", "--loaded", "60", "--left", "2"], "is far from the target"),
    "a lot of no plan": (["--box", "grain", "--lot", "other", "--setting", "17", "--area-ac", "8"], "no lot other"),
    "a day to come": (["--box", "grain", "--area-ac", "8", "--on", "2026-11-26"], "has not come yet"),
    "a new field": (["--box", "grain", "--area-ac", "8", "--field", "west"], "not one of the fields"),
    "more than the field": (["--box", "grain", "--area-ac", "8.5", "--field", "north"], "8.00 ac of the 8.00 ac"),
    "twice": (["--box", "grain", "--area-ac", "3", "--field", "south"], "already says this"),
}


@pytest.mark.parametrize("case", SLIPS)
def test_what_looks_like_a_slip_is_asked_about_once_and_can_be_kept(run, fields, case):
    options, asked = SLIPS[case]
    if case == "twice":
        assert run("plant", fields, *options).returncode == 0
    planted = fields / "planted.csv"
    before = planted.read_bytes() if planted.exists() else None
    refused = run("plant", fields, *options, stdin="n\n")
    assert refused.returncode == 1
    assert refused.stderr.count("(y/n)") == 1
    assert asked in words(refused)
    assert "Nothing was saved" in refused.stderr
    assert (before is not None) == (case == "twice")
    assert (planted.read_bytes() if planted.exists() else None) == before
    assert run("plant", fields, *options, stdin="y\n").returncode == 0
    assert run("plant", fields, *options, "--yes", "--note", "again").returncode == 0


def test_an_answer_that_was_wrong_is_asked_for_again_and_the_others_stand(run, fields):
    """A field misspelt, 80 acres for 8, and the weight left of another box are mended one by one."""
    answers = ["grain", "", "", "Nort", "80", "40", "38", "n", "north", "n", "8", "n", "8", "40", "18"]
    done = run("plant", fields, stdin="\n".join(answers) + "\n", echo=True)
    assert done.returncode == 0, done.stderr
    (line,) = lines(fields)
    assert (line.field, line.setting.text) == ("North", "17")
    assert line.area_m2 == pytest.approx(8 * SQUARE_METRES["ac"])
    assert line.used_g == pytest.approx(22 * GRAMS["lb"])
    assert done.stderr.count("(y/n)") == 3


def test_a_rate_out_of_tolerance_is_said_and_not_asked_about(run, job):
    done = run("plant", job, "--box", "grain", "--area-ac", "10", "--loaded", "40", "--left", "8")
    assert done.returncode == 0
    assert "(y/n)" not in done.stderr
    assert "115 % of the target of 2.78 lb/ac" in " ".join(done.stdout.split())
    assert "not within 10 % of target" in " ".join(done.stdout.split())


REFUSED = {
    "more left than loaded": ["--box", "grain", "--area-ac", "8", "--loaded", "5", "--left", "6"],
    "left alone": ["--box", "grain", "--area-ac", "8", "--left", "6"],
    "loaded alone": ["--box", "grain", "--area-ac", "8", "--loaded", "30"],
    "nothing loaded": ["--box", "grain", "--area-ac", "8", "--loaded", "0"],
    "a box of no drill": ["--box", "gran", "--area-ac", "8"],
    "a setting off the scale": ["--box", "grain", "--area-ac", "8", "--setting", "99"],
    "which box": ["--area-ac", "8"],
    "no weight": ["--box", "grain", "--area-ac", "8", "--loaded", "much"],
    "nothing to take back": ["--undo"],
}


def test_the_words_of_each_refusal(run, job):
    said = []
    for case, options in REFUSED.items():
        done = run("plant", job, *options)
        assert done.returncode == 1, case
        assert not (job / "planted.csv").exists()
        said.append(f"== {case}\n{done.stderr.replace(str(job), 'myjob')}")
    golden.check("refused-plant", "\n".join(said))


def test_a_job_that_cannot_be_read_gives_no_line_without_evidence(run, job):
    (job / "plan.csv").write_text("box,lot\nsmall,A\n")
    done = run("plant", job, *SMALL, "--yes")
    assert done.returncode == 1
    assert "Nothing was saved. Write the line down on paper, and first mend this:" in words(done)
    assert "plan.csv" in done.stderr
    assert not (job / "planted.csv").exists()


def test_areas_twice_are_wrong_usage(run, job):
    assert run("plant", job, "--box", "grain", "--area-ac", "8", "--area-ha", "3").returncode == 2


def test_undo_takes_the_last_line_back_and_deletes_nothing(run, job):
    run("plant", job, "--box", "grain", "--area-ac", "5")
    run("plant", job, "--box", "chaffy", "--area-ac", "5")
    done = run("plant", job, "--undo", "--box", "grain")
    assert (done.returncode, [each.use for each in lines(job)]) == (0, [False, True])
    assert json.loads(run("plant", job, "--undo", "--json").stdout)["line"] == 3
    assert run("plant", job, "--undo").returncode == 1
    assert len(lines(job)) == 2


def test_a_line_is_kept_before_it_is_answered(run, job, monkeypatch):
    """A fault in the answer must not cost the line."""
    monkeypatch.setattr("predictor.job.planting.planting", lambda lines: 1 / 0)
    done = run("plant", job, "--box", "grain", "--area-ac", "5", "--json")
    assert (done.returncode, len(lines(job))) == (0, 1)
    found = json.loads(done.stdout)
    assert (found["line"], found["saved"]) == (2, True)
    (problem,) = found["problems"]
    assert "ZeroDivisionError" in problem
    assert problem in done.stderr


def test_a_line_cut_short_is_offered_as_a_comment(run, job):
    run("plant", job, "--box", "grain", "--area-ac", "5")
    path = job / "planted.csv"
    path.write_bytes(path.read_bytes()[:-200])
    assert run("plant", job, "--box", "grain", "--area-ac", "5", stdin="n\n").returncode == 1
    assert run("plant", job, "--box", "grain", "--area-ac", "5", stdin="y\n").returncode == 0
    assert [each.line for each in lines(job)] == [3]


def test_a_full_disk_is_a_sentence(run, job, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(log_file, "update", full)
    done = run("plant", job, "--box", "grain", "--area-ac", "5")
    assert done.returncode == 1
    assert "Nothing was saved: No space left on device. Write the line down on paper." in words(done)


def test_json_holds_the_line_and_the_totals_and_no_nan(run, fields):
    run("plant", fields, "--box", "grain", "--area-ac", "8", "--loaded", "30", "--left", "7.5", "--field", "north")
    options = ["--box", "chaffy", "--area-ac", "6", "--field", "south"]
    found = json.loads(run("plant", fields, *options, "--units", "metric", "--json").stdout, parse_constant=pytest.fail)
    assert found["planted"]["used"] is None
    assert found["planted"]["area"] == pytest.approx(6 * 0.40468564224)
    grain, chaffy = found["fillings"]
    assert grain["used_kg"] == pytest.approx(22.5 * 0.45359237)
    assert (chaffy["used_kg"], chaffy["not_weighed"]) == (None, [3])
    assert found["everything"]["used_kg"] is None
    assert [each["field"] for each in found["still_to_plant"]] == ["North", "North", "South", "South"]


@pytest.mark.parametrize("columns", [40, 80])
def test_the_words_of_a_day_of_planting(run, fields, columns):
    first = ["plant", fields, "--box", "chaffy", "--area-ac", "8", "--loaded", "120", "--left", "9 kg"]
    second = ["plant", fields]
    said = [session_text(run(*first, columns=columns), *first)]
    done = run(*second, stdin="small\n\n\n\n\n50+2\n7\ny\n", columns=columns, echo=True)
    said.append(session_text(done, *second))
    by_hand = "2026-11-24,South,grain,CW-26,17,6,17,,yes,,,,,,,,,,\n"
    with (fields / "planted.csv").open("a", encoding="utf-8") as stream:
        stream.write(by_hand)
    third = ["plant", fields, "--box", "grain", "--field", "north", "--area-ac", "8", "--units", "metric"]
    said.append(session_text(run(*third, columns=columns), *third))
    said.append(session_text(run("plant", fields, "--undo", columns=columns), "plant", fields, "--undo"))
    golden.check(f"plant-{columns}", "\n".join(said).replace(str(fields), "myjob"))


def test_a_line_states_the_chance_for_the_tolerance_and_confidence_that_were_asked(run, job):
    """As `recommend` does: box grain is locked within 10 % and not within 3 %."""
    line = ["--box", "grain", "--area-ac", "8", "--setting", "17"]
    for asked in ((), ("--tolerance", "0.03", "--confidence", "0.9")):
        said = json.loads(run("recommend", job, "--box", "grain", "--json", *asked).stdout)["results"][0]
        done = run("plant", job, *line, *asked, "--yes")
        assert done.returncode == 0, done.stderr
        evidence = lines(job)[-1].evidence
        assert (evidence.tolerance, evidence.confidence) == (said["tolerance"], said["confidence"])
        assert evidence.decision == said["decision"]
        assert (evidence.decision == "lock") == (not asked)
    assert lines(job)[0].evidence.chance > lines(job)[1].evidence.chance
