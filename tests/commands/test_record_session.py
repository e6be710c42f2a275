"""record at the drill: it asks once what no weight can show, follows its own advice, and takes back what was wrong."""

import json

import numpy as np
import pytest

from predictor import read_drill, read_job, read_trials
from predictor.files.kinds import TRIALS
from predictor.files.log import confirm
from predictor.slips import find
from predictor.slips.finding import Finding


@pytest.fixture
def log(job):
    (job / "field.csv").unlink()
    return job / "trials.csv"


@pytest.fixture
def new(job):
    """The sample job before its first catch."""
    (job / "field.csv").unlink()
    (job / "trials.csv").unlink()
    return job / "trials.csv"


def asked(run, log, answers, *options):
    """A session on a terminal, ended by "stop"."""
    return run("record", log, *options, stdin="\n".join([*answers, "stop", ""]), echo=True)


def test_container_and_charging_are_asked_once_and_stated_where_they_were_asked(run, new):
    done = asked(run, new, ["small", "", "20", "s", "y", "31.8", "small", "", "15", "25.1"])
    assert done.returncode == 0
    assert [done.stderr.count(each) for each in ("Do you weigh the seed alone", "charged first")] == [1, 1]
    trials = read_trials(new)
    assert trials.catch_g.tolist() == [31.8, 25.1]
    # a container may be left on the scale at a later catch, so "the seed alone" is stated of the first one only
    stated = ["turns", "rows", "charged"]
    assert [each.split() for each in trials.stated.tolist()] == [[*stated, "tare"], stated]
    assert done.stderr.count("Weight of seed alone in 28 turns") == 2
    again = asked(run, new, ["small", "", "15", "24.8"])  # on another day, in another session
    assert "the container" not in again.stderr
    assert "charged first" not in again.stderr


def test_meters_that_were_not_charged_leave_the_catch_out(run, new):
    assert asked(run, new, ["small", "", "20", "s", "n", "27.1"]).returncode == 0
    trials = read_trials(new)
    assert (trials.charged.tolist(), trials.status.tolist()) == ([False], ["uncharged"])


def test_the_container_is_taken_off_each_row_and_remembered(run, new):
    done = asked(run, new, ["small", "", "20", "c", "12.4", "y", "23+22.8+23.2", "small", "", "15", "37.4"])
    assert done.returncode == 0
    assert "Weight with the container of 12.4 g" in " ".join(done.stderr.split())
    trials = read_trials(new)
    assert trials.catch_g == pytest.approx([69 - 3 * 12.4, 25.0])
    assert trials.tare_g == pytest.approx([3 * 12.4, 12.4])


def test_a_container_left_on_the_scale_from_the_second_catch_on_is_asked_about(run, new):
    # the first catch is of the seed alone, as the answer says; 14 g of the second one are the container
    done = asked(run, new, ["small", "", "20", "s", "y", "19.8", "small", "", "12.5", "25.4", "n", "11.4"])
    said = " ".join(done.stderr.split())
    assert "Was the container weighed along? If so, answer no, and type the weight of the seed alone. Keep 25.4" in said
    assert "far from" not in said  # one question about one weight
    assert read_trials(new).catch_g.tolist() == [19.8, 11.4]


def test_a_finding_about_an_earlier_row_is_no_question_about_the_new_one(run, new):
    # 4.9 g at 15 is half of what the others say, and shows only once there are others
    answers = ["small", "", "20", "s", "y", "19.8", "small", "", "15", "6.9", "small", "", "18", "17.8"]
    done = asked(run, new, [*answers, "small", "", "17", "16.9"])
    assert "Line 3, 6.9 g at 15" in done.stdout
    assert "Keep 16.9 g?" not in done.stderr
    trials = read_trials(new)
    assert (len(trials), trials.confirmed.tolist()) == (4, [False] * 4)


def test_a_script_is_asked_nothing_new_and_states_nothing_that_nobody_said(run, new):
    options = ["--box", "small", "--lot", "forb mix", "--setting", "20", "--catch", "31.8"]
    assert run("record", new, *options, stdin="").returncode == 0
    assert read_trials(new).stated.tolist() == ["turns rows"]
    assert run("record", new, *options[:-1], "32.1", "--tare", "0", stdin="").returncode == 0
    assert "tare" in read_trials(new).stated[1]


def test_the_next_catch_is_the_one_that_is_advised_until_all_is_locked(run, job):
    done = asked(run, job, ["small", "", "14", "s", "7.5+7.6+7.9"])
    assert done.returncode == 0
    assert "SET 14" not in done.stdout  # small is locked
    assert "Box (chaffy, grain, small)" not in done.stderr.partition("Saved as")[2]  # and so are the others
    assert "Next:" in done.stderr


def test_enter_proposes_the_box_that_is_not_locked_yet(run, job):
    run("record", job, "--box", "grain", "--setting", "17", "--catch", "12", "--yes", stdin="")
    assert "[small]" in asked(run, job, []).stderr  # grain was caught last, and is locked


def test_stop_saves_nothing_of_the_catch_in_hand(run, log):
    before = log.read_bytes()
    for answers in ([], ["small"], ["small", "", "14", "s"]):
        done = asked(run, log, answers)
        assert (done.returncode, log.read_bytes()) == (0, before)
        assert "No catch was saved." in done.stderr


def test_oops_takes_back_the_answers_of_a_catch_and_as_first_answer_the_catch_before(run, new):
    done = asked(run, new, ["small", "", "20", "oops", "small", "", "15", "s", "y", "25.1", "oops"])
    assert done.returncode == 0
    trials = read_trials(new)
    assert (trials.setting.tolist(), trials.use.tolist()) == (["15"], [False])
    before = new.read_bytes()
    assert "Nothing was saved since you began" in asked(run, new, ["oops"]).stderr
    assert new.read_bytes() == before


def test_a_lot_near_a_known_one_is_asked_about_by_name_and_a_wrong_one_asked_again(run, log):
    done = asked(run, log, ["grain", "CW-62", "y", "17", "s", "11.9"])
    assert "Did you mean CW-26?" in done.stderr
    assert read_trials(log).lot[-1] == "CW-26"
    asked(run, log, ["grain", "other", "n", "CW-26", "17", "12.1"])
    assert read_trials(log).lot[-1] == "CW-26"
    assert len(read_trials(log)) == 44


def test_other_turns_than_were_asked_for_can_be_given(run, new):
    """Catches that scatter by a quarter at each setting make it ask for longer ones."""
    rows = "".join(f"2026-11-15,small,forb mix,15,{grams},yes\n" for grams in (19.1, 31.2, 24.8, 33.0, 18.2, 28.9))
    new.write_text("date,box,lot,setting,catch_g,charged\n" + rows)
    done = asked(run, new, ["small", "", "15", "what?", "n", "56", "4", "s", "66"])
    assert "as asked for?" in " ".join(done.stderr.split())
    trials = read_trials(new)
    assert (trials.turns[-1], trials.rows[-1], trials.catch_g[-1]) == (56, 4, 66)


def test_oops_takes_back_no_catch_of_an_earlier_session(run, new):
    asked(run, new, ["small", "", "20", "s", "y", "31.8"])
    done = asked(run, new, ["small", "", "15", "25.1", "oops", "oops", "oops"])
    assert done.stderr.count("Nothing was saved since you began") == 2
    assert read_trials(new).use.tolist() == [True, False]


def test_a_wrong_answer_is_asked_again_once_its_catch_is_taken_back(run, new):
    asked(run, new, ["small", "", "20", "c", "12.4", "n", "44.2", "oops"])
    done = asked(run, new, ["small", "", "20", "s", "y", "31.8"])
    assert done.returncode == 0
    assert read_trials(new).catch_g[-1] == 31.8


def test_meters_that_were_not_charged_once_are_asked_about_again(run, new):
    done = asked(run, new, ["small", "", "20", "s", "n", "27.1", "small", "", "20", "y", "31.8"])
    assert done.stderr.count("charged first") == 2
    assert read_trials(new).charged.tolist() == [False, True]


@pytest.fixture
def held(new):
    """A log of which one catch was copied in a block, so that a lock waits."""
    block = "".join(f"2026-11-15,small,forb mix,{s},{g},yes,0\n" for s, g in ((20, 31.83), (15, 25.14), (15, 24.86)))
    new.write_text("date,box,lot,setting,catch_g,charged,tare_g\n" + block + block)
    return new


@pytest.mark.parametrize(
    ("answers", "use", "confirmed"),
    [
        (["y"], True, True),
        (["n", "y"], False, False),
        (["n", "n"], True, False),
        ([""], True, False),
        (["oops"], True, False),
        ([], True, False),
    ],
)
def test_rows_for_which_a_lock_waits_are_asked_about_first(run, held, answers, use, confirmed, monkeypatch):
    lines = (5, 6, 7)
    slip = Finding("copies", "small", "forb mix", lines, 0.9, True, {"first": (2, 3, 4), "copies": 3})
    monkeypatch.setattr(find, "CHECKS", (lambda seen: (slip,),))
    done = asked(run, held, answers)
    assert done.returncode == 0, done.stderr
    trials = read_trials(held)
    assert trials.use[3:].tolist() == [use] * 3
    assert trials.confirmed[3:].tolist() == [confirmed] * 3
    assert not trials.confirmed[:3].any()


def test_to_keep_a_catch_whatever_looks_odd_confirms_no_older_row(run, held, monkeypatch):
    slip = Finding("copies", "small", "forb mix", (5, 6, 7), 0.9, True, {"first": (2, 3, 4), "copies": 3})
    monkeypatch.setattr(find, "CHECKS", (lambda seen: (slip,),))
    assert asked(run, held, [], "--yes").returncode == 0
    assert not read_trials(held).confirmed.any()


def test_each_row_states_what_a_catch_on_target_was_to_weigh(run, log):
    asked(run, log, ["small", "", "14", "s", "23.2"])
    job = read_job(log.parent)
    target = next(each for each in job.tasks("small")).target_output * 28 * 3
    assert read_trials(log).wanted_g[-1] == pytest.approx(target, rel=1e-4)
    assert np.isnan(read_trials(log).wanted_g[:-1]).all()


def test_a_weight_that_was_asked_about_and_kept_is_confirmed(run, log):
    asked(run, log, ["small", "", "14", "s", "250", "y", "y"])
    trials = read_trials(log)
    assert (trials.catch_g[-1], trials.confirmed[-1]) == (250, True)
    assert not trials.confirmed[:-1].any()


def test_lines_are_confirmed_by_an_option(run, log):
    done = run("record", log, "--confirm", "43,44", "--json", stdin="")
    assert json.loads(done.stdout)["confirmed"] == [43, 44]
    trials = read_trials(log, read_drill(log.parent / "drill.toml"))
    assert trials.line[trials.confirmed].tolist() == [43, 44]


@pytest.mark.parametrize(("lines", "code"), [("2", 1), ("43,999", 1), ("0", 2), ("5-3", 2), ("x", 2)])
def test_lines_that_hold_no_catch_are_refused(run, log, lines, code):
    """Line 1 is a comment of the sample log and line 2 its header."""
    before = log.read_bytes()
    assert run("record", log, "--confirm", lines, stdin="").returncode == code
    assert log.read_bytes() == before


def test_confirming_keeps_every_other_byte_of_the_log(log):
    text = log.read_text()
    confirm(TRIALS, log, [10, 5])
    kept = log.read_text().splitlines()
    changed = [i for i, (a, b) in enumerate(zip(text.splitlines(), kept, strict=True), 1) if not b.startswith(a[:40])]
    assert changed == []
    assert [i for i, line in enumerate(kept, 1) if ',yes,"' in line or line.endswith('"yes"')] == [5, 10]
