"""Answers as aligned lines: every state a box can be in, at every width, says what its answer says."""

from dataclasses import replace
from functools import partial

import pytest

from predictor import read_job
from predictor.text.answer import answer
from predictor.text.answers import answer_lines
from predictor.text.doing import Doing
from predictor.text.fold import fold
from predictor.text.particulars import notes, stage_lines
from predictor.text.table import Strong
from tests.conftest import SAMPLE

FORTY = "a box with a name of forty letters and no"
# Invented boxes, one in each state: what to do, whether it may plant, how sure that is, and whether weights are known.
STATES = {
    "locked": (Doing("lock at", "4"), True, "98 in 100"),
    "set back": (Doing("set", "15", then="lock"), True, "98 in 100"),
    "two drives": (Doing("lock at", "24 on high"), True, "97 in 100"),
    "planted": (
        Doing("planted at", "24", "(north, the field by the river, 18 Nov to 2 Dec)", "leave it"),
        True,
        "",
    ),
    "left there": (Doing("leave it at", "17"), True, "99 in 100"),
    "moved": (Doing("move from 17 to", "19", then="for the rest"), True, "96 in 100"),
    "weigh again": (Doing("check that weighing first"), False, ""),
    "not caught": (Doing("set", "14.5", then="catch again"), False, "not caught there yet (98 in 100)"),
    "first": (Doing("set", "20", then="catch"), False, ""),
    "stay": (Doing("stay at", "9", then="larger catches"), False, "60 in 100"),
    "offer": (Doing("lock at", "19", then="or catch again"), False, "93 in 100"),
    "recheck": (Doing("repeat the catch at", "19"), False, "a catch is in doubt (96 in 100)"),
    "out of reach": (Doing("out of reach", then="nearest", other="40"), False, ""),
    "log": (Doing("check the log first"), False, ""),
}
UNKNOWN = ("first", "weigh again", "moved")  # Nothing is known of weights there


@pytest.fixture(scope="module")
def stages():
    return read_job(SAMPLE).season_stages()


@pytest.fixture(scope="module")
def answers(stages):
    usual = answer(stages[0])
    return {
        name: replace(
            usual,
            box=f"box {k}",
            lot=name,
            doing=doing,
            ready=ready,
            chance=sure.rpartition("(")[2].rstrip(")"),
            not_yet=sure.partition(" (")[0] if "(" in sure else "",
            expected="" if name in UNKNOWN else usual.expected,
            usual="" if name in UNKNOWN else usual.usual,
        )
        for k, (name, (doing, ready, sure)) in enumerate(STATES.items())
    }


def words(lines):
    return " ".join(" ".join(lines).split())


@pytest.mark.parametrize("name", STATES)
@pytest.mark.parametrize("width", [40, 60, 80, 100])
def test_a_line_says_what_the_answer_says(answers, name, width):
    found = answers[name]
    lines = answer_lines([found], width)
    assert max(map(len, lines)) <= width
    said = words(lines)
    doing = found.doing
    assert f"{doing.verb.upper()} {doing.setting}".strip() in said
    for part in (doing.where, doing.other, found.sure):
        assert part in said
    assert doing.then.removesuffix(" again") in said.lower()
    if not doing.setting:  # where none is to be used, no weight is one to look for
        assert found.target.split()[0] not in said
    elif found.ready:
        assert found.target.removesuffix(" g") in said
        assert found.expected in said
    else:
        assert f"{found.made}, {found.target}" in said
        assert found.usual.removesuffix(" g") in said


@pytest.mark.parametrize("width", [40, 60, 80, 100])
@pytest.mark.parametrize("name", ["box", FORTY], ids=["short", "long"])
def test_all_states_together_keep_to_the_width_and_every_answer_stands_out_once(answers, name, width):
    boxes = [replace(each, box=f"{name} {k}") for k, each in enumerate(answers.values())]
    lines = answer_lines(boxes, width)
    assert max(map(len, lines)) <= width
    strong = [each.parts[1] for each in lines if isinstance(each, Strong)]
    assert len(strong) == len(boxes)
    for bold, each in zip(strong, boxes, strict=True):
        assert " ".join(bold.split()).startswith(f"{each.doing.verb.upper()} {each.doing.setting}".strip())


def test_settings_and_what_follows_stand_below_each_other(answers):
    lines = answer_lines([answers[name] for name in ("locked", "left there", "not caught")], 100)
    assert [line[line.index("box") :].split()[0] for line in lines[:3]] == ["box"] * 3
    points = [lines[0].index(" 4 ") + 2, lines[1].index("17 ") + 2, lines[2].index("14.5") + 2]
    assert len(set(points)) == 1
    assert lines[0].index("98 in 100") == lines[1].index("99 in 100") == lines[2].index("not caught there")
    assert lines[3].index("then catch: ") == lines[2].index("SET")


@pytest.mark.parametrize("details", [False, True])
@pytest.mark.parametrize("width", [40, 60, 80, 100])
def test_reasons_warnings_and_what_comes_on_top_stand_below_the_answers(stages, width, details):
    lines = stage_lines(stages, None, partial(fold, width=width), width, details=details)
    assert max(len(line) for each in lines for line in each.split("\n")) <= width
    answered, below = lines[: lines.index("")], words(lines[lines.index("") :])
    assert answered == answer_lines([answer(each) for each in stages], width)
    for each in stages:
        assert words(answer(each).reason.split()) in below
        for warning in each.advice.warnings:
            assert words(warning.split()) in below
        assert (f"curve: {each.advice.model}" in below) is details


def test_the_size_that_weights_are_for_is_said_once_or_of_each_box(stages):
    assert notes(stages).startswith("Weights are for 28 turns, 3 rows. 98 in 100 is the chance")
    other = replace(stages[0], advice=replace(stages[0].advice, next_turns=56.0))
    assert "Weights are" not in notes([other, *stages[1:]])
    said = words(stage_lines([other, *stages[1:]], None, fold, 80))
    assert "eights are for 56 turns, 3 rows" in said
    assert "eights are for 28 turns, 3 rows" in said
