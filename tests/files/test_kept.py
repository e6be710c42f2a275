"""A log that was read and to which rows were added gives what a new reading gives. All values are invented."""

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from predictor import InputError, read_trials
from predictor.files import split as splitting
from predictor.files.kept import KeptLog
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row, confirm
from tests.files.test_new_row import CATCH, HEAD, HEADER, first_names, log, logs, names


def every(read):
    """Every field of the trials that are read; where there are problems, those."""
    try:
        trials = read()
    except InputError as error:
        return error.problems
    held = {each.name: getattr(trials, each.name) for each in fields(trials)}
    return {k: (each.dtype.kind, each.tolist()) if isinstance(each, np.ndarray) else each for k, each in held.items()}


def assert_same(kept, path):
    ours, theirs = every(lambda: kept.trials(path)), every(lambda: read_trials(path))
    assert repr(ours) == repr(theirs)  # since NaN differs from itself


def added_text():
    """What may be added to a log by hand, by another program or another run of this one."""
    cells = st.lists(st.sampled_from(["small", "A", "14", "60", "12.5", "12,5", "1.234", "#", '"', "", "5/4/2026"]))
    rows = st.lists(cells.map(",".join) | cells.map(";".join), min_size=1, max_size=2)
    return st.tuples(rows, st.sampled_from(["\n", "\r\n", ""])).map(lambda each: "\n".join(each[0]) + each[1])


values = st.fixed_dictionaries(
    {
        "box": first_names,
        "lot": first_names,
        "setting": st.sampled_from(["14", 17.5, "17,5"]),
        "catch_g": st.sampled_from([61.0, 61.2, 1.234, 0.0]),
    },
    optional={"note": names, "turns": st.sampled_from([28.0, 27.5]), "date": st.sampled_from(["2026-04-18"])},
)


@pytest.mark.slow
@settings(max_examples=600, deadline=None)
@given(logs(), st.lists(values | added_text(), min_size=1, max_size=4))
def test_what_is_kept_of_any_log_is_what_is_read_of_it_and_adds_the_same_row(tmp_path_factory, data, steps):
    path, other = (log(tmp_path_factory.mktemp("log"), data) for _ in range(2))
    kept = KeptLog()
    for step in steps:
        assert_same(kept, path)
        said = []
        for each, known in ((path, kept), (other, None)):
            try:
                if isinstance(step, str):
                    each.write_bytes(each.read_bytes() + step.encode())
                else:
                    add_row(TRIALS, each, step, known)
            except InputError as error:
                said.append([(problem.message, problem.line, problem.column) for problem in error.problems])
        assert said in ([], said[:1] * 2)
        assert path.read_bytes() == other.read_bytes()
    assert_same(kept, path)


@pytest.fixture
def records(monkeypatch):
    """The records that are read."""
    found, append = [], splitting.Rows.append
    monkeypatch.setattr(splitting.Rows, "append", lambda self, cells: (found.append(cells), append(self, cells))[1])
    return found


def test_rows_that_are_added_are_read_alone(tmp_path, records):
    path, kept = log(tmp_path, HEADER + "\n" + "small,A,14,60.5\n" * 100), KeptLog()
    kept.trials(path)
    assert len(records) == 101
    for k in range(1, 4):
        add_row(TRIALS, path, CATCH, kept)
        assert kept.trials(path).line.tolist() == list(range(2, 102 + k))
    assert len(records) < 101 + 3 * 10
    assert_same(kept, path)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_rows_are_counted_on_below_comments_and_notes_of_several_lines(tmp_path, records, end):
    text = f'# one\n\n{HEADER},note\nsmall,A,14,60.5,\nsmall,A,14,60.5,"a\n\nb"\n\n# two\n'.replace("\n", end)
    path, kept = log(tmp_path, text), KeptLog()
    kept.trials(path)
    before = len(records)
    for note in ("a,b", 'say "so"', "é"):
        add_row(TRIALS, path, {**CATCH, "note": note}, kept)
        kept.trials(path)
    assert len(records) < before + 3 * 10
    assert kept.trials(path).line.tolist() == [4, 5, 8, 9, 10]
    assert_same(kept, path)


def test_logs_are_kept_side_by_side(tmp_path, records):
    paths, kept = [tmp_path / each for each in ("trials.csv", "trials-2025.csv")], KeptLog()
    for path, lot in zip(paths, "AB", strict=True):
        path.write_text(HEADER + "\n" + f"small,{lot},14,60.5\n" * 100)
        kept.trials(path)
    assert len(records) == 202
    add_row(TRIALS, paths[0], CATCH, kept)
    assert [len(kept.trials(path)) for path in paths] == [101, 100]
    assert len(records) < 202 + 10
    paths[1].write_text(HEADER + "\nsmall,B,14,60.7\n")
    for path in paths:
        assert_same(kept, path)


BEFORE = HEADER + "\nsmall,A,14,60.5\n"


@pytest.mark.parametrize(
    "after",
    [
        BEFORE.replace("60.5", "60.6") + "small,A,14,61\n",
        BEFORE + "small,A,14\n",
        BEFORE + "small,A,14,x\n",
        BEFORE + HEADER + "\n",
        BEFORE + "# small,A,14,61\n",
        BEFORE + "\nsmall,A,14,61\n",
        BEFORE + 'small,A,14,"1,234"\n',
        BEFORE + 'small,A,14,"61',
        BEFORE + "small,a,14,61\n",
        BEFORE[:-5],
        HEADER + ",\nsmall,A,14,60.5,\nsmall,A,14,60.5,5\n",
    ],
)
def test_what_else_becomes_of_a_log_is_read_again(tmp_path, after):
    path, kept = log(tmp_path, BEFORE), KeptLog()
    kept.trials(path)
    log(tmp_path, after)
    assert_same(kept, path)
    log(tmp_path, BEFORE)
    assert_same(kept, path)
    confirm(TRIALS, path, [2])
    assert_same(kept, path)


def test_what_had_to_be_assumed_is_said_of_a_longer_log_too(tmp_path, records):
    path, kept = log(tmp_path, HEAD + "small;A;14;61,5\n" * 20), KeptLog()
    kept.trials(path)
    before = len(records)
    path.write_text(path.read_text() + "small;a;14;61,5\n")
    assert [each.code for each in kept.trials(path).assumed] == ["files.signs", "files.similar_lots"]
    assert len(records) < before + 10
    assert_same(kept, path)


@pytest.mark.parametrize("row", ["small;A;14;1.234", "small;A;14;12,5", "small;A;17,5;61"])
def test_a_row_that_changes_what_numbers_mean_is_read_with_all_others(tmp_path, row):
    path, kept = log(tmp_path, f"{HEAD}small;A;14;61\n"), KeptLog()
    kept.trials(path)
    path.write_text(path.read_text() + f"{row}\n")
    assert_same(kept, path)
