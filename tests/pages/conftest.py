"""Pages that many tests look at, each made once."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from tests.browser import Browser
from tests.pages.made import Made, cases, make
from tests.pages.paper import Sheet, sheets


@dataclass(frozen=True)
class Said:
    """The text of a page without its pictures, and its headings."""

    text: str
    heads: set[str]


@pytest.fixture(scope="session", params=cases())
def made(request, tmp_path_factory) -> Made:
    """One page, as HTML and PDF."""
    kind, job, *options = request.param
    return make(kind, job, tmp_path_factory.mktemp("made"), *options)


@pytest.fixture(scope="session")
def printed(made, chromium) -> list[Sheet]:
    """The sheets that the browser prints of the page, with its own choice of leaving grounds white."""
    opened = Browser(chromium)
    found = sheets(opened.print(made.html))
    opened.done()
    return found


@pytest.fixture(scope="session")
def said(made, chromium) -> Said:
    """The text that the browser shows of the page."""
    opened = Browser(chromium)
    page = opened.open(made.html)
    heads = page.evaluate("[...document.querySelectorAll('h1, h2, h3, caption')].map(each => each.innerText)")
    text = page.evaluate(
        "() => {document.querySelectorAll('svg').forEach(each => each.remove()); return document.body.innerText}"
    )
    opened.done()
    return Said(text, {" ".join(each.split()) for each in heads if each.strip()})


@pytest.fixture(scope="session")
def written(made) -> list[Sheet]:
    """The sheets of the PDF that the program writes of the page."""
    return sheets(made.pdf.read_bytes())


@pytest.fixture(params=["browser", "program"])
def on_paper(request) -> list[Sheet]:
    """The page on paper, both as the browser prints it and as the program writes it."""
    return request.getfixturevalue("printed" if request.param == "browser" else "written")
