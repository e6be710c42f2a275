"""How often limits of the mean lie inside the target zone where the chance is enough, and where it is not.

    python -m tests.benchmarks.bench_bar [--boxes 120]

Made-up boxes in general are calibrated as asked. After each catch the bar, and limits with equal tails, at the advised
setting are held against the chance there.
"""

import argparse
from collections import Counter

import numpy as np

from predictor.advice.aim import TOLERANCE, Aim
from predictor.advice.limits import band, bar
from predictor.advice.recommend import advise
from predictor.study.drills import Log
from predictor.study.technician import MOST_CATCHES, asked
from predictor.study.truths import made_up_truth


def advices(boxes, seed=5, tolerance=TOLERANCE, drill=None):
    """The advice on made-up lots after each catch."""
    for run in range(boxes):
        truth = made_up_truth(seed, run, tolerance)
        aim, log, rng = Aim(truth.target, tolerance), Log(truth.lot), np.random.default_rng([seed, run, 1])
        opening = truth.lot.box.first_control.openings[len(truth.lot.box.first_control.openings) // 2]
        for _ in range(MOST_CATCHES):
            log.add(rng, opening)
            fit, action = asked(log.trials(), truth.lot.box, aim)
            if fit.curve is None or action.setting is None:
                break
            opening = action.setting.opening
            log.turns, log.rows = action.turns or log.turns, int(action.rows or log.rows)
            yield advise(fit, aim, ())
            if action.decision in ("lock", "unreachable") or action.offers_lock:
                break


def held(advice):
    """Whether the setting is sure enough, whether its bar fits the zone, and whether limits with equal tails do."""
    aim, size, x = advice.aim, advice.next_turns * advice.next_rows, advice.advised.opening
    chance = advice.curve.probability(x, aim.low, aim.high, advice.shared_sd**2)
    tails = [float(each[0]) for each in band(advice, np.array([x]))]
    fits = [ends[0] >= aim.low * size and ends[1] <= aim.high * size for ends in (bar(advice, x), tails)]
    return bool(chance >= aim.confidence), *fits


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--boxes", type=int, default=120)
    found = Counter(held(each) for each in advices(parser.parse_args().boxes))
    sure = sum(count for (enough, *_), count in found.items() if enough)
    print(f"{sum(found.values())} settings, {sure} of them sure enough")
    for k, name in ((1, "bar"), (2, "equal tails")):
        out = sum(count for key, count in found.items() if key[0] and not key[k])
        into = sum(count for key, count in found.items() if not key[0] and key[k])
        print(f"{name}: reach out of the zone though sure enough {out}, lie inside though not {into}")


if __name__ == "__main__":
    main()
