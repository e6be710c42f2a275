"""What a field check takes as given, and checks that are copies of others."""

import shutil

import pytest

import predictor
from tests.running import ROOT

HEAD = "date,box,lot,setting,area_ac,seed_used_lb,seed_loaded_lb,seed_left_lb,seeds_counted,row_length_ft\n"


def checks(folder, *rows):
    for name in ("drill.toml", "plan.csv", "trials.csv"):
        shutil.copy(ROOT / "sample_trials" / name, folder)
    (folder / "field.csv").write_text(HEAD + "".join(f"{row}\n" for row in rows))
    return predictor.read_job(folder)


def said(job):
    return [each for each in job.messages if "field.csv" in each]


@pytest.mark.parametrize(
    ("measured", "words"),
    [
        ("2.1,5.8,,,,", "weighed back"),
        ("2.1,,40.0,34.2,,", "refill"),
        ("2.1,,5.8,0,,", "empty at the end"),
        (",,,,71,20", "20.0 ft of row"),
    ],
)
def test_each_kind_of_check_says_what_it_takes_as_given(tmp_path, measured, words):
    (check,) = checks(tmp_path, f"2026-11-18,grain,CW-26,17,{measured}").field.checks
    assert words in str(check.given)
    assert words in check.to_dict("us")["given"]
    assert " ac " not in check.to_dict("metric")["given"]


def test_a_check_that_is_in_the_file_twice_is_named(tmp_path):
    row = "2026-11-18,grain,CW-26,17,2.1,5.8,,,,"
    (found,) = said(checks(tmp_path, row, row, "2026-11-19,grain,CW-26,17,2.1,5.9,,,,"))
    assert "line 3" in found
    assert "line 2" in found


def test_a_check_that_is_there_many_times_is_named_once(tmp_path):
    row = "2026-11-18,grain,CW-26,17,2.1,5.8,,,,"
    (found,) = said(checks(tmp_path, *[row] * 30))
    assert "lines 3, 4, 5" in found
    assert found.count("line 2") == 1


def test_more_checks_of_a_lot_than_anyone_makes_are_refused_where_they_count(tmp_path):
    rows = [f"2026-11-18,grain,CW-26,17,{2 + k / 100},5.8,,,," for k in range(101)]
    with pytest.raises(predictor.InputError, match="101 field checks"):
        checks(tmp_path, *rows)
    assert len(checks(tmp_path, *rows[1:]).field.checks) == 100


def test_a_row_of_last_year_with_the_lot_of_this_one_is_named(tmp_path):
    old, new = "2025-11-08,grain,CW-24,17,6.2,16.8,,,,", "2026-11-18,grain,CW-26,17,6.2,16.8,,,,"
    (found,) = said(checks(tmp_path, old, new))
    assert "2025-11-08" in found
    assert said(checks(tmp_path, old, new.replace("16.8", "16.9"))) == []


def test_honest_checks_of_two_days_that_agree_are_quiet(tmp_path):
    rows = [f"2026-11-{day},grain,CW-26,17,2.1,5.8,,,," for day in (18, 19)]
    assert said(checks(tmp_path, *rows)) == []
    assert said(predictor.read_job("sample_trials")) == []
