"""Entries are sent again until they are answered: kills and power cuts lose none of them and double none.

Weights are invented.
"""

import multiprocessing
import os
import pickle
import random
import shutil
import signal
import sys
import time
from unittest import mock

import pytest

from predictor import InputError, read_trials
from predictor.files.changing import as_meant
from predictor.files.cut import comment_out_last, cut_short
from predictor.files.kinds import TRIALS
from predictor.files.log import add_once, add_row, row_of_entry
from tests.files.power import File, watched

CATCH = {"date": "2026-11-25", "box": "small", "lot": "A", "setting": "14", "turns": 28.0, "rows": 3.0, "use": "yes"}
HEAD = b"box,lot,setting,catch_g,date,turns,rows,use"
# Logs as a run may find them: what adding to each takes.
LOGS = {
    "appended": HEAD + b",entry\nsmall,A,14,1.5,,,,,%a\n" % ("a" * 32),
    "column added": HEAD + b"\nsmall,A,14,1.5,,,,\n",
    "no last line end": HEAD + b",entry\nsmall,A,14,1.5,,,,," + b'"%b"' % (b"a" * 32),
}

posix = pytest.mark.skipif(sys.platform == "win32", reason="kills and forks as on POSIX")


def entry(k):
    """The id of an entry."""
    return f"{k:032x}"


def send(path, k):
    """Send an entry; the log is mended first, as by every run that adds to it."""
    if cut_short(TRIALS, path):
        comment_out_last(TRIALS, path)
    return add_once(TRIALS, path, {**CATCH, "catch_g": 2.5 + k, "entry": entry(k)})


def caught(path):
    """The weights of a log, in order: each entry has its own."""
    if cut_short(TRIALS, path):
        comment_out_last(TRIALS, path)
    return read_trials(path).catch_g.tolist()


class Job:
    """A log to which an entry is sent by a run that is killed, and by the next one, on a disk that may lose power."""

    def __init__(self, folder, data, *, linked=False):
        self.folder, self.after = folder / "job", folder / "after"
        self.path = self.folder / "trials.csv"
        self.folder.mkdir(parents=True)
        self.path.write_bytes(data)
        if linked:
            os.link(self.path, folder / "linked.csv")
        self.states = {}

    def run(self, disk, after_each, without=None):
        """One run that sends the entry; gives its flushes and the disk."""
        with watched(self.folder, random.Random(1), after_each, without, disk) as (flushes, now):
            if disk is None:
                number = self.path.stat().st_ino
                now.files[number], now.names[self.path.name] = File(self.path.read_bytes()), number
            send(self.path, 1)
        return flushes, now

    def killed(self, k):
        """What is on disk after a run that was killed after its system call of this number; None where it ended."""
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            calls = iter(range(k))

            def kill(disk):
                if next(calls, None) is None:
                    with os.fdopen(writing, "wb", closefd=False) as pipe:
                        pickle.dump(disk, pipe)
                    os.kill(os.getpid(), signal.SIGKILL)

            try:
                self.run(None, kill)
            finally:
                os._exit(0)
        os.close(writing)
        with os.fdopen(reading, "rb") as pipe:
            data = pipe.read()
        os.waitpid(child, 0)
        return pickle.loads(data) if data else None

    def send_again(self, disk, without=None):
        """The next run; every state that a power failure may leave is kept, and whether the entry was answered."""

        def remember(disk, *, answered=False):
            for state in disk.states():
                self.states[tuple(sorted(state.items())), answered] = None

        flushes, disk = self.run(disk, remember, without)
        remember(disk, answered=True)
        return flushes

    def wrong(self):
        """What is wrong in any of these states: a row that is lost or twice, before or after it is sent once more."""
        found = []
        for state, answered in self.states:
            shutil.rmtree(self.after, ignore_errors=True)
            self.after.mkdir()
            for name, data in state:
                (self.after / name).write_bytes(data)
            path = self.after / self.path.name
            try:
                read = as_meant(path, path.read_bytes())
                (self.after / "copy.csv").write_bytes(read)
                if answered and caught(self.after / "copy.csv") != [1.5, 3.5]:
                    found.append(f"answered, and not there once: {read!r}")
                send(path, 1)
                if caught(path) != [1.5, 3.5]:
                    found.append(f"not there once when sent again: {path.read_bytes()!r}")
            except (OSError, InputError) as error:
                found.append(f"{error}: {state}")
        self.states = {}
        return found


def played(folder, data, *, linked=False, without=None):
    """Kill a run after each of its system calls in turn, and send again: the flushes, and what is wrong then.

    Last is a run that is not killed.
    """
    disk, k = None, -1
    while disk is not None or k < 0:
        k += 1
        job = Job(folder / f"{k}", data, linked=linked)
        disk = job.killed(k)
        if disk is None:
            job = Job(folder / "not killed", data, linked=linked)
        flushes = job.send_again(disk, without)
        with mock.patch("os.fsync"):
            yield flushes, job.wrong()
    assert k >= 3, k


@posix
@pytest.mark.parametrize(
    "linked", [pytest.param(False, id="one name"), pytest.param(True, id="two names", marks=pytest.mark.slow)]
)
@pytest.mark.parametrize("data", LOGS.values(), ids=LOGS)
def test_a_kill_at_any_call_and_a_power_cut_at_any_later_one_leave_an_answered_entry_once(tmp_path, data, linked):
    wrong = [each for _, found in played(tmp_path, data, linked=linked) for each in found]
    assert not wrong, (len(wrong), wrong[:3])


@pytest.mark.slow
@posix
@pytest.mark.filterwarnings("ignore::predictor.errors.DriveWarning")
def test_each_flush_of_the_run_that_sends_again_is_needed(tmp_path):
    """Without any one of them a power cut loses an entry that was answered: so the test above would notice.

    The flushes of a run that finds nothing left of another are those of test_power_cuts.
    """
    needed = {}
    for name, linked in (("appended", False), ("column added", False), ("column added", True)):
        for without in range(4):
            folder = tmp_path / f"{name} {linked} {without}"
            *after_kills, _ = played(folder, LOGS[name], linked=linked, without=without)
            for flushes, wrong in after_kills:
                if without < len(flushes):
                    needed[flushes[without]] = needed.get(flushes[without], False) or bool(wrong)
    assert needed == dict.fromkeys(needed, True)
    assert len(needed) >= 6, needed


def serve(path, asked, answers):
    """Save the entries that are sent, one after another, as a server does until it is killed.

    One with a mark it does not live to flush.
    """
    with os.fdopen(asked) as lines:
        for line in lines:
            k, mark, _ = line.partition("!")
            if mark:
                os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL)
            _, added = send(path, int(k))
            os.write(answers, f"{int(k)} {added}\n".encode())


class Server:
    """A process that saves what is sent to it."""

    def __init__(self, path):
        asked, self.sending = os.pipe()
        self.answers, answering = os.pipe()
        self.process = os.fork()
        if self.process == 0:
            os.close(self.sending)
            os.close(self.answers)
            try:
                serve(path, asked, answering)
            finally:
                os._exit(1)
        os.close(asked)
        os.close(answering)

    def send(self, k, mark=""):
        """Send an entry, and do not wait for the answer."""
        os.write(self.sending, f"{k}{mark}\n".encode())

    def answer(self):
        """The entry that was answered and whether it was added; nothing where the server was killed before."""
        said = b""
        while not said.endswith(b"\n") and (part := os.read(self.answers, 64)):
            said += part
        return said.decode().split()

    def kill(self):
        """Kill it; it may have answered before."""
        os.kill(self.process, signal.SIGKILL)
        os.waitpid(self.process, 0)

    def close(self):
        """Close what is left of the pipes."""
        os.close(self.sending)
        os.close(self.answers)


def record(path, count):
    """Record catches in a terminal."""
    for _ in range(count):
        add_row(TRIALS, path, {**CATCH, "catch_g": 1.25})
        time.sleep(0.002)


def send_on(path, waiting, answered, delay):
    """Send some entries as the page does, the head alone until it is answered; kill the server in the midst of one.

    Without a delay it is killed before it flushes. Gives whether a row was there that was not answered.
    """
    server = Server(path)
    for _ in range(waiting):
        server.send(len(answered))
        assert server.answer()[0] == f"{len(answered)}"
        answered.append(len(answered))
    server.send(len(answered), "!" if delay is None else "")
    said = server.answer() if delay is None else []
    time.sleep(delay or 0)  # somewhere in saving it, or a moment after
    server.kill()
    said = said or server.answer()
    server.close()
    if said:
        assert said[0] == f"{len(answered)}"
        answered.append(len(answered))
    return not said and row_of_entry(TRIALS, path, entry(len(answered))) is not None


@pytest.mark.slow
@posix
def test_a_hundred_kills_double_no_entry_that_is_sent_again_and_keep_the_order(tmp_path):
    """Meanwhile a terminal records catches of its own in the same log."""
    path, rng, unanswered = tmp_path / "trials.csv", random.Random(17), 0
    for log in range(10):  # each begins without the column
        path.write_bytes(LOGS["column added"])
        writer = multiprocessing.get_context("fork").Process(target=record, args=(path, 20))
        writer.start()
        answered = []
        for _ in range(10):
            unanswered += send_on(path, rng.randrange(4), answered, rng.choice([None, rng.uniform(0, 0.012)]))
        writer.join(60)
        assert writer.exitcode == 0
        weights = caught(path)
        sent = [each - 2.5 for each in weights if each >= 2.5]
        assert sent[: len(answered)] == answered, log
        assert sent[len(answered) :] in ([], [len(answered)])  # the last may be there and not be answered
        assert weights.count(1.25) == 20
    assert unanswered > 20, unanswered


@posix
def test_two_servers_that_are_sent_the_same_entries_at_once_save_each_once(tmp_path):
    path, count = tmp_path / "trials.csv", 30
    path.write_bytes(LOGS["column added"])
    servers, added = [Server(path), Server(path)], []
    for k in range(count):
        for server in servers:
            server.send(k)
        answers = [server.answer() for server in servers]
        assert [each[0] for each in answers] == [f"{k}"] * 2
        added.append(sorted(each[1] for each in answers))
    for server in servers:
        server.kill()
        server.close()
    assert added == [["False", "True"]] * count
    assert caught(path) == [1.5, *(2.5 + k for k in range(count))]
