"""How often the decision card gives the decision of the program.

Run `python -m tests.benchmarks.bench_decision_card`. For each made-up lot with one catch behind it, a card is made.
Then one catch is drawn and looked up, and after it a second one.
"""

import time

import numpy as np

from predictor.advice.ranges import tables_after
from predictor.domain.trials import joined
from tests.advice.test_ranges import advise, answer, caught, lots, next_grams

LOTS = 60


def main() -> None:
    first, second, seconds = [], [], []
    for rng, lot, trials, target in lots(LOTS):
        start = time.perf_counter()
        tables = tables_after(advise(trials, target))
        seconds.append(time.perf_counter() - start)
        if not tables:
            continue
        grams = next_grams(rng, lot, tables[0])
        after = joined([trials, caught(tables[0].setting, grams, tables[0].turns, tables[0].rows)])
        found, advice = tables[0].find(grams), advise(after, target)
        first.append((found.decision, found.setting) == answer(advice))
        then = next((each for each in tables[1:] if each.after == found), None)
        if then is not None and then.setting == advice.advised:
            grams = next_grams(rng, lot, then)
            last = advise(joined([after, caught(then.setting, grams, then.turns, then.rows)]), target)
            second.append(then.find(grams).decision == last.decision)
    for name, hits in (("first", first), ("second", second)):
        share = np.mean(hits)
        print(
            f"{name} table: {100 * share:.0f} % of {len(hits)} (+-{100 * np.sqrt(share * (1 - share) / len(hits)):.0f})"
        )
    print(f"seconds a card: {np.median(seconds):.2f} in the middle, {max(seconds):.2f} at most")


if __name__ == "__main__":
    main()
