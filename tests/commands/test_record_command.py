"""predictor record: asked or by options, saved before it is said, answered with advice."""

import json
import os

import pytest

from predictor import read_trials
from predictor.files import kept, log as log_file


@pytest.fixture
def log(job):
    (job / "field.csv").unlink()
    return job / "trials.csv"


def test_a_catch_is_asked_for_saved_and_answered(run, log):
    done = run("record", log, stdin="small\n\n13\ns\n7.4+7.3+7.0\n", columns=40)
    assert done.returncode == 0
    assert "[forb mix]" in done.stderr  # Enter takes the last lot
    assert "[15]" not in done.stderr  # but no setting, since another was advised
    assert done.stdout.startswith("  small, forb mix\n    LOCK AT 13, 9")
    said = (done.stdout + done.stderr.replace(": ", ":\n").replace("container) ", "container)\n")).splitlines()
    assert max(len(line) for line in said if not line.startswith("  predictor ")) <= 40
    trials = read_trials(log)
    assert (trials.catch_g[-1], trials.setting[-1], trials.rows_g[-1]) == (21.7, "13", (7.4, 7.3, 7.0))


def test_a_catch_in_parts_is_asked_for_and_confirmed_as_one(run, log):
    done = run("record", log, stdin="small\n\n14\ns\n5.8/5.7/6+5\n5.8/5.7/5.6/5.9\n")
    assert done.returncode == 0
    assert done.stderr.count("Weight of ") == 2
    assert "4 parts of 7 turns, 23 g in all, 3 rows" in " ".join(done.stderr.split())
    trials = read_trials(log)
    assert (trials.catch_g[-1], trials.rows[-1], trials.rows_g[-1]) == (23.0, 3, None)
    assert trials.parts_g[-1] == (5.8, 5.7, 5.6, 5.9)


def test_the_weight_asked_for_is_of_the_longer_catch_that_was_advised(run, log):
    """The last catch was of 112 turns, and so is the next one; a weight by option is of the drill file's turns."""
    log.write_text("box,lot,setting,turns,catch_g\nsmall,forb mix,16,112,104.8\n")
    done = run("record", log, stdin="small\n\n14\ns\ny\n92.4\n")
    assert done.returncode == 0
    assert "Weight of seed alone in 112 turns, 3 rows" in done.stderr
    assert run("record", log, "--setting", "14", "--catch", "23.2", stdin="").returncode == 0
    assert run("record", log, "--turns", "56", stdin="small\n\n14\n46.1\n").returncode == 0
    assert read_trials(log).turns.tolist() == [112, 112, 28, 56]


def test_a_catch_in_parts_by_options_has_its_container_taken_off_each(run, log):
    parts = "--box small --setting 14 --catch 7.8/7.7/7.6/7.9 --tare 2"
    assert run("record", log, *parts.split(), stdin="").returncode == 0
    trials = read_trials(log)
    assert (trials.catch_g[-1], trials.parts_g[-1]) == (pytest.approx(23.0), (5.8, 5.7, 5.6, 5.9))


def test_lot_and_setting_are_those_of_the_last_catch_and_the_box_is_the_one_to_catch_next(run, log):
    run("record", log, "--catch", "21.7", "--setting", "13", stdin="")
    done = run("record", log, stdin="small\n\n\ns\n21.8\n")
    assert done.returncode == 0
    assert "[chaffy]" in done.stderr  # small can be locked
    trials = read_trials(log)
    assert (trials.box[-1], trials.lot[-1], trials.setting[-1], trials.catch_g[-1]) == ("small", "forb mix", "13", 21.8)


def test_all_of_it_by_options(run, log):
    options = "--box grain --lot CW-26 --setting 33 --catch 1.1oz --tare 2g --turns 28 --operator R. --on 2026-11-17"
    done = run("record", log, *options.split(), "--note", "windy", "--json", stdin="")
    assert done.returncode == 0
    values = json.loads(done.stdout)
    assert values["results"][0]["box"] == "grain"
    trials = read_trials(log)
    assert values["line"] == trials.line[-1]
    assert trials.catch_g[-1] == pytest.approx(1.1 * 28.349523125 - 2, abs=1e-6)
    assert (trials.date[-1], trials.season[-1], trials.operator[-1], trials.note[-1]) == (
        "2026-11-17",
        "2026",
        "R.",
        "windy",
    )


def test_a_slip_is_a_question_and_nothing_is_saved_without_an_answer(run, log):
    before = log.read_bytes()
    done = run("record", log, "--catch", "250", stdin="")
    assert done.returncode == 1
    assert "--yes" in done.stderr
    assert log.read_bytes() == before
    assert run("record", log, "--catch", "250", stdin="n\n").returncode == 1
    assert log.read_bytes() == before
    assert run("record", log, "--catch", "250", "--yes", stdin="").returncode == 0
    assert read_trials(log).catch_g[-1] == 250


def test_wrong_answers_are_asked_again(run, log):
    done = run("record", log, stdin="smal\nsmall\n\n99\n15\ns\nabc\n250\nn\n25\n")
    assert done.returncode == 0
    assert [done.stderr.count(each) for each in ("Box (", "Lot [", "Setting (", "Weight of ")] == [2, 1, 2, 3]
    assert read_trials(log).catch_g[-1] == 25


def test_a_chaffy_box_is_asked_for_its_filling(run, log):
    done = run("record", log, stdin="chaffy\n\n4\ns\n47\n60%\n")
    assert done.returncode == 0
    assert read_trials(log).fill_pct[-1] == 60


def test_the_log_is_begun_where_there_is_none(run, log):
    log.unlink()
    done = run("record", log, stdin="small\n\n20\ns\ny\n31.8\n")
    assert done.returncode == 0
    assert "SET 14" in done.stdout
    assert read_trials(log).catch_g.tolist() == [31.8]


def test_undo_marks_and_keeps(run, log):
    count = len(read_trials(log))
    done = run("record", log, "--undo")
    assert (done.returncode, done.stdout.count("\n")) == (0, 1)
    trials = read_trials(log)
    assert (len(trials), trials.line[-1], trials.use[-1], trials.note[-1]) == (count, 44, False, "undone")
    found = json.loads(run("record", log, "--undo", "--json").stdout)
    assert (found["line"], found["unused"]["box"]) == (43, "small")


def test_a_catch_is_kept_though_another_row_is_broken(run, log):
    with log.open("a") as file:
        file.write("2026-11-15,2026,small,forb mix,15,28,3,12 g,,yes,,yes,R.,\n")
    done = run("record", log, "--box", "small", "--lot", "forb mix", "--setting", "15", "--catch", "25", stdin="")
    assert done.returncode == 0
    assert "line 46" in done.stderr
    assert f"{log} line 45, column catch_g" in done.stderr
    assert ",25,," in log.read_text().splitlines()[-1]


def test_a_line_cut_short_is_kept_as_a_comment_when_agreed(run, log):
    with log.open("a") as file:
        file.write("2026-11-15,2026,small,for")
    assert run("record", log, "--catch", "25", stdin="n\n").returncode == 1
    done = run("record", log, "--catch", "25", stdin="y\n")
    assert done.returncode == 0
    assert "# cut short: 2026-11-15,2026,small,for\n" in log.read_text()


def test_a_new_lot_is_asked_about(run, log):
    assert run("record", log, "--lot", "forbmix", "--catch", "25", stdin="n\n").returncode == 1
    assert run("record", log, "--lot", "K-27", "--catch", "25", stdin="y\n").returncode == 0
    assert read_trials(log).lot[-1] == "K-27"


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_folder_that_cannot_be_written_says_so(run, log):
    log.chmod(0o444)
    done = run("record", log, "--catch", "25", stdin="")
    assert done.returncode == 1
    assert str(log) in done.stderr


def test_a_folder_that_is_not_there_is_named(run, log):
    done = run("record", log.parent / "none" / "trials.csv", "--catch", "25", stdin="")
    assert done.returncode == 1
    assert str(log.parent / "none" / "drill.toml") in done.stderr


def test_undated_catches_and_those_before_the_new_year_are_of_the_same_season(run, log):
    log.write_text("box,lot,setting,catch_g\nsmall,forb mix,16,26.2\nsmall,forb mix,14,22.9\n")
    done = run("record", log, "--catch", "22.7", "--on", "2025-12-30", "--json", stdin="")
    assert json.loads(done.stdout)["results"][0]["catches_used"] == 3
    done = run("record", log, "--catch", "22.8", "--on", "2026-01-02", "--json", stdin="")
    assert json.loads(done.stdout)["results"][0]["catches_used"] == 4


def test_catches_of_another_season_are_named_as_not_counted(run, log):
    done = run(
        "record", log, "--box", "small", "--lot", "KS-25", "--setting", "16", "--catch", "22.4", "--yes", stdin=""
    )
    assert done.returncode == 0
    asked = ("recommend", log, "--box", "small", "--lot", "KS-25", "--target-g", "23", "--json")
    (found,) = json.loads(run(*asked).stdout)["results"]
    assert found["catches_used"] == 1
    assert any("4 catches" in each and "2025" in each for each in found["warnings"])


def test_a_day_to_come_is_asked_about(run, log):
    before = log.read_bytes()
    assert run("record", log, "--catch", "23", "--on", "2099-01-01", stdin="n\n").returncode == 1
    assert log.read_bytes() == before


def test_two_weights_for_three_rows_are_asked_about(run, log):
    before = log.read_bytes()
    done = run("record", log, "--setting", "14", "--catch", "11.4+11.6", stdin="n\n")
    assert done.returncode == 1
    assert log.read_bytes() == before
    assert run("record", log, "--setting", "14", "--catch", "11.4+11.6", stdin="y\ny\n").returncode == 0
    assert (read_trials(log).rows[-1], read_trials(log).rows_g[-1]) == (2, (11.4, 11.6))


def test_a_log_with_a_header_alone_or_nothing_at_all_is_begun(run, log):
    for text in ("box,lot,setting,catch_g\n", ""):
        log.write_text(text)
        done = run("record", log, stdin="small\n\n16\ns\ny\n26.1\n")
        assert done.returncode == 0, done.stderr
        assert "SET 13.5" in done.stdout


def test_a_lot_of_a_blend_is_recorded_under_the_blends_name(run, log):
    done = run("record", log, "--box", "small", "--lot", "KS-26", "--setting", "14", "--catch", "23.1", stdin="")
    assert done.returncode == 0
    assert read_trials(log).lot[-1] == "forb mix"


# What is said to be saved can be read again


def test_a_half_step_is_written_with_the_decimal_sign_of_the_log(run, log):
    log.write_text("box;lot;setting;catch_g\nsmall;forb mix;14,5;22,1\n")
    assert run("record", log, "--setting", "15.5", "--catch", "24.3", "--yes", stdin="").returncode == 0
    assert log.read_text().splitlines()[-1].split(";")[2] == "15,5"
    assert read_trials(log).setting.tolist() == ["14,5", "15,5"]
    assert run("recommend", log, "--box", "small", "--target-g", "23").returncode == 0


def test_a_log_of_whole_numbers_with_semicolons_stays_readable(run, log):
    log.write_text("box;lot;setting;catch_g\nsmall;forb mix;14;22\n")
    assert run("record", log, "--setting", "15.5", "--catch", "24", "--yes", stdin="").returncode == 0
    assert run("recommend", log, "--box", "small", "--target-g", "23").returncode == 0


def test_an_arrow_key_at_a_question_is_not_saved(run, log):
    done = run("record", log, stdin="small\n\x1b[Dforb mix\nforb mix\n14\ns\n23.3\ny\ny\n")
    assert done.returncode == 0
    assert done.stderr.count("Lot [") == 2
    assert "\x1b" not in done.stderr
    assert b"\x1b" not in log.read_bytes()


@pytest.mark.parametrize("day", ["1899-01-01", "2300-01-01", "2026-W16-6"])
def test_a_day_that_the_log_would_refuse_is_refused(run, log, day):
    before = log.read_bytes()
    assert run("record", log, "--catch", "23", "--on", day, "--yes", stdin="").returncode == 2
    assert log.read_bytes() == before


def test_a_blank_lot_is_refused(run, log):
    before = log.read_bytes()
    done = run("record", log, "--box", "small", "--lot", "   ", "--setting", "14", "--catch", "23", "--yes", stdin="")
    assert done.returncode == 1
    assert done.stderr.startswith("--lot: ")
    assert log.read_bytes() == before


def test_a_lot_that_begins_like_a_comment_is_recorded(run, log):
    log.write_text("lot,box,setting,catch_g\nA,small,14,22\n")
    done = run("record", log, "--box", "small", "--lot", "#3", "--setting", "14", "--catch", "23", "--yes", stdin="")
    assert done.returncode == 0
    assert '"#3",small,' in log.read_text()
    assert read_trials(log).lot.tolist() == ["A", "#3"]


def test_a_note_in_two_lines_without_a_line_end_is_no_row_cut_short(run, log):
    before = 'box,lot,setting,catch_g,note\nsmall,forb mix,14,22.5,"windy,\nsecond pass"'
    log.write_text(before)
    options = ("--box", "small", "--lot", "forb mix", "--setting", "14", "--catch", "23")
    assert run("record", log, *options, stdin="").returncode == 0
    assert "windy,\nsecond pass" in log.read_text()
    assert read_trials(log).note.tolist() == ["windy, second pass", ""]


def test_a_log_with_points_in_its_settings_keeps_them(run, log):
    log.write_text("box;lot;setting;catch_g\nsmall;forb mix;17.5;23\n")
    options = ("--box", "small", "--lot", "forb mix", "--setting", "17.5", "--catch", "23,2", "--yes")
    assert run("record", log, *options, stdin="").returncode == 0
    trials = read_trials(log)
    assert (trials.opening.tolist(), trials.catch_g.tolist()) == ([17.5, 17.5], [23, 23.2])


def test_undo_leaves_no_formula_behind(run, log):
    run("record", log, "--catch", "23", "--operator", "=1+1", "--note", "=2+2", "--yes", stdin="")
    assert run("record", log, "--undo").returncode == 0
    assert not [cell for cell in log.read_text().splitlines()[-1].split(",") if cell.strip('"')[:1] == "="]
    found = json.loads(run("record", log, "--undo", "--json").stdout)
    assert found["unused"]["box"] == "small"


def test_an_entry_given_up_leaves_no_empty_log(run, log):
    log.unlink()
    assert run("record", log, stdin="").returncode == 1
    assert not log.exists()


def test_a_wrong_tare_is_the_users_slip(run, log):
    done = run("record", log, "--catch", "23", "--tare", "abc", "--yes", stdin="")
    assert done.returncode == 1
    assert done.stderr.startswith('--tare: "abc" ')


LOGS_OF_ODD_FORM = {
    "a quoted comment of two lines": '"# Hill farm\nnotes",,,\nbox,lot,setting,catch_g\nsmall,forb mix,16,26.2\n',
    "columns without a name": "box,lot,setting,catch_g,,\nsmall,forb mix,16,26.2,,\nsmall,forb mix,15,25.1\n",
    "tabs, and # in a second cell": "note\toperator\tbox\tlot\tsetting\tcatch_g\n\t#2\tsmall\tforb mix\t16\t26.2\n",
    "a line that tells the separator": "sep=;\nbox;lot;setting;catch_g\nsmall;forb mix;16;26,2\n",
    "decimal commas in quotes": 'box,lot,setting,catch_g\nsmall,forb mix,16,"26,2"\n',
    "ends of an old kind": 'box,lot,setting,catch_g\r# a,"b\rsmall,forb mix,16,26.2\r# c",d\r',
}


@pytest.mark.parametrize("form", LOGS_OF_ODD_FORM)
def test_a_log_of_odd_form_keeps_its_catches_and_the_new_one_whole(run, log, form):
    log.write_bytes(LOGS_OF_ODD_FORM[form].encode())
    before = read_trials(log)
    options = "--box small --setting 14.5 --catch 33.125 --tare 4 --turns 60 --not-charged --yes"
    assert run("record", log, "--lot", "forb mix", *options.split(), stdin="").returncode == 0
    trials = read_trials(log)
    assert trials.catch_g[:-1].tolist() == before.catch_g.tolist()
    assert (trials.catch_g[-1], trials.turns[-1], trials.charged[-1]) == (29.125, 60.0, False)
    assert float(trials.setting[-1].replace(",", ".")) == 14.5
    assert run("record", log, "--undo").returncode == 0
    assert read_trials(log).use.tolist() == [*before.use.tolist(), False]


def test_a_number_that_can_be_read_in_two_ways_is_not_settled_by_the_next_catch(run, log):
    log.write_text("box;lot;setting;catch_g\nsmall;forb mix;16;1.031\n")
    before = log.read_bytes()
    done = run("record", log, "--setting", "14", "--catch", "33.5", "--yes", stdin="")
    assert done.returncode == 1
    assert log.read_bytes() == before


def test_a_log_that_takes_no_catch_is_said_before_any_question(run, log):
    log.write_text("box,lot\n")
    done = run("record", log, stdin="small\nforb mix\n14\n23\n")
    assert done.returncode == 1
    assert f"{log} line 1" in done.stderr
    assert "Box (" not in done.stderr


def test_the_sign_of_the_log_may_be_typed(run, log):
    log.write_text("box;lot;setting;catch_g\nsmall;forb mix;14,5;22,1\n")
    assert run("record", log, stdin="small\nforb mix\n15,5\ns\ny\n24,3\ny\ny\n").returncode == 0
    assert read_trials(log).catch_g.tolist() == [22.1, 24.3]


def test_a_log_is_read_whole_once_for_a_catch_and_twice_if_it_cannot_be_read(run, log, monkeypatch):
    read = []
    for module, name in ((kept, "_read"), (log_file, "check_log")):
        real = getattr(module, name)
        monkeypatch.setattr(module, name, lambda *given, real=real: (read.append(real.__name__), real(*given))[1])
    assert run("record", log, "--setting", "14", "--catch", "23.1").returncode == 0  # this may add columns
    read.clear()
    assert run("record", log, "--setting", "14", "--catch", "23.3").returncode == 0
    assert read == ["_read"]
    read.clear()
    with log.open("a") as file:
        file.write("2026-11-15,2026,small,forb mix,15,28,3,12 g,,yes,,yes,R.,\n")
    assert run("record", log, "--box", "small", "--lot", "A", "--setting", "14", "--catch", "23.1", "--yes").stderr
    assert read == ["_read", "check_log", "_read"]


def test_more_weights_than_the_drill_has_rows_are_refused(run, log):
    before = log.read_bytes()
    done = run("record", log, "--setting", "14", "--catch", "+".join(["7.6"] * 13), "--yes")
    assert done.returncode == 1
    assert done.stderr.startswith("--catch: 13 ")
    assert log.read_bytes() == before


def test_a_catch_is_kept_though_the_plan_is_broken(run, log):
    (log.parent / "plan.csv").write_text("box,lot\n")
    done = run("record", log, "--box", "small", "--lot", "K-27", "--setting", "14", "--catch", "23", "--yes")
    assert done.returncode == 0
    assert f"{log.parent / 'plan.csv'} line 1" in done.stderr
    trials = read_trials(log)
    assert (trials.lot[-1], trials.catch_g[-1]) == ("K-27", 23)


@pytest.mark.parametrize("options", [["--undo"], ["--box", "small", "--lot", "A", "--setting", "14", "--catch", "23"]])
def test_a_log_that_cannot_be_opened_is_named(run, log, options):
    elsewhere = log.parent / "none" / "trials.csv"
    done = run("record", elsewhere, "--drill", log.parent / "drill.toml", "--yes", *options)
    assert done.returncode == 1
    assert done.stderr.startswith(f"{elsewhere}: ")


def test_a_weight_with_the_container_is_said_to_be_one_when_it_is_taken_back(run, log):
    """The log has the weight that was on the scale, and what was said to be saved is that of the seed."""
    done = run("record", log, "--box", "small", "--setting", "14", "--catch", "323.2", "--tare", "300", stdin="")
    assert "at 14, 23.2 g" in done.stderr
    line = len(log.read_text().splitlines())
    assert "at 14, 323.2 g with the container." in run("record", log, "--confirm", line).stderr
    assert "at 14, 323.2 g with the container." in run("record", log, "--undo", columns=200).stdout
    assert "with the container" not in run("record", log, "--undo").stdout
