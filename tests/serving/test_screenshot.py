"""The picture of the page in README is one that the page gives."""

import struct

import pytest

from tests.serving import screenshot


def size(path):
    """Width and height of a PNG file, by its header."""
    return struct.unpack(">II", path.read_bytes()[16:24])


@pytest.mark.browser
@pytest.mark.slow
def test_a_catch_of_the_sample_is_typed_and_answered_as_in_the_picture(chromium, job, tmp_path):
    screenshot.take(chromium, job, tmp_path / "page.png")
    assert size(tmp_path / "page.png") == size(screenshot.PLACE)
    *_, last = (job / "trials.csv").read_text(encoding="utf-8").splitlines()
    assert ",small,forb mix,14,28,3,23.9," in last
