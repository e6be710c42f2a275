"""The browser of the tests catches what it is there to catch, and is never left out unsaid."""

import os
import subprocess
import sys

import pytest

from tests.browser import Browser
from tests.conftest import ROOT

pytestmark = pytest.mark.slow
SPOILT = {
    "asks for a picture": '<img alt="" src="https://example.org/a.png">',
    "asks for a file beside it": '<link rel="stylesheet" href="beside.css">',
    "is refused by its own policy": '<p onclick="a()" style="color:red">x</p>',
}
PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>x</title>{head}</head><body>{body}</body></html>
"""
STRICT = """<meta http-equiv="Content-Security-Policy" content="default-src 'none'">"""


@pytest.mark.browser
@pytest.mark.parametrize("body", SPOILT.values(), ids=SPOILT)
def test_a_page_that_asks_for_anything_is_found_out(chromium, tmp_path, body):
    path = tmp_path / "page.html"
    path.write_text(PAGE.format(head=STRICT if "onclick" in body else "", body=body), encoding="utf-8")
    browser = Browser(chromium)
    browser.open(path)
    with pytest.raises(AssertionError, match="asks for something"):
        browser.done()


@pytest.mark.browser
def test_axe_finds_what_is_wrong(chromium, tmp_path):
    path = tmp_path / "page.html"
    path.write_text(PAGE.format(head="", body="<table><tr><th></th></tr></table><h3>x</h3>"), encoding="utf-8")
    browser = Browser(chromium)
    rules = {each.split(":")[0] for each in browser.findings(browser.open(path, script=True))}
    browser.done()
    assert {"landmark-one-main", "page-has-heading-one", "empty-table-header"} <= rules
    assert not browser.open(path).evaluate("typeof axe !== 'undefined'")


@pytest.mark.parametrize(("needed", "code"), [("", 0), ("required", 1)])
def test_tests_left_out_for_want_of_a_browser_are_said_or_fail(needed, code):
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-n",
            "1",
            "-o",
            "addopts=",
            "tests/house/test_browser.py",
            "-m",
            "browser",
        ],
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, "CHROMIUM": "no-such-browser", "BROWSER_TESTS": needed},
        check=False,
    )
    assert done.returncode == code
    said = "Left out: 4 tests of pages in a real browser. Missing: chromium." in done.stdout
    assert said == (not needed)
    assert "apt-get install chromium" in done.stdout
