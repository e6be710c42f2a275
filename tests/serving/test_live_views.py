"""Each view of the page, in a real browser at a job that is served, is clean by the rules of axe."""

import pytest

from tests.serving import live
from tests.serving.served import ON_THE_DAY, serving
from tests.serving.tapping import look, said, save, tap

pytestmark = [pytest.mark.browser, pytest.mark.slow]
SILENT = ("Failed to load resource",)
SIZES = [(360, 740), (1280, 800)]


def keys(page, job):
    """The keys of a box that is left to catch."""
    tap(page, "small")


def ready(page, job):
    """The answer of a catch that locks its box."""
    tap(page, "small")
    live.tap_weight(page, "23.9", what_the_lever_shows)
    assert page.locator("#decision .head").get_attribute("class") == "head ready"


def not_ready(page, job):
    """The answer of a catch after which another one is needed."""
    tap(page, "small")
    live.tap_weight(page, "20.1", what_the_lever_shows)
    assert page.locator("#decision .head").get_attribute("class") == "head"


def what_the_lever_shows(text):
    return "14" if text.startswith("Setting") else ""


def choices(page, job):
    """A question that is answered by a tap."""
    tap(page, "small")
    save(page, "99")
    assert live.settled(page)
    assert page.locator(live.CHOICES).count() > 1


def asked_for(words, of="PLANTED"):
    """A question of the wizard, reached by the usual answers to those before it."""

    def reach(page, job):
        tap(page, "small")
        tap(page, "MORE")
        tap(page, of)
        amounts = {"Area": "4", "Seed loaded": "40"}
        while words not in live.settled(page):
            text = page.inner_text("#ask-text").splitlines()[-1]
            wanted = next((each for what, each in amounts.items() if text.startswith(what)), "")
            live.answer_one(page, wanted)

    return reach


def more(page, job):
    """Everything else, with a finding that waits."""
    tap(page, "MORE")
    said(page, "OTHER LENGTH")


def other_size(page, job):
    tap(page, "MORE")
    tap(page, "OTHER ROWS")


def waiting(page, job):
    """What waits while the laptop does not answer."""
    page.context.set_offline(True)
    tap(page, "small")
    save(page, "23.9")
    said(page, "It waits here")
    tap(page, "TO THE KEYS")
    tap(page, "1 catch waits")
    said(page, "What waits")


def problems(page, job):
    """Files that cannot be read."""
    with (job / "plan.csv").open("a") as plan:
        plan.write("small,XX-1,switchgrass,a lot,,90,90,,,,2026-06-24,,,,\n")
    look(page)
    tap(page, "Something in the files cannot be read.")
    said(page, "plan.csv")


def no_drill(page, job):
    """A job that cannot be shown at all."""
    (job / "drill.toml").write_text("rows = ")
    look(page)
    said(page, "drill.toml")


def log(page, job):
    with page.context.expect_page() as opened:
        tap(page, "MORE")
        tap(page, "LOG")
    opened.value.wait_for_load_state()
    return opened.value


def forgotten(page, job):
    """A device that is not let in any more."""
    page.context.clear_cookies()
    page.reload()
    said(page, "This device is not let in")


VIEWS = {
    "keys": keys,
    "ready": ready,
    "not ready": not_ready,
    "choices": choices,
    "number": asked_for("Area"),
    "weight": asked_for("Seed loaded"),
    "text": asked_for("Field"),
    "check": asked_for("How did you check it?", "FIELD CHECK"),
    "more": more,
    "other size": other_size,
    "waiting": waiting,
    "problems": problems,
    "no drill": no_drill,
    "log": log,
    "forgotten": forgotten,
}


@pytest.mark.parametrize("view", VIEWS)
def test_axe_finds_nothing_in_a_view(browser, job, view):
    with serving(job, before=ON_THE_DAY) as server:
        page = live.enter(browser, server, unheard=SILENT, bypass_csp=True)  # axe is brought along by the test
        page = VIEWS[view](page, job) or page
        for wide, tall in SIZES:
            page.set_viewport_size({"width": wide, "height": tall})
            page.wait_for_timeout(500)
            assert browser.findings(page) == [], (wide, tall)


def test_axe_finds_nothing_in_the_way_in_nor_where_it_ends(browser, job):
    with serving(job, before=ON_THE_DAY) as server:
        for address, size in [
            (each, size) for each in (server.addresses()[0], server.addresses()[0][:-4]) for size in SIZES
        ]:
            page = browser.open_address(address, size, unheard=SILENT, bypass_csp=True)
            assert browser.findings(page) == []
            page.get_by_role("button").click()
            page.wait_for_load_state()
            assert browser.findings(page) == []
            if page.url.endswith("/"):
                break
