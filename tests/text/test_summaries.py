"""Results show themselves: as text, in a notebook, as a picture."""

import pickle
from dataclasses import replace

import pytest
from matplotlib.axes import Axes

import predictor
from tests import golden
from tests.conftest import SAMPLE
from tests.running import TODAY

JOB = predictor.read_job(SAMPLE, today=TODAY)
ADVICE = JOB.advice(JOB.in_hand()[2])
SHOWN = {"advice": ADVICE, "trials": replace(JOB.trials, file="trials.csv"), "curve": ADVICE.curve}


@pytest.mark.parametrize("name", SHOWN)
def test_a_result_is_shown_in_words_and_as_a_picture(name):
    result = SHOWN[name]
    assert str(result) == result.summary()
    golden.check(f"summary-{name}", result.summary().replace(str(SAMPLE), SAMPLE.name))
    page = result._repr_html_()
    assert page.startswith("<")
    assert "<script" not in page
    axes = result.plot()
    assert isinstance(axes, Axes)
    assert axes.get_xlabel()
    assert result.plot(axes=axes) is axes


def test_names_stay_text_in_a_notebook():
    import pandas as pd

    frame = pd.DataFrame({"box": "b", "lot": "<b>A</b>", "setting": [3, 4], "catch_g": [30.0, 40.0]})
    assert "<b>A" not in predictor.as_trials(frame)._repr_html_()


def test_advice_compares_hashes_and_pickles():
    again = pickle.loads(pickle.dumps(ADVICE))
    assert again == ADVICE
    assert hash(again) == hash(ADVICE)
    assert again.reason == ADVICE.reason
    assert JOB.advice(JOB.in_hand()[1]) != ADVICE


def test_trials_compare_and_pickle_and_refuse_a_hash():
    again = pickle.loads(pickle.dumps(JOB.trials))
    assert again == JOB.trials
    assert JOB.trials != JOB.trials.of(box="small")
    with pytest.raises(TypeError):
        hash(again)


def test_a_target_is_given_in_one_of_three_ways():
    trials, box = JOB.trials, JOB.drill.box("small")
    one = predictor.recommend(trials, box, target_output=23.3 / 84)
    assert predictor.recommend(trials, box, target_g=23.3) == one
    rate = one.rate(one.target_output)
    assert predictor.recommend(trials, box, target_rate=rate).target_output == pytest.approx(one.target_output)
    assert predictor.recommend(trials, box, target_rate=rate, field_factor=0.9).target_output == pytest.approx(
        one.target_output / 0.9
    )
    for wrong in ({}, {"target_g": 23.3, "target_rate": 5.0}):
        with pytest.raises(ValueError, match="one of target_output, target_g and target_rate"):
            predictor.recommend(trials, box, **wrong)
