"""Writes files safely: rows are added under a lock and flushed, other files are replaced whole or not at all."""

import contextlib
import os
import stat
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from predictor.errors import InputError, Problem

# Another program that holds the file longer than this has hung.
LONGEST_WAIT_S = 20.0
_STEP_S = 0.02
_BINARY = getattr(os, "O_BINARY", 0)  # Windows only
# Windows does not replace a file that is open.
REPLACES_OPEN_FILES = sys.platform != "win32"


def replace_file(path: str | os.PathLike[str], data: bytes) -> None:
    """Write a file whole: after a crash it is the old one or the new one, never a part."""
    target = Path(os.path.realpath(path))
    part = target.with_name(f".{target.name[:100]}.{os.getpid()}-{time.monotonic_ns()}.part")
    mode = stat.S_IMODE(target.stat().st_mode) if target.exists() else 0o666
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, mode)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        if target.exists():  # the new file got its mode without the bits that new files do not get
            os.chmod(part, mode)
        os.replace(part, target)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(part)
        raise
    _flush_folder(target.parent)


def _flush_folder(folder: Path) -> None:
    """Flush a folder, so that a new name in it lasts. Systems that cannot open folders need no flush."""
    with contextlib.suppress(PermissionError, NotADirectoryError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def update(path: str | os.PathLike[str], change: Callable[[bytes], bytes]) -> None:
    """Add to a file, or replace it, while no other run of this program can write to it."""
    deadline = time.monotonic() + LONGEST_WAIT_S
    while True:
        with _locked(path, deadline) as handle:
            if not _is_still(handle, path):
                continue  # another program replaced it while we waited
            before = _content(handle)
            after = change(before)
            if after == before:
                return
            if after.startswith(before):
                _append(handle, len(before), after[len(before) :])
                if _is_still(handle, path):
                    return
                continue  # another program replaced it while we wrote to the old file, so write again
            if REPLACES_OPEN_FILES:
                replace_file(path, after)
                return
        replace_file(path, after)  # an open file cannot be replaced there, so the lock is released a moment before
        return


def _content(handle: int) -> bytes:
    os.lseek(handle, 0, os.SEEK_SET)
    parts = []
    while part := os.read(handle, 1 << 20):
        parts.append(part)
    return b"".join(parts)


def _append(handle: int, size: int, data: bytes) -> None:
    """Add to the end and flush; if that fails, restore the old length."""
    try:
        written = 0
        while written < len(data):
            written += os.write(handle, data[written:])
        os.fsync(handle)
    except BaseException:
        with contextlib.suppress(OSError):
            os.ftruncate(handle, size)
            os.fsync(handle)
        raise


def _is_still(handle: int, path: str | os.PathLike[str]) -> bool:
    """Whether the open file still has this name."""
    try:
        there = os.stat(path)
    except FileNotFoundError:
        return False
    mine = os.fstat(handle)
    return (mine.st_dev, mine.st_ino) == (there.st_dev, there.st_ino)


@contextlib.contextmanager
def _locked(path: str | os.PathLike[str], deadline: float) -> Iterator[int]:
    """The file, open for reading and adding, under our lock."""
    handle = os.open(path, os.O_RDWR | os.O_APPEND | _BINARY)
    try:
        while not _try_lock(handle):
            if time.monotonic() > deadline:
                message = "Another program holds the file. Close it there, and try again."
                raise InputError([Problem(message, os.fspath(path))])
            time.sleep(_STEP_S)
        yield handle
    finally:
        os.close(handle)  # releases the lock


if sys.platform == "win32":
    import msvcrt

    _FAR = 1 << 40  # Far beyond the end, since a locked stretch cannot be read by others there

    def _try_lock(handle: int) -> bool:
        """Whether the lock was free."""
        os.lseek(handle, _FAR, os.SEEK_SET)
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
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
