"""Serves the page until Ctrl-C, and shows in the terminal how to get in."""

from __future__ import annotations

import contextlib
import logging
import os
import socket
import threading
import time
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from predictor.errors import TRACE
from predictor.serving.addresses import HERE, listen
from predictor.serving.app import Entrance, make_app
from predictor.serving.book import Book
from predictor.serving.keys import Devices, Keys

THREADS = 4
# A phone has two or three connections. One that sends nothing is closed after a while, and one whose request takes
# longer than a slow network needs is closed too, so that slow senders leave room for others.
MOST_CONNECTIONS, MOST_OF_ONE_SENDER, IDLE_S, LONGEST_REQUEST_S = 120, 60, 30, 20.0
LARGEST_HEAD, LARGEST_REQUEST = 16 * 1024, 256 * 1024  # Of more than an entry may have, the sentence is still heard

NOT_ENCRYPTED = (
    "Nothing is encrypted: everybody on this network can read along, and could pass for your phone. Use a network of "
    "your own with nobody else on it, such as the hotspot of this laptop with a password."
)


@dataclass(frozen=True)
class Door:
    """The places where a job is served, and how what is to be known of them reaches the terminal."""

    book: Book
    devices: Devices
    addresses: tuple[str, ...]  # The first is of this machine alone
    port: int
    say: Callable[[str], None]
    show: Callable[[str, bool], None]  # An address, with its code where that is wanted

    def open(self, begin: Callable[[str], object]) -> None:
        """Serve until Ctrl-C; `begin` is given the address for the browser of this machine."""
        keys = Keys(tuple(map(self._place, self.addresses)))
        entrance = Entrance(
            self.devices, keys, _hosts(self.addresses, self.port), lambda place: self._next(keys, place)
        )
        sockets = listen(list(self.addresses), self.port)
        with contextlib.ExitStack() as closing:
            for each in sockets:
                closing.callback(each.close)
            server = make_server(make_app(self.book, entrance), sockets)
            closing.callback(close_all, server)
            with contextlib.suppress(KeyboardInterrupt):  # the server waits for it, but it may come before that
                self._first(keys)
                begin(keys.address(keys.places[0]))
                server.run()

    def _place(self, address: str) -> str:
        return f"http://{address}:{self.port}"

    def _first(self, keys: Keys) -> None:
        """The ways in, when the page is opened."""
        here, *others = keys.places
        self.say(f"{self.book.name}, for the browser of this machine:")
        self.show(keys.address(here), False)
        for k, place in enumerate(others):
            self.say("For a phone:" if k == 0 else "Or, if the phone is on another network of this machine:")
            self.show(keys.address(place), k == 0)  # of several codes, the last one would push the first off the screen
        self.say("Each address lets one device in. Then the next one is shown.")
        if others:
            self.say(NOT_ENCRYPTED)
        self.say("Ctrl-C ends it.")

    def _next(self, keys: Keys, place: str) -> None:
        """The way in for one more device, once a key is used up."""
        here = place == keys.places[0]
        self.say(f"{'A browser of this machine' if here else 'A phone'} was let in. For another one:")
        self.show(keys.address(place), not here)


def _hosts(addresses: tuple[str, ...], port: int) -> frozenset[str]:
    """What the header Host may be."""
    names = (*addresses, "localhost") if HERE in addresses else addresses
    return frozenset(f"{name}:{port}" for name in names)


def make_server(app: Any, sockets: list[socket.socket]) -> Any:
    """A server of few threads, which nobody can fill with requests that never end."""
    from waitress.server import BaseWSGIServer, create_server  # type: ignore[import-untyped]

    log = logging.getLogger("waitress")
    if not os.environ.get(TRACE):  # it would write tracebacks
        log.addHandler(logging.NullHandler())
        log.propagate = False
    server = create_server(
        app,
        sockets=sockets,
        threads=THREADS,
        ident=None,
        connection_limit=MOST_CONNECTIONS,
        channel_timeout=IDLE_S,
        cleanup_interval=5,
        max_request_header_size=LARGEST_HEAD,
        max_request_body_size=LARGEST_REQUEST,
    )
    for each in _open(server).values():
        if isinstance(each, BaseWSGIServer):
            each.channel_class = _impatient()
    return server


def _open(server: Any) -> dict[int, Any]:
    """All that a server has open."""
    found: dict[int, Any] = server.map if hasattr(server, "map") else server._map
    return found


def close_all(server: Any) -> None:
    """Close whatever a server has open."""
    from waitress import wasyncore  # type: ignore[import-untyped]

    wasyncore.close_all(_open(server), ignore_all=True)


def _impatient() -> type:
    """A connection that is closed if a request takes too long to arrive, or one sender has too many."""
    from waitress.channel import HTTPChannel  # type: ignore[import-untyped]

    class Impatient(HTTPChannel):  # type: ignore[misc]
        arriving: Any = None  # The request that is being received
        begun = 0.0

        def __init__(self, server: Any, sock: socket.socket, addr: tuple[str, int], adj: Any, map: Any = None):
            super().__init__(server, sock, addr, adj, map=map)
            of_sender = [each for each in server.active_channels.values() if each.addr[0] == addr[0]]
            self.will_close = len(of_sender) > MOST_OF_ONE_SENDER

        def received(self, data: bytes) -> bool:
            whole = super().received(data)
            if self.request is not self.arriving:
                self.arriving, self.begun = self.request, time.monotonic()
            return bool(whole)

        def readable(self) -> bool:  # asked once a second or more often
            if self.arriving is not None and time.monotonic() - self.begun > LONGEST_REQUEST_S:
                self.will_close = True
            return bool(super().readable())

    return Impatient


def open_browser(address: str, say: Callable[[str], None]) -> threading.Thread:
    """Open an address in the browser of this machine, and go on at once."""

    def open_it() -> None:
        try:
            found = webbrowser.get()
            # one that runs in the terminal would take it from us
            opened = type(found) is not webbrowser.GenericBrowser and found.open(address)
        except webbrowser.Error:
            opened = False
        if not opened:
            say("No browser could be opened. Open the first address yourself.")

    opening = threading.Thread(target=open_it, daemon=True)
    opening.start()
    return opening


# Both halves of a letter: the upper and the lower one dark or not
_ON_PAPER = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def code_lines(address: str, *, on_paper: bool) -> list[str]:
    """The QR code of an address in letters: dark on light paper, or light where the letters are."""
    import segno

    rows = [[bool(dark) == on_paper for dark in row] for row in segno.make_qr(address, error="l").matrix_iter(border=4)]
    rows += [[not on_paper] * len(rows[0])] * (len(rows) % 2)
    pairs = zip(rows[::2], rows[1::2], strict=True)
    return ["".join(_ON_PAPER[pair] for pair in zip(upper, lower, strict=True)) for upper, lower in pairs]
