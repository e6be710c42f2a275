"""What the terminal shows of the ways in: addresses, and a code that a phone can read."""

import socket
import subprocess
import sys
import webbrowser
from pathlib import Path

import pytest

from predictor.errors import InputError
from predictor.job.place import Place
from predictor.serving import addresses, door
from predictor.serving.book import Book
from predictor.serving.keys import Keys
from tests.running import run_on_terminals

ADDRESS = "http://192.168.137.1:8421/in/AbCdEfGhIjKlMnOpQrStUv"


@pytest.mark.parametrize("text", ["192.168.1.20", " 10.42.0.1 ", "172.16.0.1", "172.31.255.254", "169.254.3.4"])
def test_an_address_in_a_private_range_may_be_named(text):
    assert addresses.private_address(text) == text.strip()


@pytest.mark.parametrize(
    "text",
    ["8.8.8.8", "0.0.0.0", "127.0.0.1", "172.32.0.1", "100.64.0.1", "192.168.1", "::1", "laptop", "192.168.1.020"],
)
def test_no_other_address_may_be_named(text):
    with pytest.raises(ValueError, match=r"private range|such as"):
        addresses.private_address(text)


def test_only_private_addresses_are_found(monkeypatch):
    """Invented answers of a system with a hotspot, a line to a provider and a name of its own."""
    monkeypatch.setattr(addresses, "_of_interfaces", lambda: ["10.42.0.1", "203.0.113.5", "192.168.1.20"])
    monkeypatch.setattr(addresses, "_of_name", lambda: ["127.0.1.1", "192.168.1.20", "169.254.9.9", "100.64.0.7"])
    assert addresses.own_addresses() == ["10.42.0.1", "192.168.1.20"]


@pytest.mark.skipif(sys.platform != "linux", reason="compared with a table of Linux")
def test_the_addresses_of_interfaces_are_those_of_the_system():
    """Held against the routing table of the kernel, in which each local address has a line."""
    table = Path("/proc/net/fib_trie").read_text(encoding="ascii").split()
    local = {table[k - 2] for k, word in enumerate(table) if word == "host" and table[k + 1] == "LOCAL"}
    found = addresses._of_interfaces()
    assert set(found) <= local
    assert not any(each.startswith("127.") for each in found)


def test_a_socket_that_cannot_be_had_closes_the_others():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(InputError, match=f"--port {port + 1}"):
            addresses.listen(["127.0.0.2", "127.0.0.1"], port)
    for each in addresses.listen(["127.0.0.2", "127.0.0.1"], port):
        each.close()


def test_the_names_that_a_browser_may_call_are_those_of_the_addresses():
    assert door._hosts(("127.0.0.1", "10.0.0.5"), 8421) == {"127.0.0.1:8421", "10.0.0.5:8421", "localhost:8421"}


def modules_of(lines, *, on_paper):
    """The squares of a code, dark or not, as its letters show them."""
    halves = {" ": (False, False), "▀": (True, False), "▄": (False, True), "█": (True, True)}
    return [[halves[letter][half] == on_paper for letter in line] for line in lines for half in (0, 1)]


@pytest.mark.parametrize("on_paper", [True, False])
def test_the_letters_show_the_code_with_a_light_edge(on_paper):
    """Held against the code of the library, and against the three corners that every code has (ISO/IEC 18004)."""
    import segno

    rows = modules_of(door.code_lines(ADDRESS, on_paper=on_paper), on_paper=on_paper)
    size = len(rows[0]) - 8
    assert size == 29
    assert [row[4:-4] for row in rows[4 : 4 + size]] == [
        [bool(each) for each in row] for row in segno.make_qr(ADDRESS, error="l").matrix
    ]
    edge = [*rows[:4], *rows[4 + size :], *(row[:4] for row in rows), *(row[-4:] for row in rows)]
    assert not any(any(each) for each in edge)
    corner = [[max(abs(x - 3), abs(y - 3)) != 2 for x in range(7)] for y in range(7)]
    for left, top in ((4, 4), (4 + size - 7, 4), (4, 4 + size - 7)):
        assert [row[left : left + 7] for row in rows[top : top + 7]] == corner


def test_a_code_fits_a_usual_terminal():
    lines = door.code_lines(ADDRESS, on_paper=True)
    assert len(lines) <= 20
    assert max(map(len, lines)) <= 40


SHOW = (
    "import sys; from predictor.__main__ import Terminal; from predictor.commands.serve import _show; "
    f"sys.stdout = Terminal(sys.stdout); _show({ADDRESS!r}, True)"
)
no_terminals = pytest.mark.skipif(sys.platform == "win32", reason="there are no such terminals")


@no_terminals
@pytest.mark.parametrize("environment", [{}, {"NO_COLOR": "1"}])
def test_a_terminal_shows_the_code_black_on_white_whatever_its_colours(environment):
    """Colours 16 and 231 of the 256 are black and white, and no theme changes them."""
    first, *lines = run_on_terminals(code=SHOW, **environment).stdout.splitlines()
    assert first == f"  {ADDRESS}"
    expected = door.code_lines(ADDRESS, on_paper=True)
    assert lines == [f"\x1b[38;5;16;48;5;231m{line}\x1b[0m" for line in expected]


@no_terminals
def test_a_terminal_without_colours_is_taken_as_dark():
    _, *lines = run_on_terminals(code=SHOW, TERM="dumb").stdout.splitlines()
    assert lines == door.code_lines(ADDRESS, on_paper=False)


@no_terminals
@pytest.mark.parametrize("lack", [{"columns": 30}, {"PYTHONIOENCODING": "latin-1"}])
def test_a_terminal_that_cannot_show_the_code_shows_the_address(lack):
    assert run_on_terminals(code=SHOW, **lack).stdout == f"  {ADDRESS}\n"


def test_a_pipe_gets_no_code():
    sent = subprocess.run([sys.executable, "-c", SHOW], capture_output=True, check=True, text=True).stdout
    assert sent == f"  {ADDRESS}\n"


class Opened:
    """A browser that notes what it is to open."""

    def __init__(self):
        self.addresses = []

    def open(self, address):
        self.addresses.append(address)
        return True


@pytest.mark.parametrize(
    ("found", "opens"),
    [(Opened(), True), (webbrowser.GenericBrowser("true"), False), (webbrowser.Error("none"), False)],
    ids=["a window", "one in the terminal", "none"],
)
def test_the_browser_of_this_machine_is_opened_unless_it_would_take_the_terminal(monkeypatch, found, opens):
    def get():
        if isinstance(found, Exception):
            raise found
        return found

    monkeypatch.setattr(webbrowser, "get", get)
    said = []
    door.open_browser(ADDRESS, said.append).join(10)
    assert bool(said) != opens
    assert getattr(found, "addresses", []) == ([ADDRESS] if opens else [])


def test_of_several_networks_the_first_has_its_code(tmp_path):
    """Several codes would push each other off the screen."""
    said, shown = [], []
    places = ("127.0.0.1", "10.42.0.1", "192.168.1.20")
    opened = door.Door(Book(Place(tmp_path)), None, places, 8421, said.append, lambda *each: shown.append(each))
    keys = Keys(tuple(map(opened._place, places)))
    opened._first(keys)
    assert shown == [(keys.address(f"http://{each}:8421"), each == "10.42.0.1") for each in places]
    shown.clear()
    opened._next(keys, "http://192.168.1.20:8421")
    assert shown == [(keys.address("http://192.168.1.20:8421"), True)], "the phone is there"
    shown.clear()
    opened._next(keys, "http://127.0.0.1:8421")
    assert shown == [(keys.address("http://127.0.0.1:8421"), False)]
