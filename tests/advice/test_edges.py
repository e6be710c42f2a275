"""Where a decision turns: just before and just after a limit, and on noise alone. All catches are invented."""

import itertools

import numpy as np
import pytest

from tests.advice.test_advice import DRILL, advise


def grown(settings, scatter, seed=3, odd=()):
    """Catches of a lever that gives 1.6 g for each step of its scale, some of them so many times as heavy."""
    rng = np.random.default_rng(seed)
    catches = [1.6 * at * np.exp(scatter * rng.standard_normal()) for at in settings]
    for i, times in odd:
        catches[i] *= times
    return [round(each, 1) for each in catches]


@pytest.mark.parametrize("odd", [((2, 0.3), (3, 0.6)), ((2, 0.2), (3, 0.5))])
def test_each_odd_catch_that_was_made_again_is_set_aside_up_to_a_quarter_of_all(odd):
    settings = [30, 34, 38, 42, 38, 42, 30, 34]
    catches = grown(settings, 0.01, odd=odd)
    two = advise(settings, catches)
    assert (two.decision, two.set_aside, two.catches_used) == ("lock", (3, 4), 6)
    assert [each.code for each in two.remarks].count("advice.set-aside") == 2
    one = advise(settings[:7], catches[:7])  # a quarter of seven is one
    assert (one.set_aside, one.catches_used) == ((3,), 6)
    assert one.decision != "lock"


@pytest.mark.parametrize("more", [0, 1, 20])
def test_from_the_thirtieth_catch_on_a_lock_is_offered_though_a_better_setting_was_never_tried(more):
    def after(count):
        settings = [20, 50] * (count // 2) + [20] * (count % 2)
        return advise(settings, grown(settings, 0.03, seed=1), confirmed="yes")

    before, advice = after(29), after(30 + more)
    assert (before.decision, before.setting, before.offers_lock) == ("move", 38, False)
    assert advice.offers_lock
    assert advice.setting in (20, 50)


@pytest.mark.parametrize("settings", [(38, 38, 39, 39), (36, 36, 37, 37, 37), (37, 38, 39), (36, 38, 38, 39)])
def test_scatter_alone_does_not_turn_a_lever_round(settings):
    """Of boxes that scatter as is usual, those whose means all lie the wrong way round."""
    drawn = (grown(settings, 0.06, seed) for seed in range(1000))
    wrong_way = (each for each in drawn if np.all(np.diff(means(settings, each)) < 0))
    for catches in itertools.islice(wrong_way, 5):
        assert advise(settings, catches).why.code != "advice.falling"
    assert next(wrong_way)  # there were five


def means(settings, catches):
    """Mean catch at each setting, ascending."""
    return [np.mean(np.array(catches)[np.array(settings) == each]) for each in sorted({*settings})]


@pytest.mark.parametrize(("fall", "said"), [(0.15, False), (0.25, True)])
def test_a_lever_is_turned_round_where_output_falls_beyond_usual_scatter(fall, said):
    """Usual scatter is 6 %: 3.5 standard errors of two means of two are 0.2, and so is three times the scatter."""
    high = 60 * np.exp(fall)
    for settings, catches in (
        ((37, 37, 38, 38), (high, 1.02 * high, 60, 61.2)),
        ((36, 37, 38), (high, np.sqrt(60 * high), 60)),
    ):
        assert (advise(settings, catches).why.code == "advice.falling") == said


def test_two_settings_that_scatter_widely_show_no_lever_that_is_read_the_wrong_way():
    """The same fall of 25 %, once with repeats that agree, once with repeats 24 % apart."""
    high = 60 * np.exp(0.25)
    agree = advise([37, 37, 38, 38], [high, 1.02 * high, 60, 61.2])
    apart = advise([37, 37, 38, 38], [high * 0.88, high * 1.12, 60 * 0.88, 60 * 1.12])
    assert agree.why.code == "advice.falling"
    assert apart.why.code != "advice.falling"


@pytest.mark.parametrize(("apart", "named"), [(0.1, True), (0.2, False)])
def test_repeats_that_differ_by_a_step_of_the_scale_are_too_equal_and_by_two_steps_are_not(apart, named):
    """Eight of 60 g on a scale of 0.1 g. The evenest box repeats within 0.3 % (`TAMEST`)."""
    weights = [60 + apart * (k % 3 - 1) for k in range(8)]
    advice = advise([38] * 8, weights, target=60 / 84, drill=DRILL)
    assert ("too-equal" in [each.code for each in advice.slips]) == named
