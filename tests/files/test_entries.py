"""A row that carries the id of an entry is saved once, however often it is sent. Weights are invented."""

import contextlib
import errno
import os
from dataclasses import fields, replace

import numpy as np
import pytest

from predictor import InputError, read_job, read_trials
from predictor.domain.checks import FieldCheck
from predictor.domain.planted import PlantedLine
from predictor.errors import Unsure
from predictor.files import write as storing
from predictor.files.cut import comment_out_last, cut_short
from predictor.files.field import read_field
from predictor.files.kept import KeptLog
from predictor.files.kinds import TRIALS, field_checks, planted_lines
from predictor.files.log import add_once, add_row, begin_log, leave_out, row_of_entry, undo_entry, undo_last
from predictor.files.planted import read_planted
from tests.files.test_field_log import CHECK, COUNTED, DRILL
from tests.files.test_planted import CELL, FULL
from tests.refused import refusals

CATCH = {"date": "2026-11-25", "box": "small", "lot": "A", "setting": "14", "catch_g": 61.2, "use": "yes"}
FIRST, SECOND = "0123456789abcdef" * 2, "f" * 32
FORMS = {
    "commas": b"box,lot,setting,catch_g\nsmall,A,14,60.5\n",
    "no last line end": b"box,lot,setting,catch_g\r\nsmall,A,14,60.5",
    "mark": b"\xef\xbb\xbfbox,lot,setting,catch_g,note\nsmall,A,14,60.5,\n",
    "semicolons": b"box;lot;setting;catch_g\nsmall;A;14;60,5\n",
    "tabs": b"Box\tLot\tSetting\tCatch_g\nsmall\tA\t14\t60.5\n",
    "remarks": b"# made by hand\n\nbox,lot,setting,catch_g\n# a remark\nsmall,A,14,60.5\n\n",
    "own column last": b'box,lot,entry,setting,catch_g,"my own"\nsmall,A,,14,60.5,"two\nlines"\n',
    "columns beyond": b"box,lot,setting,catch_g,,\nsmall,A,14,60.5,,\n,,,,,\n",
    "utf-16": "\ufeffbox;lot;setting;catch_g\nsmall;A;14;60,5\n".encode("utf-16-le"),
    "utf-16, big end first": "\ufeffbox\tlot\tsetting\tcatch_g\r\nsmall\tA\t14\t60,5\r\n".encode("utf-16-be"),
}


def line_with(kind, path, entry):
    """The line of the row with an id, or None."""
    found = row_of_entry(kind, path, entry)
    return None if found is None else found[0]


CALLS = {
    "sent again": lambda path, entry: add_once(TRIALS, path, {**CATCH, "entry": entry}),
    "looked up": lambda path, entry: line_with(TRIALS, path, entry),
    "undone": lambda path, entry: undo_entry(TRIALS, path, entry),
}


def log(tmp_path, data=FORMS["commas"]):
    path = tmp_path / "trials.csv"
    path.write_bytes(data)
    return path


def every(trials):
    """Every column of trials, for comparison."""
    held = {each.name: getattr(trials, each.name) for each in fields(trials)}
    return repr({k: each.tolist() if isinstance(each, np.ndarray) else each for k, each in held.items()})


@pytest.mark.parametrize("data", FORMS.values(), ids=FORMS)
def test_a_row_sent_again_is_saved_once_in_every_form_of_a_file(tmp_path, data):
    path = log(tmp_path, data)
    line, added = add_once(TRIALS, path, {**CATCH, "entry": FIRST})
    once = path.read_bytes()
    assert added
    assert add_once(TRIALS, path, {**CATCH, "entry": FIRST, "catch_g": 99.9}) == (line, False)
    assert path.read_bytes() == once
    assert add_once(TRIALS, path, {**CATCH, "entry": SECOND}) == (line + 1, True)
    assert [line_with(TRIALS, path, each) for each in (FIRST, SECOND, "0" * 32)] == [line, line + 1, None]
    trials = read_trials(path)
    assert trials.catch_g.tolist() == [60.5, 61.2, 61.2]
    assert trials.line[-2:].tolist() == [line, line + 1]
    assert undo_entry(TRIALS, path, FIRST)[0] == line
    assert read_trials(path).use.tolist() == [True, False, True]


def test_rows_without_an_id_are_as_they_were_and_bring_no_column(tmp_path):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    add_row(TRIALS, path, CATCH)
    undo_last(TRIALS, path)
    assert "entry" not in path.read_text()
    add_once(TRIALS, path, {**CATCH, "entry": FIRST})
    assert path.read_text().splitlines()[0] == f"{TRIALS.new_header},entry"
    assert add_row(TRIALS, path, CATCH) == 4
    assert [line_with(TRIALS, path, FIRST), len(read_trials(path))] == [3, 3]


def test_the_row_is_added_with_its_id_in_one_write(tmp_path, monkeypatch):
    path = log(tmp_path)
    add_once(TRIALS, path, {**CATCH, "entry": FIRST})
    real, written = os.write, []
    monkeypatch.setattr(storing.os, "write", lambda handle, data: written.append(bytes(data)) or real(handle, data))
    add_once(TRIALS, path, {**CATCH, "entry": SECOND})
    assert len(written) == 1
    assert SECOND.encode() in written[0]


def test_a_field_check_and_a_planted_line_are_saved_once_too(tmp_path):
    files = {
        "field.csv": (field_checks(DRILL), CHECK, COUNTED, lambda path: read_field(path, DRILL).checks),
        "planted.csv": (
            planted_lines(DRILL),
            FULL,
            {**FULL, "field": "south", "evidence": CELL},
            lambda path: read_planted(path, DRILL).of("small", "forb mix"),
        ),
    }
    for name, (kind, one, other, in_use) in files.items():
        path = tmp_path / name
        begin_log(kind, path)
        for _ in range(2):
            assert [add_once(kind, path, {**one, "entry": FIRST})[0]] == [2]
            assert [add_once(kind, path, {**other, "entry": SECOND})[0]] == [3]
        assert len(in_use(path)) == 2
        assert undo_entry(kind, path, FIRST)[0] == undo_entry(kind, path, FIRST)[0] == 2
        assert [each.line for each in in_use(path)] == [3]
        assert line_with(kind, path, SECOND) == 3


def test_nothing_that_is_read_of_a_file_depends_on_its_ids(tmp_path):
    """Nor is anything compared by them: what a row is for the program has no place for one."""
    with_ids, without = tmp_path / "with" / "trials.csv", tmp_path / "without" / "trials.csv"
    for path in (with_ids, without):
        path.parent.mkdir()
        log(path.parent)
        for k in range(3):
            values = {**CATCH, "catch_g": 61.2 + k}
            if path is with_ids:
                add_once(TRIALS, path, {**values, "entry": f"{k:032x}"})
            else:
                add_row(TRIALS, path, values)
    ours, theirs = (replace(read_trials(path), file="", digest="") for path in (with_ids, without))
    assert every(ours) == every(theirs)
    for held in (type(ours), FieldCheck, PlantedLine):
        assert "entry" not in {each.name for each in fields(held)}


def advice_of(folder):
    """What is advised of each box and lot of a job."""
    job = read_job(folder)
    return [str(job.advice(task)) for task in job.tasks()]


def test_a_job_whose_log_has_ids_says_what_it_said(job):
    said = advice_of(job)
    log_of = job / "trials.csv"
    text = log_of.read_text()
    rows = [each if each[:1] == "#" or not each else each + "," for each in text.splitlines()]
    head = next(k for k, each in enumerate(rows) if each.startswith("date,"))
    rows[head] += "entry"
    log_of.write_text("\n".join([*rows[:-1], rows[-1] + FIRST]) + "\n")
    assert line_with(TRIALS, log_of, FIRST) == len(rows)
    assert advice_of(job) == said


def test_an_undo_that_is_sent_again_changes_nothing(tmp_path):
    path = log(tmp_path)
    add_once(TRIALS, path, {**CATCH, "entry": FIRST, "note": "windy"})
    assert undo_entry(TRIALS, path, FIRST)[1]["use"] == "yes"
    once = path.read_bytes()
    assert undo_entry(TRIALS, path, FIRST)[1]["use"] == "no"
    assert path.read_bytes() == once
    assert read_trials(path).note.tolist() == ["", "windy; undone"]
    # an entry that was taken back and is sent again is still saved, and stays taken back
    assert add_once(TRIALS, path, {**CATCH, "entry": FIRST}) == (3, False)
    assert path.read_bytes() == once


def test_rows_left_out_for_the_same_reason_again_are_as_they_were(tmp_path):
    path = log(tmp_path)
    leave_out(TRIALS, path, [2], "a lump")
    once = path.read_bytes()
    leave_out(TRIALS, path, [2], "a lump")
    assert path.read_bytes() == once
    leave_out(TRIALS, path, [2], "wet seed")
    assert read_trials(path).note.tolist() == ["a lump; wet seed"]


def test_a_row_that_was_left_out_for_a_reason_keeps_it_when_it_is_taken_back(tmp_path):
    path = log(tmp_path)
    line, _ = add_once(TRIALS, path, {**CATCH, "entry": FIRST})
    leave_out(TRIALS, path, [line], "a lump")
    undo_entry(TRIALS, path, FIRST)
    assert read_trials(path).note.tolist() == ["", "a lump"]


def test_a_row_that_a_spreadsheet_copied_is_read_and_the_first_of_both_is_meant(tmp_path):
    path = log(tmp_path)
    add_once(TRIALS, path, {**CATCH, "entry": FIRST})
    path.write_bytes(path.read_bytes() + path.read_bytes().splitlines(keepends=True)[-1])
    assert read_trials(path).catch_g.tolist() == [60.5, 61.2, 61.2]
    assert line_with(TRIALS, path, FIRST) == 3
    assert add_once(TRIALS, path, {**CATCH, "entry": FIRST}) == (3, False)
    for _ in range(2):
        assert undo_entry(TRIALS, path, FIRST)[0] == 3
    assert read_trials(path).use.tolist() == [True, False, True]


@pytest.mark.parametrize(
    "data",
    [
        f"box,lot,setting,catch_g,note\nsmall,A,14,60.5,{FIRST}\n",
        f"# {FIRST}\nbox,lot,setting,catch_g\nsmall,A,14,60.5\n",
        f"box,lot,setting,catch_g,entry\nsmall,A,14,60.5,{FIRST}0\n",
        f"box,lot,setting,catch_g,entry\nsmall,A,14,60.5,\n# cut short: small,A,14,60.5,'{FIRST}\n",
        f"box,lot,setting,catch_g,{FIRST}\nsmall,A,14,60.5,\n",
    ],
)
def test_an_id_that_is_elsewhere_in_the_file_is_not_a_row(tmp_path, data):
    path = log(tmp_path, data.encode())
    assert line_with(TRIALS, path, FIRST) is None
    assert add_once(TRIALS, path, {**CATCH, "entry": FIRST}) == (data.count("\n") + 1, True)


@pytest.mark.parametrize("below", ["small,A,14\n", "small,A,14", 'small,A,14,60.5,"'])
def test_a_row_is_found_though_another_row_must_be_corrected(tmp_path, below):
    text = f"box,lot,setting,catch_g,entry\nsmall,A,14,60.5,{FIRST}\n{below}"
    path = log(tmp_path, text.encode())
    assert line_with(TRIALS, path, FIRST) == 2
    assert add_once(TRIALS, path, {**CATCH, "entry": FIRST}) == (2, False)
    assert path.read_text() == text


def test_a_whole_row_that_has_no_id_and_no_line_end_is_not_taken_for_one_cut_short(tmp_path):
    path = log(tmp_path, f'box,lot,setting,catch_g,entry\nsmall,A,14,60.5,"{FIRST}"\nsmall,A,14,61.5,""'.encode())
    assert cut_short(TRIALS, path) is None
    assert add_once(TRIALS, path, {**CATCH, "entry": SECOND}) == (4, True)
    assert read_trials(path).catch_g.tolist() == [60.5, 61.5, 61.2]


@pytest.mark.slow
@pytest.mark.parametrize("data", FORMS.values(), ids=FORMS)
def test_a_row_cut_short_at_any_byte_is_there_once_when_it_is_sent_again(tmp_path, data):
    """The next run mends what a writer left that was killed, or does not, and then may refuse to add to it."""
    path = log(tmp_path, data)
    add_once(TRIALS, path, {**CATCH, "entry": FIRST})
    before, row = path.read_bytes(), {**CATCH, "catch_g": 62.5, "entry": SECOND, "note": ""}
    add_once(TRIALS, path, row)
    after, whole = path.read_bytes(), 0
    for cut in range(len(before), len(after)):
        path.write_bytes(after[:cut])
        if cut_short(TRIALS, path):
            with contextlib.suppress(InputError):
                assert not add_once(TRIALS, path, row)[1]
            assert path.read_bytes() == after[:cut]
            comment_out_last(TRIALS, path)
        whole += not add_once(TRIALS, path, row)[1]
        assert not add_once(TRIALS, path, row)[1]
        assert read_trials(path).catch_g.tolist() == [60.5, 61.2, 62.5], after[:cut]
    assert whole < 9  # of about a hundred: cut in its line end, or behind its id where columns follow


def test_a_row_that_is_found_is_flushed_with_its_folder_before_it_is_answered(tmp_path, monkeypatch):
    path = log(tmp_path)
    add_once(TRIALS, path, {**CATCH, "entry": FIRST})
    undo_entry(TRIALS, path, FIRST)
    real, flushed = os.fsync, []
    monkeypatch.setattr(storing.os, "fsync", lambda handle: flushed.append(os.fstat(handle).st_ino) or real(handle))
    for call in CALLS.values():
        flushed.clear()
        call(path, FIRST)
        assert flushed == [path.stat().st_ino, tmp_path.stat().st_ino]


@pytest.mark.parametrize("call", ["sent again", "looked up"])
def test_a_row_that_is_found_and_cannot_be_flushed_may_be_saved_or_not(tmp_path, monkeypatch, call):
    path = log(tmp_path)
    add_once(TRIALS, path, {**CATCH, "entry": FIRST})

    def broken(handle):
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(storing.os, "fsync", broken)
    with pytest.raises(Unsure) as error:
        CALLS[call](path, FIRST)
    assert error.value.line == 3
    with pytest.raises(OSError, match="Input/output") as other:  # what was not there is taken back, and is not saved
        add_once(TRIALS, path, {**CATCH, "entry": SECOND})
    assert not isinstance(other.value, Unsure)


def test_an_id_is_looked_up_where_there_is_no_file(tmp_path):
    assert line_with(TRIALS, tmp_path / "trials.csv", FIRST) is None


def test_what_is_no_id_is_refused_before_anything_is_written(tmp_path):
    path = log(tmp_path)
    add_once(TRIALS, path, {**CATCH, "entry": FIRST})
    before = path.read_bytes()
    for wrong in ("", "a", FIRST[1:], FIRST + "0", FIRST.upper(), f"{FIRST[:-1]}\n", f"{FIRST[:-1]}g", 7.0):
        for call in CALLS.values():
            with pytest.raises(InputError, match="32 letters"):
                call(path, wrong)
    assert path.read_bytes() == before
    refusals(
        "entries-refused",
        {
            "no id": lambda: add_once(TRIALS, path, CATCH),
            "nothing to undo": lambda: undo_entry(TRIALS, path, SECOND),
        },
    )


def test_a_log_with_ids_that_is_kept_is_what_is_read_of_it(tmp_path):
    path, kept = log(tmp_path), KeptLog()
    kept.trials(path)
    for values in ({"entry": FIRST}, {}, {"entry": SECOND}):
        (add_once if values else add_row)(TRIALS, path, CATCH | values, kept)
        assert every(kept.trials(path)) == every(read_trials(path))
