"""Two ways to run the program in a test: in this process, which is quick, and as a process of its own."""

from __future__ import annotations

import contextlib
import datetime
import io
import os
import shlex
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from predictor.__main__ import main

ROOT = Path(__file__).parent.parent
# A run in this process takes place on this day, soon after the catches of the sample job, whatever the clock says.
TODAY = datetime.date(2026, 11, 25)


@dataclass(frozen=True)
class Done:
    """What a finished run left: the exit code and both outputs."""

    returncode: int
    stdout: str
    stderr: str


class _Real(type(datetime.date)):
    """Takes every date for one of the class, as before the class was put in the place of `datetime.date`."""

    def __instancecheck__(cls, each):
        return isinstance(each, _DATE)


_DATE = datetime.date


class _Day(_DATE, metaclass=_Real):
    __slots__ = ()  # of the size that compiled packages expect, which may be loaded within that day

    @classmethod
    def today(cls):
        return TODAY


def that_day():
    """Within it the clock shows `TODAY`."""
    return mock.patch("datetime.date", _Day)


class _Terminal(io.TextIOWrapper):
    """Input that shows what is typed, as a terminal does."""

    def isatty(self):
        return True

    def readline(self, size=-1, /):
        line = super().readline(size)
        sys.stderr.write(line)
        return line


def run(*arguments, columns=80, stdin="", echo=False, cwd=None, **environment) -> Done:
    """Run the program in this process, as a user would on a terminal of so many columns.

    Streams, environment, folder and day are those of the run, and are put back afterwards. A warning is an error
    here, as everywhere in the tests. With `echo` the messages hold the answers too.
    """
    streams = {name: io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for name in ("stdout", "stderr")}
    # someone who answers what is asked has a readline of their own
    typed = isinstance(stdin, str)
    streams["stdin"] = (
        (_Terminal if echo else io.TextIOWrapper)(io.BytesIO(stdin.encode()), encoding="utf-8") if typed else stdin
    )
    with contextlib.ExitStack() as stack:
        stack.enter_context(mock.patch.multiple(sys, **streams))
        stack.enter_context(mock.patch.dict(os.environ, {"COLUMNS": str(columns), **environment}))
        stack.enter_context(that_day())
        stack.enter_context(contextlib.chdir(cwd or os.curdir))
        try:
            main([str(each) for each in arguments])
        except SystemExit as end:
            code = end.code
        else:
            raise AssertionError("the program did not end with an exit code")
    return Done(code, *(_text(streams[name]) for name in ("stdout", "stderr")))


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    return stream.buffer.getvalue().decode("utf-8")


def run_program(*arguments, columns=80, stdin="", cwd=None, shell="", **environment) -> Done:
    """Run the program as a process: for pipes, closed streams, encodings, the locale and all else that a process has.

    Parameters
    ----------
    shell : str
        What follows the command in the shell: "| head -c 1", ">&-".
    """
    command = [sys.executable, "-m", "predictor", *map(str, arguments)]
    done = subprocess.run(
        f"{shlex.join(command)} {shell}" if shell else command,
        shell=bool(shell),
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=cwd,
        env={**os.environ, "COLUMNS": str(columns), "PYTHONPATH": str(ROOT), **environment},
        input=stdin,
        timeout=120,
        check=False,
    )
    return Done(done.returncode, done.stdout, done.stderr)


def run_on_terminals(*arguments, columns=80, cwd=None, code="", **environment) -> Done:
    """Run the program, or some code, as a process whose output and messages each go to a terminal of so many columns.

    Both hold the bytes that the terminals were sent, as text.
    """
    import fcntl
    import pty
    import struct
    import termios
    import threading

    ends, sent = [pty.openpty() for _ in range(2)], [b"", b""]
    for _, terminal in ends:
        fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    started = {name: text for name, text in os.environ.items() if name not in ("COLUMNS", "NO_COLOR", "TERM")}
    process = subprocess.Popen(
        [sys.executable, *(("-c", code) if code else ("-m", "predictor")), *map(str, arguments)],
        stdin=subprocess.DEVNULL,
        stdout=ends[0][1],
        stderr=ends[1][1],
        cwd=cwd,
        env={**started, "PYTHONPATH": str(ROOT), "TERM": "xterm", **environment},
    )

    def read(k: int) -> None:
        with contextlib.suppress(OSError):  # the terminal is closed
            while part := os.read(ends[k][0], 65536):
                sent[k] += part

    for _, terminal in ends:
        os.close(terminal)
    readers = [threading.Thread(target=read, args=(k,)) for k in range(2)]
    for each in readers:
        each.start()
    code = process.wait(timeout=600)  # a study takes a minute or two
    for each in readers:
        each.join()
    for reader, _ in ends:
        os.close(reader)
    return Done(code, *(each.decode("utf-8").replace("\r\n", "\n") for each in sent))
