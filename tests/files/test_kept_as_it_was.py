"""A changed file stays whose it was, under all its names; what is no file, or is left of a killed run, is known."""

import contextlib
import os
import signal
import socket
import stat
import struct
import subprocess
import sys
from unittest import mock

import pytest

from predictor import InputError, read_drill, read_plan, read_trials
from predictor.errors import DriveWarning
from predictor.files.changing import change_in_place
from predictor.files.cut import comment_out_last, cut_short
from predictor.files.kinds import TRIALS
from predictor.files.log import (
    add_row,
    begin_log,
    check_log,
    only_begun,
    undo_last,
)
from predictor.files.replace import replace_file
from predictor.files.write import update
from tests.conftest import ROOT

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="owners, attributes and devices as on Linux")

CATCH = {"date": "2026-11-25", "box": "small", "lot": "A", "setting": "14", "catch_g": 61.2, "turns": 28.0, "rows": 3.0}
root = pytest.mark.skipif(hasattr(os, "geteuid") and os.geteuid() != 0, reason="only root gives files away")


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "job" / "trials.csv"
    path.parent.mkdir()
    begin_log(TRIALS, path)
    add_row(TRIALS, path, {**CATCH, "note": "first"})
    return path


def access_list():
    """An access list that lets user 1234 write: entries of tag, permissions, number (man 5 acl, from memory)."""
    entries = [(0x01, 6, -1), (0x02, 6, 1234), (0x04, 4, -1), (0x10, 6, -1), (0x20, 0, -1)]
    return struct.pack("<I", 2) + b"".join(struct.pack("<HHi", *each) for each in entries)


def widen(path):
    add_row(TRIALS, path, {**CATCH, "note": "new", "seed_bag": "7"})


def undo(path):
    undo_last(TRIALS, path)


@root
@pytest.mark.parametrize("change", [undo, widen])
def test_a_changed_file_keeps_owner_group_mode_access_list_and_attributes(log, change):
    os.chown(log, 1234, 4321)
    log.chmod(0o664)
    try:
        os.setxattr(log, "user.of", b"the shed")
        os.setxattr(log, "system.posix_acl_access", access_list())
    except OSError:
        pytest.skip("this file system has no attributes")
    before = log.stat()
    change(log)
    after = log.stat()
    assert (after.st_uid, after.st_gid, after.st_mode) == (1234, 4321, before.st_mode)
    assert os.getxattr(log, "user.of") == b"the shed"
    assert os.getxattr(log, "system.posix_acl_access") == access_list()
    assert after.st_ino != before.st_ino  # replaced, as is safest


def test_an_access_list_that_new_files_of_the_folder_get_is_not_given_to_the_old_file(log):
    try:
        os.setxattr(log.parent, "system.posix_acl_default", access_list())
    except OSError:
        pytest.skip("this file system has no access lists")
    before = log.stat().st_ino
    undo(log)
    assert "system.posix_acl_access" not in os.listxattr(log)
    assert log.stat().st_ino != before


@pytest.mark.parametrize("change", [undo, widen])
def test_a_changed_file_keeps_its_other_names(log, change):
    other = log.with_name("linked.csv")
    os.link(log, other)
    change(log)
    assert log.samefile(other)
    assert read_trials(other).note.tolist() == (["first; undone"] if change is undo else ["first", "new"])
    assert sorted(os.listdir(log.parent)) == ["linked.csv", "trials.csv"]


@root
def test_a_file_that_cannot_be_given_back_to_its_owner_stays_the_same_file(log):
    os.chown(log, 1234, 4321)
    before = log.stat()
    with mock.patch("os.chown", side_effect=PermissionError(1, "Operation not permitted")):
        undo(log)
    assert (log.stat().st_ino, log.stat().st_uid) == (before.st_ino, 1234)
    assert read_trials(log).note.tolist() == ["first; undone"]
    assert os.listdir(log.parent) == ["trials.csv"]


def torn(log, cut):
    """An undo in place that ends after some of its bytes, as when the power fails."""
    os.link(log, log.parent.parent / "linked.csv")
    real = os.write

    def write(handle, data):
        if os.fstat(handle).st_ino != log.stat().st_ino:
            return real(handle, data)
        real(handle, bytes(data)[:cut])
        os.kill(os.getpid(), signal.SIGKILL)
        return 0

    child = os.fork()
    if child == 0:
        os.write = write
        undo_last(TRIALS, log)
        os._exit(1)
    assert os.waitpid(child, 0)[1] == signal.SIGKILL


@pytest.mark.parametrize("cut", [5, 150, 205, 208])
def test_a_change_in_place_that_was_interrupted_is_read_and_finished(log, cut):
    log.chmod(0o600)
    torn(log, cut)
    assert log.with_name(".trials.csv.changing").stat().st_mode == log.stat().st_mode
    assert read_trials(log).note.tolist() in (["first"], ["first; undone"])
    add_row(TRIALS, log, {**CATCH, "note": "next"})
    assert read_trials(log).note.tolist() in (["first", "next"], ["first; undone", "next"])
    assert os.listdir(log.parent) == ["trials.csv"]


def test_a_change_in_place_is_of_what_was_read(log):
    before = log.read_bytes()
    assert not change_in_place(log, b"something else", b"new")
    assert log.read_bytes() == before
    assert change_in_place(log, before, b"new")
    assert log.read_bytes() == b"new"
    assert os.listdir(log.parent) == ["trials.csv"]


@pytest.mark.parametrize("cut", [1, 20, 40, 47])
def test_a_row_of_a_killed_run_is_whole_or_named(log, cut):
    """The process is killed inside the write, of which a part has reached the file."""
    child, real = os.fork(), os.write

    def write(handle, data):
        real(handle, bytes(data)[:cut])
        os.kill(os.getpid(), signal.SIGKILL)

    if child == 0:
        os.write = write
        add_row(TRIALS, log, {**CATCH, "note": "torn"})
        os._exit(1)
    assert os.waitpid(child, 0)[1] == signal.SIGKILL
    assert cut_short(TRIALS, log)[0] == 3
    comment_out_last(TRIALS, log)
    add_row(TRIALS, log, {**CATCH, "note": "next"})
    assert read_trials(log).note.tolist() == ["first", "next"]


def test_a_file_that_was_changed_after_the_interruption_keeps_that(log):
    torn(log, 205)
    mine = b"box,lot,setting,catch_g,note\nsmall,A,14,70,mine\n"
    log.write_bytes(mine)
    assert read_trials(log).note.tolist() == ["mine"]
    with pytest.warns(DriveWarning, match="was interrupted"):
        add_row(TRIALS, log, {**CATCH, "note": "next"})
    assert log.read_bytes().startswith(mine[:28])
    assert read_trials(log).note.tolist() == ["mine", "next"]
    assert b"first" in log.with_name("trials.csv.interrupted-1").read_bytes()  # nothing is thrown away


def test_a_new_file_has_the_mode_of_any_new_file(tmp_path):
    (tmp_path / "usual").touch()
    replace_file(tmp_path / "card.html", b"card")
    assert (tmp_path / "card.html").stat().st_mode == (tmp_path / "usual").stat().st_mode


def ended():
    """The number of a process that has ended."""
    return int(subprocess.run(["sh", "-c", "echo $$"], capture_output=True, check=True).stdout)


def test_new_files_that_killed_runs_left_are_removed_by_the_next_write(log):
    gone, here = ended(), os.getppid()
    strays = [f".trials.csv.{gone}-12345.part", f"..trials.csv.changing.{gone}-77.part"]
    stay = [f".trials.csv.{here}-12345.part", f".plan.csv.{gone}-1.part", f"trials.csv.{gone}-1.part"]
    stay += [".trials.csv.x-1.part"]
    for name in (*strays, *stay):
        log.with_name(name).write_bytes(b"part")
    folder = log.with_name(f".trials.csv.{gone}-2.part")
    folder.mkdir()
    link = log.with_name(f".trials.csv.{gone}-3.part")
    link.symlink_to(log)
    old = log.with_name(f".trials.csv.{here}-9.part")
    old.write_bytes(b"part")
    os.utime(old, (1e9, 1e9))  # the number was given again since
    add_row(TRIALS, log, CATCH)
    assert sorted(os.listdir(log.parent)) == sorted(["trials.csv", folder.name, link.name, *stay])
    log.with_name(strays[0]).write_bytes(b"part")
    replace_file(log, b"")
    assert not log.with_name(strays[0]).exists()


@contextlib.contextmanager
def at_most(seconds):
    """A reader that hangs is a failed test, not a hanging one."""

    def late(*_):
        raise AssertionError("it hangs")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture(params=["pipe", "/dev/full", "/dev/zero", "/dev/null", "socket", "folder"])
def special(request, tmp_path):
    """What has the name of a file and is none."""
    path = tmp_path / "special.csv"
    if request.param == "pipe":
        os.mkfifo(path)
    elif request.param == "folder":
        path.mkdir()
    elif request.param == "socket":
        with socket.socket(socket.AF_UNIX) as made, contextlib.chdir(tmp_path):
            made.bind(path.name)
    else:
        path.symlink_to(request.param)
    return path


def plan_of(path):
    return read_plan(path, read_drill(ROOT / "sample_trials" / "drill.toml"))


@pytest.mark.parametrize("read", [read_trials, read_drill, plan_of])
def test_what_is_no_file_is_refused_at_once_by_readers(special, read):
    with at_most(10), pytest.raises(InputError, match=r"special\.csv: This is a "):
        read(special)


def test_what_is_no_file_is_not_written_to(special):
    what = special.stat()
    with at_most(10):
        with pytest.raises(InputError):
            check_log(TRIALS, special)
        assert not only_begun(TRIALS, special)
        for write in (update, replace_file):
            with pytest.raises((InputError, OSError)):
                write(special, (lambda data: data + b"x") if write is update else b"x")
    assert special.stat().st_ino == what.st_ino
    assert stat.S_IFMT(special.stat().st_mode) == stat.S_IFMT(what.st_mode)


@pytest.mark.parametrize("where", ["/dev/fd/{}", "/proc/self/fd/{}"])
def test_a_pipe_that_the_shell_opened_is_read(where):
    """As in `predictor recommend <(...)`."""
    reading, writing = os.pipe()
    os.write(writing, b"box,lot,setting,catch_g,turns,rows\nsmall,A,14,61.2,28,3\n")
    os.close(writing)
    with at_most(10):
        assert read_trials(where.format(reading)).catch_g.tolist() == [61.2]
    os.close(reading)


@pytest.mark.parametrize("size", range(0, 150, 7))
def test_a_header_cut_short_by_a_power_failure_is_completed(tmp_path, size):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    path.write_bytes(path.read_bytes()[:size])
    check_log(TRIALS, path)
    assert only_begun(TRIALS, path)
    assert not begin_log(TRIALS, path)
    add_row(TRIALS, path, CATCH)
    assert read_trials(path).catch_g.tolist() == [61.2]
