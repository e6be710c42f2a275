"""predictor compare, as a user runs it. The sample job and every other lot here are invented."""

import json
import re

import pytest

from predictor.text import cautions

HEADER = "box,lot,setting,catch_g,turns,rows,season\n"


def rows(name, factor, settings, season, dead=4.0):
    # a little scatter that repeats: one per cent up, one per cent down
    return "".join(
        f"small,{name},{x},{2 * factor * (x - dead) * (1.01 if k % 2 else 0.99):.2f},28,3,{season}\n"
        for k, x in enumerate(settings)
    )


TWO = HEADER + rows("J-25", 1.0, (30, 38, 38, 46), 2025) + rows("K-26", 1.18, (30, 38, 38, 46), 2026)


@pytest.fixture
def two(tmp_path):
    path = tmp_path / "two.csv"
    path.write_text(TWO, encoding="utf-8")
    return path


def test_a_lot_is_compared_with_the_one_that_is_named(run, two):
    done = run("compare", two, "--reference", "J-25", "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)["results"][0]
    assert (found["reference"], found["reference_setting"], found["adjustment"]) == ("J-25", 38, "none")
    row = found["lots"][1]
    assert (row["lot"], row["ratio"]) == ("K-26", pytest.approx(1.18, abs=0.02))
    # the output of J-25 at 38: 2 x 34 = 2 x 1.18 (x - 4), x = 32.8, give or take the scatter of 1 %
    assert 32 <= row["setting"] <= 33.5


@pytest.fixture
def last_year(tmp_path):
    """K-26 in this season's log, and in the log of the last with a quarter less seed."""
    for name, season, factor in (("old.csv", 2025, 0.75), ("trials.csv", 2026, 1.0)):
        lots = rows("K-26", factor, (30, 38, 38, 46), season) + rows("J-25", 1.1, (30, 38, 38, 46), 2025)
        (tmp_path / name).write_text(HEADER + lots, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("by_box", [[], ["--box", "small"]])
@pytest.mark.parametrize(("asked", "season"), [("K-26", "2026"), ("K-26 (2025)", "2025")])
def test_a_lot_of_two_seasons_is_compared_season_by_season(run, last_year, by_box, asked, season):
    done = run("compare", last_year, "--history", last_year / "old.csv", "--reference", asked, *by_box, "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)["results"][0]
    assert (found["reference"], found["reference_season"]) == ("K-26", season)
    assert [(row["name"], row["lot"], row["season"]) for row in found["lots"]] == [
        *(("J-25", "J-25", None), ("K-26 (2025)", "K-26", "2025"), ("K-26 (2026)", "K-26", "2026")),
    ]
    (seasons,) = found["lots_in_seasons"]
    assert (seasons["pooled"], seasons["change"]["since"]) == (False, "2025")
    # 1 / 0.75, the factors that the logs were made with; their scatter cancels
    assert seasons["change"]["ratio"] == pytest.approx(4 / 3, rel=1e-3)


def test_a_season_that_a_lot_does_not_have_is_no_reference(run, last_year):
    done = run("compare", last_year, "--history", last_year / "old.csv", "--reference", "K-26 (2024)")
    assert (done.returncode, done.stdout) == (1, "")
    assert "No box has a lot 'K-26 (2024)'" in " ".join(done.stderr.split())


def test_every_box_of_the_sample_job_is_compared(run, job):
    done = run("compare", job / "trials.csv")
    assert done.returncode == 0, done.stderr
    assert [line.split(":")[0] for line in done.stdout.splitlines() if line.startswith("BOX")] == [
        "BOX chaffy",
        "BOX grain",
        "BOX small",
    ]
    assert " ".join(done.stdout.split()).endswith(cautions.SHORT)


def test_json_is_plain_and_has_the_same_figures_as_the_library(run, job):
    from predictor import compare_lots, read_drill, read_trials

    done = run("compare", job / "trials.csv", "--json")
    result = json.loads(done.stdout)
    assert result["schema"] == 2
    assert "NaN" not in done.stdout
    assert "Infinity" not in done.stdout
    trials = read_trials(job / "trials.csv", read_drill(job / "drill.toml"))
    for each in result["results"]:
        assert each == json.loads(json.dumps(compare_lots(trials, each["box"]).to_dict()))


def test_one_box_and_a_reference_may_be_asked_for(run, job):
    found = json.loads(run("compare", job / "trials.csv", "--reference", "CW-24", "--json").stdout)["results"]
    assert [(each["box"], each["reference"]) for each in found] == [("grain", "CW-24")]
    found = json.loads(run("compare", job / "trials.csv", "--box", "SMALL", "--json").stdout)["results"]
    assert [each["box"] for each in found] == ["small"]


def test_trials_may_come_from_standard_input_and_without_a_drill(run):
    done = run("compare", "-", "--json", stdin=TWO)
    assert done.returncode == 0, done.stderr
    lots = json.loads(done.stdout)["results"][0]["lots"]
    assert lots[1]["ratio"] == pytest.approx(1.18, rel=0.001)


def test_the_tests_and_the_seasons_are_told_with_details(run, job):
    plain, whole = (run("compare", job, *more).stdout for more in ([], ["--details"]))
    assert len(plain.splitlines()) <= 30  # of 76 before
    for words in ("(Dunnett)", "A new lot may flow", "Repeatability in these catches"):
        assert words in whole
        assert words not in plain


@pytest.mark.parametrize("columns", [40, 80, 100])
def test_lines_fit_the_terminal(run, job, tmp_path, columns):
    many = tmp_path / "many.csv"
    text = "".join(
        rows(f"a lot of a rather long name {k}", 1 + 0.02 * k, (20, 30, 40), 2024 + k % 2) for k in range(30)
    )
    many.write_text(HEADER + text, encoding="utf-8")
    for path in (job / "trials.csv", many):
        done = run("compare", path, columns=columns)
        assert done.returncode == 0, done.stderr
        assert max(map(len, done.stdout.splitlines())) <= columns


def test_of_many_lots_the_table_lists_forty_and_says_how_many_more(run, tmp_path):
    many = tmp_path / "many.csv"
    text = "".join(rows(f"L{k}", 1 + 0.002 * k, (20, 30, 40), 2024) for k in range(60))
    many.write_text(HEADER + text, encoding="utf-8")
    done = run("compare", many)
    assert len(re.findall(r"^  L\d+ +START NEAR \d", done.stdout, re.MULTILINE)) == 40
    assert "20 more lots not shown; --json lists all." in done.stdout
    found = json.loads(run("compare", many, "--json").stdout)["results"][0]
    assert (len(found["lots"]), found["adjustment"]) == (60, "Dunnett")


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_a_plot_is_written_where_asked(run, two, tmp_path, kind):
    picture = tmp_path / f"lots.{kind}"
    done = run("compare", two, "--plot", picture)
    assert done.returncode == 0, done.stderr
    assert f"Written: {picture}" in done.stderr
    data = picture.read_bytes()
    assert data.startswith(b"\x89PNG" if kind == "png" else b"<?xml")
    if kind == "svg":
        for word in (b"K-26", b"J-25", b"a new lot", b"Where to start with each lot"):
            assert word in data


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--box", "big"], 1, "no box 'big'"),
        (["--reference", "nobody"], 1, "No box has a lot 'nobody'"),
        (["--box", "small", "--reference", "K-25"], 1, "Did you mean"),
        (["--level", "95"], 2, "0.95"),
        (["--plot", "lots.pdf"], 2, "png"),
        (["--drill", "none.toml"], 1, "none.toml"),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence_and_an_exit_code(run, two, arguments, code, words):
    done = run("compare", two, *arguments)
    assert (done.returncode, done.stdout) == (code, "")
    assert words in " ".join(done.stderr.split())
    assert "Traceback" not in done.stderr


def test_a_file_of_no_catches_says_so(run, tmp_path):
    empty = tmp_path / "empty.csv"
    empty.write_text(HEADER, encoding="utf-8")
    done = run("compare", empty)
    assert done.returncode == 1
    assert done.stdout == ""
    assert done.stderr.strip().endswith(".")


def test_last_seasons_log_is_added_by_history(run, job):
    lines = (job / "trials.csv").read_text(encoding="utf-8").splitlines()
    head = next(k for k, line in enumerate(lines) if not line.startswith("#"))
    for name, season in (("old.csv", "2025"), ("new.csv", "2026")):
        rows = [line for line in lines[head + 1 :] if line.startswith(season)]
        (job / name).write_text("\n".join([lines[head], *rows]) + "\n", encoding="utf-8")
    whole = json.loads(run("compare", job / "trials.csv", "--json").stdout)
    parts = json.loads(run("compare", job / "new.csv", "--history", job / "old.csv", "--json").stdout)
    for one, other in zip(whole["results"], parts["results"], strict=True):
        assert [lot["ratio"] for lot in one["lots"]] == pytest.approx([lot["ratio"] for lot in other["lots"]])


def test_a_lock_on_catches_of_years_ago_is_said(run, job):
    text = (job / "trials.csv").read_text(encoding="utf-8").replace("2026-11", "2021-11").replace(",2026,", ",2021,")
    (job / "trials.csv").write_text(text, encoding="utf-8")
    done = run("recommend", job / "trials.csv", "--box", "grain")
    assert "LOCK AT 17" in done.stdout
    assert "The last catch is of 2021-11-16." in done.stdout
