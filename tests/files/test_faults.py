"""Whatever system call fails, what is said of saving is so: saved, perhaps saved, or the file is as it was."""

import contextlib
import errno
import fcntl
import itertools
import os
import sys
import warnings
from unittest import mock

import pytest

from predictor import read_trials
from predictor.errors import DriveWarning, Unsure
from predictor.files import write as storing
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row, begin_log, undo_last
from predictor.files.write import update

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="system calls as on POSIX")

CATCH = {"date": "2026-11-25", "box": "small", "lot": "A", "setting": "14", "catch_g": 61.2, "turns": 28.0, "rows": 3.0}
CALLS = ["open", "fstat", "stat", "lseek", "read", "write", "fsync", "ftruncate", "replace", "unlink", "close"]
CALLS += ["chmod", "chown", "scandir", "listxattr", "flock"]
LACKING = [errno.EINVAL, errno.EOPNOTSUPP, errno.ENOSYS]
LOCKS = [*LACKING, errno.ENOLCK]


@contextlib.contextmanager
def failing(call, number, code, *, forever=False):
    """Let a system call fail: the one of this number, and with `forever` all after it. Gives whether any did."""
    module = fcntl if call == "flock" else os
    real, calls, failed = getattr(module, call), itertools.count(), []

    def broken(*arguments, **options):
        k = next(calls)
        if k == number or (forever and k > number):
            if call == "close":
                real(*arguments)
            failed.append(k)
            raise OSError(code, os.strerror(code))
        return real(*arguments, **options)

    with mock.patch.object(module, call, broken), warnings.catch_warnings():
        warnings.simplefilter("ignore", DriveWarning)
        yield failed


def log(path):
    """A log with two catches."""
    begin_log(TRIALS, path)
    for note in ("first", "second"):
        add_row(TRIALS, path, {**CATCH, "note": note})
    return path


def add(path):
    add_row(TRIALS, path, {**CATCH, "note": "new"})


def widen(path):
    add_row(TRIALS, path, {**CATCH, "note": "new", "seed_bag": "7"})


def undo(path):
    undo_last(TRIALS, path)


def linked(path):
    os.link(path, path.with_name("other name.csv"))


CHANGES = {
    "add": (add, None),
    "add a column": (widen, None),
    "undo": (undo, None),
    "undo in a file with two names": (undo, linked),
}


@pytest.mark.parametrize("forever", [False, True], ids=["once", "from then on"])
@pytest.mark.parametrize("call", CALLS)
@pytest.mark.parametrize("change", CHANGES)
def test_what_is_said_of_saving_is_so(tmp_path, change, call, forever):
    """Every call of a kind fails in turn, once or from then on, as a broken disk or a share that is gone lets it."""
    make, before_it = CHANGES[change]
    for number in range(40):
        folder = tmp_path / f"{number}"
        folder.mkdir()
        path = log(folder / "trials.csv")
        if before_it:
            before_it(path)
        before = path.read_bytes()
        with failing(call, number, errno.EIO, forever=forever) as failed:
            try:
                make(path)
                said = "saved"
            except Unsure:
                said = "perhaps"
            except OSError:
                said = "as it was"
        if not failed:
            assert said == "saved"
            break
        what = f"{call} {number}: {said}"
        after = path.read_bytes()
        if said == "as it was":
            assert after == before, what
        else:
            assert before.splitlines()[:2] == after.splitlines()[:2] or change == "add a column", what
        if said == "saved":
            assert after != before, what
            notes = read_trials(path).note.tolist()
            assert notes == (["first", "second; undone"] if make is undo else ["first", "second", "new"]), what
        # and it can be gone on with
        add_row(TRIALS, path, {**CATCH, "note": "later"})
        if said != "perhaps":
            assert read_trials(path).note.tolist()[-1] == "later", what
            # a new file that could not be removed goes once this process has ended
            left = [each for each in sorted(os.listdir(folder)) if call != "unlink" or not each.endswith(".part")]
            assert left == (["other name.csv", "trials.csv"] if before_it else ["trials.csv"]), what
    else:
        raise AssertionError("there are more calls than were tried")


def test_a_row_that_cannot_be_taken_back_may_be_saved(tmp_path):
    path = log(tmp_path / "trials.csv")
    with failing("fsync", 0, errno.EIO), failing("ftruncate", 0, errno.EIO), pytest.raises(Unsure) as found:
        add(path)
    assert found.value.line == 4
    assert read_trials(path).note.tolist() == ["first", "second", "new"]


def test_what_others_added_meanwhile_is_not_taken_back(tmp_path):
    """On a drive without locks a row may come in between; the one that failed goes, the other stays."""
    path = log(tmp_path / "trials.csv")
    before, row = path.read_bytes(), b"theirs\n"

    def change(data):
        with path.open("ab") as other:
            other.write(row)
        return data + b"ours\n"

    with failing("fsync", 0, errno.EIO), pytest.raises(OSError, match="Input/output"):
        update(path, change)
    assert path.read_bytes() == before + row


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize(
    ("call", "code"),
    [("fsync", each) for each in LACKING]
    + [("flock", each) for each in LOCKS]
    + [("chmod", errno.EPERM), ("chown", errno.EPERM), ("listxattr", errno.ENOTSUP)],
)
def test_a_drive_that_lacks_a_safeguard_is_written_to(tmp_path, call, code, change):
    """Network shares and file systems of user programs: no locks, no flush, no modes, no owners."""
    make, before_it = CHANGES[change]
    path = log(tmp_path / "trials.csv")
    if before_it:
        before_it(path)
    with failing(call, 0, code, forever=True) as failed:
        make(path)
    assert failed or (call in ("chmod", "chown", "listxattr") and make is add)
    assert read_trials(path).note.tolist() == (
        ["first", "second; undone"] if make is undo else ["first", "second", "new"]
    )


@pytest.mark.parametrize(("call", "code"), [("fsync", errno.EINVAL), ("flock", errno.ENOLCK)])
def test_what_a_drive_lacks_is_said(tmp_path, call, code):
    path = log(tmp_path / "trials.csv")
    with failing(call, 0, code, forever=True), warnings.catch_warnings(record=True) as found:
        warnings.simplefilter("always")
        add(path)
    assert {each.category for each in found} == {DriveWarning}


@pytest.mark.parametrize("code", [errno.EINVAL, errno.EOPNOTSUPP, errno.ENOSYS, errno.EIO, errno.ENOSPC])
@pytest.mark.parametrize("change", CHANGES)
def test_a_folder_that_cannot_be_flushed_is_no_error(tmp_path, change, code):
    make, before_it = CHANGES[change]
    path = log(tmp_path / "trials.csv")
    if before_it:
        before_it(path)
    before, real = path.read_bytes(), os.fsync

    def fsync(handle):
        if os.path.isdir(f"/proc/self/fd/{handle}"):
            raise OSError(code, os.strerror(code))
        real(handle)

    with mock.patch("os.fsync", fsync), warnings.catch_warnings(record=True) as found:
        warnings.simplefilter("always")
        make(path)
    assert path.read_bytes() != before
    assert bool(found) == (code in (errno.EIO, errno.ENOSPC))


def test_a_rename_that_was_made_but_reported_as_failed_is_made(tmp_path):
    """As a network drive may report that was asked twice."""
    path = log(tmp_path / "trials.csv")
    real = os.replace

    def replace(old, new):
        real(old, new)
        raise FileNotFoundError(errno.ENOENT, "No such file or directory")

    with mock.patch("os.replace", replace):
        undo(path)
    assert read_trials(path).note.tolist() == ["first", "second; undone"]


def test_a_write_that_takes_only_a_part_is_gone_on_with(tmp_path):
    path = log(tmp_path / "trials.csv")
    real = os.write
    with mock.patch("os.write", lambda handle, data: real(handle, bytes(data)[:3])):
        add(path)
        undo(path)
        add(path)
    assert read_trials(path).note.tolist() == ["first", "second", "new; undone", "new"]


def test_a_write_that_takes_nothing_is_an_error(tmp_path):
    path = log(tmp_path / "trials.csv")
    before = path.read_bytes()
    with mock.patch("os.write", return_value=0), pytest.raises(OSError, match="Input/output"):
        add(path)
    assert path.read_bytes() == before


def replacing(path, content, *, times):
    """Let another program replace the file after each of the next writes to it."""
    real, left = storing.flush_folder, [times]

    def flush_folder(target):
        if left[0]:
            left[0] -= 1
            other = path.with_name("theirs")
            other.write_bytes(content())
            os.replace(other, path)
        real(target)

    return mock.patch.object(storing, "flush_folder", flush_folder)


def test_a_row_that_another_program_copied_along_is_not_written_again(tmp_path):
    path = log(tmp_path / "trials.csv")
    with replacing(path, path.read_bytes, times=1):
        add(path)
    assert read_trials(path).note.tolist() == ["first", "second", "new"]


def test_a_row_like_an_earlier_one_is_not_taken_for_it(tmp_path):
    """The copy that takes the place of the file has the earlier row, not the new one."""
    path = log(tmp_path / "trials.csv")
    add(path)
    theirs = path.read_bytes()
    with replacing(path, lambda: theirs, times=1):
        add(path)
    assert read_trials(path).note.tolist() == ["first", "second", "new", "new"]


def test_a_program_that_keeps_replacing_the_file_ends_the_tries(tmp_path):
    path = log(tmp_path / "trials.csv")
    theirs = path.read_bytes()
    with replacing(path, lambda: theirs, times=1000), pytest.raises(Unsure, match="keeps replacing"):
        add(path)
    assert path.read_bytes() == theirs


def test_a_file_that_is_removed_under_the_row_may_hold_it(tmp_path):
    path = log(tmp_path / "trials.csv")
    real = storing.flush_folder

    def flush_folder(target):
        path.unlink(missing_ok=True)
        real(target)

    with mock.patch.object(storing, "flush_folder", flush_folder), pytest.raises(Unsure):
        add(path)


def test_a_file_that_others_change_before_it_is_replaced_keeps_their_change(tmp_path):
    """On a drive without locks another run may add a row while this one writes the new file."""
    path = log(tmp_path / "trials.csv")
    real, others = storing.new_file, [b"theirs\n"]

    @contextlib.contextmanager
    def new_file(*arguments):
        with real(*arguments) as made:
            if others:
                with path.open("ab") as stream:
                    stream.write(others.pop())
            yield made

    with mock.patch.object(storing, "new_file", new_file):
        update(path, lambda data: data.replace(b"first", b"1st"))
    assert b"1st" in path.read_bytes()
    assert path.read_bytes().endswith(b"theirs\n")


def test_a_part_of_a_row_that_others_wrote_behind_may_be_saved(tmp_path):
    path = log(tmp_path / "trials.csv")
    real = os.write

    def write(handle, data):
        real(handle, bytes(data)[:9])
        with path.open("ab") as other:
            other.write(b"theirs\n")
        raise OSError(errno.ENOSPC, "No space left on device")

    with mock.patch("os.write", write), pytest.raises(Unsure):
        add(path)
    assert path.read_bytes().endswith(b"theirs\n")


def test_a_copy_that_has_the_row_is_flushed_too(tmp_path):
    path = log(tmp_path / "trials.csv")
    flushed, real = [], os.fsync

    def fsync(handle):
        flushed.append(os.fstat(handle).st_ino)
        real(handle)

    with replacing(path, path.read_bytes, times=1), mock.patch("os.fsync", fsync):
        add(path)
    # and after it its folder: without that, the name might be the old file's again after a power failure
    assert flushed[-2:] == [path.stat().st_ino, tmp_path.stat().st_ino]


def test_a_file_that_is_replaced_again_and_again_while_it_is_opened_is_given_up(tmp_path, monkeypatch):
    path = log(tmp_path / "trials.csv")
    before = path.read_bytes()
    monkeypatch.setattr(storing, "LONGEST_WAIT_S", 0.05)
    monkeypatch.setattr(storing, "_is_still", lambda *_: False)
    with pytest.raises(OSError, match="keeps replacing"):
        add(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(("copied", "said"), [("before", "saved"), ("after", "saved"), ("another", "perhaps")])
@pytest.mark.parametrize("number", [1, 2])
def test_a_file_replaced_while_it_is_changed_in_place_is_not_called_changed(tmp_path, number, copied, said):
    """As a program does that copies files between computers. Writes: a new file, a copy, the change."""
    path = log(tmp_path / "trials.csv")
    linked(path)
    before, real, calls = path.read_bytes(), os.write, itertools.count()

    def write(handle, data):
        done = real(handle, data)
        if next(calls) == number:
            copies = {"before": before, "after": path.read_bytes(), "another": before + before.splitlines()[-1] + b"\n"}
            copy = tmp_path / "copy"
            copy.write_bytes(copies[copied])
            os.replace(copy, path)
        return done

    with mock.patch("os.write", write):
        if said == "perhaps":
            with pytest.raises(Unsure):
                undo(path)
            return
        undo(path)
    assert [each.count("undone") for each in read_trials(path).note][:2] == [0, 1]
