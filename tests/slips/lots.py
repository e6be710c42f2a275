"""Made-up lots as the checks for slips see them. Every number is invented."""

from dataclasses import replace

import numpy as np

from predictor.advice.aim import Aim
from predictor.advice.case import weigh
from predictor.advice.decision import _seen
from predictor.advice.history import History, learn_history
from predictor.advice.lot_fit import fit_lot
from predictor.domain.control import Lever, Sprockets
from predictor.domain.drill import SeedBox
from predictor.domain.one_catch import one_catch
from predictor.domain.trials import joined, no_trials
from predictor.slips.seen import Seen
from predictor.study.drills import Log, MadeUpLot, Shape

FREE = SeedBox("box", "free-flowing", Lever(0, 60, 1))
CHAFFY = SeedBox("box", "chaffy", Lever(0, 60, 1))
CHAIN = SeedBox("box", "free-flowing", Sprockets({"1": 0.2, "2": 0.3, "3": 0.45, "4": 0.65, "5": 0.9}))


def earlier(box, level=1.0, lots=6, cv=0.04, seed=3) -> History | None:
    """What lots of a straight box from zero taught."""
    rng = np.random.default_rng(seed)
    openings, logs = box.first_control.openings, []
    for number in range(lots):
        log = Log(MadeUpLot(box, Shape("line", 0.0), level * np.exp(0.2 * rng.standard_normal()), cv), name=f"{number}")
        log.season = "1"
        for _ in range(5):
            log.add(rng, float(rng.choice(openings[len(openings) // 4 : -len(openings) // 4])))
        logs.append(log.trials())
    return learn_history(joined(logs), box)


def catches(box, weights, **columns):
    """Trials of settings and weights, of 28 turns and 3 rows where a catch does not say so; lines count from 2."""
    made = [
        one_catch(None, box, lot="new", season="2", setting=box.first_control.find(str(setting)), catch_g=grams,
                  turns=(size or (28.0, 3))[0], rows=(size or (28.0, 3))[1])
        for setting, grams, *rest in weights
        for size in [rest[0] if rest else None]
    ]  # fmt: skip
    trials = joined(made) if made else no_trials()
    return replace(trials, line=np.arange(2, 2 + len(trials)), **columns)


def seen(box, weights, target, *, history=False, tolerance=0.10, **columns) -> Seen:
    """A lot of catches as the checks see it."""
    past = earlier(box) if history is True else history or None
    return seen_of(catches(box, weights, **columns), box, target, past, tolerance)


def seen_of(trials, box, target, past=None, tolerance=0.10) -> Seen:
    """Trials as the checks see them."""
    aim = Aim(target, tolerance, history=past)
    return _seen(
        weigh(fit_lot(trials, box, lot="new", season="2", history=past, drill=trials.drill, near=aim.near), aim)
    )
