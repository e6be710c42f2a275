"""How often following the decision card gives the decision of the program.

`python -m tests.benchmarks.bench_decision_card`

Made-up lots with one catch behind them; the card is made, one catch drawn and looked up, then a second.
"""

import time

import numpy as np

from predictor.domain.trials import joined
from predictor.job.job import Job, Task
from predictor.pages.decision_card import decision_card
from tests.pages.test_decision_card import BOX, DRILL, advise, answer, caught, lots

LOTS = 60


def main() -> None:
    first, second, seconds = [], [], []
    for rng, lot, trials, target in lots(LOTS):
        start = time.perf_counter()
        tables = decision_card(Job(DRILL, trials, None, use_history=False), Task(BOX, "A", "", target))
        seconds.append(time.perf_counter() - start)
        if not tables:
            continue
        table = tables[0]
        grams = round(lot.catch(rng, BOX.control.opening(table.setting), table.turns, int(table.rows))[0], 1)
        after = joined([trials, caught(table.setting, grams, table.turns, table.rows)])
        found, advice = table.find(grams), advise(after, target)
        first.append((found.decision, found.setting) == answer(advice))
        then = next((each for each in tables[1:] if each.after == found), None)
        if then is not None and then.setting == advice.setting:
            grams = round(lot.catch(rng, BOX.control.opening(then.setting), then.turns, int(then.rows))[0], 1)
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
