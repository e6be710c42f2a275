"""A real browser for tests: Debian's chromium, driven by playwright, which sees nothing but the page it is given.

A test that looks at a page in the browser has the marker `browser` and takes the fixture `browser`. Where the browser
or its driver is missing, such tests are left out, and pytest says so at its end. With `BROWSER_TESTS=required` in the
environment they fail instead.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import shutil
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

NAMES = ("chromium", "chromium-browser")
DRIVERS = ("playwright", "axe_playwright_python")
# the browser is to ask for nothing by itself, and its sandbox does not start for root
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND,EXCLUDE 127.0.0.1",
)
PHONE = (360, 740)
# What the console says once the server of a test has ended before its page: that is no fault of the page.
GONE = ("net::ERR_CONNECTION", "net::ERR_EMPTY_RESPONSE", "net::ERR_SOCKET")
HOW = (
    "Install chromium (Debian: apt-get install chromium) or name its file in CHROMIUM, and run pip install -e '.[dev]'."
)


def chromium() -> str | None:
    """The file of the browser, as CHROMIUM says or as found on the path."""
    names = (os.environ["CHROMIUM"],) if os.environ.get("CHROMIUM") else NAMES
    return next(filter(None, map(shutil.which, names)), None)


def missing() -> str:
    """What tests in the browser lack here, or nothing."""
    lacking = [] if chromium() else ["chromium"]
    return ", ".join(lacking + [each for each in DRIVERS if importlib.util.find_spec(each) is None])


def required() -> bool:
    """Whether tests in the browser must run here."""
    return os.environ.get("BROWSER_TESTS") == "required"


def hold(item: pytest.Item) -> None:
    """Leave a test in the browser out where it cannot run, or fail it where it must."""
    if item.get_closest_marker("browser") is None or not (lacking := missing()):
        return
    said = f"Missing: {lacking}. {HOW}"
    if required():
        pytest.fail(said, pytrace=False)
    pytest.skip(said)


def left_out(terminal: pytest.TerminalReporter) -> None:
    """Say at the end how many tests in the browser were left out, and how to get them."""
    count = sum("browser" in each.keywords for each in terminal.stats.get("skipped", ()))
    if count:
        terminal.section("tests in a browser", yellow=True)
        tests = "1 test" if count == 1 else f"{count} tests"
        terminal.line(f"Left out: {tests} of pages in a real browser. Missing: {missing()}.")
        terminal.line(HOW)


class Browser:
    """Opens pages, each as in a browser that was never used before; `done` closes them."""

    def __init__(self, running) -> None:
        self._running = running
        self._contexts: list = []
        self._asked: list[str] = []

    def open(self, path: Path, size: tuple[int, int] = PHONE, *, script: bool = False, **options):
        """The page of a file in a window of this size in CSS pixels; scripts run only for what a test brings along."""
        wide, tall = size
        options = {"viewport": {"width": wide, "height": tall}, "offline": True, **options}
        context = self._running.new_context(java_script_enabled=script, service_workers="block", **options)
        self._contexts.append(context)
        address = path.resolve().as_uri()
        page = context.new_page()
        page.on("request", lambda each: self._asked.append(each.url) if each.url != address else None)
        page.on("console", lambda each: self._asked.append(each.text))
        page.goto(address)
        return page

    def open_address(
        self,
        address: str,
        size: tuple[int, int] = PHONE,
        *,
        prepare: Callable[[Any], object] | None = None,
        unheard: Sequence[str] = (),
        **options,
    ):
        """The page at an address of this machine, by touch, with its own scripts.

        `prepare` is given the context first. What the console says is an error, unless it has words of `unheard`.
        """
        wide, tall = size
        options = {"viewport": {"width": wide, "height": tall}, "has_touch": True, **options}
        context = self._running.new_context(service_workers="block", **options)
        self._contexts.append(context)
        if prepare is not None:
            prepare(context)
        home = address.split("/")[2]
        context.on("request", lambda each: None if each.url.split("/")[2] == home else self._asked.append(each.url))
        context.on(
            "console",
            lambda each: (
                None if any(word in each.text for word in (*GONE, *unheard)) else self._asked.append(each.text)
            ),
        )
        context.on("weberror", lambda each: self._asked.append(str(each.error)))
        page = context.new_page()
        page.goto(address)
        return page

    def print(self, path: Path, *, background: bool = False) -> bytes:
        """The PDF that the browser prints of a page, on the paper that the page asks for."""
        return self.open(path).pdf(prefer_css_page_size=True, print_background=background)

    def findings(self, page) -> list[str]:
        """What axe finds on a page by all its rules; the page was opened with `script`."""
        from axe_playwright_python.sync_playwright import Axe

        found = Axe().run(page).response
        assert found["testEngine"]["name"] == "axe-core"
        assert found["passes"]  # it looked at something
        return [
            f"{each['id']}: {each['help']}: {node['html'][:120]}"
            for each in found["violations"]
            for node in each["nodes"]
        ]

    def done(self) -> None:
        """Close the pages; none may have asked for anything, or met an error."""
        for each in self._contexts:
            each.close()
        assert self._asked == [], "a page asks for something outside it, or has an error"


@contextlib.contextmanager
def started(home: Path):
    """Chromium, started with a home of its own, and closed afterwards."""
    from playwright.sync_api import sync_playwright

    places = {"HOME": home, "XDG_CONFIG_HOME": home / "config", "XDG_CACHE_HOME": home / "cache"}
    environment = {**os.environ, **{name: str(each) for name, each in places.items()}}
    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=chromium(), args=list(FLAGS), env=environment)
        yield running
        running.close()
