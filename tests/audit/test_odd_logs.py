"""Whatever a log holds, an audit ends in words: no traceback, no warning, no NaN in JSON. All logs are invented."""

import json
import shutil

import numpy as np
import pytest

from predictor.audit.audit import audit_job
from predictor.errors import InputError
from predictor.job.read import read_job
from predictor.text.audit_lines import audit_lines
from tests.conftest import SAMPLE

HEAD = "date,season,box,lot,setting,turns,rows,catch_g,charged,use,fill_pct,target_g\n"
POSITIONS = {"1": 10.0, "2": 13.0, "3": 16.0, "4": 20.0}


def odd_log(rng):
    """Up to four lots of no to eight catches, which scatter not at all or by 100 %, rise, stay or fall."""
    rows = []
    for lot in range(rng.integers(1, 5)):
        box, scatter = rng.choice(["grain", "small", "chaffy"]), rng.choice([0, 1e-6, 0.02, 0.3, 1.0])
        for k in range(rng.integers(0, 9)):
            setting = str(rng.choice(list(POSITIONS)) if box == "chaffy" else rng.choice([5, 5, 10, 10, 14, 20, 25]))
            at = POSITIONS.get(setting, 0.0) if box == "chaffy" else float(setting)
            grams = rng.choice([at - 2, 10, 30 - at], p=[0.8, 0.1, 0.1]) * abs(1 + scatter * rng.normal()) * 2
            season = rng.choice(["2025", "2026", ""])
            day = f"{season}-05-{k + 1:02d}" if season else ""
            caught = f"{max(grams, 0):.{rng.choice([0, 1, 3])}f},yes,{rng.choice(['yes', 'yes', 'no'])}"
            rows.append(f"{day},{season},{box},L{lot},{setting},{rng.choice([28, 14])},3,{caught}")
            rows[-1] += f",{rng.choice(['', '50', '20', '90'])},{rng.choice(['', '30'])}\n"
    return HEAD + "".join(rows)


@pytest.mark.parametrize("seed", [0, *(pytest.param(each, marks=pytest.mark.slow) for each in range(1, 60))])
def test_an_odd_log_ends_in_words(seed, tmp_path):
    shutil.copy(SAMPLE / "drill.toml", tmp_path)
    (tmp_path / "trials.csv").write_text(odd_log(np.random.default_rng(seed)), encoding="utf-8")
    try:
        job = read_job(tmp_path)
    except InputError:
        pytest.skip("the log itself is refused")
    found = audit_job(job)
    for width in (40, 100):
        assert all(len(line) <= width for line in audit_lines(found, width, details=True))
    assert json.dumps(found.to_dict(), allow_nan=False)
    for each in found.lots:
        assert each.line is not None or each.remarks
