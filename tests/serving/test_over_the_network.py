"""Entries sent to a server that runs: saved once and in order, whoever else writes, and whenever it is killed."""

import http.client
import random
import secrets
import signal
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.running import run_program
from tests.serving.made_up import ids
from tests.serving.person import Person
from tests.serving.served import free_port, serving

# What the scales show for a box of the sample job at the setting that is advised; invented.
WEIGHTS = {"small": (22.0, 24.5), "grain": (1040.0, 1120.0), "chaffy": (43.0, 47.0)}
GONE = (OSError, http.client.HTTPException)


class OnAPhone(Person):
    """A person whose page reaches the laptop over the network, and keeps what it could not send."""

    def __init__(self, folder, cookie, server=None):
        super().__init__(folder)
        self.server, self.cookie = server, cookie

    def post(self, entry):
        answer = self.server.save(entry, cookie=self.cookie)
        assert answer.status == 200, answer.text
        return answer.json()

    def entry(self, box, weight):
        """A catch as it would be typed now."""
        state = self.server.get("/state", cookie=self.cookie).json()
        shown = next(each["catch"] for each in state["boxes"] if each["box"] == box)
        values = {"box": box, "lot": shown["lot"], "catch": f"{weight:.1f}"}
        names = ("lot", "setting", "turns", "rows", "counted", "made")
        shown = {name: shown[name] for name in names if name in shown}
        ids = {"job": state["job"], "id": secrets.token_hex(16), "day": state["day"]}
        return {**ids, "kind": "catch", "shown": shown, "values": values, "answers": {}}


def test_a_catch_is_answered_once_it_is_in_the_file_and_is_never_added_twice(job):
    with serving(job) as server:
        person = OnAPhone(job, server.let_in(), server)
        entry = person.entry("small", 22.9)
        saved = person.send(entry)
        assert (saved["result"], saved["box"]) == ("saved", "small")
        assert ids(job) == [entry["id"]]
        assert server.get("/state", cookie=person.cookie).json() == saved["state"]
        content = (job / "trials.csv").read_bytes()
        again = person.send(entry)
        assert (again["result"], again["line"]) == ("saved", saved["line"])
        assert (job / "trials.csv").read_bytes() == content


def test_two_phones_and_a_terminal_write_one_log_at_once(job):
    with serving(job) as server:
        people = {box: OnAPhone(job, server.let_in(), server) for box in ("small", "grain")}

        def tap(box):
            return [
                people[box].send(people[box].entry(box, 22.9 if box == "small" else 1080.0))["id"] for _ in range(5)
            ]

        def type_in():
            words = ("--box", "chaffy", "--lot", "tall mix", "--setting", "4", "--yes")
            return [run_program("record", job, *words, "--catch", f"{44.37 + k:.2f}").returncode for k in range(3)]

        with ThreadPoolExecutor(3) as busy:
            tapped, typed = [busy.submit(tap, box) for box in people], busy.submit(type_in)
            sent = [each.result() for each in tapped]
            assert typed.result() == [0, 0, 0]
    found = ids(job)
    assert sorted(found) == sorted(sent[0] + sent[1])
    for mine in sent:
        assert [each for each in found if each in mine] == mine
    text = (job / "trials.csv").read_text(encoding="utf-8")
    assert [text.count(f",{44.37 + k:.2f},") == 1 for k in range(3)] == [True] * 3


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="processes cannot be killed there")
def test_a_server_that_is_killed_keeps_each_acknowledged_catch_once_and_in_order(job):
    """100 kills at random moments of saving; the page sends the same entry again until it is acknowledged."""
    chance, port, acknowledged = random.Random(8), free_port(), []
    with serving(job, port=port) as server:
        person = OnAPhone(job, server.let_in(), server)
        waiting = None
        began = time.monotonic()
        acknowledged.append(person.send(person.entry("small", 22.9))["id"])
        # Half the kills come before a new server could answer once, whatever else the machine does.
        longest = 2.0 * (time.monotonic() - began)
    for kill in range(101):
        with serving(job, port=port) as server:
            person.server = server
            doomed = threading.Timer(chance.uniform(0.0, longest), server.process.kill)
            if kill < 100:
                doomed.start()
            try:
                while kill < 100 or waiting is not None:
                    box = chance.choice(list(WEIGHTS))
                    waiting = waiting or person.entry(box, chance.uniform(*WEIGHTS[box]))
                    assert person.send(waiting)["result"] == "saved"
                    acknowledged.append(waiting["id"])
                    waiting = None
            except GONE:
                assert server.process.wait(30) != 0
            doomed.cancel()
    assert len(acknowledged) > 30
    assert ids(job) == acknowledged
