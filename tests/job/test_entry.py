"""A catch to be entered on the sample job: which lot is meant, what is usual, and what the weight should be."""

from dataclasses import replace

import pytest

from predictor.domain.catch import CatchSize
from predictor.domain.control import Setting
from predictor.domain.trials import no_trials
from predictor.job.entry import WIDE, advice_on, asked_size, expected_g, lots_of, named_lot, usual_lot
from predictor.job.job import Job
from predictor.job.read import read_job
from tests.conftest import SAMPLE

AT_14 = Setting(14.0, 14.0, "14")


@pytest.fixture(scope="module")
def job():
    return read_job(SAMPLE, use_field_factor=False)


@pytest.fixture
def small(job):
    return job.drill.box("small")


def test_lots_of_a_box_are_those_planned_then_those_caught(job, small):
    caught = list(dict.fromkeys(job.trials.of(box="small").lot.tolist()))
    assert caught[0] != "forb mix"
    assert lots_of(job, small) == ["forb mix", *(each for each in caught if each != "forb mix")]
    assert lots_of(Job(job.drill, job.trials, None), small) == caught


def test_the_usual_lot_is_the_last_caught_else_the_first_planned(job, small):
    assert usual_lot(job, small) == "forb mix"
    before = job.trials.where(job.trials.lot == "KS-25")
    assert usual_lot(Job(job.drill, before, job.plan), small) == "KS-25"
    nothing = no_trials(job.drill)
    assert usual_lot(Job(job.drill, nothing, job.plan), small) == "forb mix"
    assert usual_lot(Job(job.drill, nothing, None), small) == ""


@pytest.mark.parametrize(
    ("typed", "name"),
    [("FORB  mix", "forb mix"), ("ks-25", "KS-25"), ("KS-26", "forb mix"), ("fm-26", "forb mix"), (" K  27 ", "K 27")],
)
def test_a_lot_has_its_known_name_or_that_of_its_blend(job, small, typed, name):
    assert named_lot(job, small, typed) == name


def test_a_lot_needs_a_name(job, small):
    with pytest.raises(ValueError, match="name of its lot"):
        named_lot(job, small, "  ")


def test_the_catch_to_make_next_is_as_long_as_the_advice_asks(job, small):
    advice = replace(advice_on(job, small, "forb mix"), next_turns=112.0, next_rows=6.0)
    assert asked_size(job, job.drill.box(advice.box), advice) == CatchSize(112, "wheel turns", 6)
    usual = job.drill.catch
    assert asked_size(job, job.drill.boxes[0], None) == CatchSize(usual.turns, "wheel turns", usual.rows)
    # a catch of eight times the size scatters less, but the curve is as uncertain as before
    low, high = expected_g(advice, AT_14, 84)
    longer = expected_g(advice, AT_14, 8 * 84)
    assert high / low > longer[1] / longer[0] > 1


def test_a_weight_is_expected_from_the_curve_or_widely_around_the_target(job, small):
    caught = advice_on(job, small, "forb mix")
    low, high = caught.curve.interval(14.0, 0.99, "next")
    assert expected_g(caught, AT_14, 84) == pytest.approx((low * 84, high * 84))
    nothing = advice_on(Job(job.drill, no_trials(job.drill), job.plan), small, "forb mix")
    target = nothing.target_output * 84
    assert expected_g(nothing, AT_14, 84) == pytest.approx((target / WIDE, target * WIDE))
    assert advice_on(job, small, "never heard of") is None
    assert expected_g(None, AT_14, 84) is None
