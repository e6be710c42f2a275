"""A finding that waits stands in front of a lock wherever the advice is shown, and what a person confirmed is kept."""

import csv
import json

import pytest

import predictor
from predictor.advice.ranges import table_after
from predictor.files.evidence import evidence_cell, read_evidence
from predictor.job.plant import evidence_of, questions
from tests import golden
from tests.running import TODAY
from tests.slips.waiting import SENTENCE, found

# The last catch of box chaffy in the sample job, which is locked at 4.
LINE = 18
SAID = SENTENCE.format(line=LINE, grams=52.2)


def read(job):
    return predictor.read_job(job, today=TODAY)


def chaffy(job):
    (stage,) = read(job).stages("chaffy", "tall mix")
    return stage


def confirm(job):
    """Add the column confirmed, with yes in the line of the finding."""
    path = job / "trials.csv"
    rows = path.read_text().splitlines()
    header = next(i for i, row in enumerate(rows) if row.startswith("date,"))
    for i in range(header, len(rows)):
        rows[i] += ",confirmed" if i == header else ",yes" if i + 1 == LINE else ","
    path.write_text("\n".join(rows) + "\n")


def test_a_finding_that_waits_takes_the_place_of_a_lock(job):
    assert str(chaffy(job).headline) == "LOCK AT 4"
    with found("chaffy", LINE):
        stage = chaffy(job)
    assert (stage.advice.decision, stage.advice.otherwise, stage.reached) == ("recheck", "lock", "testing")
    assert stage.advice.waiting is stage.advice.slips[0]
    assert stage.advice.why.code == "slips.made-up"
    assert str(stage.headline) == "CHECK THE LOG FIRST"


def test_a_finding_that_does_not_wait_leaves_the_lock(job):
    with found("chaffy", LINE, waits=False):
        stage = chaffy(job)
    assert (stage.advice.decision, stage.advice.otherwise, stage.advice.waiting) == ("lock", None, None)
    assert [each.lines for each in stage.advice.slips] == [(LINE,)]


def test_what_a_person_stands_by_is_locked(job):
    confirm(job)
    with found("chaffy", LINE):
        stage = chaffy(job)
    assert (stage.advice.decision, stage.advice.slips) == ("lock", ())


def test_an_offered_lock_and_an_end_out_of_reach_wait_too(job):
    from predictor.advice.decision import Action, waiting
    from predictor.domain.result import Remark
    from predictor.slips.finding import Finding

    slip = Finding("made-up", "b", "a", (3,), 0.5, True, {})
    why = Remark("advice.thin")
    for decision, offers, otherwise in (
        ("unreachable", False, "unreachable"),
        ("repeat", True, "offer"),
        ("lock", False, "lock"),
    ):
        held = waiting(Action(decision, why, None, 0.6, None, offers_lock=offers), (slip,))
        assert (held.decision, held.otherwise, held.offers_lock, held.why) == ("recheck", otherwise, False, slip.remark)
    for decision in ("move", "repeat", "lengthen", "recheck"):
        on = Action(decision, why, None, 0.6, None)
        assert waiting(on, (slip,)) is on


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("width", [40, 80])
def test_recommend_says_what_to_look_at_before_the_lock(run, job, width, units):
    with found("chaffy", LINE):
        done = run("recommend", job, "--units", units, columns=width)
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= width
    golden.check(f"check-the-log-{width}-{units}", done.stdout + done.stderr.replace(str(job), "myjob"))


def test_a_finding_that_does_not_wait_is_a_line_below(run, job):
    with found("chaffy", LINE, waits=False):
        done = run("recommend", job)
    words = " ".join(done.stdout.split())
    assert "chaffy tall mix LOCK AT 4 98 in 100" in words
    assert f"Look at: {SAID}" in words


def test_every_command_sends_to_the_log_first(run, job):
    with found("chaffy", LINE):
        for command in ("recommend", "card", "plan", "report"):
            done = run(command, job)
            assert done.returncode == 0, done.stderr
            assert done.stderr.splitlines()[-1].endswith(f"record {job} --confirm {LINE}"), command
        step = json.loads(run("plan", job, "--json").stdout)["next"]
        assert (step["step"], step["boxes"]) == ("check_log", ["chaffy"])


def test_no_card_says_lock_while_a_finding_waits(run, job):
    with found("chaffy", LINE):
        assert run("card", job, "--out", job / "card.html").returncode == 0
        card = golden.words((job / "card.html").read_text(encoding="utf-8"))
        assert run("card", job, "--decision", "--box", "chaffy", "--out", job / "next.html").returncode == 0
        ahead = golden.words((job / "next.html").read_text(encoding="utf-8"))
    for page in (card, ahead):
        assert "CHECK THE LOG FIRST" in page
        assert SAID in page
        assert "LOCK AT" not in page


def test_the_loading_sheet_says_first_to_look_at_the_log(run, job):
    with found("chaffy", LINE):
        done = run("load", job, "--area-ac", "14", "--out", job / "load.html")
    assert done.returncode == 0, done.stderr
    page = golden.words((job / "load.html").read_text(encoding="utf-8"))
    assert page.index(f"CHECK THE LOG FIRST. {SAID}") < page.index("Loads for 14 ac")
    assert SAID in " ".join(done.stderr.split())


def test_no_weight_of_the_next_catch_locks_while_a_finding_waits(job):
    """Box small has a catch to come; those of its ranges that would lock say to look at the log."""
    (task,) = read(job).tasks("small", "forb mix")
    free = table_after(read(job).advice(task))
    with found("small", 44):
        advice = read(job).advice(task)
        held = table_after(advice)
    assert (advice.decision, advice.waiting) == ("move", None)
    assert "lock" in {each.decision for each in free.ranges}
    assert "lock" not in {each.decision for each in held.ranges}
    of_free = {each.low_g for each in free.ranges if each.decision == "lock"}
    assert of_free <= {each.low_g for each in held.ranges if each.why.code == "slips.made-up"}


def test_a_box_whose_log_has_to_be_checked_is_asked_about_before_it_is_planted(run, job):
    line = ("plant", job, "--box", "chaffy", "--setting", "4", "--area-ac", "3", "--on", str(TODAY))
    with found("chaffy", LINE):
        asked = run(*line, stdin="n\n")
        assert asked.returncode == 1
        assert SAID in " ".join(asked.stderr.split())
        assert run(*line, "--yes").returncode == 0
    (planted,) = [each for each in read(job).planted.lines if each.box.name == "chaffy"]
    assert planted.evidence.slips == (SAID,)
    assert "Not settled then" in run("report", job, "--out", job / "r.html").stderr + golden.words(
        (job / "r.html").read_text(encoding="utf-8")
    )


def test_the_record_names_the_lines_that_a_person_stands_by(run, job):
    confirm(job)
    with found("chaffy", LINE):
        assert run("report", job, "--out", job / "r.html", "--csv", job / "r.csv").returncode == 0
    words = golden.words((job / "r.html").read_text(encoding="utf-8"))
    assert f"Someone was asked about line {LINE} of the log, and stands by it." in words
    assert "used; confirmed" in words
    rows = list(csv.DictReader((job / "r.csv").read_text(encoding="utf-8").splitlines()))
    assert {row["log_lines_confirmed"] for row in rows if row["box"] == "chaffy"} == {str(LINE)}
    assert all(row["log_taken_as_given"] for row in rows)


def test_evidence_written_before_slips_were_kept_is_still_read(job):
    """Cells of earlier versions have neither slips nor what was taken as given."""
    found_job = read(job)
    box = found_job.drill.box("chaffy")
    setting = box.control.find("4")
    evidence = evidence_of(found_job, box, "tall mix", setting)
    cell = evidence_cell(evidence, setting, "chaffy", "tall mix")
    assert read_evidence(cell, setting, box, "tall mix") == evidence
    from predictor.files.evidence import _check

    values = json.loads(cell)
    for name in ("slips", "given", "confirmed", "check"):
        del values[name]
    body = json.dumps(values, separators=(",", ":"))[:-1]
    before = read_evidence(f'{body},"check":"{_check(body)}"}}', setting, box, "tall mix")
    assert (before.slips, before.given, before.confirmed) == ((), "", ())


def test_a_setting_that_a_field_check_left_stays_whatever_the_log_says(job):
    """Box grain was checked in the field and left there: the seed that went out does not depend on the log."""
    line = 33
    with found("grain", line):
        (stage,) = read(job).stages("grain", "CW-26")
        assert str(stage.headline) == "LEAVE IT AT 17"
        assert stage.advice.waiting.lines == (line,)
        assert not questions(read(job), _line(read(job), "grain", "17"))


def _line(job, box, setting):
    from predictor.domain.planted import PlantedLine

    seed_box = job.drill.box(box)
    at, evidence = seed_box.control.find(setting), evidence_of(job, seed_box, "CW-26", seed_box.control.find(setting))
    nan = float("nan")
    return PlantedLine(str(TODAY), "", seed_box, "CW-26", at, 10_000.0, nan, nan, "", "", True, evidence, 0)
