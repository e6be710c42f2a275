"""Adds to a file, or changes it, under a lock; what is reported as saved is flushed."""

import contextlib
import errno
import os
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from predictor.errors import DriveWarning, InputError, Problem, Unsure
from predictor.files.changing import change_in_place, content, finish, first_change
from predictor.files.replace import (
    BINARY,
    LACKING,
    clear_strays,
    flush,
    flush_folder,
    move,
    new_file,
    opened,
    replace_file,
    write_all,
)
from predictor.files.special import refuse_special

# Another program that holds the file longer than this has hung.
LONGEST_WAIT_S = 20.0
_STEP_S = 0.02
# A program that replaces the file each time we write to it, as one that copies it to other computers may, goes on so.
MOST_TRIES = 5
# Windows does not replace a file that is open.
REPLACES_OPEN_FILES = sys.platform != "win32"
_UNLOCKED = "This drive cannot lock files. Let only one program at a time write to this file."
_NO_LOCKS = LACKING | {errno.ENOLCK}
_REPLACED = "another program keeps replacing the file. Close or pause that program"


@dataclass(frozen=True)
class _Lost:
    """What was added to a file that another program replaced meanwhile; nothing where it was replaced before that."""

    before: bytes = b""
    added: bytes = b""

    @property
    def line(self) -> int:
        """Where it was added."""
        return self.before.count(b"\n") + 1

    def is_in(self, data: bytes) -> bool:
        """Whether the file that took the place of the old one has the same addition."""
        row = self.added.strip(b"\r\n")
        return bool(row) and data.count(row) > self.before.count(row)


def begin_file(path: str | os.PathLike[str], data: bytes) -> bool:
    """Begin a file where there is none; return whether there was none.

    It is flushed before anything is added: a power failure could leave what was added, and zeros before it.
    """
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o666)
    except FileExistsError:
        return False
    try:
        write_all(handle, data)
        flush(handle, path)
    finally:
        os.close(handle)
    return True


def update(path: str | os.PathLike[str], change: Callable[[bytes], bytes], *, settles: bool = False) -> None:
    """Add to a file, or change it, while no other run of this program can write to it.

    When this returns, the change is saved; with `settles` also what stands there unchanged is on disk, since whoever
    wrote it may have been killed before it was flushed. After the error `Unsure` it may be saved, in part or not at
    all. After any other error the file is as it was.
    """
    deadline, lost = time.monotonic() + LONGEST_WAIT_S, _Lost()
    real = Path(os.path.realpath(path) if os.path.islink(path) else path)
    refuse_special(real, os.fspath(path))
    clear_strays(real)
    for k in range(MOST_TRIES):
        try:
            again = _try(real, deadline, change, lost, settles)
        except (OSError, InputError) as error:
            if lost.added and not isinstance(error, Unsure):
                raise Unsure(error, lost.line) from error
            raise
        if again is None:
            return
        lost = again if again.added else lost
        time.sleep(_STEP_S * 2**k)
    raise Unsure(_REPLACED, lost.line) if lost.added else OSError(errno.EBUSY, _REPLACED)


def _try(path: Path, deadline: float, change: Callable[[bytes], bytes], lost: _Lost, settles: bool) -> _Lost | None:
    """Make a change; what was lost if another program replaced the file meanwhile, None where it is saved."""
    with _opened(path, deadline) as handle:
        before = finish(path, content(handle))
        there = lost.is_in(before)
        after = before if there else change(before)
        if after == before:
            if there or settles:
                flush(handle, path)
                flush_folder(path)
            return None
        if after.startswith(before) and _ends_line(before):
            return _append(handle, path, before, after[len(before) :])
        if REPLACES_OPEN_FILES:
            return _change(handle, path, before, after)
    replace_file(path, after)  # an open file cannot be replaced there, so the lock is released a moment before
    return None


def _ends_line(data: bytes) -> bool:
    """Whether no line is unfinished: zeros that a power failure left behind one could not be told from its own end."""
    return data.rstrip(b"\0").endswith((b"\n", b"\r"))  # a letter of UTF-16 may end with a zero


def _append(handle: int, path: Path, before: bytes, added: bytes) -> _Lost | None:
    """Add to the end and flush; if that fails, take it back."""
    lost = _Lost(before, added)
    try:
        write_all(handle, added)
        flush(handle, path)
    except BaseException as error:
        if not _taken_back(handle, len(before), added):
            raise Unsure(error, lost.line) from error
        raise
    flush_folder(path)  # another program may have put the file there a moment ago
    try:
        return None if _is_still(handle, path) else lost
    except OSError as error:
        raise Unsure(error, lost.line) from error


def _taken_back(handle: int, size: int, added: bytes) -> bool:
    """Whether nothing is left of what was added to a file of some size; what others added stays."""
    try:
        tail = content(handle)[size:]
        mine = tail if added.startswith(tail) else added
        if tail and tail.endswith(mine):
            os.ftruncate(handle, size + len(tail) - len(mine))
    except OSError:
        return False
    with contextlib.suppress(OSError):
        os.fsync(handle)
    return tail.endswith(mine)


def _change(handle: int, path: Path, before: bytes, after: bytes) -> _Lost | None:
    """Replace a file by a new one like it; change it where it is if there can be none, or the file has other names."""
    with new_file(path, after, path) as (part, alike):
        if not _is_still(handle, path) or content(handle) != before:
            return _Lost()
        if alike and os.fstat(handle).st_nlink == 1:
            move(part, path)
            return None
    if not change_in_place(path, before, after):
        return _Lost()
    try:
        there = after if _is_still(handle, path) else path.read_bytes()
    except OSError as error:
        raise Unsure(error, first_change(before, after)) from error
    if there == after:
        return None
    if there == before:  # another program put a copy there meanwhile
        return _Lost()
    raise Unsure(_REPLACED, first_change(before, after))


def _is_still(handle: int, path: str | os.PathLike[str]) -> bool:
    """Whether the open file still has this name."""
    try:
        there = os.stat(path)
    except FileNotFoundError:
        return False
    mine = os.fstat(handle)
    return (mine.st_dev, mine.st_ino) == (there.st_dev, there.st_ino)


@contextlib.contextmanager
def _opened(path: Path, deadline: float) -> Iterator[int]:
    """The file that has this name, open for reading and adding, under our lock."""
    while True:
        with _locked(path, deadline) as handle:
            if _is_still(handle, path):
                yield handle
                return
        if time.monotonic() > deadline:  # replaced again and again while we waited
            raise OSError(errno.EBUSY, _REPLACED)


@contextlib.contextmanager
def _locked(path: Path, deadline: float) -> Iterator[int]:
    """A file under our lock, where the drive has locks."""
    with opened(path, os.O_RDWR | os.O_APPEND) as handle:  # closing it ends the lock
        _lock(handle, path, deadline)
        yield handle


def _lock(handle: int, path: Path, deadline: float) -> None:
    """Take our lock once it is free; where the drive has no locks, this is said."""
    try:
        while not _try_lock(handle):
            if time.monotonic() > deadline:
                message = "Another program holds the file. Close it there, and try again."
                raise InputError([Problem(message, os.fspath(path))])
            time.sleep(_STEP_S)
    except OSError as error:
        if error.errno not in _NO_LOCKS:
            raise
        warnings.warn(DriveWarning(_UNLOCKED, path), stacklevel=2)


if sys.platform == "win32":
    import msvcrt

    _FAR = 1 << 40  # Far beyond the end, since a locked stretch cannot be read by others there

    def _try_lock(handle: int) -> bool:
        """Whether the lock was free."""
        os.lseek(handle, _FAR, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except PermissionError:
            return False
        return True

else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        """Whether the lock was free."""
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True
