"""Runs `predictor serve` as a process, and asks it by real sockets."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import random
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import urlencode

from tests.running import ROOT

HERE = "127.0.0.1"
# Another address of every Linux machine, which stands for the one that a phone reaches.
FOR_PHONES = "127.0.0.2"
WAIT_S = 60.0
# Runs in the process of the server first: the day of the tests, whatever the clock says.
ON_THE_DAY = "from tests.running import that_day; that_day().start()"


def free_port() -> int:
    """A port that nobody uses, of those that no system gives to a client meanwhile."""
    while True:
        port = random.SystemRandom().randrange(20_000, 32_000)
        with socket.socket() as asked, contextlib.suppress(OSError):
            asked.bind((HERE, port))
            return port


@dataclass(frozen=True)
class Answer:
    """What the server answered."""

    status: int
    headers: http.client.HTTPMessage
    body: bytes

    @property
    def text(self) -> str:
        """The body as text."""
        return self.body.decode("utf-8")

    def json(self):
        """The body as values."""
        return json.loads(self.body)

    @property
    def cookie(self) -> str:
        """The cookie as it is sent back; empty where none is set."""
        return (self.headers.get("Set-Cookie") or "").partition(";")[0]


@dataclass
class Served:
    """A running server, what it said in its terminal, and ways to ask it."""

    process: subprocess.Popen
    port: int
    lines: list[str] = field(default_factory=list)

    def addresses(self, host: str = HERE) -> list[str]:
        """The one-time addresses that were shown for a host, the newest last."""
        return [each.strip() for each in self.lines if each.strip().startswith(f"http://{host}:{self.port}/in/")]

    def key(self, host: str = HERE) -> str:
        """The key that is shown now."""
        return self.addresses(host)[-1].rpartition("/")[2]

    def wait_for(self, pattern: str, *, times: int = 1) -> None:
        """Wait until the terminal shows a line so many times."""
        until = time.monotonic() + WAIT_S
        while sum(bool(re.search(pattern, each)) for each in self.lines) < times:
            assert self.process.poll() is None, f"the server has ended: {self.lines}"
            assert time.monotonic() < until, f"{pattern!r} was not shown: {self.lines}"
            time.sleep(0.02)

    def ask(self, method, path, body=None, *, host=HERE, sender=None, cookie="", **headers) -> Answer:
        """Send one request with these headers; those of a browser are to be given."""
        source = None if sender is None else (sender, 0)
        asked = http.client.HTTPConnection(host, self.port, timeout=WAIT_S, source_address=source)
        named = {name.replace("_", "-"): text for name, text in headers.items()}
        try:
            asked.request(method, path, body, named | ({"Cookie": cookie} if cookie else {}))
            answer = asked.getresponse()
            return Answer(answer.status, answer.headers, answer.read())
        finally:
            asked.close()

    def get(self, path, **options) -> Answer:
        """Ask for something."""
        return self.ask("GET", path, **options)

    def post_key(self, key: str, *, host=HERE, **options) -> Answer:
        """Tap the button of the way in."""
        form = {"Content_Type": "application/x-www-form-urlencoded", "Origin": f"http://{host}:{self.port}"}
        return self.ask("POST", "/in", urlencode({"key": key}), host=host, **form | options)

    def let_in(self, host: str = HERE, **options) -> str:
        """The cookie of a device that comes in by the address that is shown."""
        shown = len(self.addresses(host))
        answer = self.post_key(self.key(host), host=host, **options)
        assert (answer.status, answer.headers["Location"]) == (303, "/"), answer
        self.wait_for(re.escape(f"http://{host}:{self.port}/in/"), times=shown + 1)
        return answer.cookie

    def save(self, entry, *, host=HERE, **options) -> Answer:
        """Send an entry, as values or as they are."""
        sent = {"Content_Type": "application/json", "Origin": f"http://{host}:{self.port}"}
        body = entry if isinstance(entry, str | bytes) else json.dumps(entry)
        return self.ask("POST", "/save", body, host=host, **sent | options)

    def raw(self, data: bytes, *, wait_s: float = WAIT_S) -> bytes:
        """Send bytes as they are, and return all that is answered until the server closes the connection."""
        with socket.create_connection((HERE, self.port), timeout=wait_s) as asked:
            asked.sendall(data)
            found = b""
            with contextlib.suppress(OSError):
                while more := asked.recv(65536):
                    found += more
            return found

    def stop(self) -> int:
        """End it with Ctrl-C; its exit code."""
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(WAIT_S)


@contextlib.contextmanager
def serving(job, *options, port: int = 0, before: str = "", phones: bool = False, **environment) -> Iterator[Served]:
    """Serve a job. `before` is run in the process first; with `phones` they are let in at `FOR_PHONES`."""
    port = port or free_port()
    arguments = ["serve", str(job), "--port", str(port), "--no-browser", *options]
    if phones:
        arguments.append("--phone")
        before = f"import predictor.serving.addresses as a; a.own_addresses = lambda: ['{FOR_PHONES}']\n{before}"
    # tests that run in the background of a shell hand on that Ctrl-C is ignored
    before = f"import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n{before}"
    code = f"{before}\nfrom predictor.__main__ import main\nmain({arguments!r})"
    process = subprocess.Popen(
        [sys.executable, "-c", code],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
    )
    found = Served(process, port)
    reader = threading.Thread(target=lambda: found.lines.extend(process.stdout), daemon=True)
    reader.start()
    try:
        found.wait_for("Ctrl-C ends it")
        yield found
    finally:
        if process.poll() is None:
            process.kill()
        process.wait(WAIT_S)
        reader.join(WAIT_S)
        process.stdout.close()
