"""What the page says of a box: one setting, all that is to be looked at, and nothing that only a terminal can do."""

from __future__ import annotations

import re
import shutil

import pytest

from predictor.text import taps
from tests.running import ROOT, run, that_day
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


def test_no_question_tells_to_type_what_only_a_terminal_takes(folder):
    """Through an odd weight, a chaffy box, a check and a planted field."""
    person = Person(folder)
    known = {"area": "6", "loaded": "50", "left": "22"}
    person.answers = lambda question: known.get(question["name"]) or FIRST(question)
    assert person.catch("small", "40", turns="28", rows="3")["result"] == "saved"
    assert person.catch("chaffy", "35", turns="28", rows="3")["result"] == "saved"
    for kind in ("check", "plant"):
        assert person.enter(kind, {"box": "small"})["result"] == "saved"
    said = [" ".join([each["text"], each["problem"], *each["said"]]) for each in person.asked]
    assert any("53 g meant" in each for each in said)
    assert any("How full" in each for each in said)
    for each in said:
        assert each.strip()
        assert not re.search(r"Enter |answer no|--|: predictor|\bw or c\b", each), each


def test_a_lot_whose_setting_was_not_shown_is_asked_for_it_and_each_of_a_chain_is_one_tap(folder):
    """The last catch of another lot says nothing of where the chain is now."""
    person = Person(folder)
    person.answers = lambda question: None if question["name"] == "setting" else FIRST(question)
    asked = person.catch("chaffy", "35", {**person.box("chaffy")["catch"], "setting": ""}, lot="new lot")["question"]
    assert {each["answer"] for each in asked["choices"]} == set(person.box("chaffy")["settings"])
    assert asked["input"] == ""


def test_what_looks_like_a_slip_and_what_is_taken_as_given_is_on_the_page(folder):
    with open(folder / "trials.csv", "a", encoding="utf-8") as file:
        file.write("2026-11-25,2026,small,forb mix,14,28,3,229,,yes,,yes,,\n")
    shown = Person(folder).box("small")
    said = recommended(folder)
    assert shown["open"]
    assert "--confirm" not in str(shown)
    assert any(each.startswith("Taken as given: ") for each in shown["more"])
    for each in [*shown["look_at"], *shown["more"]]:
        assert "KEEP" in each or " ".join(each.split()) in said, each


def recommended(folder) -> str:
    """What `recommend` says of the box, on one line."""
    with that_day():
        return " ".join(run("recommend", folder, "--box", "small").stdout.split())


def test_who_weighs_with_a_container_is_offered_that_the_seed_was_alone(folder):
    """And not that the container was on the scale, which is taken off already."""
    person = Person(folder)
    assert person.box("small")["catch"]["weighed"] == taps.WEIGHED_IS_ASKED
    assert person.catch("small", "273.6", turns="28", rows="3", tare="250")["result"] == "saved"
    assert person.box("small")["catch"]["weighed"] == "with the container of 250 g"
    for weight in ("24.1", "291"):  # less than the container, and 41 g beside it
        person.asked.clear()
        person.answers = lambda question: choice_of(question, taps.ALONE) or choice_of(question, taps.KEEP)
        done = person.catch("small", weight)
        assert done["result"] == "saved"
        assert f" {weight} g in 28 turns" in done["said"][0]
        assert not choice_of(person.asked[0], taps.CONTAINER)
        person.enter("undo", {"entry": done["id"]})


def choice_of(question, label):
    """The choice with a label; None where it is not offered."""
    return next((each for each in question["choices"] if each["label"] == label), None)
