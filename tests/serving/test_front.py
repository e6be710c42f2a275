"""The page at the drill, alone: what is tapped is shown, kept, sent once and in order, whatever the connection does."""

import pytest

from tests.serving.laptop import ADDRESS, Laptop
from tests.serving.tapping import tap, type_weight

pytestmark = pytest.mark.browser
DROPPED = ("Failed to load resource",)


@pytest.fixture
def laptop():
    return Laptop()


@pytest.fixture
def opened(browser, laptop):
    def open_(size=(360, 740), **options):
        return browser.open_address(ADDRESS, size, prepare=laptop.serve, unheard=DROPPED, **options)

    return open_


def test_a_catch_is_typed_saved_and_answered(opened, laptop):
    page = opened()
    type_weight(page, "22.9")
    assert page.inner_text("#typed") == "22.9 g"
    assert page.inner_text("#save") == "SAVE 22.9 g"
    tap(page, "SAVE")
    page.get_by_text("Saved as line 2: 22.9.").wait_for()
    assert "SET 14.5" in page.inner_text("#decision")
    assert laptop.weights() == ["22.9"]
