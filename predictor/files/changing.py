"""Changes a file where it is, for one whose owner, attributes or other names (hard links) a new file would not have.

A file that is replaced is the old one or the new one at every moment, but it is a new file. One that is changed where
it is stays the same file, but a power failure may leave any mixture of old and new. So a copy of both is flushed first,
beside the file, and removed when the change is flushed. Readers take the new content where they find a mixture, and
the next run that writes finishes the change. A copy is never used for a file that somebody changed since.
"""

import contextlib
import itertools
import os
import stat
import warnings
from dataclasses import dataclass
from pathlib import Path

from predictor.errors import DriveWarning, Unsure
from predictor.files.replace import flush, opened, replace_file, write_all

_CHANGED_SINCE = (
    "A change of this file was interrupted, as by a power failure, and the file was changed again since. {} holds what "
    "the file was and what it was to be. Compare them with the file, then delete that copy."
)


@dataclass(frozen=True)
class _Copy:
    """What a file was before a change, and what it is to be."""

    before: bytes
    after: bytes

    def to_bytes(self) -> bytes:
        return b"%d %d\n%b%b" % (len(self.before), len(self.after), self.before, self.after)

    def torn(self, data: bytes) -> bool:
        """Whether a file is neither, and each of its bytes is of one of the two, or was not written yet."""
        before, after = self.before, self.after
        if data in (before, after) or not min(len(before), len(after)) <= len(data) <= max(len(before), len(after)):
            return False
        return all(byte in (0, *before[k : k + 1], *after[k : k + 1]) for k, byte in enumerate(data))


def change_in_place(path: Path, before: bytes, after: bytes) -> bool:
    """Change what a file holds, and return whether it did hold what is to be changed.

    After an error the file is as before. Where that fails too, the error is `Unsure`, and the copy stays.
    """
    copy = _copy_path(path)
    with opened(path, os.O_RDWR) as handle:
        replace_file(copy, _Copy(before, after).to_bytes(), like=path)
        held = content(handle) == before
        if held:
            _overwrite_or_restore(handle, path, before, after)
    with contextlib.suppress(OSError):  # the change is flushed, and if the copy stays the next run removes it
        os.unlink(copy)
    return held


def _overwrite_or_restore(handle: int, path: Path, before: bytes, after: bytes) -> None:
    try:
        _overwrite(handle, after, path)
    except BaseException:
        try:
            _overwrite(handle, before, path)
        except OSError as error:
            raise Unsure(error, first_change(before, after)) from error
        with contextlib.suppress(OSError):
            os.unlink(_copy_path(path))
        raise


def first_change(before: bytes, after: bytes) -> int:
    """The first line that a change changes."""
    lines = zip(before.splitlines(), after.splitlines(), strict=False)
    return next((line for line, (old, new) in enumerate(lines, 1) if old != new), 1)


def content(handle: int) -> bytes:
    """All that an open file holds."""
    os.lseek(handle, 0, os.SEEK_SET)
    parts, size = [], max(os.fstat(handle).st_size, 1 << 20)
    while part := os.read(handle, size):
        parts.append(part)
    return b"".join(parts)


def _overwrite(handle: int, data: bytes, path: Path) -> None:
    os.lseek(handle, 0, os.SEEK_SET)
    write_all(handle, data)
    os.ftruncate(handle, len(data))
    flush(handle, path)


def finish(path: Path, data: bytes) -> bytes:
    """Finish a change of a file that was interrupted; return what the file then holds."""
    copy = _read_copy(path)
    if copy is None:
        return data
    torn = copy.torn(data)
    if not torn and data != copy.before and not data.startswith(copy.after):
        kept = _put_aside(_copy_path(path))
        warnings.warn(DriveWarning(_CHANGED_SINCE.format(kept), path), stacklevel=2)
        return data
    with opened(path, os.O_WRONLY) as handle:
        if torn:
            _overwrite(handle, copy.after, path)
            data = copy.after
        else:  # whoever wrote it may have been killed before it was flushed, and the copy is needed until then
            flush(handle, path)
    os.unlink(_copy_path(path))
    return data


def _put_aside(copy: Path) -> Path:
    """Give a copy that is not used a name that people see."""
    names = (copy.with_name(f"{copy.stem[1:]}.interrupted-{k}") for k in itertools.count(1))
    kept = next(each for each in names if not os.path.lexists(each))
    os.rename(copy, kept)
    return kept


def as_meant(path: Path, data: bytes) -> bytes:
    """What was read of a file, or what it is to be if a change of it is under way or was interrupted."""
    copy = _read_copy(path)
    return copy.after if copy and copy.torn(data) else data


def is_changing(path: Path) -> bool:
    """Whether a change of a file is under way or was interrupted."""
    return os.path.lexists(_copy_path(path))


def _copy_path(path: Path) -> Path:
    target = Path(os.path.realpath(path))
    return target.with_name(f".{target.name}.changing")


def _read_copy(path: Path) -> _Copy | None:
    """The copy beside a file; None where there is none, or one that is not ours."""
    copy = _copy_path(path)
    try:
        if not stat.S_ISREG(os.lstat(copy).st_mode):
            return None
        first, _, rest = copy.read_bytes().partition(b"\n")
        old, new = map(int, first.split())
    except (FileNotFoundError, ValueError):
        return None
    return _Copy(rest[:old], rest[old:]) if len(rest) == old + new else None
