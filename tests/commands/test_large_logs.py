"""What a command does with a log of many rows and lots: it reads the file once, and fits the lots that it is about.

Counts of calls, since times differ from machine to machine; `tests/benchmarks/bench_large_logs.py` has those.
"""

import pytest

from predictor.files import split as splitting
from predictor.files.kinds import TRIALS
from predictor.job import job as jobs

# each lot names its target, so that advice could be given on each
COLUMNS = [*TRIALS.new_header.split(","), "target_g"]


@pytest.fixture
def counted(monkeypatch):
    """Counts the records that are read from logs and the lots that are fitted."""
    found = {"records": 0, "fits": 0}
    append, fit_lot = splitting.Rows.append, jobs.fit_lot

    def counting_append(self, cells):
        found["records"] += 1
        append(self, cells)

    def counting_fit(*args, **named):
        found["fits"] += 1
        return fit_lot(*args, **named)

    monkeypatch.setattr(splitting.Rows, "append", counting_append)
    monkeypatch.setattr(jobs, "fit_lot", counting_fit)
    return found


def log_of(lots, catches=3):
    """A log of a box with so many lots, the last one that of the plan."""
    names = [*(f"old {k}" for k in range(lots - 1)), "forb mix"]
    rows = [
        {
            "box": "small",
            "lot": name,
            "setting": f"{14 + k}",
            "catch_g": f"{31 + k}.5",
            "date": f"{year}-04-0{k + 1}",
            "target_g": "33",
        }
        for name, year in zip(names, [*[2025] * (lots - 1), 2026], strict=True)
        for k in range(catches)
    ]
    return "".join(
        ",".join(cells) + "\n" for cells in [COLUMNS, *([row.get(name, "") for name in COLUMNS] for row in rows)]
    )


def read_with(run, job, counted, lots, *words):
    """The records read and the lots fitted by a command on a log of so many lots."""
    (job / "trials.csv").write_text(log_of(lots), encoding="utf-8")
    counted.update(records=0, fits=0)
    assert run(words[0], job, *words[1:]).returncode == 0
    return dict(counted)


# Without a name `recommend` answers for every lot that has a target.
NAMED = ("recommend", "--box", "small", "--lot", "forb mix")


@pytest.mark.parametrize(
    "command", [NAMED, *((each,) for each in ("compare", "report", "check", "card"))], ids=" ".join
)
def test_a_command_reads_a_log_once_and_no_lot_more_is_fitted_where_a_log_has_more(run, job, counted, command):
    few, many = (read_with(run, job, counted, lots, *command) for lots in (5, 205))
    assert many["records"] - few["records"] == 3 * 200
    assert many["fits"] == few["fits"]


def test_a_catch_reads_the_log_once(run, job, counted):
    catch = ["record", "--box", "small", "--setting", "15", "--catch", "34.5", "--yes"]
    few, many = (read_with(run, job, counted, lots, *catch) for lots in (5, 205))
    assert many["records"] - few["records"] == 3 * 200
    assert many["fits"] == few["fits"] > 0
