"""What becomes of an entry of the page: asked about, saved once, taken back, and never merged with another."""

from __future__ import annotations

import csv
import datetime
import json
import re
import shutil
from unittest import mock

import pytest
from hypothesis import given, settings, strategies as st

from predictor.errors import InputError
from predictor.serving.saves import save
from predictor.text import taps
from tests import running
from tests.conftest import ROOT
from tests.running import that_day
from tests.serving.person import JOB, Person

FIRST = Person.first


@pytest.fixture
def folder(tmp_path):
    job = tmp_path / "myjob"
    job.mkdir()
    for name in ("drill.toml", "plan.csv", "trials.csv", "field.csv"):
        shutil.copy(ROOT / "sample_trials" / name, job / name)
    return job


@pytest.fixture
def person(folder):
    return Person(folder)


def rows(folder, name="trials.csv"):
    with open(folder / name, newline="", encoding="utf-8") as file:
        lines = [line for line in file if not line.startswith("#")]
    return list(csv.DictReader(lines))


def answering(*words):
    """Taps the choice whose label has one of these words, else the first one."""

    def answer(question):
        for word in words:
            for choice in question["choices"]:
                if word in choice["label"]:
                    return choice
        return FIRST(question)

    return answer


def test_a_catch_is_saved_with_all_that_was_answered(person, folder):
    saved = person.catch("small", "22.9")
    assert (saved["result"], saved["box"]) == ("saved", "small")
    row = rows(folder)[-1]
    assert (row["setting"], row["catch_g"], row["turns"], row["rows"]) == ("14", "22.9", "28", "3")
    assert (row["entry"], row["date"], row["use"]) == (person.sent[-1]["id"], "2026-11-25", "yes")
    # the lever had to be moved, and a container would make every weight wrong: both are asked
    assert [each["name"] for each in person.asked] == ["setting", ""]
    assert "the container" in person.asked[1]["text"]
    person.asked.clear()
    person.catch("small", "23.1")
    assert person.asked == []  # neither is asked twice


def test_an_entry_that_is_sent_again_is_saved_once(person, folder):
    before = len(rows(folder))
    first = person.catch("small", "22.9")
    again = person.send(person.sent[-1])
    assert (again["result"], again["line"]) == ("saved", first["line"])
    assert len(rows(folder)) == before + 1


def test_an_id_that_is_sent_with_another_catch_is_told_which_one_was_saved(person, folder):
    person.catch("small", "22.9")
    sent = person.sent[-1]
    other = person.post(sent | {"values": sent["values"] | {"box": "grain", "catch": "99"}})
    assert (other["said"], other["box"]) == (["Saved as line 45: box small, forb mix at 14, 22.9 g."], "small")
    person.enter("undo", {"file": "trials", "entry": sent["id"]})
    assert person.post(sent)["said"] == ["Saved as line 45: box small, forb mix at 14, 22.9 g. It is marked unused."]


@pytest.mark.parametrize("error", [InputError("It is broken."), PermissionError(13, "denied"), RuntimeError("broken")])
def test_what_is_in_the_file_is_answered_as_saved_though_the_state_cannot_be_made(person, folder, error):
    with mock.patch("predictor.serving.saves.state", side_effect=error):
        shown = person.box("small")["catch"]
        saved = person.catch("small", "22.9", shown)
    assert (saved["result"], saved["state"], rows(folder)[-1]["catch_g"]) == ("saved", None, "22.9")


def test_a_container_that_another_catch_had_is_not_taken_off_unasked(person, folder):
    person.catch("small", "22.9")
    shown = person.box("small")["catch"]
    Person(folder).catch("small", "43.2", tare="20")
    assert person.box("small")["catch"]["weighed"] != shown["weighed"] == "of seed alone"
    person.asked.clear()
    person.catch("small", "23.1", shown)
    assert "the container" in person.asked[0]["text"]
    assert (rows(folder)[-1]["catch_g"], rows(folder)[-1]["tare_g"]) == ("23.1", "0")
    person.catch("small", "43.1")  # as it is shown now
    person.catch("small", "44.1", shown, tare="21")  # as somebody said
    assert [each["tare_g"] for each in rows(folder)[-2:]] == ["", "21"]  # 0 is not written again


def test_a_length_that_was_chosen_is_in_the_unit_that_was_shown(person, folder):
    line = ("--box", "small", "--lot", "forb mix", "--setting", "14", "--catch", "22.9", "--distance-ft", "200")
    running.run("record", folder, *line, "--yes")
    assert person.box("small")["catch"]["counted"] == "ft"
    said = person.catch("small", "11.3", turns="100")["said"][0]
    assert "100 ft, 3 rows" in said
    assert (rows(folder)[-1]["distance_ft"], rows(folder)[-1]["turns"]) == ("100", "")


def test_a_unit_that_the_drill_file_has_no_more_is_not_guessed(person, folder):
    shown, before = person.box("small")["catch"], len(rows(folder))
    assert shown["counted"] == "wheel turns"
    assert person.catch("small", "22.9", shown | {"counted": "crank turns"})["said"] == [taps.LOOK_AGAIN]
    assert len(rows(folder)) == before


def test_a_lot_that_nobody_was_shown_is_asked_for(folder):
    for name in ("plan.csv", "trials.csv", "field.csv"):
        (folder / name).unlink()
    person = Person(folder, lambda question: None)
    shown = person.box("small")["catch"]
    assert shown["lot"] == ""
    line = ("--box", "small", "--lot", "Q-26", "--setting", "14", "--catch", "22.9")
    running.run("record", folder, *line, "--yes")
    person.answers = lambda question: None if question["name"] == "lot" else FIRST(question)
    asked = person.catch("small", "23.1", shown)
    assert (asked["result"], asked["question"]["name"], asked["question"]["usual"]) == ("ask", "lot", "Q-26")


def test_the_lever_may_have_stayed_where_it_was(person, folder):
    person.answers = answering("15")
    person.catch("small", "25.0")
    assert rows(folder)[-1]["setting"] == "15"


@pytest.mark.parametrize(
    ("tap", "cells"),
    [
        (taps.KEEP, {"catch_g": "40", "use": "yes", "confirmed": "yes"}),
        (taps.NOT_CHARGED, {"catch_g": "40", "charged": "no", "use": "yes"}),
        (taps.BRIDGED, {"catch_g": "40", "use": "no", "note": taps.BRIDGED_NOTE}),
        (taps.OTHER_SIZE, {"catch_g": "40", "turns": "48", "rows": "3"}),
        (taps.MISREAD, {"catch_g": "24", "use": "yes"}),
        (taps.CONTAINER, {"catch_g": "40", "tare_g": "16"}),
    ],
)
def test_each_answer_about_an_odd_weight_goes_into_the_row(person, folder, tap, cells):
    typed = {"turns": "48", "rows": "3", "tare": "16", "catch": "24"}

    def answer(question):
        labels = {each["label"]: each for each in question["choices"]}
        if tap in labels:
            return labels[tap]
        return labels.get(taps.KEEP) or typed.get(question["name"]) or FIRST(question)

    person.answers = answer
    assert person.catch("small", "40")["result"] == "saved"
    assert any(taps.KEEP in [choice["label"] for choice in each["choices"]] for each in person.asked)
    row = rows(folder)[-1]
    assert {name: row[name] for name in cells} == cells


def test_ounces_rows_and_parts_are_read_as_they_are_typed(person, folder):
    person.catch("small", "7.6+7.4+7.9")
    person.catch("small", "0.8 oz")
    person.catch("small", "5.7/5.6/5.8/5.9")
    found = rows(folder)[-3:]
    assert [each["catch_g"] for each in found] == ["22.9", f"{0.8 * 28.349523125:.9f}".rstrip("0"), "23"]
    assert (found[0]["rows_g"], found[2]["parts_g"]) == ("7.6;7.4;7.9", "5.7;5.6;5.8;5.9")


def test_what_cannot_be_read_is_asked_for_again_and_says_why(person):
    person.answers = lambda question: None if question["problem"] else FIRST(question)
    asked = person.catch("small", "22.9.1")["question"]
    assert (asked["name"], asked["input"]) == ("catch", "weight")
    assert "22.9.1" in asked["problem"]


def test_a_towed_catch_is_saved_with_its_distance(person, folder):
    shown = {**person.box("small")["catch"], "turns": "150", "counted": "ft", "made": "150 ft, 3 rows"}
    saved = person.catch("small", "20.1", shown, turns="150", counted="ft")
    assert saved["result"] == "saved"
    assert not any("shown then" in each["text"] for each in person.asked)
    row = rows(folder)[-1]
    assert (row["distance_ft"], row["turns"], row["catch_g"]) == ("150", "", "20.1")
    assert "150 ft" in saved["said"][0]


def test_a_new_lot_is_asked_about_and_one_near_a_known_one_is_offered(person, folder):
    saved = person.catch("small", "22.9", lot="forb mx")
    assert any("Did you mean forb mix?" in each["text"] for each in person.asked)
    assert (saved["result"], rows(folder)[-1]["lot"]) == ("saved", "forb mix")
    person.answers = answering("No")
    assert person.catch("small", "22.9", lot="Q-99")["result"] == "again"  # to be entered with its right name


def test_a_catch_that_was_typed_before_another_one_is_asked_about(person, folder):
    shown = person.box("small")["catch"]
    other = Person(folder)
    other.catch("small", "26.4")  # so that another setting is advised
    person.answers = answering("No")
    given_up = person.catch("small", "23.4", shown)
    assert other.box("small")["catch"]["setting"] != shown["setting"]
    assert (given_up["result"], given_up["said"]) == ("again", [taps.LOOK_AGAIN])
    person.answers = FIRST
    assert person.catch("small", "23.4", shown)["result"] == "saved"
    assert rows(folder)[-1]["setting"] == shown["setting"]


def test_a_catch_that_waited_over_a_midnight_keeps_its_day_if_it_is_said_to(person, folder):
    shown, box = person.box("small")["catch"], {"box": "small", "lot": "forb mix"}
    for answer, day, weight in (("Yes", "2026-11-24", "23.1"), ("No", "2026-11-25", "23.6")):
        person.answers = answering(answer)
        saved = person.enter("catch", {**box, "catch": weight, "setting": "14"}, shown, day="2026-11-24")
        assert "2026-11-24" in person.asked[0]["text"] or answer == "No"
        assert (saved["result"], rows(folder)[-1]["date"]) == ("saved", day)


def test_a_row_is_taken_back_by_its_entry_once_and_for_all(person, folder):
    person.catch("small", "22.9")
    entry = person.sent[-1]["id"]
    for _ in range(3):
        done = person.enter("undo", {"file": "trials", "entry": entry})
        assert done["result"] == "saved"
    row = rows(folder)[-1]
    assert (row["use"], row["note"]) == ("no", "undone")


def test_a_row_that_record_wrote_is_taken_back_by_its_line(person, folder):
    running.run("record", folder, "--box", "small", "--lot", "forb mix", "--setting", "14", "--catch", "22.9", "--yes")
    line = person.box("small")["last"]["line"]
    assert person.enter("undo", {"file": "trials", "line": str(line)})["result"] == "saved"
    assert rows(folder)[-1]["use"] == "no"
    again = person.enter("undo", {"file": "trials", "line": str(line)})
    assert again["said"] == [taps.SETTLED]
    assert rows(folder)[-1]["note"] == "undone"
    earlier = person.enter("undo", {"file": "trials", "line": str(line - 1)})
    assert earlier["result"] == "saved"  # now that is the last one in use
    assert person.enter("undo", {"file": "trials", "line": "3"})["result"] == "again"


def test_no_other_row_is_taken_back_than_the_one_that_was_shown(person, folder):
    """As when a spreadsheet has put another catch in its line."""
    last, log = person.box("small")["last"], folder / "trials.csv"
    lines = log.read_text().splitlines()
    lines[last["line"] - 1] = lines[last["line"] - 1].replace("25.5,8.6;8.6", "25.4,8.6;8.5")
    log.write_text("\n".join([*lines, ""]))
    assert last["text"].replace("25.5", "25.4") == person.box("small")["last"]["text"] != last["text"]
    undo = {"file": "trials", "line": str(last["line"]), "text": last["text"]}
    assert person.enter("undo", undo)["said"] == [taps.CHANGED]
    assert log.read_text().splitlines() == lines


def test_what_is_said_comes_with_the_next_question_and_not_again(person):
    weights = {"area": "2", "loaded": "20", "left": "9.1"}
    person.answers = lambda question: weights.get(question["name"]) or FIRST(question)
    saved = person.enter("check", {"box": "small"})
    told = [each["name"] for each in person.asked if any("How did you check it" in said for said in each["said"])]
    assert told == ["way"]
    assert len(saved["said"]) == 1
    person.asked.clear()
    person.answers = answering("14")
    part = person.catch("small", "22.9", lot="FM-26")  # the bag of this blend
    assert any("is part of forb mix" in said for each in person.asked for said in each["said"])
    assert (part["result"], len(part["said"])) == ("saved", 1)


def test_names_among_the_choices_keep_their_letters(person):
    person.answers = lambda question: None
    asked = person.enter("plant", {"box": "small"})["question"]
    assert {each["label"] for each in asked["choices"]} >= {"forb mix"}
    assert all(each["label"] == each["answer"] for each in asked["choices"])


def test_rows_for_which_a_lock_waits_are_confirmed_or_left_out(person, folder):
    with open(folder / "trials.csv", "a", encoding="utf-8") as file:
        file.write("2026-11-25,2026,small,forb mix,14,28,3,229,,yes,,yes,,\n")
    (waiting,) = person.box("small")["open"]
    assert person.enter("confirm", {"lines": waiting["lines"], "text": "something else"})["said"] == [taps.SETTLED]
    assert person.enter("leave_out", {**waiting, "box": "small"})["result"] == "saved"
    assert person.box("small")["open"] == []
    assert rows(folder)[-1]["use"] == "no"
    assert person.enter("leave_out", {**waiting, "box": "small"})["said"] == [taps.SETTLED]


def test_a_season_is_tapped_from_the_catch_to_the_record_as_it_is_typed(tmp_path, folder):
    """The rows that the page writes are those that the commands write."""
    typed = tmp_path / "typed"
    shutil.copytree(folder, typed)
    person = Person(folder)
    weights = {"area": "6", "loaded": "50", "left": "17"}
    person.answers = lambda question: weights.get(question["name"]) or FIRST(question)
    person.catch("small", "23.6", turns="28", rows="3")
    options = ("--box", "small", "--lot", "forb mix", "--setting", "14", "--catch", "23.6", "--tare", "0")
    assert running.run("record", typed, *options, "--yes").returncode == 0
    planted = person.enter("plant", {"box": "small"})
    assert planted["result"] == "saved", planted
    done = running.run("plant", typed, "--box", "small", "--lot", "forb mix", "--area-ac", "6", "--loaded", "50",
                       "--left", "17", "--yes")  # fmt: skip
    assert done.returncode == 0, done.stderr
    person.answers = lambda question: (
        {"area": "2", "loaded": "20", "left": "9.1"}.get(question["name"]) or FIRST(question)
    )
    checked = person.enter("check", {"box": "small"})
    assert checked["result"] == "saved", checked
    options = ("--box", "small", "--lot", "forb mix", "--area-ac", "2", "--loaded", "20", "--left", "9.1", "--yes")
    assert running.run("check", typed, *options).returncode == 0
    for name in ("planted.csv", "field.csv"):
        mine, theirs = (
            [{key: cell for key, cell in row.items() if key not in ("entry", "evidence")} for row in rows(each, name)]
            for each in (folder, typed)
        )
        assert mine == theirs, name
    assert person.box("small")["answer"]["headline"].startswith(("LEAVE", "MOVE", "WEIGH", "PLANTED", "SET"))
    for kind, file, values in (("field.csv", "field", checked), ("planted.csv", "planted", planted)):
        done = person.enter("undo", {"file": file, "entry": values["id"]})
        assert (done["result"], rows(folder, kind)[-1]["use"]) == ("saved", "no")


def test_a_catch_is_kept_though_another_file_is_broken(person, folder):
    (folder / "plan.csv").write_text("nonsense\n1\n")
    assert person.state()["problems"]
    shown = {**person.box("small")["catch"], "setting": "14"}
    saved = person.catch("small", "22.9", shown)
    assert (saved["result"], rows(folder)[-1]["catch_g"]) == ("saved", "22.9")


def test_an_entry_waits_where_its_file_cannot_be_written(person, folder):
    shown = person.box("small")["catch"]
    drill = (folder / "drill.toml").read_text()
    (folder / "drill.toml").write_text("rows = ")
    refused = person.catch("small", "22.9", shown)
    assert refused["result"] == "refused"
    assert "drill.toml" in " ".join(refused["said"])
    assert person.state()["boxes"] == []
    (folder / "drill.toml").write_text(drill)
    with mock.patch("os.write", side_effect=OSError(28, "No space left on device")):
        full = person.send(person.sent[-1])
    assert full["result"] in ("refused", "unsure")
    assert person.send(person.sent[-1])["result"] == "saved"
    assert [each["catch_g"] for each in rows(folder)].count("22.9") == 1


def test_a_log_that_cannot_be_read_keeps_the_entry_waiting(person, folder):
    shown, log = person.box("small")["catch"], (folder / "trials.csv").read_bytes()
    (folder / "trials.csv").write_bytes(b"\xff\xfe\x00" + log)
    assert person.catch("small", "22.9", shown)["result"] == "refused"
    (folder / "trials.csv").write_bytes(log)
    assert person.send(person.sent[-1])["result"] == "saved"


def test_what_was_typed_for_another_job_is_not_saved(person, folder):
    before = rows(folder)
    with that_day():
        found = save(person.book, {"job": "other", "id": "0" * 32, "kind": "catch", "day": "2026-11-25"})
    assert found["result"] == "refused"
    assert rows(folder) == before


def test_a_row_that_was_cut_short_is_asked_about(person, folder):
    with open(folder / "trials.csv", "a", encoding="utf-8") as file:
        file.write("2026-11-25,2026,small,forb")
    saved = person.catch("small", "22.9")
    assert saved["result"] == "saved"
    assert any("is incomplete" in each["text"] for each in person.asked)
    assert rows(folder)[-1]["catch_g"] == "22.9"


def test_the_state_is_worked_out_again_once_a_file_changes(person, folder):
    first = person.state()
    assert person.state() == first
    running.run("record", folder, "--box", "small", "--lot", "forb mix", "--setting", "14", "--catch", "23.5", "--yes")
    assert person.state()["version"] != first["version"]
    with mock.patch("datetime.date", type("Day", (datetime.date,), {"today": lambda: datetime.date(2026, 11, 26)})):
        assert person.book.version() not in (person.state()["version"], first["version"])


def test_the_state_is_worked_out_again_once_a_log_of_another_season_changes(tmp_path, folder):
    other = tmp_path / "before"
    other.mkdir()
    shutil.copy(folder / "drill.toml", other / "drill.toml")
    log = other / "trials.csv"
    log.write_text("date,season,box,lot,setting,catch_g\n2025-11-20,2025,small,Q-25,14,21.3\n")
    drill = folder / "drill.toml"
    drill.write_text('history = ["../before/trials.csv"]\n' + drill.read_text())
    person = Person(folder)
    person.state()
    first = person.state()
    assert person.state()["version"] == first["version"]
    log.write_text(log.read_text() + "2025-11-21,2025,small,Q-25,16,25.1\n")
    assert person.state()["version"] != first["version"]


words = st.text(max_size=12)
anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=4),
    max_leaves=8,
)
ALL = "box lot setting catch turns rows tare container fill charged size use line lines text file entry note"
NAMES = re.findall(r"\w+", ALL)
TEXTS = ["small", "22.9", "14", "no", "1e9", "-1", "trials", ""]


@settings(max_examples=150, deadline=None)
@given(
    kind=st.sampled_from(["catch", "check", "plant", "undo", "confirm", "leave_out"]) | words,
    values=st.dictionaries(st.sampled_from(NAMES), st.sampled_from(TEXTS) | words),
    more=st.dictionaries(words, anything, max_size=2),
    shown=st.dictionaries(st.sampled_from(NAMES), words, max_size=3) | anything,
)
def test_whatever_is_sent_is_answered_in_words(tmp_path_factory, kind, values, more, shown):
    """No entry, however made up, leads to an error of the program, or to more than one row."""
    job = tmp_path_factory.mktemp("sent")
    for name in ("drill.toml", "plan.csv"):
        shutil.copy(ROOT / "sample_trials" / name, job / name)
    sent = {"job": JOB, "id": "a" * 32, "day": "2026-11-25", "kind": kind, "values": values, "shown": shown, **more}
    with that_day():
        for _ in range(2):
            found = save(Person(job).book, sent)
            assert found["result"] in ("saved", "ask", "again", "refused")
            json.dumps(found, allow_nan=False)
    for name in ("trials.csv", "field.csv", "planted.csv"):
        assert not (job / name).exists() or len(rows(job, name)) <= 1
