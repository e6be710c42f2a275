"""Nothing acknowledged is lost: kills, several writers, full disks, files saved anew by others."""

import errno
import importlib.util
import multiprocessing
import os
import random
import signal
import sys
import time
import types

import pytest

from predictor import InputError, read_trials
from predictor.files import write as storing
from predictor.files.cut import comment_out_last, cut_short
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row, begin_log, only_begun, undo_last
from predictor.files.replace import replace_file
from predictor.files.write import update

CATCH = {"date": "2026-11-25", "box": "small", "lot": "A", "setting": "14", "catch_g": 61.2, "turns": 28.0, "rows": 3.0}

posix = pytest.mark.skipif(sys.platform == "win32", reason="kills and forks as on POSIX")


def ids(path):
    """Notes of all catches, in order: each carries its own."""
    if cut_short(TRIALS, path):
        comment_out_last(TRIALS, path)
    return [note for note in read_trials(path).note.tolist() if note]


def _write(path, name, acknowledged):
    """Add catches until killed; each is acknowledged after it was added."""
    for k in range(100_000):
        add_row(TRIALS, path, {**CATCH, "note": f"{name}-{k}"})
        os.write(acknowledged, f"{name}-{k}\n".encode())


@pytest.mark.slow
@posix
def test_no_acknowledged_catch_is_lost_or_doubled_by_two_hundred_kills(tmp_path):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    rng = random.Random(7)
    promised, total = [], 0
    for kill in range(200):
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:  # the writer
            os.close(reading)
            try:
                _write(path, kill, writing)
            finally:
                os._exit(1)
        os.close(writing)
        parts, goal = [], rng.randrange(24)
        while b"".join(parts).count(b"\n") < goal and (part := os.read(reading, 1 << 16)):
            parts.append(part)
        time.sleep(rng.uniform(0, 0.004))  # somewhere in the next catch
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        while part := os.read(reading, 1 << 16):
            parts.append(part)
        os.close(reading)
        promised += b"".join(parts).decode().splitlines()
        if kill % 40 == 39:  # a large log is slow to read whole: begin another
            kept = ids(path)
            assert len(kept) == len(set(kept))
            assert set(promised) <= set(kept)
            assert len(kept) - len(promised) <= 40  # at most the one under way at each kill
            total += len(promised)
            path.unlink()
            begin_log(TRIALS, path)
            promised = []
    assert total > 2000, total


def _add_many(path, name, count):
    for k in range(count):
        add_row(TRIALS, path, {**CATCH, "note": f"{name}-{k}"})


@pytest.mark.slow
@posix
def test_four_writers_at_once_lose_and_merge_nothing(tmp_path):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    context = multiprocessing.get_context("fork")
    writers = [context.Process(target=_add_many, args=(path, name, 60)) for name in "abcd"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
        assert writer.exitcode == 0
    kept = ids(path)
    assert sorted(kept) == sorted(f"{name}-{k}" for name in "abcd" for k in range(60))
    for name in "abcd":  # in the order they were made
        assert [each for each in kept if each[0] == name] == [f"{name}-{k}" for k in range(60)]


@posix
def test_catches_and_undos_at_once_lose_nothing(tmp_path):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    _add_many(path, "first", 5)
    context = multiprocessing.get_context("fork")
    writer = context.Process(target=_add_many, args=(path, "a", 60))
    writer.start()
    for _ in range(5):
        undo_last(TRIALS, path)
    writer.join(60)
    trials = read_trials(path)
    assert len(trials) == 65
    assert (~trials.use).sum() == 5


def test_a_full_disk_leaves_the_file_as_it_was(tmp_path, monkeypatch):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    add_row(TRIALS, path, CATCH)
    before = path.read_bytes()
    real = os.write

    def full(handle, data):
        real(handle, data[:9])
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(storing.os, "write", full)
    with pytest.raises(OSError, match="No space"):
        add_row(TRIALS, path, CATCH)
    monkeypatch.undo()
    assert path.read_bytes() == before
    assert add_row(TRIALS, path, CATCH) == 3


CALLS = ["open", "fstat", "stat", "lseek", "read", "write", "fsync"]


@pytest.mark.parametrize("call", CALLS)
def test_an_error_of_each_system_call_is_said_and_loses_nothing(tmp_path, monkeypatch, call):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    add_row(TRIALS, path, {**CATCH, "note": "kept"})
    before = path.read_bytes()

    def broken(*arguments, **options):
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(storing.os, call, broken)
    with pytest.raises(OSError, match="Input/output"):
        add_row(TRIALS, path, CATCH)
    monkeypatch.undo()
    # a check that fails after the row was flushed leaves a whole row: more than promised, never less
    assert path.read_bytes().startswith(before)
    assert [note for note in ids(path) if note == "kept"] == ["kept"]


@pytest.mark.parametrize("call", ["fsync", "replace", "write"])
def test_an_error_while_a_file_is_replaced_leaves_the_old_one(tmp_path, monkeypatch, call):
    path = tmp_path / "plan.csv"
    path.write_bytes(b"old")

    def broken(*arguments, **options):
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(storing.os, call, broken)
    with pytest.raises(OSError, match="Input/output"):
        replace_file(path, b"new")
    monkeypatch.undo()
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["plan.csv"]


@posix
def test_a_replaced_file_keeps_its_mode_and_its_link(tmp_path):
    path, link = tmp_path / "real.csv", tmp_path / "link.csv"
    path.write_bytes(b"old")
    path.chmod(0o640)
    link.symlink_to(path)
    replace_file(link, b"new")
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o640
    assert link.is_symlink()


def test_a_file_saved_anew_while_a_row_is_added_gets_the_row_all_the_same(tmp_path, monkeypatch):
    """A spreadsheet replaces the file between our lock and our write; its other changes stay."""
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    add_row(TRIALS, path, {**CATCH, "note": "ours"})
    theirs = path.read_bytes().replace(b"ours", b"edited there")
    real, saved = storing._append, []

    def append(handle, name, before, added):
        if not saved:
            other = tmp_path / "other.csv"
            other.write_bytes(theirs)
            os.replace(other, path)
            saved.append(True)
        return real(handle, name, before, added)

    monkeypatch.setattr(storing, "_append", append)
    add_row(TRIALS, path, {**CATCH, "note": "new"})
    assert ids(path) == ["edited there", "new"]


def test_a_file_another_program_holds_is_named(tmp_path, monkeypatch):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    monkeypatch.setattr(storing, "LONGEST_WAIT_S", 0.05)
    monkeypatch.setattr(storing, "_try_lock", lambda handle: False)
    with pytest.raises(InputError, match="Another program holds the file"):
        update(path, lambda data: data + b"x")


def test_a_change_that_raises_writes_nothing(tmp_path):
    path = tmp_path / "a"
    path.write_bytes(b"old")

    def change(data):
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        update(path, change)
    assert path.read_bytes() == b"old"


@pytest.mark.parametrize("cut", range(1, 49))
def test_a_last_line_cut_anywhere_is_named_and_never_misread(tmp_path, cut):
    """A crash may leave any part of the last row: it reads whole, or is named, or only its line end is missing."""
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    add_row(TRIALS, path, {**CATCH, "note": "first"})
    whole = path.read_bytes()
    add_row(TRIALS, path, {**CATCH, "catch_g": 123.4, "note": "second"})
    data = path.read_bytes()
    if cut >= len(data) - len(whole):
        pytest.skip("longer than the row")
    path.write_bytes(data[:-cut])
    try:
        weights = read_trials(path).catch_g.tolist()
    except InputError as error:
        assert "line 3" in str(error)
        assert cut_short(TRIALS, path)[0] == 3
        comment_out_last(TRIALS, path)
        weights = read_trials(path).catch_g.tolist()
        assert weights == [61.2]
    assert weights in ([61.2], [61.2, 123.4])
    add_row(TRIALS, path, {**CATCH, "catch_g": 50.0})
    assert read_trials(path).catch_g.tolist() == [*weights, 50.0]


def on_windows(monkeypatch):
    """The module as Windows loads it, with locks that a real one would give."""
    held = set()

    def locking(handle, mode, count):
        file = os.fstat(handle).st_ino
        if file in held:
            raise OSError(errno.EACCES, "held")
        held.add(file)

    fake = types.SimpleNamespace(LK_NBLCK=2, locking=locking)
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setitem(sys.modules, "msvcrt", fake)
    spec = importlib.util.spec_from_file_location("storing_on_windows", storing.__file__)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "LONGEST_WAIT_S", 0.05)
    return module, held


def test_the_locks_of_windows_are_taken_and_waited_for(tmp_path, monkeypatch):
    """Their calls as documented for the standard library's msvcrt; tried with a stand-in, not on Windows."""
    module, held = on_windows(monkeypatch)
    path = tmp_path / "a"
    path.write_bytes(b"one\n")
    module.update(path, lambda data: data + b"two\n")
    assert path.read_bytes() == b"one\ntwo\n"
    with pytest.raises(InputError, match="Another program holds the file"):
        module.update(path, lambda data: data + b"three\n")
    held.clear()  # there an open file cannot be replaced: it is, once the lock has been let go
    module.update(path, lambda data: b"new\n")
    assert path.read_bytes() == b"new\n"


def test_a_lock_that_is_held_is_seen(tmp_path):
    path = tmp_path / "a"
    path.write_bytes(b"x")
    first, second = os.open(path, os.O_RDWR), os.open(path, os.O_RDWR)
    assert storing._try_lock(first)
    assert not storing._try_lock(second)
    os.close(first)
    assert storing._try_lock(second)
    os.close(second)


def test_a_file_replaced_while_its_lock_was_awaited_is_opened_again(tmp_path, monkeypatch):
    path = tmp_path / "a"
    path.write_bytes(b"old")
    real, asked = storing._is_still, []

    def is_still(handle, name):
        if not asked:
            replace_file(path, b"saved by another\n")
        asked.append(real(handle, name))
        return asked[-1]

    monkeypatch.setattr(storing, "_is_still", is_still)
    update(path, lambda data: data + b"ours\n")
    assert path.read_bytes() == b"saved by another\nours\n"
    assert asked == [False, True, True]


def test_a_file_that_is_gone_is_not_the_one_that_is_open(tmp_path):
    path = tmp_path / "a"
    path.write_bytes(b"x")
    handle = os.open(path, os.O_RDWR)
    path.unlink()
    assert not storing._is_still(handle, path)
    os.close(handle)


def test_a_log_that_cannot_be_read_is_not_taken_for_one_just_begun(tmp_path):
    path = tmp_path / "trials.csv"
    for content, begun in (
        (b"", True),
        (b"box,lot,setting,catch_g\n", True),
        (b"box,lot\n", False),
        (b"\xff\x00", False),
        # a large file is looked at as far as its first row
        (b"# remark\n" * 3000 + b"box,lot,setting,catch_g\n", True),
        (b"# remark\n" * 3000 + b"box,lot,setting,catch_g\nsmall,A,14,60.5\n", False),
        (b"box,lot,setting,catch_g\n" + b"small,A,14,60.5\n" * 3000, False),
        ("box,lot,setting,catch_g\n".encode("utf-16") + "\n\n".encode("utf-16-le") * 9000, True),
        (b"box,lot,setting,catch_g\n" + b"\n" * 20_000 + b"\xff\n", False),
    ):
        path.write_bytes(content)
        assert only_begun(TRIALS, path) is begun
    assert not only_begun(TRIALS, tmp_path)
