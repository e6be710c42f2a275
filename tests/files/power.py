"""A model of power failures: what a disk may hold after any system call of a run, from what was flushed until then.

The rules are those that POSIX leaves to the system (fsync, rename): what was written to a file since its last flush may
be on disk, be lost, be there in part, or be a stretch of zero bytes where the file has grown, with later bytes behind
them; names that were made, changed or removed since the last flush of the folder may be on disk or not, each for
itself, in any order.
"""

from __future__ import annotations

import contextlib
import os
import traceback
from dataclasses import dataclass, field
from unittest import mock


@dataclass
class File:
    """What one file surely has on disk, and what was done to it since."""

    flushed: bytes = b""
    since: list[tuple[int, bytes | None]] = field(default_factory=list)  # place and data; no data: cut there

    def contents(self, rng):
        """What may be on disk."""
        found = {self.flushed, _after(self.flushed, self.since)}
        for k, (place, data) in enumerate(self.since):
            before = _after(self.flushed, self.since[:k])
            found.add(before)
            size = len(data or b"")
            for cut in range(1, size) if size < 40 else rng.sample(range(1, size), 9):
                found.add(_after(before, [(place, data[:cut])]))
                found.add(_after(before, [(place, bytes(cut))]) if place >= len(before) else before)
                # the later part alone, as blocks are not written in order
                if place + cut <= len(before):
                    found.add(_after(before, [(place + cut, data[cut:])]))
            # and where the file has grown twice, the later part may be there and the earlier one not
            zeros = [(place, bytes(size)) if data and place >= len(before) else (place, data)]
            found.add(_after(before, [*zeros, *self.since[k + 1 :]]))
        return sorted(found)


def _after(data, steps):
    for place, new in steps:
        data = data[:place] if new is None else data[:place].ljust(place, b"\0") + new + data[place + len(new) :]
    return data


@dataclass
class Disk:
    """A folder as it may be after a power failure at this moment."""

    folder: str
    rng: object
    files: dict[int, File] = field(default_factory=dict)
    names: dict[str, int] = field(default_factory=dict)  # flushed
    renamed: list[tuple[str, str, int]] = field(default_factory=list)  # since: old name, new name, file

    def states(self):
        """Folders that a power failure may leave: names with contents."""
        for names in self._names():
            kept = [(name, self.files[each].contents(self.rng)) for name, each in names.items()]
            most = max((len(each) for _, each in kept), default=1)
            for k in range(most):  # each content of each file, not with each of every other
                yield {name: each[k % len(each)] for name, each in kept}

    def _names(self):
        steps = self.renamed
        subsets = [steps[:k] for k in range(len(steps) + 1)] + [steps[k:] for k in range(1, len(steps))]
        seen = []
        for subset in subsets:
            names = dict(self.names)
            for old, new, file in subset:
                names.pop(old, None)
                if new:
                    names[new] = file
            if names not in seen:
                seen.append(names)
        return seen


def _place():
    """Where in the program a flush was asked for."""
    frames = [each for each in traceback.extract_stack() if "predictor" in each.filename.split(os.sep)]
    outside = [each for each in frames if each.name not in ("flush", "flush_folder")]
    return f"{outside[-1].name} {outside[-1].lineno}" if outside else ""


@contextlib.contextmanager
def watched(folder, rng, after_each, without=None, disk=None):
    """Follow the system calls of a run on a folder; `after_each` is given the disk after each of them.

    With `without`, the flush of that number does nothing. `disk` is that of a run before, which was killed. Gives the
    flushes: where in the program each was asked for.
    """
    disk, handles, flushes = disk or Disk(os.fspath(folder), rng), {}, []
    real = {name: getattr(os, name) for name in ("open", "write", "fsync", "ftruncate", "replace", "unlink", "close")}

    def mine(path):
        return os.path.dirname(os.path.abspath(path)) == disk.folder

    def number(path):
        return os.stat(path).st_ino

    def step():
        after_each(disk)

    def open_(path, flags, mode=0o777, **more):
        new = bool(flags & os.O_CREAT) and not os.path.exists(path)
        handle = real["open"](path, flags, mode, **more)
        if os.path.abspath(path) == disk.folder:
            handles[handle] = None
        elif mine(path):
            handles[handle] = number(path)
            if new:
                disk.files[number(path)] = File()
                disk.renamed.append(("", os.path.basename(path), number(path)))
                step()
        return handle

    def write(handle, data):
        done = real["write"](handle, data)
        if handle in handles:
            place = os.lseek(handle, 0, os.SEEK_CUR) - done
            disk.files[handles[handle]].since.append((place, bytes(data[:done])))
            step()
        return done

    def ftruncate(handle, size):
        real["ftruncate"](handle, size)
        disk.files[handles[handle]].since.append((size, None))
        step()

    def fsync(handle):
        if handle in handles:  # nothing need reach a real disk
            flushes.append(_place())
            if without == len(flushes) - 1:
                return
            if handles[handle] is None:
                disk.names = {each: number(os.path.join(disk.folder, each)) for each in os.listdir(disk.folder)}
                disk.renamed = []
            else:
                file = disk.files[handles[handle]]
                file.flushed, file.since = _after(file.flushed, file.since), []
            step()

    def replace(old, new):
        file = number(old)
        real["replace"](old, new)
        disk.renamed.append((os.path.basename(old), os.path.basename(new), file))
        step()

    def unlink(path):
        real["unlink"](path)
        disk.renamed.append((os.path.basename(path), "", 0))
        step()

    def close(handle):
        handles.pop(handle, None)
        real["close"](handle)

    with mock.patch.multiple(
        os, open=open_, write=write, fsync=fsync, ftruncate=ftruncate, replace=replace, unlink=unlink, close=close
    ):
        yield flushes, disk
