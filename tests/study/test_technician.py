"""The made-up technician does what the advice says."""

from dataclasses import replace

import numpy as np
import pytest

from predictor.advice.aim import Aim
from predictor.advice.decision import Action
from predictor.advice.recommend import recommend
from predictor.domain.control import Setting
from predictor.domain.result import Remark
from predictor.study import technician
from predictor.study.drills import Log, MadeUpLot, Shape
from predictor.study.technician import MOST_CATCHES, PATIENCE, asked, follow
from tests.study.test_drills import BOX

LOT = MadeUpLot(BOX, Shape("line", 0.0), 2.0, 0.05, own=1.0)
GO_ON = Action("repeat", Remark("advice.thin"), Setting(40.0, 40.0, "40"), 0.7, 3)


def script(monkeypatch, *actions):
    """Let the program answer with these actions, the last one for ever."""
    left = list(actions)
    monkeypatch.setattr(technician, "asked", lambda *_: (None, left.pop(0) if len(left) > 1 else left[0]))


def ending(monkeypatch, *actions, **options):
    script(monkeypatch, *actions)
    log = Log(LOT)
    return follow(log, np.random.default_rng(1), Aim(0.8), **options), log


def test_a_box_is_locked_by_the_program_itself():
    log = Log(LOT)
    found = follow(log, np.random.default_rng(1), Aim(0.8))
    assert found.end == "lock"
    assert found.catches == len(log.catches) == found.seed
    assert abs(float(LOT.mean(found.opening)) / 0.8 - 1) <= 0.1
    _, action = asked(log.trials(), BOX, Aim(0.8))
    assert (action.decision, action.chance) == ("lock", found.chance)


def test_what_is_asked_is_what_the_program_recommends():
    log, rng, aim = Log(LOT), np.random.default_rng(3), Aim(0.8, tolerance=0.05)
    for opening in (50.0, 40.0, 38.0, 40.0):
        log.add(rng, opening)
        fit, action = asked(log.trials(), BOX, aim)
        advice = recommend(log.trials(), BOX, target_output=0.8, tolerance=0.05)
        assert (action.decision, action.setting, action.chance) == (advice.decision, advice.advised, advice.chance)
        assert (action.more, action.offers_lock) == (advice.catches_expected_more, advice.offers_lock)
        assert (action.turns or fit.turns_caught) == advice.next_turns


def test_the_first_catch_is_made_where_the_program_says_or_where_it_is_told():
    for first, opening in ((None, 50.0), (20.0, 20.0)):
        log = Log(LOT)
        follow(log, np.random.default_rng(1), Aim(0.8), first=first)
        assert log.catches[0].opening[0] == opening


def test_a_longer_catch_is_really_made_and_stays_long(monkeypatch):
    longer = replace(GO_ON, decision="lengthen", turns=112.0, rows=6.0)
    found, log = ending(monkeypatch, GO_ON, longer, GO_ON, replace(GO_ON, decision="lock"))
    assert [float(each.turns[0]) for each in log.catches] == [28.0, 112.0, 112.0]
    assert [float(each.rows[0]) for each in log.catches] == [3.0, 6.0, 6.0]
    assert found.seed == pytest.approx(1 + 8 + 8)


def test_a_recheck_repeats_at_the_setting_in_doubt(monkeypatch):
    recheck = replace(GO_ON, decision="recheck", setting=Setting(70.0, 70.0, "70"))
    _, log = ending(monkeypatch, GO_ON, recheck, replace(GO_ON, decision="unreachable"))
    assert [float(each.opening[0]) for each in log.catches] == [40.0, 70.0]


@pytest.mark.parametrize(("parts", "weighed"), [("none", [1, 1, 1]), ("first", [4, 1, 1]), ("all", [4, 4, 4])])
def test_catches_are_weighed_in_parts_where_that_is_wanted(monkeypatch, parts, weighed):
    _, log = ending(monkeypatch, GO_ON, GO_ON, GO_ON, replace(GO_ON, decision="lock"), in_parts=parts)
    assert [len(each.parts_g[0] or (0,)) for each in log.catches] == weighed
    for each in log.catches:
        assert sum(each.parts_g[0] or each.catch_g) == pytest.approx(float(each.catch_g[0]))


def test_a_calibration_that_does_not_end_is_given_up(monkeypatch):
    found, log = ending(monkeypatch, GO_ON)
    assert (found.end, len(log.catches)) == ("going", MOST_CATCHES)


@pytest.mark.parametrize(
    ("more", "catches"), [(PATIENCE, MOST_CATCHES), (PATIENCE + 1, 0), (None, 0)], ids=["patient", "too many", "never"]
)
def test_an_offer_is_taken_where_too_many_catches_are_expected_and_at_the_last(monkeypatch, more, catches):
    found, _ = ending(monkeypatch, replace(GO_ON, more=more, offers_lock=True))
    assert (found.end, found.catches, found.chance) == ("offer", catches, 0.7)
