"""Nobody comes in but by the address in the terminal, and nothing is served but the page. Attacks by real sockets."""

from __future__ import annotations

import contextlib
import json
import shutil
import socket
import stat
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from pathlib import Path

import pytest

from predictor.job.place import Place
from predictor.serving.app import Entrance, make_app
from predictor.serving.book import Book
from predictor.serving.keys import FILE, Devices, Keys
from tests.conftest import SAMPLE
from tests.serving.served import FOR_PHONES, HERE, free_port, serving

linux = pytest.mark.skipif(sys.platform != "linux", reason="other systems have no second address of their own")
LOG, PICTURE = "/log?box=small", "/picture?box=small&lot=forb+mix"
GET_ROUTES = ("/", "/state", LOG, PICTURE, "/card", "/decision", "/record")


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A copy of the sample job, of which no test changes a file."""
    return shutil.copytree(SAMPLE, tmp_path_factory.mktemp("door") / "job")


@pytest.fixture(scope="module")
def server(place):
    """A server that tests share: none of them spends more than a wrong key from 127.0.0.1."""
    with serving(place) as found:
        yield found


@pytest.fixture(scope="module")
def cookie(server):
    """That of a device that was let in."""
    return server.let_in()


def entry_of(server, cookie, **changed):
    """An entry that could be saved, were nothing wrong with it."""
    state = server.get("/state", cookie=cookie).json()
    return {"job": state["job"], "id": "ab" * 16, "kind": "catch", "day": "2026-11-25", "values": {}} | changed


def log_of(place):
    return (place / "trials.csv").read_bytes()


def test_without_a_cookie_nothing_of_the_job_is_given(server, cookie):
    for path in GET_ROUTES:
        answer = server.get(path)
        assert answer.status == 401, path
        assert b"forb" not in answer.body, path
        assert b"grain" not in answer.body, path
    assert server.save({"job": "x"}).status == 401
    for wrong in ("predictor=", cookie[:-1], f"{cookie}x", cookie.replace("=", "x=")):
        assert server.get("/state", cookie=wrong).status == 401, wrong
    assert server.get("/state", cookie=cookie).status == 200


def test_a_key_works_once_and_the_next_one_is_shown(place):
    with serving(place) as server:
        used = server.key()
        assert server.get(f"/in/{used}").status == 200, "looking uses nothing up, as a preview of a link would"
        assert server.let_in()
        again = server.post_key(used)
        assert (again.status, again.cookie) == (403, "")
        assert "used up" in again.text
        assert server.key() != used
        assert server.let_in()


def test_a_second_tap_on_the_way_in_uses_no_further_key(server, cookie):
    shown = server.addresses()
    assert server.post_key("whatever", cookie=cookie).status == 303
    assert server.get("/in/whatever", cookie=cookie).status == 303
    assert server.addresses() == shown


def test_the_cookie_is_out_of_reach_of_scripts_and_of_other_sites(place):
    with serving(place) as server:
        answer = server.post_key(server.key())
    flags = {each.strip().partition("=")[0].lower(): each.strip() for each in answer.headers["Set-Cookie"].split(";")}
    assert "httponly" in flags
    assert flags["samesite"] == "SameSite=Strict"
    assert flags["path"] == "Path=/"
    assert "domain" not in flags
    token = answer.cookie.partition("=")[2]
    assert len(token) >= 43, "256 bits"
    kept = (place / ".predictor-serve.json").read_text(encoding="ascii")
    assert token not in kept
    assert sha256(token.encode()).hexdigest() in kept
    assert stat.S_IMODE((place / ".predictor-serve.json").stat().st_mode) == 0o600


@linux
def test_wrong_keys_are_refused_and_soon_not_even_looked_at(place):
    with serving(place) as server:
        # what a sender says of its own address is not believed
        told = [{"X_Forwarded_For": f"10.0.0.{k}", "Forwarded": f"for=10.0.0.{k}"} for k in range(6)]
        wrong = [server.post_key(f"wrong-{k}", sender="127.0.0.9", **told[k]) for k in range(6)]
        assert [each.status for each in wrong] == [403] * 5 + [429]
        assert 1 <= int(wrong[-1].headers["Retry-After"]) <= 61
        assert not any(each.cookie for each in wrong)
        assert server.post_key(server.key(), sender="127.0.0.9").status == 429, "nor the right one, for a minute"
        assert server.let_in(sender="127.0.0.8"), "others do not wait"


@linux
def test_two_phones_come_in_one_after_another(place):
    with serving(place, phones=True) as server:
        first, key = server.let_in(FOR_PHONES), server.key(FOR_PHONES)
        server.wait_for("A phone was let in")
        second = server.let_in(FOR_PHONES)
        assert first != second
        assert key != server.key(FOR_PHONES)
        for each in (first, second):
            assert server.get("/state", host=FOR_PHONES, cookie=each).status == 200
        assert any("Nothing is encrypted" in each for each in server.lines)


@linux
def test_only_the_addresses_that_are_shown_are_listened_on(place):
    def listening(port):
        tables = [Path(f"/proc/net/{name}").read_text(encoding="ascii") for name in ("tcp", "tcp6")]
        found = [line.split() for table in tables for line in table.splitlines()[1:]]
        return {cells[1] for cells in found if cells[3] == "0A" and cells[1].endswith(f":{port:04X}")}

    with serving(place) as server:
        assert listening(server.port) == {f"0100007F:{server.port:04X}"}
    with serving(place, phones=True) as server:
        assert listening(server.port) == {f"{each}00007F:{server.port:04X}" for each in ("01", "02")}


def test_a_device_stays_let_in_after_a_restart_until_it_is_forgotten(job):
    with serving(job) as server:
        cookie, port = server.let_in(), server.port
        known = server.get("/state", cookie=cookie).json()["job"]
    with serving(job, port=port) as server:
        again = server.get("/state", cookie=cookie)
        assert (again.status, again.json()["job"]) == (200, known)
    with serving(job, "--forget", port=port) as server:
        assert server.get("/state", cookie=cookie).status == 401
        assert server.get("/state", cookie=server.let_in()).json()["job"] == known


def test_forgetting_reaches_a_server_that_runs(job):
    with serving(job) as server:
        cookie = server.let_in()
        with serving(job, "--forget"):
            assert server.get("/state", cookie=cookie).status == 401


def test_another_name_that_leads_here_is_refused(server, cookie, place):
    names = ("evil.example", f"evil.example:{server.port}", HERE, f"{HERE}:1", f"localhost.evil.example:{server.port}")
    for name in (*names, "", f"{HERE}:{server.port}.evil.example", f"{HERE}:{server.port}@evil.example", "[::1]"):
        for path in ("/", "/state", f"/in/{server.key()}", "/static/drill.css", "/nothing"):
            assert server.get(path, cookie=cookie, Host=name).status in (400, 403), (name, path)
        origin = f"http://{name}"
        assert server.save(entry_of(server, cookie), cookie=cookie, Host=name, Origin=origin).status in (400, 403), name
    assert server.get("/state", cookie=cookie, Host=f"localhost:{server.port}").status == 200
    old = server.raw(f"GET /state HTTP/1.0\r\nCookie: {cookie}\r\n\r\n".encode())
    assert b"403" in old.splitlines()[0], "a request that names no host"


def test_what_another_page_sends_is_refused(server, cookie, place):
    before, entry = log_of(place), entry_of(server, cookie)
    wrong = (
        "http://evil.example",
        f"http://{HERE}",
        f"https://{HERE}:{server.port}",
        "null",
        "",
        f"{HERE}:{server.port}",
    )
    for origin in (*wrong, f"http://{HERE}:{server.port}.evil.example", f"http://localhost:{server.port}"):
        assert server.save(entry, cookie=cookie, Origin=origin).status == 403, origin
        answer = server.post_key(server.key(), Origin=origin)
        assert (answer.status, answer.cookie) == (403, ""), origin
    answer = server.ask("POST", "/save", json.dumps(entry), cookie=cookie, Content_Type="application/json")
    assert answer.status == 403, "no origin at all"
    assert log_of(place) == before


def test_a_form_of_another_page_cannot_save(server, cookie, place):
    """A form can send these kinds without being asked first; the page's own kind it cannot."""
    before, entry = log_of(place), entry_of(server, cookie)
    mine = f"http://{HERE}:{server.port}"
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", ""):
        assert server.save(entry, cookie=cookie, Content_Type=kind, Origin="http://evil.example").status == 403
        assert server.save(entry, cookie=cookie, Content_Type=kind, Origin=mine).status == 415, kind
    assert server.post_key(server.key(), Content_Type="application/json").status == 415
    assert log_of(place) == before


def test_nothing_is_written_by_get_and_no_other_method_is_known(server, cookie, place):
    before, key = {each.name: each.read_bytes() for each in place.iterdir() if each.is_file()}, server.key()
    for path in (*GET_ROUTES, f"/in/{key}", "/static/drill.js"):
        server.get(path, cookie=cookie)
    assert {each.name: each.read_bytes() for each in place.iterdir() if each.is_file()} == before
    assert server.get("/save", cookie=cookie).status == 405
    assert server.get("/in", cookie=cookie).status == 405
    mine = f"http://{HERE}:{server.port}"
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "POST"):
        for path in (*GET_ROUTES, f"/in/{key}"):
            answer = server.ask(method, path, cookie=cookie, Origin=mine)
            assert answer.status == 405, (method, path)
            assert not [each for each in answer.headers if each.lower().startswith("access-control")]
    assert server.ask("HEAD", "/", cookie=cookie).status == 200


def test_no_file_is_reached_by_its_path(server, cookie):
    paths = ["/static/../book.py", "/static/%2e%2e/book.py", "/static/..%2fbook.py", "/static/..%5cbook.py", "/static/"]
    paths += ["/../../../etc/passwd", "//etc/passwd", "/static//etc/passwd", "/static/%2fetc%2fpasswd", "/static"]
    paths += [
        "/trials.csv",
        "/.predictor-serve.json",
        "/static/.gitkeep",
        "/static/drill.js%00.css",
        "/templates/in.html",
    ]
    paths += ["/static/drill.js/../../app.py", "/static/DRILL.JS", "/state/../trials.csv", "/in/../trials.csv"]
    paths += ["/static//drill.js", "/state/"]
    for path in paths:
        head = f"GET {path} HTTP/1.1\r\nHost: {HERE}:{server.port}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"
        answer = server.raw(head.encode())
        assert answer.split()[1] in (b"404", b"400"), (path, answer[:80])
        assert b"root:" not in answer, path
        assert b"import" not in answer, path


def test_what_is_asked_for_is_never_markup(server, cookie):
    marked = "%22%3E%3Cb%3Ex%3C/b%3E"
    for path in (f"/in/{marked}", f"/log?box={marked}", f"/picture?box={marked}&lot={marked}", f"/{marked}"):
        answer = server.get(path, cookie="" if path.startswith("/in/") else cookie)
        assert b"<b>" not in answer.body, path
    assert "&#34;&gt;&lt;b&gt;x" in server.get("/in/%22%3E%3Cb%3Ex").text


def test_what_cannot_be_shown_is_a_sentence(server, cookie):
    unknown = server.get("/log?box=nowhere", cookie=cookie)
    assert (unknown.status, unknown.headers.get_content_type()) == (422, "text/html")
    assert "chaffy, grain, small" in unknown.text
    assert "There is no such page." in server.get("/nothing", cookie=cookie).text


def test_every_answer_forbids_the_browser_what_the_page_does_not_need(server, cookie):
    printed = ("/picture", "/card", "/decision", "/record")
    for path in (*GET_ROUTES, "/static/drill.js", "/nothing", f"/in/{server.key()}", "/save"):
        answer = server.get(path, cookie=cookie if path != f"/in/{server.key()}" else "")
        rules = dict(each.strip().partition(" ")[::2] for each in answer.headers["Content-Security-Policy"].split(";"))
        assert rules["default-src"] == rules["base-uri"] == rules["frame-ancestors"] == "'none'", path
        if path.partition("?")[0] in printed and answer.status == 200:
            assert rules.get("script-src") is None, path
            assert (rules["style-src"], rules["form-action"]) == ("'unsafe-inline'", "'none'"), path
        else:
            assert {rules[f"{kind}-src"] for kind in ("script", "style", "connect", "img")} == {"'self'"}, path
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["Referrer-Policy"] == ("same-origin" if path.startswith("/in/") else "no-referrer")
        assert answer.headers["Cross-Origin-Opener-Policy"] == "same-origin"
        assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
        assert not [each for each in answer.headers if each.lower().startswith("access-control")], path
        assert answer.headers["Server"] is None, path


def test_the_state_is_not_sent_again_while_it_is_the_same(server, cookie):
    first = server.get("/state", cookie=cookie)
    again = server.get("/state", cookie=cookie, If_None_Match=first.headers["ETag"])
    assert (again.status, again.body) == (304, b"")
    assert server.get("/state", cookie=cookie, If_None_Match='"other"').status == 200


def test_an_entry_of_another_job_or_of_another_form_is_refused(server, cookie, place):
    before = log_of(place)
    good = entry_of(server, cookie)
    for body in ("{", "", "[" * 60_000, b'{"job": "\xff"}', "NaN,"):
        answer = server.save(body, cookie=cookie)
        assert (answer.status, answer.json()["result"]) == (400, "refused"), body[:9]
        assert answer.json()["said"][0].startswith("Nothing was saved"), body[:9]
    values = good["values"]
    wrong = {
        "a number": good | {"values": values | {"turns": 28}},
        "none": good | {"answers": {"x": None}},
        "no id": {name: text for name, text in good.items() if name != "id"},
        "a list": good | {"shown": []},
        "half a letter": good | {"values": values | {"note": "\ud800"}},
        "a command to a terminal": good | {"values": values | {"note": "\x1b[2J"}},
    }
    for name, entry in wrong.items():
        answer = server.save(entry, cookie=cookie)
        assert (answer.status, answer.json()["result"]) == (200, "again"), name
        assert answer.json()["said"][0].startswith("Nothing was saved"), name
    assert server.save(good | {"job": "cd" * 16}, cookie=cookie).status == 409
    assert log_of(place) == before


def test_a_body_beyond_the_limit_is_refused(server, cookie, place):
    before, good = log_of(place), entry_of(server, cookie)
    answer = server.save(json.dumps(good | {"values": {"note": "x" * 65_536}}), cookie=cookie)
    assert (answer.status, answer.json()["result"]) == (413, "refused")
    mine = f"{HERE}:{server.port}"
    head = f"POST /save HTTP/1.1\r\nHost: {mine}\r\nOrigin: http://{mine}\r\nCookie: {cookie}\r\n"
    head += "Content-Type: application/json\r\nConnection: close\r\n"
    with socket.create_connection((HERE, server.port), timeout=20) as asked:
        asked.sendall(f"{head}Content-Length: 10000000\r\n\r\n".encode())
        assert b"413" in asked.recv(1000).splitlines()[0], "refused by its length, before it is sent"
    chunk = b"10000\r\n" + b"x" * 65_536 + b"\r\n"
    with socket.create_connection((HERE, server.port), timeout=20) as asked:
        asked.sendall(f"{head}Transfer-Encoding: chunked\r\n\r\n".encode())
        sent = []
        with contextlib.suppress(OSError):
            for k in range(160):
                asked.sendall(chunk)
                sent.append(k)
                time.sleep(0.005)
        assert len(sent) < 80, "one that does not say its length is cut off, too"
    assert server.get("/state", cookie=cookie).status == 200
    assert log_of(place) == before


def test_a_head_without_end_is_refused(server, cookie):
    assert b"431" in server.raw(b"GET / HTTP/1.1\r\n" + b"X-A: " + b"a" * 17_000 + b"\r\n\r\n").splitlines()[0]
    assert server.get("/state", cookie=cookie).status == 200


IMPATIENT = "import predictor.serving.door as d; d.LONGEST_REQUEST_S = 1.5; d.IDLE_S = 3; d.MOST_OF_ONE_SENDER = 20"


@pytest.mark.slow
@linux
def test_slow_senders_hold_nobody_up_and_are_cut_off(place):
    """A few letters at a time, in the head or in the body, from more connections than one device may have."""
    with serving(place, before=IMPATIENT) as server:
        cookie = server.let_in()
        slow = [socket.create_connection((HERE, server.port), timeout=20) for _ in range(15)]
        head = f"POST /save HTTP/1.1\r\nHost: {HERE}:{server.port}\r\nContent-Length: 60000\r\n\r\n".encode()
        for k, each in enumerate(slow):
            each.sendall(b"GET / HT" if k % 2 else head)
        began, left, waited = time.monotonic(), list(slow), []
        while left and time.monotonic() - began < 20:
            for each in list(left):
                try:
                    each.sendall(b"x")
                except OSError:
                    left.remove(each)
            asked = time.monotonic()
            assert server.get("/", cookie=cookie).status == 200
            waited.append(time.monotonic() - asked)
            time.sleep(0.2)
        assert not left, "each is cut off, though it goes on sending"
        assert max(waited) < 2.0
        for each in slow:
            each.close()


@pytest.mark.slow
@linux
def test_one_device_cannot_take_every_connection(place):
    with serving(place, before=IMPATIENT + "; d.IDLE_S = 300") as server:
        cookie = server.let_in(sender="127.0.0.8")
        idle = [
            socket.create_connection((HERE, server.port), timeout=20, source_address=("127.0.0.9", 0))
            for _ in range(60)
        ]
        answer = server.get("/state", cookie=cookie, sender="127.0.0.8")
        assert answer.status == 200
        time.sleep(1.5)
        closed = 0
        for each in idle:
            each.settimeout(0.05)
            try:
                closed += each.recv(1) == b""
            except TimeoutError:
                pass
            except OSError:
                closed += 1
            each.close()
        assert closed == 40


def test_fifty_clients_at_once_are_all_answered(server, cookie):
    wall = threading.Barrier(50)

    def ask(k):
        wall.wait(30)
        return server.get(("/state", "/", "/static/drill.css")[k % 3], cookie=cookie).status

    with ThreadPoolExecutor(50) as clients:
        assert list(clients.map(ask, range(50))) == [200] * 50


def test_a_port_that_is_in_use_is_said(server, place, run):
    done = run("serve", place, "--port", server.port, "--no-browser")
    assert (done.returncode, done.stdout) == (1, "")
    assert f"--port {server.port + 1}" in done.stderr


def test_ctrl_c_ends_it_with_a_sentence_and_frees_the_port(place):
    port = free_port()
    for _ in range(2):
        with serving(place, port=port) as server:
            assert server.get("/").status == 401
            assert server.stop() == 0
            server.process.wait(10)
    assert any("The page is closed" in each for each in server.lines)
    assert not any("Traceback" in each for each in server.lines)


def test_an_error_nobody_foresaw_is_a_sentence(place):
    break_it = "import predictor.serving.state as s, predictor.serving.saves as w\n"
    break_it += "def broken(*_): raise RuntimeError('it broke')\n"
    break_it += "s.state, whole, w.save = broken, s.state, broken"
    for trace in ("", "1"):
        with serving(place, before=break_it, PREDICTOR_TRACE=trace) as server:
            cookie = server.let_in()
            seen = server.get("/state", cookie=cookie)
            assert (seen.status, seen.json()["result"]) == (500, "refused")
            job = json.loads((place / ".predictor-serve.json").read_text(encoding="ascii"))["job"]
            entry = {"job": job, "id": "ab" * 16, "kind": "catch", "day": "2026-11-25"}
            saved = server.save(entry, cookie=cookie)
            assert (saved.status, saved.json()["result"]) == (500, "unsure"), "it may be in the file"
            for each in (seen, saved):
                assert "it broke" in each.json()["said"][0]
                assert "Traceback" not in each.text
            server.stop()
        assert any("Traceback" in each for each in server.lines) == bool(trace)


def test_options_that_make_no_sense_are_refused(place, run):
    for options, said in (
        (["--address", "192.168.1.20"], "--phone"),
        (["--phone", "--address", "8.8.8.8"], "private"),
        (["--phone", "--address", "100.64.0.1"], "private"),
        (["--phone", "--address", "0.0.0.0"], "private"),
        (["--phone", "--address", "laptop"], "192.168.1.20"),
        (["--port", "80"], "1023"),
        (["--port", "8421.5"], "whole"),
    ):
        done = run("serve", place, "--no-browser", *options)
        assert done.returncode == 2, options
        assert said in done.stderr, (options, done.stderr)
    done = run("serve", "-")
    assert done.returncode == 2
    elsewhere = run(
        "serve", place, "--no-browser", "--port", str(free_port()), "--phone", "--address", "10.255.255.254"
    )
    assert elsewhere.returncode == 1
    assert "not an address of this machine" in elsewhere.stderr
    assert run("serve", place.parent / "nowhere").returncode == 1


def test_whoever_has_the_key_is_let_in_though_nobody_reads_the_terminal(job):
    """As when its window was closed: what is written there fails."""

    def gone(place):
        raise BrokenPipeError

    devices, keys = Devices(job), Keys(("http://localhost",))
    app = make_app(Book(Place(job), job_id=devices.job), Entrance(devices, keys, frozenset({"localhost"}), gone))
    asked, key = app.test_client(), keys.address("http://localhost").rpartition("/")[2]
    answer = asked.post("/in", data={"key": key}, headers={"Origin": "http://localhost"})
    assert answer.status_code == 303
    assert asked.get("/state").get_json()["job"] == devices.job


def test_a_stranger_is_not_told_where_the_devices_are_kept(job):
    devices = Devices(job)
    app = make_app(Book(Place(job)), Entrance(devices, Keys(()), frozenset({"localhost"}), print))
    asked = app.test_client()
    asked.set_cookie(f"predictor-{devices.job[:8]}", "anything")
    (job / FILE).unlink()
    (job / FILE).mkdir()
    answer = asked.get("/state")
    assert (answer.status_code, answer.get_json()["result"]) == (500, "refused")
    assert "cannot look up who was let in" in answer.get_json()["said"][0]
    assert str(job) not in answer.text


@pytest.mark.browser
def test_a_browser_comes_in_by_one_tap_and_stays_in(browser, job):
    """In a real browser: it must say which page the form is on, and send the cookie to the page it is led to."""
    with serving(job) as server:
        page = browser.open_address(server.addresses()[0], unheard=("415", "ERR_CONNECTION"))
        page.get_by_role("button").tap()
        page.wait_for_url(f"http://{HERE}:{server.port}/")
        assert page.evaluate("document.cookie") == ""
        (kept,) = page.context.cookies()
        assert (kept["httpOnly"], kept["sameSite"]) == (True, "Strict")
        assert kept["expires"] > time.time() + 86_400, "it outlives the browser"
        assert page.reload().status == 200
        assert page.evaluate("fetch('/state').then(each => each.status)") == 200
        refused = "fetch('/save', {method: 'POST', body: '{}'}).then(each => each.status)"
        assert page.evaluate(refused) == 415
        page.close()  # it would find no server any more


@pytest.mark.browser
def test_a_page_at_another_port_of_this_machine_can_neither_read_nor_save(chromium, job):
    """A browser takes it for the same site, and sends the cookie along."""
    with serving(job) as server:
        mine, before = f"http://{HERE}:{server.port}", log_of(job)
        context = chromium.new_context(has_touch=True)
        page = context.new_page()
        page.goto(server.addresses()[0])
        page.get_by_role("button").tap()
        page.wait_for_url(f"{mine}/")
        page.route("**/attack", lambda route: route.fulfill(body="<p>Another page</p>", content_type="text/html"))
        page.goto(f"http://{HERE}:{free_port()}/attack")
        read = f"fetch('{mine}/state', {{credentials: 'include'}}).then(each => each.text()).catch(() => 'kept')"
        assert page.evaluate(read) == "kept"
        write = f"fetch('{mine}/save', {{method: 'POST', mode: 'no-cors', credentials: 'include', body: '{{}}'}})"
        assert page.evaluate(f"{write}.then(each => each.type).catch(() => 'kept')") in ("opaque", "kept")
        page.set_content(f"<form method='post' action='{mine}/save' enctype='text/plain'><button>x</button></form>")
        with page.expect_response(f"{mine}/save") as answer:
            page.get_by_role("button").tap()
        assert answer.value.status == 403
        assert "predictor-" in answer.value.request.all_headers().get("cookie", ""), "the cookie alone keeps it not out"
        context.close()
        assert log_of(job) == before


@pytest.mark.slow
@pytest.mark.browser
def test_each_page_shows_what_it_has_under_its_rules(browser, job):
    """The browser says in its console what a rule kept from the page, and the fixture fails on that."""
    with serving(job) as server:
        page = browser.open_address(server.addresses()[0])
        page.get_by_role("button").tap()
        page.wait_for_url("**/")
        for path in GET_ROUTES:
            assert page.goto(f"http://{HERE}:{server.port}{path}").status == 200
            styled = page.evaluate("document.styleSheets.length || document.querySelectorAll('style').length")
            assert styled or path == "/state", path
        page.goto(f"http://{HERE}:{server.port}{LOG}", wait_until="networkidle")
        assert page.evaluate("[...document.images].every(each => each.complete && each.naturalWidth > 0)")
        assert page.locator("img").count() == 1


@pytest.mark.slow
@pytest.mark.browser
def test_axe_finds_nothing_on_the_way_in_and_on_refusals(browser, job):
    with serving(job) as server:
        mine = f"http://{HERE}:{server.port}"
        page = browser.open_address(server.addresses()[0], unheard=("Failed to load resource",))
        assert browser.findings(page) == [], "the way in"
        assert page.get_by_role("button").bounding_box()["height"] >= 70, "11 mm"
        assert page.goto(f"{mine}/").status == 401
        page.get_by_text("not let in").wait_for()
        assert browser.findings(page) == [], "without a cookie"
        assert page.goto(f"{mine}/nothing").status == 404
        assert browser.findings(page) == [], "no such page"
        page.goto(f"{mine}/in/wrong")
        page.get_by_role("button").tap()
        page.get_by_text("used up").wait_for()
        assert browser.findings(page) == [], "a wrong key"


@pytest.mark.slow
@pytest.mark.browser
def test_two_quick_taps_on_the_way_in_let_one_device_in(browser, job):
    """As gloves make them: the second comes before the page is left."""
    with serving(job) as server:
        page = browser.open_address(server.addresses()[0], unheard=("ERR_CONNECTION",))
        page.evaluate("() => { const form = document.forms[0]; form.requestSubmit(); form.requestSubmit(); }")
        page.wait_for_url(f"http://{HERE}:{server.port}/")
        assert page.reload().status == 200
