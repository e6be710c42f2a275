"""The same problem is said once, with its count, its first line and where else it is; distinct ones stay apart."""

import pickle

import pytest

from predictor.errors import FEW, MOST_KINDS, MOST_PROBLEMS, InputError, Problem, Problems


def off_scale(line, value=99, column="setting"):
    return Problem(f'"{value}" is off the scale of box small, which runs from 0 to 60.', "trials.csv", line, column)


def said(problems):
    return str(InputError(problems)).split("\n")


def test_a_few_values_that_are_wrong_are_said_row_by_row():
    problems = [off_scale(line, 90 + line) for line in range(2, 2 + FEW)]
    assert said(problems) == list(map(str, problems))


def test_the_same_words_are_said_once_with_all_their_rows():
    problems = [Problem("The cell is empty.", "trials.csv", line, "box") for line in (3, 7, 12)]
    assert said(problems) == [f"{problems[0]} The same is wrong in lines 7 and 12."]


@pytest.mark.parametrize(
    ("lines", "places"),
    [
        ([*range(2, 1002)], "in 999 more lines: 3 to 1001."),
        ([3, 7, 12, 15, 20], "in 4 more lines: 7, 12, 15 and 20."),
        ([3, 4, 5, 6, 9, 11, 12], "in 6 more lines: 4 to 6, 9, 11 and 12."),
        ([*range(2, 1002, 2)], "in 499 more lines: 4, 6, 8, 10, 12, 14, 16, 18 and 491 others, the last in line 1000."),
    ],
)
def test_many_values_wrong_in_the_same_way_are_said_once_with_their_count(lines, places):
    problems = [off_scale(line, 61 + line) for line in lines]
    assert said(problems) == [f"{problems[0]} The same is wrong {places}"]
    assert InputError(problems).problems == tuple(problems)


def test_distinct_problems_stay_apart():
    rows = range(2, 50)
    problems = [each for line in rows for each in (off_scale(line), off_scale(line, column="catch_g"))]
    problems += [Problem("The cell is empty.", "plan.csv", line, "setting") for line in rows]
    found = said(problems)
    assert len(found) == 3
    assert [each.partition(":")[0] for each in found] == [
        "trials.csv line 2, column setting",
        "trials.csv line 2, column catch_g",
        "plan.csv line 2, column setting",
    ]


def test_one_distinct_problem_among_thousands_is_said():
    problems = Problems("trials.csv")
    for line in range(2, MOST_PROBLEMS + 50):
        problems.add('"99" is off the scale.', line, "setting")
    problems.add("There is no such box.", MOST_PROBLEMS + 60, "box")
    found = str(problems.error()).split("\n")
    assert len(found) == 3
    assert f"line {MOST_PROBLEMS + 60}, column box" in found[1]
    assert f"{MOST_PROBLEMS - 1:,} more lines" in found[0]


def test_keys_that_are_wrong_in_the_same_way_are_named():
    problems = [Problem("This key is unknown.", "drill.toml", line, key=f"k{line}") for line in range(1, 50_001)]
    (found,) = said(problems)
    assert found == (
        "drill.toml line 1, k1: This key is unknown. The same is wrong with 49,999 more keys: k2 (line 2), "
        "k3 (line 3), k4 (line 4), k5 (line 5), k6 (line 6), k7 (line 7), k8 (line 8), k9 (line 9) and 49,991 others, "
        "the last in line 50000."
    )


def test_more_kinds_than_anyone_reads_are_counted():
    problems = [Problem(f"Lot {chr(0x4E00 + k)} is wrong.", "trials.csv", k) for k in range(MOST_KINDS + 37)]
    found = said(problems)
    assert len(found) == MOST_KINDS + 1
    assert found[-1] == "There are 37 more kinds of problem. Correct these first."


def test_a_problem_is_one_line_of_reasonable_length_without_invisible_characters():
    text = "a\x1b[31m\r\nb\u202e\x85\udc80" + "x" * 100_000
    problem = Problem(text, text, 3, text, text)
    assert str(problem).isprintable()
    assert len(str(problem)) < 7000
    assert r"a\x1b[31m\r\nb\u202e\x85\udc80" in problem.message


def test_what_is_said_once_survives_pickling():
    error = InputError([off_scale(line) for line in range(2, 100)])
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.problems) == (str(error), error.problems)
