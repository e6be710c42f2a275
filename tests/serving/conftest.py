"""The page of a made-up laptop."""

import pytest

from tests.browser import PHONE
from tests.serving.laptop import ADDRESS, Laptop


@pytest.fixture
def laptop():
    return Laptop()


@pytest.fixture
def opened(browser, laptop):
    def open_(size=PHONE, **options):
        return browser.open_address(
            ADDRESS, size, prepare=laptop.serve, unheard=("Failed to load resource",), **options
        )

    return open_
