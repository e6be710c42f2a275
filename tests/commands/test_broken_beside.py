"""A row that is added while another file or row of the job is broken: still asked about, saved, and never doubted."""

import json

import pytest

from predictor import read_drill, read_trials
from predictor.files.good_rows import good_checks, good_trials

CATCH = ("--box", "small", "--lot", "forb mix", "--setting", "14", "--catch")
CHECK = ("--box", "grain", "--lot", "CW-26", "--setting", "17", "--area-ac", "2.1", "--loaded", "20", "--left")
WRONG_ROW = "2026-11-15,2026,small,forb mix,15,28,3,12 g,,yes,,yes,R.,\n"


def plan(job):
    (job / "plan.csv").write_text("box,lot\n")


def field(job):
    (job / "field.csv").write_bytes(b"date,box\n\xff\xfe\n")


def planted(job):
    (job / "planted.csv").write_text("date,box\n2026-01-01,grain\n")


def history(job):
    (job / "old.csv").write_text("not,a,log\n1,2,3\n")
    text = (job / "drill.toml").read_text(encoding="utf-8")
    (job / "drill.toml").write_text(f'history = ["old.csv", "none.csv"]\n{text}', encoding="utf-8")


def row(job):
    with (job / "trials.csv").open("a", encoding="utf-8") as stream:
        stream.write(WRONG_ROW)


def torn_row(job):
    with (job / "trials.csv").open("a", encoding="utf-8") as stream:
        stream.write("2026-11-15,2026,small,forb mix,15\n")


def everything(job):
    for each in (plan, field, planted, history, row, torn_row):
        each(job)


BROKEN = (plan, field, planted, history, row, torn_row, everything)
NAMES = {
    "row": "trials.csv line 45",
    "torn_row": "trials.csv line 45",
    "history": "drill.toml",
    "everything": "old.csv",
}


def words(done):
    return " ".join(done.stderr.split())


@pytest.mark.parametrize("broken", BROKEN)
def test_a_mistyped_weight_is_asked_about_whatever_else_is_broken(run, job, broken):
    broken(job)
    before = (job / "trials.csv").read_bytes()
    done = run("record", job, *CATCH, "232", stdin="")
    assert done.returncode == 1
    assert "232 g is far from the" in words(done)
    assert "23.2 g meant?" in words(done)
    assert (job / "trials.csv").read_bytes() == before
    unread, what = "This cannot be read, so the catch is not compared with it: ", NAMES.get(broken.__name__)
    assert words(done).count(unread) == 1
    named = words(done).partition(unread)[2].partition(". ")[0].replace(" ", "")  # a long path is broken over lines
    assert (what or f"{broken.__name__}.csv").replace(" ", "") in named


@pytest.mark.parametrize("broken", [plan, planted, history, row, everything])
def test_a_mistyped_check_is_asked_about_whatever_else_is_broken(run, job, broken):
    broken(job)
    (job / "field.csv").write_text(
        "date,box,lot,setting,area_ac,seed_used_lb,seeds_counted,row_length_ft,note\n"
        "2025-11-08,grain,CW-24,18,6.2,none,,,\n2026-11-18,grain,CW-26,17,2.1,5.8,,,\n"
    )
    before = (job / "field.csv").read_bytes()
    done = run("check", job, *CHECK, "1.44", stdin="")
    assert done.returncode == 1
    assert "(y/n)" in done.stderr
    assert "This cannot be read, so the check is not compared with it: " in words(done)
    assert "field.csvline2" in words(done).replace(" ", "")  # a long path is broken over lines
    assert (job / "field.csv").read_bytes() == before


def test_a_log_alone_is_enough_for_the_questions(run, job):
    """Without a plan there is no target, and without one of its own lot a weight is held against those of the box."""
    (job / "plan.csv").unlink()
    (job / "field.csv").unlink()
    for lot, catch in (("forb mix", "232"), ("new mix", "2320")):
        options = [each.replace("forb mix", lot) for each in CATCH]
        done = run("record", job, *options, catch, stdin="y\n" if lot == "new mix" else "")
        assert done.returncode == 1
        assert "is far from the" in words(done)
        assert "cannot be read" not in words(done)


def test_rows_that_can_be_read_are_read_and_no_others(job):
    drill, log = read_drill(job / "drill.toml"), job / "trials.csv"
    before = read_trials(log, drill)
    row(job)
    torn_row(job)
    good = good_trials(log, drill)
    assert good.catch_g.tolist() == before.catch_g.tolist()
    assert good.line.tolist() == before.line.tolist()
    log.write_text("box,lot,setting,catch_g,catch_oz\nsmall,A,14,60.5,\n")  # which of the two is meant?
    assert good_trials(log, drill) is None
    log.write_text("box,lot,setting,catch_g\nsmall,A,14,x\n")
    assert good_trials(log, drill) is None
    log.write_bytes(b"box,lot\n\xff")
    assert good_trials(log, drill) is None
    log.write_text(
        "date,box,lot,setting,area_ac,seed_used_lb\n2026-11-18,grain,A,17,2.1,5.8\n2026-11-18,x,A,17,2.1,5\n"
    )
    assert [each.line for each in good_checks(log, drill).checks] == [2]


# -- once a row is saved ----------------------------------------------------------------------------


@pytest.mark.parametrize("as_json", [True, False])
@pytest.mark.parametrize("broken", [plan, field, planted, history, row, everything])
def test_a_saved_catch_never_looks_like_a_failure(run, job, broken, as_json):
    broken(job)
    done = run("record", job, *CATCH, "23.2", *(["--json"] if as_json else []), stdin="")
    rows = (job / "trials.csv").read_text().splitlines()
    assert done.returncode == 0, done.stderr
    assert ",23.2," in rows[-1]
    assert "The catch is saved. Do not enter it again." in words(done)
    if as_json:
        found = json.loads(done.stdout)
        assert (found["line"], found["saved"], found["results"]) == (len(rows), True, [])
        assert found["problems"]
        assert all(each in done.stderr for each in found["problems"])
    else:
        assert done.stdout == ""


def test_confirm_undo_and_check_say_that_they_are_saved(run, job):
    whole = json.loads(run("record", job, *CATCH, "23.2", "--json").stdout)
    assert (whole["saved"], whole["problems"]) == (True, [])
    assert whole["results"]
    plan(job)
    (job / "field.csv").unlink()
    for command, options, key in (
        ("record", ("--confirm", "40"), "confirmed"),
        ("check", (*CHECK, "14.2"), "line"),
        ("record", ("--undo",), "unused"),
        ("check", ("--undo",), "unused"),
    ):
        done = run(command, job, *options, "--json", stdin="")
        assert done.returncode == 0, done.stderr
        found = json.loads(done.stdout)
        assert found["saved"] is True
        assert key in found
        assert bool(found["problems"]) == (key != "unused")


@pytest.mark.parametrize("command", ["record", "check", "plant"])
def test_nothing_is_claimed_of_a_row_that_is_not_saved(run, job, command):
    name, options = {
        "record": ("trials.csv", (*CATCH, "232")),
        "check": ("field.csv", (*CHECK, "1.44")),
        "plant": ("planted.csv", ("--box", "small", "--area-ac", "5", "--on", "2031-01-01")),
    }[command]
    before = (job / name).read_bytes() if (job / name).exists() else None
    done = run(command, job, *options, "--json", stdin="n\n")
    assert (done.returncode, done.stdout) == (1, "")
    assert "Nothing was saved" in done.stderr
    assert ((job / name).read_bytes() if (job / name).exists() else None) == before


# -- a clock that begins again years ago ------------------------------------------------------------


@pytest.mark.parametrize("command", ["record", "check", "plant"])
def test_a_day_long_before_the_last_entry_is_asked_about(run, job, command):
    name, options = {
        "record": ("trials.csv", (*CATCH, "23.2")),
        "check": ("field.csv", (*CHECK, "14.2")),
        "plant": ("planted.csv", ("--box", "small", "--lot", "forb mix", "--setting", "14", "--area-ac", "5")),
    }[command]
    before = (job / name).read_bytes() if (job / name).exists() else None
    done = run(command, job, *options, "--on", "2020-01-01", stdin="n\n")
    assert done.returncode == 1
    assert "2020-01-01 is long before the last entries" in words(done)
    assert ((job / name).read_bytes() if (job / name).exists() else None) == before
    assert "long before" not in run(command, job, *options, "--on", "2026-11-10", "--yes").stderr  # noted a week later
    assert "long before" not in run(command, job, *options, "--yes").stderr


def test_a_day_long_ago_is_asked_about_once_a_session(run, job):
    answers = ["y", "small", "", "14", "oops", "small", "", "14", "stop", ""]
    done = run("record", job, "--on", "2020-01-01", stdin="\n".join(answers), echo=True)
    assert (done.returncode, done.stderr.count("Lot [")) == (0, 2), done.stderr
    assert words(done).count("long before") == 1


def test_one_wrong_day_in_the_log_does_not_make_the_clock_doubtful(run, job):
    with (job / "trials.csv").open("a", encoding="utf-8") as stream:
        stream.write(WRONG_ROW.replace("12 g", "25").replace("2026-11-15", "2099-01-01").replace("R.,", "R.,,"))
    assert run("record", job, *CATCH, "23.2", "--yes").stderr.count("long before") == 0


def test_a_catch_entered_late_makes_no_later_row_one_of_a_day_to_come(run, job):
    """The day of a catch is not today: a row of the day after it is no slip."""

    def advised(weight, day):
        done = run("record", job, *CATCH, weight, "--yes", "--on", day)
        assert done.returncode == 0
        return " ".join(done.stdout.split())

    advised("23.2", "2026-11-24")
    assert "has not come yet" not in advised("23.9", "2026-11-18")
    advised("23.6", "2026-12-24")
    assert "the day 2026-12-24 has not come yet" in advised("23.8", "2026-11-18")


def test_a_day_before_those_of_the_lot_is_asked_about_in_its_own_words(run, job):
    """Nobody can correct, or put elsewhere, a row that is not written yet; and another weight changes nothing."""
    before = (job / "trials.csv").read_bytes()
    answers = ["y", "small", "", "14", "s", "23.2", "n", "stop", ""]
    done = run("record", job, "--on", "2025-09-20", stdin="\n".join(answers), echo=True)
    assert "This catch is of 2025-09-20, and the log has later ones of this lot, of 2026-11-1" in words(done)
    assert "put the rows in the order" not in words(done)
    assert "Record the catch again with its day." in words(done)
    assert (done.returncode, done.stderr.count("Weight of"), (job / "trials.csv").read_bytes()) == (1, 1, before)
