"""Replaces files whole or not at all: a new file is written beside the old one, made like it, flushed and renamed."""

import contextlib
import errno
import os
import re
import stat
import sys
import time
import warnings
from collections.abc import Iterator
from pathlib import Path

from predictor.errors import DriveWarning, Unsure
from predictor.files.special import refuse_special

# What a drive answers that does not have what was asked for: network shares, file systems of user programs
LACKING = frozenset({errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP})
BINARY = getattr(os, "O_BINARY", 0)  # Windows only
_UNFLUSHED = (
    "This drive cannot confirm that data has reached the disk. What was just saved could be lost if the power fails, "
    "so note it on paper too."
)
_FOLDER = "The drive reported an error after the file was saved ({}). Copy the file to another drive."


def replace_file(path: str | os.PathLike[str], data: bytes, like: Path | None = None) -> None:
    """Write a file whole: after a crash it is the old one or the new one, never a part.

    It is made like the file `like`, or like the one that it replaces, as far as the system lets us.
    """
    target = Path(os.path.realpath(path))
    with new_file(target, data, like or target) as (part, _):
        move(part, target)


@contextlib.contextmanager
def new_file(target: Path, data: bytes, like: Path) -> Iterator[tuple[Path, bool]]:
    """A flushed file to move to a name, and whether it is like another one; removed if it is not moved."""
    refuse_special(target)
    clear_strays(target)
    there = like.stat() if like.exists() else None
    part = target.with_name(f".{target.name[:50]}.{os.getpid()}-{time.monotonic_ns()}.part")
    mode = 0o666 if there is None else stat.S_IMODE(there.st_mode)
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, mode)
    try:
        try:
            write_all(handle, data)
            alike = there is None or _made_like(part, like, there)
            flush(handle, target)
        finally:
            os.close(handle)
        yield part, alike
    finally:
        with contextlib.suppress(OSError):
            os.unlink(part)


def move(part: Path, target: Path) -> None:
    """Give a new file its name; from then on the file is replaced, whatever fails."""
    new = os.stat(part)
    try:
        os.replace(part, target)
    except OSError as error:
        if not _is_moved(new, target, error):
            raise
    flush_folder(target)


def _is_moved(new: os.stat_result, target: Path, error: OSError) -> bool:
    """Whether a new file has its name after all: a network drive may report an error of a rename that it has made."""
    try:
        return os.path.samestat(os.stat(target), new)
    except FileNotFoundError:
        return False
    except OSError:
        raise Unsure(error) from error


def write_all(handle: int, data: bytes) -> None:
    """Write all of some data, however little of it each call takes."""
    rest = memoryview(data)
    while rest:
        written = os.write(handle, rest)
        if not written:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        rest = rest[written:]


@contextlib.contextmanager
def opened(path: Path, flags: int) -> Iterator[int]:
    """An open file; what was written to it is flushed before it is closed, so an error of that means nothing."""
    handle = os.open(path, flags | BINARY)
    try:
        yield handle
    finally:
        with contextlib.suppress(OSError):
            os.close(handle)


def flush(handle: int, path: str | os.PathLike[str]) -> None:
    """Flush a file to disk; where the drive has no such thing, this is said."""
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in LACKING:
            raise
        warnings.warn(DriveWarning(_UNFLUSHED, path), stacklevel=2)


def flush_folder(path: Path) -> None:
    """Flush the folder of a file, so that its name lasts; many drives need no flush, or have none."""
    try:
        handle = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    except (PermissionError, NotADirectoryError):
        return
    except OSError as error:  # the file itself is written
        if error.errno not in LACKING:
            warnings.warn(DriveWarning(_FOLDER.format(error.strerror or error), path), stacklevel=2)


def _made_like(part: Path, like: Path, there: os.stat_result) -> bool:
    """Give a new file the owner, mode, access list and attributes of another; whether it got them all."""
    if hasattr(os, "chown"):
        for owner in (-1, there.st_uid):  # the group alone may be all that is allowed
            with contextlib.suppress(OSError):
                os.chown(part, owner, there.st_gid)
    with contextlib.suppress(OSError):
        os.chmod(part, stat.S_IMODE(there.st_mode))
    new, old = _attributes(part), _attributes(like)
    for name in new.keys() - old.keys():
        with contextlib.suppress(OSError):
            os.removexattr(part, name)
    for name, value in old.items():
        if new.get(name) != value:
            with contextlib.suppress(OSError):
                os.setxattr(part, name, value)
    got = os.stat(part)
    same = (got.st_uid, got.st_gid, got.st_mode) == (there.st_uid, there.st_gid, there.st_mode)
    return same and _attributes(part) == old


def _attributes(path: Path) -> dict[str, bytes]:
    """The extended attributes of a file, the access list among them; empty where the drive or the system has none."""
    if sys.platform != "linux":
        return {}
    found = {}
    with contextlib.suppress(OSError):
        for name in os.listxattr(path):
            found[name] = os.getxattr(path, name)
    return found


def clear_strays(target: Path) -> None:
    """Remove new files of this name that a run left which was killed: its process is gone."""
    ours = re.compile(rf"\.+{re.escape(target.name[:50])}(?:\.changing)?\.(\d+)-\d+\.part")
    with contextlib.suppress(OSError), os.scandir(target.parent) as entries:
        for entry in entries:
            found = ours.fullmatch(entry.name)
            if found and entry.is_file(follow_symlinks=False) and _is_gone(int(found[1]), entry.stat().st_mtime):
                with contextlib.suppress(OSError):
                    os.unlink(entry)


# A file that old is nobody's: writing one takes a moment. Process numbers are given again.
_LONG_AGO_S = 86_400


def _is_gone(process: int, written: float) -> bool:
    """Whether the run that wrote a new file has ended."""
    if sys.platform == "win32" or time.time() - written > _LONG_AGO_S:
        return time.time() - written > _LONG_AGO_S  # there, asking for a process could end it
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return True
    except OSError:
        return False
    return False
