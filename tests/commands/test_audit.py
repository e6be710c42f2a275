"""predictor audit: one verdict a lot, every figure with --details, and a sentence where there are too few catches."""

import json

import pytest

from tests import golden
from tests.conftest import SAMPLE

HEAD = "date,season,box,lot,setting,turns,rows,catch_g,charged,use\n"


def with_rows(job, *rows):
    (job / "trials.csv").write_text(HEAD + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return job


def row(setting, grams, lot="A", day=1, season="2026"):
    return f"2026-11-{day:02d},{season},small,{lot},{setting},28,3,{grams},yes,yes"


def test_each_lot_has_a_verdict_and_the_second_opinion_agrees(run):
    done = run("audit", SAMPLE, "--json")
    assert done.returncode == 0
    found = json.loads(done.stdout)
    assert found["schema"] == 1
    assert [(each["box"], each["lot"]) for each in found["results"]][-1] == ("small", "forb mix")
    with_line = [each for each in found["results"] if each["line"]]
    assert len(with_line) == 8
    for each in with_line:
        least = next(opinion for opinion in each["opinions"] if opinion["method"] == "wls")
        assert least["digits"] > 9
        assert each["verdict"].startswith("The second opinion agrees")
    assert [each["box"] for each in found["boxes"]] == ["chaffy", "grain", "small"]
    assert all({opinion["method"] for opinion in each["opinions"]} == {"ols", "mixed"} for each in found["boxes"])


@pytest.mark.parametrize("columns", [40, 60, 80, 120])
def test_it_fits_the_terminal(columns, run):
    done = run("audit", SAMPLE, "--details", columns=columns)
    assert done.returncode == 0
    assert max(map(len, done.stdout.splitlines())) <= columns


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        (["2026-11-01,2026,small,A,14,28,3,0,yes,yes"], "0 catches count"),
        ([row(14, 23.1)], "1 catch counts"),
        ([row(14, 23.1), row(20, 33.0)], "2 catches count"),
        ([row(14, 23.1), row(14, 23.3), row(14, 23.0)], "All 3 catches are at setting 14"),
    ],
)
def test_too_few_catches_are_said_in_a_sentence(rows, code, job, run):
    (job / "field.csv").unlink()
    done = run("audit", with_rows(job, *rows))
    assert (done.returncode, code in done.stdout) == (0, True), done.stdout + done.stderr
    assert "Traceback" not in done.stderr


def test_without_any_scatter_nothing_is_tested(job, run):
    done = run("audit", with_rows(job, *(row(x, 2 * x, day=x) for x in (10, 12, 14, 16, 18))), "--json")
    assert done.returncode == 0
    (found,) = json.loads(done.stdout)["results"]
    assert not found["checks"]
    assert found["verdict"].startswith("The second opinion agrees")
    assert "The catches do not scatter about the line, so nothing can be tested." in found["remarks"]


def test_the_seasons_of_a_lot_are_tested_once_with_its_last(job, run):
    """Twice as much in the second season is seen beside that season, and not counted again beside the first."""
    rows = [
        row(x, x * 1.5 * times + k % 3, day=k + 1, season=season).replace("2026-11", f"{season}-11")
        for season, times in (("2025", 1), ("2026", 2))
        for k, x in enumerate((10, 14, 18, 10, 18))
    ]
    first, last = json.loads(run("audit", with_rows(job, *rows), "--json").stdout)["results"]
    tested = [next(each for each in lot["checks"] if each["name"] == "season") for lot in (first, last)]
    assert (first["season"], tested[0]["p"]) == ("2025", None)
    assert (last["season"], tested[1]["catches"]) == ("2026", 10)
    assert tested[1]["p"] < 1e-4


def test_of_many_lots_the_last_are_shown_and_others_can_be_named(job, run):
    rows = [
        row(x, x * 1.5 + k % 3, f"L{n:03d}", season=str(1990 + n // 10))
        for n in range(300)
        for k, x in enumerate((10, 14, 18))
    ]
    with_rows(job, *rows)
    found = json.loads(run("audit", job, "--json").stdout)
    assert (len(found["results"]), found["all_lots"]) == (12, 300)
    assert found["boxes"][0]["all_lots"] == 300
    assert found["boxes"][0]["lots"] == 30
    named = json.loads(run("audit", job, "--lot", "l007", "--json").stdout)
    assert [each["lot"] for each in named["results"]] == ["L007"]


def test_the_page_has_every_lot_its_verdict_and_its_pictures(tmp_path, run):
    done = run("audit", SAMPLE, "--box", "grain", "--out", tmp_path / "a.html", "--plot", tmp_path / "a.svg")
    assert done.returncode == 0, done.stderr
    page = golden.words((tmp_path / "a.html").read_text(encoding="utf-8"))
    for verdict in ("setting 18.0 against 18.0", "setting 15.0 against 15.0", "setting 16.7 against 16.7"):
        assert verdict in page
        assert verdict in done.stdout
    assert (tmp_path / "a.html").read_text(encoding="utf-8").count("<svg") == 3
    picture = (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert "grain, VW-25, 2025" in picture


def test_a_log_is_read_from_standard_input(run):
    text = (SAMPLE / "trials.csv").read_text(encoding="utf-8")
    done = run("audit", "-", "--box", "small", "--json", cwd=SAMPLE, stdin=text)
    assert json.loads(done.stdout)["all_lots"] == 3


def test_no_such_lot_is_a_sentence(run):
    done = run("audit", SAMPLE, "--lot", "none such")
    assert done.returncode == 1
    assert "none such" in done.stderr
