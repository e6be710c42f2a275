"""What the page says of a box: one setting, all that is to be looked at, and nothing that only a terminal can do."""

from __future__ import annotations

import shutil

import pytest

from tests.running import ROOT
from tests.serving.person import Person

FIRST = Person.first


@pytest.fixture
def folder(tmp_path):
    """A copy of the sample job."""
    made = tmp_path / "job"
    shutil.copytree(ROOT / "sample_trials", made)
    return made


def test_a_box_that_was_moved_in_the_field_has_one_setting_on_the_page(folder):
    """The catches alone advise another setting than the check, and the person sees both tab and setting."""
    person = Person(folder)
    person.catch("small", "23.6", turns="28", rows="3")
    known = {"area": "6", "loaded": "50", "left": "22"}
    person.answers = lambda question: known.get(question["name"]) or FIRST(question)
    assert person.enter("check", {"box": "small"})["result"] == "saved"
    box = person.box("small")
    assert box["answer"]["verb"].startswith("move from 14"), box["answer"]
    assert box["catch"]["setting"] == box["answer"]["setting"] != "14"
    assert box["tab"].endswith(box["catch"]["setting"])
