"""What the lots of a box were caught as last: worked out for all of them at once as for each alone."""

import numpy as np
import pandas as pd

from predictor.advice.lot_fit import is_towed
from predictor.domain.trials import last_season
from predictor.files.drill import read_drill
from predictor.files.trials import as_trials
from predictor.job.task import last_caught
from tests.conftest import SAMPLE


def test_all_lots_at_once_are_each_lot_alone():
    rng, drill, towed_lots = np.random.default_rng(5), read_drill(SAMPLE / "drill.toml"), 0
    box = drill.box("small")
    for _ in range(40):
        n = int(rng.integers(1, 30))
        towed = rng.random(n) < 0.3
        frame = pd.DataFrame(
            {
                "box": "small",
                "lot": rng.choice(["A", "b", "C-1"], n),
                "setting": 14,
                "season": rng.choice(["2025", "2026", ""], n),
                "catch_g": rng.uniform(40, 60, n),
                "turns": np.where(towed, np.nan, rng.choice([14.0, 28.0], n)),
                "distance_ft": np.where(towed, 200.0, np.nan),
                "rows": rng.choice([1, 3], n),
                "target_g": np.where(rng.random(n) < 0.4, rng.uniform(40, 60, n), np.nan),
                "use": np.where(rng.random(n) < 0.8, "yes", "no"),
            }
        )
        trials = as_trials(frame, drill)
        found = last_caught(trials, box)
        assert set(found) == set(trials.lot.tolist())
        for lot, (season, size, wanted) in found.items():
            mine = trials.of(lot=lot)
            assert season == last_season(mine)
            if is_towed(trials, box, lot, season):
                mine, towed_lots = mine.where(mine.towed), towed_lots + 1
            sizes = mine.turns * mine.rows
            outputs = (mine.target_g / sizes)[np.isfinite(mine.target_g)].tolist()
            assert (size, wanted) == (sizes[-1], outputs[-1] if outputs else None)
    assert towed_lots > 10
    assert last_caught(trials.where(trials.line < 0), box) == {}
