"""The log of a box as a real browser shows it, under the rules that the page is served with."""

import pytest

from predictor.job.place import Place
from predictor.serving import views
from predictor.serving.book import Book
from tests.pages import screen
from tests.running import that_day
from tests.serving.laptop import ADDRESS, POLICY, SERVING

pytestmark = pytest.mark.browser
NOTE = "stopped early, since the tractor of a made-up neighbour had to pass and seed blew away"
# Millimetres that a CSS pixel of a phone stands for, and how high a key for a gloved hand is at least.
PIXEL, KEY = 25.4 / 160, 11.0


@pytest.fixture
def page(browser, job):
    """The log of the small box with a catch that does not count and a row that cannot be read, on a phone."""
    with (job / "trials.csv").open("a", encoding="utf-8") as log:
        log.write(f'2026-11-16,2026,small,forb mix,14,28,3,3.1,,yes,,no,A Made-up Name,"{NOTE}"\n')
        log.write("2026-11-16,2026,small,forb mix,14,28,3,a lot,,yes,,yes,R.,\n")
    book = Book(Place(job))
    with that_day():
        shown = {
            "/log": (views.log_page(book, "small"), "text/html; charset=utf-8"),
            "/picture": (views.picture(book, "small", "forb mix"), "image/svg+xml"),
            "/static/page.css": ((SERVING / "static" / "page.css").read_text("utf-8"), "text/css"),
        }

    def answer(route):
        path = "/" + route.request.url.split("/", 3)[3].split("?")[0]
        body, kind = shown[path]
        route.fulfill(body=body, headers={"Content-Type": kind, "Content-Security-Policy": POLICY})

    return browser.open_address(f"{ADDRESS}log?box=small", prepare=lambda context: context.route("**/*", answer))


def test_axe_finds_nothing_in_the_log(browser, page):
    assert browser.findings(page) == []


def test_the_log_fits_every_screen(page):
    for wide in (320, 360, 740, 1280):
        page.set_viewport_size({"width": wide, "height": 568})
        assert screen.too_wide(page) <= 0, wide
        assert screen.beside(page) == [], wide


def test_the_log_is_read_in_the_sun_and_left_with_a_gloved_hand(page):
    assert screen.pale(page) == []
    assert min(each.size for each in screen.texts(page)) >= 16
    back = page.get_by_role("link", name="Back to the drill").bounding_box()
    assert min(back["width"], back["height"]) * PIXEL >= KEY


def test_the_picture_of_the_log_is_drawn(page):
    picture = page.locator("img")
    assert picture.evaluate("each => each.complete && each.naturalWidth") > 300
    assert picture.bounding_box()["width"] > 300
