"""predictor check adds a field check: asked or by options, saved first, answered with a verdict for each box."""

import json

import pytest

from predictor import read_drill
from predictor.files.field import read_field
from predictor.files.log import add_row, begin_log

METRIC = (
    ("row_spacing_in = 7.5", "row_spacing_cm = 19.05"),
    ("rolling_circumference_ft = 7.2", "rolling_circumference_m = 2.19456"),
)


SLIP = ("--box", "grain", "--area-ac", "2.1", "--used", "11.05")


@pytest.fixture
def folder(job):
    """The sample job before its checks of this season: the grain box is locked at 17."""
    lines = (job / "field.csv").read_text(encoding="utf-8").splitlines()
    (job / "field.csv").write_text("\n".join(lines[:4]) + "\n", encoding="utf-8")
    return job


def checks_of(folder):
    return read_field(folder / "field.csv", read_drill(folder / "drill.toml"))


def last_of(folder):
    return checks_of(folder).checks[-1]


def in_metric(folder):
    drill = (folder / "drill.toml").read_text(encoding="utf-8")
    for old, new in METRIC:
        drill = drill.replace(old, new)
    (folder / "drill.toml").write_text(drill, encoding="utf-8")


def verdicts(done):
    assert done.returncode == 0, done.stderr
    # 20 lb less 15 lb in kilograms is not 5 lb to the last digit
    return json.loads(done.stdout, parse_float=lambda text: round(float(text), 10))["verdicts"]


@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_whole_check_is_asked_for_saved_and_answered_on_a_narrow_terminal(run, folder, units):
    answers = {"us": "2.1\n15+5\n14.4\n", "metric": "0.85\n7+2.07\n6.53\n"}[units]
    if units == "metric":
        in_metric(folder)
    done = run("check", folder, "--add", stdin=f"grain\n\n\nw\n{answers}", columns=40)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("  grain, CW-26\n    LEAVE IT AT 17, 9")
    said = (done.stdout + done.stderr.replace(": ", ":\n")).splitlines()
    assert max(len(line) for line in said if not line.startswith("  predictor ")) <= 40
    check = last_of(folder)
    assert check.area_m2 == pytest.approx(8500, rel=3e-4)
    assert check.used_g == pytest.approx(2540, rel=2e-3)
    assert [(part.box.name, part.lot, part.setting.text) for part in check.parts] == [("grain", "CW-26", "17")]
    assert check.date == "2026-11-25"


def test_a_count_is_asked_for(run, folder):
    done = run("check", folder, "--add", stdin="grain\n\n\nc\n70.5\n71\n20\n")
    assert done.returncode == 0, done.stderr
    assert done.stderr.count("Seeds counted") == 2
    assert (last_of(folder).seeds, last_of(folder).row_m) == (71, pytest.approx(6.096))


def test_a_distance_stands_for_an_area(run, folder):
    run("check", folder, "--add", stdin="grain\n\n\nw\n12197 ft\n20\n14.4\n")
    by_answer = last_of(folder).area_m2
    run("check", folder, *["--box", "grain", "--distance-ft", "12197", "--used", "5.6", "--yes"], stdin="")
    assert last_of(folder).area_m2 == by_answer == pytest.approx(2.1 * 4046.856, rel=1e-4)  # 12 rows at 7.5 in


def test_the_same_check_typed_given_or_written_is_judged_alike(run, folder):
    shown = {}
    for name in ("typed", "given", "written"):
        before = (folder / "field.csv").read_bytes()
        if name == "typed":
            run("check", folder, "--add", "--on", "2026-11-20", stdin="grain\n\n\nw\n2.1\n20\n15\n")
        elif name == "given":
            options = "--box grain --area-ac 2.1 --loaded 20 --left 15 --on 2026-11-20"
            shown["answer"] = verdicts(run("check", folder, *options.split(), "--json", stdin=""))
        else:
            with (folder / "field.csv").open("a") as file:
                file.write("2026-11-20,grain,CW-26,17,2.1,5,,,\n")
        shown[name] = verdicts(run("check", folder, "--json"))
        (folder / "field.csv").write_bytes(before)
    assert shown["typed"] == shown["given"] == shown["written"] == shown["answer"]
    assert shown["typed"][0]["answer"] == "leave"


def test_nothing_is_saved_where_input_ends_in_the_middle(run, folder):
    (folder / "field.csv").unlink()
    for answers in ("", "grain\n", "grain\n\n17\n", "grain\n\n17\nw\n2.1\n20\n", "grain\n\n17\nc\n71\n"):
        done = run("check", folder, "--add", stdin=answers)
        assert (done.returncode, done.stdout) == (1, "")
        assert not (folder / "field.csv").exists()


def test_without_a_file_a_pipe_is_told_how_to_begin_and_a_terminal_is_asked(run, folder):
    path = folder / "field.csv"
    path.unlink()
    done = run("check", folder)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith(f"{path}: ")
    assert f"predictor check {folder} --add" in done.stderr
    assert "trials.csv" not in done.stderr
    asked = run("check", folder, stdin="grain\n\n17\nw\n2.1\n20\n14.4\n", echo=True)
    assert asked.returncode == 0, asked.stderr
    assert len(checks_of(folder)) == 1
    assert run("check", folder, echo=True).stdout.startswith("  grain  CW-26  LEAVE IT AT 17  9")


def test_a_slip_is_asked_about_and_nothing_is_saved_without_an_answer(run, folder):
    before = (folder / "field.csv").read_bytes()
    for answer in ("", "n\n"):
        done = run("check", folder, *SLIP, stdin=answer)
        assert (done.returncode, done.stdout) == (1, "")
        assert "189 % of target" in done.stderr
        assert (folder / "field.csv").read_bytes() == before
    (kept,) = verdicts(run("check", folder, *SLIP, "--json", stdin="y\n"))
    assert (kept["answer"], kept["checks"]) == ("weigh", [])
    assert len(checks_of(folder)) == 3


def test_a_slip_at_the_questions_is_asked_for_again(run, folder):
    done = run("check", folder, "--add", stdin="grain\n\n\nw\n2.1\n25.6\n14.4\nn\n2.1\n20\n14.4\n")
    assert done.returncode == 0, done.stderr
    assert [done.stderr.count(each) for each in ("Box (", "Area sown", "Seed loaded")] == [1, 2, 2]
    assert last_of(folder).used_g == pytest.approx(5.6 * 453.59237)


def test_a_rejected_check_changes_no_factor_target_nor_budget(run, folder):
    usual = json.loads(run("check", folder, "--json").stdout)
    assert (
        run("check", folder, *["--box", "grain", "--area-ac", "2.1", "--used", "11.05", "--yes"], stdin="").returncode
        == 0
    )
    found = json.loads(run("check", folder, "--json").stdout)
    assert (found["boxes"], found["budgets"]) == (usual["boxes"], usual["budgets"])


def test_seed_left_no_smaller_than_loaded_is_asked_again_or_refused(run, folder):
    done = run("check", folder, "--add", stdin="grain\n\n\nw\n2.1\n14.4\n20\n20\n14.4\n")
    assert done.returncode == 0, done.stderr
    assert done.stderr.count("Seed loaded") == 2
    before = (folder / "field.csv").read_bytes()
    for left in ("20", "25"):
        done = run("check", folder, *f"--box grain --area-ac 2.1 --loaded 20 --left {left}".split(), stdin="")
        assert done.returncode == 1
        assert done.stderr.startswith("--left: ")
    assert (folder / "field.csv").read_bytes() == before


WEIGHED = ("--area-ac", "2.1", "--loaded", "20", "--left", "14.4")
ASKED = {
    "a day to come": ("--box", "grain", "--on", "2099-01-01"),
    "a lot that nobody knows": ("--box", "grain", "--lot", "CW-62", "--setting", "17"),
    "another setting than the locked one": ("--box", "grain", "--setting", "19"),
}


@pytest.mark.parametrize("name", ASKED)
def test_what_is_odd_is_asked_about(run, folder, name):
    before = (folder / "field.csv").read_bytes()
    assert run("check", folder, *ASKED[name], *WEIGHED, stdin="n\n").returncode == 1
    assert (folder / "field.csv").read_bytes() == before
    assert run("check", folder, *ASKED[name], *WEIGHED, stdin="y\n").returncode == 0
    assert run("check", folder, *ASKED[name], *WEIGHED[:4], "--left", "14.3", "--yes", stdin="").returncode == 0


def test_a_second_check_of_the_day_is_another_one_and_the_same_again_is_asked_about(run, folder):
    options = ("check", folder, "--box", "grain")
    assert run(*options, *WEIGHED, stdin="").returncode == 0
    assert run(*options, "--area-ac", "3", "--used", "8.1", stdin="").returncode == 0
    assert [each.date for each in checks_of(folder).checks[-2:]] == ["2026-11-25"] * 2
    again = run(*options, *WEIGHED, stdin="")
    assert again.returncode == 1
    assert "already" in again.stderr
    assert len(checks_of(folder)) == 4


def test_undo_takes_the_last_check_back_and_what_was_known_before_holds(run, folder):
    usual = json.loads(run("check", folder, "--json").stdout)
    run("check", folder, "--box", "grain", *WEIGHED, stdin="")
    done = run("check", folder, "--undo")
    assert (done.returncode, done.stdout.count("\n")) == (0, 1)
    found = json.loads(run("check", folder, "--json").stdout)
    assert (found["verdicts"], found["boxes"], found["checks"]) == (
        usual["verdicts"],
        usual["boxes"],
        usual["checks"],
    )
    (back,) = checks_of(folder).taken_back
    assert back.note == "undone"
    taken = json.loads(run("check", folder, "--undo", "--json").stdout)
    assert taken["unused"]["box"] == "chaffy+small"


def test_a_low_check_moves_the_box_and_the_next_is_expected_at_either_setting(run, folder):
    done = run("check", folder, *["--box", "grain", "--area-ac", "2.1", "--used", "4.75"], stdin="")
    assert " FROM 17 TO " in done.stdout.splitlines()[0]
    assert f"  predictor plant {folder}" in done.stderr.splitlines()
    (found,) = verdicts(run("check", folder, "--json"))
    there = found["move_to"]
    assert (found["answer"], found["setting"]) == ("move", "17")
    more = ["--box", "grain", "--area-ac", "2.1", "--used", "5.6"]
    assert run("check", folder, *more, stdin="").returncode == 1  # it may be at either
    done = run("check", folder, *more, "--setting", there, stdin="")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(f"  grain  CW-26  LEAVE IT AT {there}  9")


def test_boxes_weighed_together_are_asked_for_one_by_one_or_given_with_plus_signs(run, folder):
    asked = run("check", folder, "--add", stdin="chaffy+small\n\n4\n\n14\nw\n2\n60+9\n35.5\n")
    assert asked.returncode == 0, asked.stderr
    one = last_of(folder)
    assert [(part.box.name, part.lot, part.setting.text) for part in one.parts] == [
        ("chaffy", "tall mix", "4"),
        ("small", "forb mix", "14"),
    ]
    assert [line.split()[0] for line in asked.stdout.splitlines()[:2]] == ["chaffy", "small"]
    options = ["--box", "chaffy+small", "--setting", "4+14", "--area-ac", "2", "--used", "33", "--json"]
    found = verdicts(run("check", folder, *options, "--lot", "tall mix+forb mix", stdin=""))
    assert [each["together"] for each in found] == [["chaffy", "small"]] * 2
    done = run("check", folder, *options, "--lot", "tall mix", stdin="")
    assert done.returncode == 1
    assert done.stderr.startswith("--lot: ")


def test_a_box_is_never_checked_unseen(run, folder):
    """With several boxes in the drill no box is assumed for a weight that was given by options."""
    done = run("check", folder, *WEIGHED, stdin="")
    assert done.returncode == 1
    assert "Pass --box instead" in done.stderr


def test_a_check_is_kept_though_the_plan_is_broken(run, folder):
    (folder / "plan.csv").write_text("box,lot\n")
    done = run("check", folder, *["--box", "grain", "--lot", "CW-26", "--setting", "17"], *WEIGHED, stdin="")
    assert done.returncode == 0
    assert f"{folder / 'plan.csv'} line 1" in done.stderr
    assert last_of(folder).used_g == pytest.approx(5.6 * 453.59237)


def test_a_file_that_takes_no_check_is_said_before_any_question(run, folder):
    (folder / "field.csv").write_text("date,box\n")
    done = run("check", folder, "--add", stdin="grain\n\n\nw\n2.1\n20\n14.4\n")
    assert done.returncode == 1
    assert f"{folder / 'field.csv'} line 1" in done.stderr
    assert "Box (" not in done.stderr


def test_a_check_without_a_target_says_why_there_is_no_verdict(run, folder):
    options = ["--box", "grain", "--lot", "VW-25", "--setting", "15", "--area-ac", "2", "--used", "5", "--yes"]
    done = run("check", folder, *options, stdin="")
    assert done.returncode == 0, done.stderr
    assert "BOX" not in done.stdout
    assert "VW-25 at 15" in done.stdout


def test_a_lot_of_a_blend_is_checked_under_the_blends_name(run, folder):
    options = ["--box", "small", "--lot", "KS-26", "--setting", "14", "--area-ac", "2", "--used", "11", "--yes"]
    assert run("check", folder, *options, stdin="").returncode == 0
    assert last_of(folder).parts[0].lot == "forb mix"


@pytest.mark.parametrize(
    "options",
    [
        "--used 5 --left 3",
        "--counted 71 --used 5",
        "--area-ac 2 --area-ha 1",
        "--row-ft 2 --row-m 1",
        "--area-ac 0",
        "--on spring",
    ],
)
def test_values_that_exclude_each_other_are_wrong_usage(run, folder, options):
    before = (folder / "field.csv").read_bytes()
    done = run("check", folder, *options.split(), stdin="")
    assert (done.returncode, done.stdout) == (2, "")
    assert (folder / "field.csv").read_bytes() == before


def test_what_another_run_saved_meanwhile_stays(run, folder, monkeypatch):
    """A second writer adds its check after the questions of the first were answered."""
    from predictor.commands import new_check
    from predictor.files.kinds import field_checks

    real = new_check.ask_check

    def slow(*given):
        new = real(*given)
        kind = field_checks(read_drill(folder / "drill.toml"))
        begin_log(kind, folder / "field.csv")
        add_row(kind, folder / "field.csv", new.cells() | {"note": "the other one"})
        return new

    (folder / "field.csv").unlink()
    monkeypatch.setattr(new_check, "ask_check", slow)
    assert run("check", folder, *["--box", "grain", "--setting", "17"], *WEIGHED, "--note", "mine").returncode == 0
    assert [each.note for each in checks_of(folder).checks] == ["the other one", "mine"]


def test_fields_of_the_drill_file_are_asked_for(run, folder):
    with (folder / "drill.toml").open("a") as file:
        file.write('\n[[field]]\nname = "North"\narea_ac = 8\n\n[[field]]\nname = "south"\narea_ac = 6\n')
    done = run("check", folder, "--add", stdin="grain\n\n\nnorth\nw\n2.1\n20\n14.4\n")
    assert done.returncode == 0, done.stderr
    assert last_of(folder).field == "North"
    options = ("--box", "grain", "--field", "SOUTH", "--operator", "R.", *WEIGHED)
    assert run("check", folder, *options, stdin="").returncode == 0
    assert (last_of(folder).field, last_of(folder).operator) == ("south", "R.")


def test_a_file_of_another_name_is_begun_and_read_in_place_of_the_usual_one(run, folder):
    spring = folder / "spring.csv"
    done = run("check", spring)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith(f"{spring}: ")
    before = (folder / "field.csv").read_bytes()
    done = run("check", spring, "--box", "grain", "--setting", "17", *WEIGHED, stdin="")
    assert done.returncode == 0, done.stderr
    assert (folder / "field.csv").read_bytes() == before
    assert len(read_field(spring, read_drill(folder / "drill.toml"))) == 1
    assert len(json.loads(run("check", spring, "--json").stdout)["checks"]) == 1


def test_a_check_cannot_be_added_to_standard_input(run, folder):
    assert run("check", "-", "--add", cwd=folder).returncode == 2
