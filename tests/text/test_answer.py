"""The answer in pieces says what the headline says, and why a setting that is sure enough is no lock yet."""

from dataclasses import replace

import pytest

from predictor import read_job
from predictor.text.answer import advised, answer
from predictor.text.stage import headline
from tests.conftest import SAMPLE


@pytest.fixture(scope="module")
def stages():
    return read_job(SAMPLE).season_stages()


def test_an_answer_has_the_headline_that_every_command_has(stages):
    assert [answer(each).headline for each in stages] == [headline(each) for each in stages]


def test_a_setting_that_is_sure_enough_but_was_not_caught_at_says_so(stages):
    small = answer(next(each for each in stages if each.box == "small"))
    chance = advised(next(each.advice for each in stages if each.box == "small"))
    assert not small.ready
    assert small.doing.setting == "14"
    assert small.sure.startswith("not caught there yet (9")
    assert small == chance  # where nothing was planted the catches alone have the same answer


def test_the_weight_of_catches_at_another_setting_is_not_given_for_one_that_is_in_force(stages):
    grain = next(each for each in stages if each.box == "grain")
    assert grain.doing == "leave"
    assert answer(grain).expected
    elsewhere = replace(grain, advice=replace(grain.advice, advised=grain.advice.control.at(20.0)))
    assert (answer(elsewhere).expected, answer(elsewhere).usual) == ("", "")
