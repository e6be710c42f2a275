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
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row, begin_log, undo_last

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="system calls as on POSIX")

CATCH = {"date": "2026-11-25", "box": "small", "lot": "A", "setting": "14", "catch_g": 61.2, "turns": 28.0, "rows": 3.0}
CALLS = ["open", "fstat", "stat", "lseek", "read", "write", "fsync", "ftruncate", "replace", "unlink", "close"]
CALLS += ["chmod", "chown", "scandir", "listxattr", "flock"]
LACKING = [errno.EINVAL, errno.EOPNOTSUPP, errno.ENOSYS]


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
