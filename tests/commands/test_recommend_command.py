"""predictor recommend, as a user runs it."""

import json

import pytest

from predictor.format import weight, weights


def test_the_sample_job_is_answered_on_one_screen_with_the_answers_first(run, job):
    done = run("recommend", job / "trials.csv")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert len(lines) <= 24
    results = json.loads(run("recommend", job / "trials.csv", "--json").stdout)["results"]
    for line, each in zip(lines, results, strict=False):
        headline = each["stage"]["headline"].partition(",")[0]
        assert " ".join(line.split()).startswith(f"{each['box']} {each['lot']} {headline} ")
    assert lines[3].split(":")[0].strip() == "then catch"


def test_what_only_a_statistician_needs_is_shown_with_details(run, job):
    usual, details = (run("recommend", job, *more).stdout for more in ([], ["--details"]))
    for words in ("deal setting", "epeatability", "curve: "):
        assert words not in usual
        assert words in details
    assert set(usual.splitlines()) < set(details.splitlines())


def test_recommend_makes_each_fit_once(run, job, monkeypatch):
    """Three boxes with field checks: the lots in hand, without a catch that may be odd, and no fit twice.

    Each check for slips that sees a reason to look fits a lot with something changed: two or three fits a lot.
    """
    from predictor.advice import setup as lot_setup

    made = []
    fit = lot_setup.fit_curve

    def counted(settings, outputs, **options):
        made.append((tuple(settings), tuple(outputs)))
        return fit(settings, outputs, **options)

    monkeypatch.setattr(lot_setup, "fit_curve", counted)
    assert run("recommend", job / "trials.csv").returncode == 0
    assert len(made) == len(set(made)) <= 20


@pytest.mark.slow
def test_a_longer_catch_has_one_weight_wherever_it_is_shown(run, job):
    """Six catches of one setting that scatter by 12 % ask for a longer one; all that is shown is about that one."""
    caught = (25.3, 20.4, 26.9, 21.0, 22.3, 25.8)  # invented
    rows = "".join(f"small,forb mix,14,{each}\n" for each in caught)
    (job / "trials.csv").write_text("box,lot,setting,catch_g\n" + rows)
    (job / "field.csv").unlink()
    only = ("--box", "small", "--tolerance", "3%")
    (result,) = json.loads(run("recommend", job / "trials.csv", *only, "--json").stdout)["results"]
    assert result["decision"] == "lengthen"
    turns, target = result["next_catch"]["turns"], result["target"]["catch_g"]
    assert turns > 28
    assert target == pytest.approx(result["expected"]["catch_g"], rel=0.2)
    low, high = result["expected"]["next_catch_interval_g"]
    assert low < target < high
    size = f"{turns:g} turns, 3 rows"
    said = " ".join(run("recommend", job / "trials.csv", *only).stdout.split())
    assert f"then larger catches: {size}, {weight(target)} g; {weights(low, high, 0.1)[:-2]} is usual" in said
    run("card", job / "trials.csv", *only, "--out", job / "card.html")
    card = (job / "card.html").read_text(encoding="utf-8")
    assert f"{weight(target)} g</p><p>{weights(0.97 * target, 1.03 * target, 0.1)} in {size}" in card
    done = run("card", job / "trials.csv", *only, "--decision", "--out", job / "next.html", "--json")
    table = json.loads(done.stdout)["tables"][0]
    assert (table["turns"], table["rows"]) == (turns, 3)
    assert table["target_g"] == pytest.approx(target)
    text = (job / "next.html").read_text(encoding="utf-8")
    assert f"catch at {table['setting']:g}. {size}" in text
    assert f"Target {weight(target)} g" in text


def test_json_is_the_contract(run, job):
    done = run("recommend", job / "trials.csv", "--json")
    result = json.loads(done.stdout)
    assert result["schema"] == 1
    assert [each["box"] for each in result["results"]] == ["chaffy", "grain", "small"]
    assert isinstance(result["results"][0]["setting"], str)
    assert isinstance(result["results"][1]["setting"], float)
    assert "NaN" not in done.stdout
    assert "Infinity" not in done.stdout


def test_history_is_used_unless_told_otherwise(run, job):
    with_history = json.loads(run("recommend", job / "trials.csv", "--json").stdout)["results"]
    without = json.loads(run("recommend", job / "trials.csv", "--json", "--no-history").stdout)["results"]
    assert all("earlier lots" in each["history"] for each in with_history)
    assert all(each["history"] == "" for each in without)


def test_history_may_come_from_another_file(run, job):
    rows = (job / "trials.csv").read_text().splitlines()
    old = [row for row in rows if row.startswith("2025")]
    new = [row for row in rows if not row.startswith("2025")]
    (job / "old.csv").write_text("\n".join([rows[1], *old]) + "\n")
    (job / "new.csv").write_text("\n".join(new) + "\n")
    apart = json.loads(run("recommend", job / "new.csv", "--history", job / "old.csv", "--json").stdout)
    together = json.loads(run("recommend", job / "trials.csv", "--json").stdout)
    assert [each["setting"] for each in apart["results"]] == [each["setting"] for each in together["results"]]
    assert [each["history"] for each in apart["results"]] == [each["history"] for each in together["results"]]


def test_a_planned_lot_without_catches_gets_a_first_setting_from_history(run, job):
    text = (job / "trials.csv").read_text()
    kept = [row for row in text.splitlines() if not row.startswith("2026") or ",chaffy," in row]
    (job / "trials.csv").write_text("\n".join(kept) + "\n")
    results = json.loads(run("recommend", job / "trials.csv", "--json", "--box", "grain").stdout)["results"]
    planned = next(each for each in results if each["lot"] == "CW-26")
    assert planned["decision"] == "move"
    assert planned["catches_used"] == 0
    assert 13 < planned["setting"] < 22


def test_target_may_be_named_on_the_line_or_in_a_column(run, job):
    (job / "plan.csv").unlink()
    done = run("recommend", job / "trials.csv")
    assert done.returncode == 1
    assert "No box has a target" in done.stderr
    done = run("recommend", job / "trials.csv", "--box", "small", "--target-g", "24", "--json")
    result = json.loads(done.stdout)["results"]
    assert len(result) == 1
    assert result[0]["target"]["catch_g"] == pytest.approx(24)
    (job / "t.csv").write_text("box,lot,setting,catch_g,target_g\nsmall,A,15,22,24\nsmall,A,16,24.1,24\n")
    assert json.loads(run("recommend", job / "t.csv", "--json").stdout)["results"][0]["target"][
        "catch_g"
    ] == pytest.approx(24)


def test_trials_may_come_from_standard_input(run, job):
    text = (job / "trials.csv").read_text()
    done = run("recommend", "-", "--drill", job / "drill.toml", "--plan", job / "plan.csv", stdin=text)
    assert done.returncode == 0, done.stderr
    answers = done.stdout.partition("\n\n")[0].splitlines()
    assert [line.split()[0] for line in answers if not line.startswith("    ")] == ["chaffy", "grain", "small"]


def test_metric_is_shown_where_asked_for(run, job):
    assert "kg/ha" in run("recommend", job / "trials.csv", "--units", "metric").stdout
    assert "lb/ac" in run("recommend", job / "trials.csv").stdout


def test_narrow_terminals_get_narrow_lines(run, job):
    done = run("recommend", job / "trials.csv", columns=40)
    assert max(map(len, done.stdout.splitlines())) <= 40


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_a_plot_is_written_where_asked(run, job, kind):
    path = job / f"plot.{kind}"
    done = run("recommend", job / "trials.csv", "--plot", path)
    assert done.returncode == 0, done.stderr
    first = path.read_bytes()
    assert len(first) > 10_000
    if kind == "svg":
        assert b"tall mix" in first
        run("recommend", job / "trials.csv", "--plot", path)
        assert path.read_bytes() == first


WRONG = [
    (["recommend", "{job}/nothing.csv"], 1, "There is no such file"),
    (["recommend", "{job}/trails.csv"], 1, "Did you mean"),
    (["recommend", "{job}/trials.csv", "--tolerance", "nan"], 2, "nan"),
    (["recommend", "{job}/trials.csv", "--tolerance", "10"], 2, "Write 0.1, or 10%"),
    (["recommend", "{job}/trials.csv", "--confidence", "0.2"], 2, "0.2"),
    (["recommend", "{job}/trials.csv", "--target-g", "12 g"], 2, "Write the number alone"),
    (["recommend", "{job}/trials.csv", "--plot", "x.pdf"], 2, ".png or .svg"),
    (["recommend", "{job}/trials.csv", "--plot", "{job}/no/x.png"], 1, "cannot be written"),
    (["recommend", "{job}/trials.csv", "--units", "stone"], 2, "us, metric"),
    (["recommend", "{job}/trials.csv", "--viable", "alive"], 2, "germination, hard, total"),
    (["recommend", "{job}/trials.csv", "--box", "none"], 1, "none"),
    (["recommend", "{job}", "{job}"], 2, "unexpected extra argument"),
    (["recommend", "{job}/none"], 1, "There is no folder"),
]


@pytest.mark.parametrize(("arguments", "code", "words"), WRONG)
def test_what_is_wrong_is_said_in_a_sentence_and_an_exit_code(run, job, arguments, code, words):
    done = run(*(each.format(job=job) for each in arguments))
    assert done.returncode == code
    assert words in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == "" or code == 1


def test_a_target_on_the_line_is_that_of_the_last_catch_and_of_one_box(run, job):
    (job / "t.csv").write_text("box,lot,setting,catch_g,turns,rows\nsmall,A,15,40,50,3\n")
    result = json.loads(run("recommend", job / "t.csv", "--box", "small", "--target-g", "40", "--json").stdout)[
        "results"
    ]
    named = next(each for each in result if each["lot"] == "A")
    assert named["target"]["catch_g"] == pytest.approx(40)
    refused = run("recommend", job / "t.csv", "--target-g", "40")
    assert refused.returncode == 2
    assert "--box" in refused.stderr


def test_lots_that_differ_in_capitals_are_each_answered(run, job):
    (job / "t.csv").write_text("box,lot,setting,catch_g,target_g\nsmall,SW-1,15,22,22\nsmall,sw-1,15,30,22\n")
    done = run("recommend", job / "t.csv", "--box", "small", "--json")
    assert [each["lot"] for each in json.loads(done.stdout)["results"]][:2] == ["SW-1", "sw-1"]
    assert "different lots" in done.stderr


def test_fractions_may_be_written_in_per_cent(run, job):
    a = run("recommend", job / "trials.csv", "--tolerance", "10%", "--confidence", "95%")
    assert a.stdout == run("recommend", job / "trials.csv").stdout


def test_catches_in_two_files_are_counted_once(run, job):
    once = run("recommend", job / "trials.csv", "--json")
    (job / "copy.csv").write_bytes((job / "trials.csv").read_bytes())
    twice = run("recommend", job / "trials.csv", "--history", job / "copy.csv", "--json")
    assert twice.stdout == once.stdout
    assert "counted once" in twice.stderr


def test_an_ideal_setting_off_the_scale_is_said_to_be_there(run, job):
    (job / "t.csv").write_text("box,lot,setting,catch_g,target_g\nsmall,A,40,20,60\nsmall,A,38,19,60\n")
    done = run("recommend", job / "t.csv", "--box", "small", "--no-history", "--details")
    assert "off the scale, beyond 40" in " ".join(done.stdout.split())


def test_without_a_log_it_says_how_one_is_begun(run, job):
    (job / "trials.csv").unlink()
    for place in (job, job / "trials.csv", job / "plan.csv"):
        done = run("recommend", place)
        assert done.returncode == 1
        assert f"predictor record {job}\n" in done.stderr
        assert "There is no catch yet" in done.stderr
    other = run("recommend", job / "spring.csv")
    assert f"predictor record {job / 'spring.csv'}\n" in other.stderr


@pytest.mark.slow
def test_a_closed_pipe_is_quiet(run_program, job):
    done = run_program("recommend", job / "trials.csv", "--no-field-factor", "--json", shell="| head -c 1")
    assert (done.stdout, done.stderr) == ("{", "")


@pytest.mark.slow
@pytest.mark.parametrize("redirection", [">&-", "2>&-", "<&-"])
def test_closed_streams_end_in_no_traceback(run_program, job, redirection):
    source = "-" if redirection == "<&-" else job / "trials.csv"
    done = run_program("recommend", source, "--drill", job / "drill.toml", shell=redirection)
    assert "Traceback" not in done.stderr
    assert "error of the program" not in done.stderr
    assert done.returncode == (1 if source == "-" else 0)
