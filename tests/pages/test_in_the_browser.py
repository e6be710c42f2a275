"""Pages as a real browser shows them."""

import pytest

from tests.conftest import SAMPLE
from tests.running import run

pytestmark = pytest.mark.browser
PHONE, DESK = (360, 740), (1280, 900)


@pytest.fixture(scope="module")
def card(tmp_path_factory):
    path = tmp_path_factory.mktemp("made") / "card.html"
    assert run("card", SAMPLE / "trials.csv", "--out", path).returncode == 0
    return path


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_axe_finds_nothing(browser, card, size):
    assert browser.findings(browser.open(card, size, script=True)) == []
