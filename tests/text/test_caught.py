"""The alt text of a catch picture: every value that the picture gives."""

from predictor.advice.limits import bar
from predictor.format import weight, weights
from predictor.job.read import read_job
from predictor.text.answer import answer
from predictor.text.caught import catch_picture
from tests.conftest import SAMPLE

JOB = read_job(SAMPLE)


def test_the_alt_text_of_a_catch_picture_has_the_values_of_every_other_screen():
    for stage in JOB.stages():
        said, found = catch_picture(stage), answer(stage)
        for value in (found.headline, found.sure, found.target, found.zone, found.made, found.expected):
            assert value in said


def test_it_gives_the_bar_and_whether_it_lies_in_the_target_zone():
    for stage in JOB.stages():
        advice, said = stage.advice, catch_picture(stage)
        assert weights(*bar(advice, stage.advice.advised.opening), advice.step_g) in said
        assert "inside the target zone" in said
        assert ("not wholly" in said) == (advice.chance < advice.confidence)


def test_it_gives_the_weights_of_catches_by_setting_and_those_left_out_with_their_reasons():
    chaffy = next(each for each in JOB.stages() if each.box == "chaffy")
    said = catch_picture(chaffy)
    for catch, setting, use in zip(
        chaffy.advice.trials.catch_g, chaffy.advice.trials.setting, chaffy.advice.trials.counts, strict=True
    ):
        assert weight(catch, 0.1) in said
        assert f"at {setting}" in said
        assert use or f"{weight(catch, 0.1)} g at {setting} (" in said
    assert "(bridged over row 2)" in said
    assert "(not charged)" in said
    assert "4 catches used: 41.7 and 42.4 g at 3, 52.2 and 56.7 g at 4." in said
