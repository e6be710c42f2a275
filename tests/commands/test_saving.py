"""What commands say of saving is so, whatever the drive answers; another program at the file is named."""

import errno
import json
import os
from unittest import mock

import pytest

from predictor import read_trials

BOX = ("--box", "small", "--lot", "forb mix", "--setting", "14")
CATCH = (*BOX, "--catch", "23", "--yes")
COMMANDS = {
    "record": ("trials.csv", ("record", "{job}", *CATCH)),
    "undo": ("trials.csv", ("record", "{job}", "--undo")),
    "confirm": ("trials.csv", ("record", "{job}", "--confirm", "7")),
    "plant": ("planted.csv", ("plant", "{job}", "--box", "grain", "--area-ac", "5", "--yes")),
    "check": ("field.csv", ("check", "{job}", *BOX, "--area-ac", "5", "--used", "20", "--yes")),
    "undo a check": ("field.csv", ("check", "{job}", "--undo")),
}
INPUT_OUTPUT = OSError(errno.EIO, "Input/output error")


@pytest.fixture(params=COMMANDS)
def saving(request, job, run):
    """A command that changes a file: its run, and the file."""
    name, words = COMMANDS[request.param]
    return lambda *more: run(*(each.format(job=job) for each in words), *more), job / name


def said(done):
    """All of the messages in one line."""
    return " ".join(done.stderr.split())


@pytest.mark.parametrize("lock", [".~lock.{}#", "~${}"])
def test_a_spreadsheet_that_has_the_file_open_is_named_once(saving, lock):
    command, path = saving
    before = path.read_bytes() if path.exists() else b""
    path.with_name(lock.format(path.name)).touch()
    done = command()
    assert said(done).count("A spreadsheet seems to have") == 1
    assert done.returncode == 0
    assert path.read_bytes() != before


@pytest.mark.parametrize(
    ("call", "code", "what"),
    [
        ("os.fsync", errno.EINVAL, "cannot confirm"),
        ("os.fsync", errno.EOPNOTSUPP, "cannot confirm"),
        ("fcntl.flock", errno.ENOLCK, "cannot lock"),
        ("fcntl.flock", errno.ENOSYS, "cannot lock"),
    ],
)
def test_what_a_drive_lacks_is_said_once_and_the_row_is_saved(saving, call, code, what):
    command, path = saving
    before = path.read_bytes() if path.exists() else b""
    with mock.patch(call, side_effect=OSError(code, os.strerror(code))):
        done = command()
    assert done.returncode == 0
    assert said(done).count(what) == 1
    assert path.read_bytes() != before


def test_a_row_that_may_be_saved_is_said_so_with_its_line(run, job):
    run("record", job, *CATCH)  # adds the columns that are missing
    lines = len((job / "trials.csv").read_bytes().splitlines())
    with mock.patch("os.fsync", side_effect=INPUT_OUTPUT), mock.patch("os.ftruncate", side_effect=INPUT_OUTPUT):
        done = run("record", job, *CATCH, "--json")
    assert done.returncode == 1
    assert f"trials.csv line {lines + 1}: It may be saved" in done.stderr
    assert "Nothing was saved" not in done.stderr
    found = json.loads(done.stdout)
    assert (found["line"], found["saved"]) == (lines + 1, None)


def test_a_row_that_is_not_saved_is_said_so(run, job):
    before = (job / "trials.csv").read_bytes()
    with mock.patch("os.fsync", side_effect=INPUT_OUTPUT):
        done = run("record", job, *CATCH)
    assert done.returncode == 1
    assert "Nothing was saved: Input/output error. Write the catch down on paper." in said(done)
    assert (job / "trials.csv").read_bytes() == before


def test_a_pipe_that_breaks_after_the_row_was_saved_is_not_said_to_have_saved_nothing(run_program, job):
    before = len(read_trials(job / "trials.csv"))
    done = run_program("record", job, *CATCH, shell="| true")
    assert "Nothing was saved" not in done.stderr
    assert "Saved as line" in done.stderr
    assert len(read_trials(job / "trials.csv")) == before + 1


@pytest.mark.parametrize("name", ["trials.csv", "field.csv", "planted.csv", "plan.csv", "drill.toml"])
@pytest.mark.parametrize("what", ["pipe", "/dev/full", "/dev/zero"])
@pytest.mark.parametrize("command", ["record", "plant", "check", "recommend"])
def test_a_file_of_a_job_that_is_none_is_a_sentence(run, job, name, what, command):
    path = job / name
    path.unlink(missing_ok=True)
    if what == "pipe":
        os.mkfifo(path)
    else:
        path.symlink_to(what)
    words = {"recommend": ("recommend", "{job}"), **{each: COMMANDS[each][1] for each in ("record", "plant", "check")}}
    done = run(*(each.format(job=job) for each in words[command]))
    assert "an error of the program" not in done.stderr
    if done.returncode:
        assert f"{name}: This is a device, a pipe or a socket" in said(done)
    else:  # a row is kept even where another file is broken
        assert command in ("record", "check")
        assert name not in (COMMANDS[command][0], "drill.toml")


@pytest.mark.parametrize("command", ["undo", "confirm", "undo a check"])
def test_nothing_can_be_taken_back_where_there_is_no_file(run, job, command):
    """As in the wrong folder, which is what to look at."""
    name, words = COMMANDS[command]
    (job / name).unlink()
    done = run(*(each.format(job=job) for each in words))
    assert (done.returncode, done.stdout, (job / name).exists()) == (1, "", False)
    assert f"{name}: There is no file of this name, so nothing was changed. Check the folder." in said(done)
