"""Whatever happens to network and laptop in mid-save, what was typed on a phone is on disk once and in order."""

import os
import random
import signal
import sys
import threading

import pytest

from tests.serving import live
from tests.serving.made_up import ids, new_job, rows
from tests.serving.served import ON_THE_DAY, serving
from tests.serving.tapping import look, queued, said, save, tap

pytestmark = [pytest.mark.browser, pytest.mark.slow]
SILENT = ("Failed to load resource",)
KILLS = 100
# One process that has everything loaded, and forks a server again whenever the last one was killed. None outlives it.
FORKS = """
import ctypes, os, signal
from tests.running import ROOT, run
import predictor.serving.saves, predictor.serving.views, predictor.serving.door, predictor.commands.serve
run("recommend", ROOT / "sample_trials")
parent = os.getpid()
while os.fork():
    os.wait()
ctypes.CDLL(None).prctl(1, signal.SIGKILL)
if os.getppid() != parent:
    os._exit(1)
print(f"server {os.getpid()}", flush=True)
"""


def caught(folder):
    """The weights in the log."""
    return [each["catch_g"] for each in rows(folder)]


def losing_answers(page, wanted, act=lambda: None):
    """Lose the answers of the next saves on the way back from the laptop; the ids of these."""
    lost = []

    def lose(route):
        reply = None if len(lost) == wanted else route.fetch()  # reaches the laptop even while the page is offline
        if reply is None:
            route.continue_()
        elif reply.json()["result"] == "saved":
            lost.append(route.request.post_data_json["id"])
            act()
            route.abort("connectionreset")
        else:
            route.fulfill(response=reply)

    page.route("**/save", lose)
    return lost


@pytest.fixture
def job(tmp_path):
    return new_job(tmp_path / "job")


def test_a_phone_that_goes_offline_in_mid_save_sends_the_rest_later_and_nothing_twice(browser, job):
    with serving(job, before=ON_THE_DAY) as server:
        page = live.enter(browser, server, unheard=SILENT)
        tap(page, "small")
        live.tap_weight(page, "40.6")
        tap(page, "NEXT CATCH")
        lost = losing_answers(page, 1, lambda: page.context.set_offline(True))
        save(page, "20.3")
        live.settled(page)  # which setting the lever shows
        tap(page, "11")
        said(page, "It waits here. It is sent when the laptop answers.")
        for weight in ("20.9", "20.4"):
            tap(page, "TO THE KEYS")
            save(page, weight)
            said(page, "It waits here.")
        assert [each["values"]["catch"] for each in queued(page)] == ["20.3", "20.9", "20.4"]
        page.context.set_offline(False)
        live.drain(page)
    assert len(lost) == 1
    assert caught(job) == ["40.6", "20.3", "20.9", "20.4"]
    assert len(set(ids(job))) == 4


def kill_server(server):
    """Kill the server that was forked last."""
    (*_, last) = [each for each in server.lines if each.startswith("server ")]
    os.kill(int(last.split()[1]), signal.SIGKILL)


def back_to_keys(page):
    """Answer what is asked, and go back to the keys, whether or not what was saved is sent."""
    while not page.locator("#keypad").is_visible():
        if page.locator("#ask").is_visible():
            live.answer_one(page)
        else:
            page.go_back()


@pytest.mark.skipif(sys.platform != "linux", reason="ends the forked server as Linux does")
def test_a_laptop_killed_100_times_in_mid_save_has_each_catch_once_and_in_the_order_typed(browser, job):
    chance, typed, failed = random.Random(3), ["40.6", "20.3", "20.4"], []
    with serving(job, before=ON_THE_DAY + FORKS) as server:
        page = live.enter(browser, server, unheard=SILENT)
        page.on("requestfailed", lambda each: failed.append(each) if each.method == "POST" else None)
        for weight in typed:
            tap(page, "small")
            live.tap_weight(page, weight)
            back_to_keys(page)
        for kill, more in enumerate(chance.sample(range(100), KILLS)):
            tap(page, "small")
            typed.append(f"20.{more:02}")
            page.keyboard.type(typed[-1])
            tap(page, "SAVE")
            threading.Timer(chance.uniform(0.0, 0.25), kill_server, [server]).start()
            server.wait_for("^Ctrl-C ends it", times=kill + 2)
            look(page)
            back_to_keys(page)
        live.drain(page)
    assert [float(each) for each in caught(job)] == [float(each) for each in typed]
    assert len(set(ids(job))) == len(typed)
    assert len(failed) >= KILLS // 20  # kills in the midst of a save, of which a busy machine has fewer
