"""Whatever a power failure leaves after any system call, nothing acknowledged is lost, and no row is misread."""

import os
import random
import re
import shutil
from unittest import mock

import pytest

from predictor.files.changing import as_meant
from predictor.files.write import begin_file, update
from tests.files.power import File, watched

HEAD = b"name,use,note\n"


def add(path, name):
    """Add a row."""
    update(path, lambda data: data + b"".join([b"" if data.endswith(b"\n") else b"\n", name, b",yes,made\n"]))


def undo(path, name):
    """Mark a row unused, as a change in the middle of the file."""
    update(path, lambda data: data.replace(name + b",yes,made", name + b",no,made; undone"))


def begin(path):
    """Begin the file, or what a power failure left of it."""
    if not begin_file(path, HEAD):
        update(path, lambda data: HEAD if HEAD.startswith(data) else data)


class Season:
    """Steps on one file; what was acknowledged by each; and what is wrong in any state of the disk."""

    def __init__(self, folder, *, other_name=False):
        self.path, self.other_name = folder / "log.csv", other_name
        self.after = folder.parent / "after"
        self.used, self.unused, self.wrong, self.states = set(), set(), [], {}
        self.busy = b""  # the row that is being changed

    def play(self, disk):
        """Add rows, take one back, add again, and add to a file that another program put there."""
        begin(self.path)
        for name in (b"r1", b"r2"):
            self.step(add, name)
        if self.other_name:
            os.link(self.path, self.path.parent.parent / "linked.csv")
        self.step(undo, b"r1")
        self.step(add, b"r3")
        self.sync()
        self.step(add, b"r4")
        self.step(undo, b"r4")
        self.remember(disk)

    def step(self, what, name):
        """One step, acknowledged once it has returned."""
        self.busy = name
        what(self.path, name)
        if what is add:
            self.used.add(name)
        else:
            self.used.discard(name)
            self.unused.add(name)
        self.busy = b""

    def sync(self):
        """Another program puts a flushed copy in the place of the file, and flushes no folder."""
        copy = self.path.with_name("copy")
        handle = os.open(copy, os.O_WRONLY | os.O_CREAT, 0o666)
        os.write(handle, self.path.read_bytes())
        os.fsync(handle)
        os.close(handle)
        os.replace(copy, self.path)

    def remember(self, disk):
        """Every state that a power failure at this moment may leave, with what was acknowledged."""
        for state in disk.states():
            self.states[tuple(sorted(state.items())), self.busy, frozenset(self.used), frozenset(self.unused)] = None

    def look(self):
        """What is read in each state, and what the next run makes of it."""
        for state, *acknowledged in self.states:
            self.busy, self.used, self.unused = acknowledged
            shutil.rmtree(self.after, ignore_errors=True)
            self.after.mkdir()
            for name, data in state:
                (self.after / name).write_bytes(data)
            path = self.after / "log.csv"
            if path.exists():
                self.check(as_meant(path, path.read_bytes()), "read")
            elif self.used or self.unused:
                self.wrong.append(f"the file is gone: {state}")
                continue
            begin(path)
            add(path, b"next")
            found = path.read_bytes()
            self.check(found, "next run")
            if b"next,yes,made\n" not in found:
                self.wrong.append("the next row")
            if any(name.endswith(".changing") for name in os.listdir(self.after)):
                self.wrong.append("a copy is left")

    def check(self, data, when):
        """Every acknowledged row is there once, as it was acknowledged; all that is whole is a row."""
        lines = data.split(b"\n")
        for name in self.used | self.unused:
            mark = (b"yes,made" if name in self.used else b"no,made; undone",)
            both = (b"yes,made", b"no,made; undone") if name == self.busy else mark
            if sum(line == name + b"," + each for line in lines for each in both) != 1:
                self.wrong.append(f"{name!r} when {when}: {data!r}")
        whole = re.compile(rb"(r[1-4]|next),(yes,made|no,made; undone)|name,use,note")
        torn = [line for line in lines[:-1] if not whole.fullmatch(line)]
        if len(torn) > (when == "next run"):
            self.wrong.append(f"torn {torn} when {when}: {data!r}")


@pytest.fixture(params=[False, True], ids=["replaced", "changed in place"])
def season(request, tmp_path):
    return Season(made(tmp_path), other_name=request.param)


def played(season, without=None):
    """The flushes of a season, after which each state of its disk was looked at."""
    with watched(season.path.parent, random.Random(1), season.remember, without) as (flushes, disk):
        season.play(disk)
    with mock.patch("os.fsync"):
        season.look()
    return flushes


def test_a_power_failure_after_any_call_loses_nothing_acknowledged(season):
    played(season)
    assert len(season.states) > 100, season.states
    assert not season.wrong, season.wrong[:5]


def test_a_row_behind_an_unfinished_line_is_there_or_not(tmp_path):
    """Zeros in place of a lost row would make an end of the line that nobody could tell from a lost digit."""
    folder = made(tmp_path)
    path, found = folder / "log.csv", set()
    path.write_bytes(HEAD + b"r1,yes,made")

    def remember(disk):
        found.update(state["log.csv"] for state in disk.states())

    with watched(folder, random.Random(1), remember) as (_, disk):
        number = path.stat().st_ino
        disk.files[number], disk.names["log.csv"] = File(path.read_bytes()), number
        add(path, b"r2")
    assert found == {HEAD + b"r1,yes,made", HEAD + b"r1,yes,made\nr2,yes,made\n"}


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::predictor.errors.DriveWarning")
def test_each_flush_is_needed(tmp_path):
    """Without any one of them a power failure loses or tears something: so the test above would notice."""
    found = {}
    for other_name in (False, True):
        flushes = played(Season(made(tmp_path / f"{other_name}"), other_name=other_name))
        for k, place in enumerate(flushes):
            worse = Season(made(tmp_path / f"{other_name} without {k}"), other_name=other_name)
            played(worse, without=k)
            found[place] = found.get(place, False) or bool(worse.wrong)
    assert found == dict.fromkeys(found, True)
    assert len(found) >= 6, found


def made(folder):
    """A folder for a job."""
    (folder / "job").mkdir(parents=True)
    return folder / "job"
