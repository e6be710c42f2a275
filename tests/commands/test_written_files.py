"""Files that commands write: only where asked, and never over a file of a job."""

import json

import pytest

from predictor import InputError
from predictor.commands.output import write
from tests import golden


def test_what_is_not_written_and_why(run, job):
    """The words of refusals; nothing is written by any of them."""
    job.parent.joinpath("myjob").symlink_to(job)
    (job / "other.csv").write_bytes((job / "plan.csv").read_bytes())
    (job / "link.html").symlink_to("drill.toml")
    before = {path: path.read_bytes() for path in job.iterdir() if path.is_file()}
    card, report = ("card", "myjob/trials.csv"), ("report", "--job", "myjob")
    said = []
    for arguments in (
        (*card, "--out", "myjob/none/card.html"),
        (*card, "--out", "myjob/link.html"),
        ("card", "myjob/north-2027.csv", "--out", "myjob/a.html"),
        (*report, "--csv", "myjob/plan.csv"),
        (*report, "--plan", "myjob/other.csv", "--csv", "myjob/other.csv"),
    ):
        done = run(*arguments, cwd=job.parent)
        assert done.returncode == 1
        said.append(golden.session_text(done, *arguments))
    golden.check("refused-writing", "\n".join(said))
    assert {path: path.read_bytes() for path in job.iterdir() if path.is_file()} == before


def test_a_page_is_never_written_over_a_file_of_the_job(run, job):
    before = {path.name: path.read_bytes() for path in job.iterdir() if path.is_file()}
    for arguments in (
        ("card", job / "trials.csv", "--out", job / "trials.csv"),
        ("card", job / "trials.csv", "--pdf", job / "plan.csv"),
        ("report", "--job", job, "--csv", job / "plan.csv"),
        ("report", "--job", job, "--out", job / "drill.toml"),
    ):
        assert run(*arguments).returncode in (1, 2)
    assert {path.name: path.read_bytes() for path in job.iterdir() if path.is_file()} == before


@pytest.mark.slow
def test_without_a_name_a_page_goes_to_its_usual_place(run, job):
    for command, place in (
        (("card", job / "trials.csv"), "card.html"),
        (("card", job / "trials.csv", "--decision"), "decision.html"),
        (("report", "--job", job), "reports/made-up-shed-drill.html"),
    ):
        assert run(*command).returncode == 0
        assert (job / place).read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_log_with_a_header_alone_is_a_job_without_catches(run, job):
    (job / "trials.csv").write_text("box,lot,setting,catch_g\n")
    (job / "field.csv").unlink()
    for command in (("card", job / "trials.csv"), ("report", "--job", job), ("plan", "--job", job)):
        assert run(*command).returncode == 0


@pytest.mark.parametrize("name", ["drill.toml", "plan.csv", "trials.csv", "field.csv", "read.csv", "log.csv"])
def test_no_file_of_a_job_nor_one_that_was_read_is_written_over(job, name):
    (job / "read.csv").write_text("anything\n")
    (job / "log.csv").write_bytes((job / "trials.csv").read_bytes())
    (job / "link.html").symlink_to(name)
    (job / "link.csv").symlink_to(name)
    before = (job / name).read_bytes()
    for path in (job / name, job / "link.html", job / "link.csv"):
        with pytest.raises(InputError):
            write(path, b"page", read=[job / "read.csv", None])
    assert (job / name).read_bytes() == before


def test_a_table_of_our_own_may_be_written_again(run, job):
    for _ in range(2):
        assert run("report", "--job", job, "--csv", job / "settings.csv").returncode == 0


@pytest.mark.slow
def test_json_is_the_same_whatever_the_terminal_can_show(run, run_program, job):
    log = job / "u.csv"
    log.write_text("box,lot,setting,catch_g\nsmall,лот-А,14,22\nsmall,лот-Б,15,26\n", encoding="utf-8")
    whole = run("compare", log, "--json").stdout
    narrow = run_program("compare", log, "--json", PYTHONIOENCODING="cp1252").stdout
    assert whole == narrow
    assert json.loads(narrow)["results"][0]["lots"][0]["lot"] == "лот-А"


@pytest.mark.slow
def test_seed_tests_of_a_report_are_as_old_as_the_day_of_planting_makes_them(run, job):
    """A report made years later is the same; one of a later planting names the tests that were too old."""

    def named(day):
        assert run("report", "--job", job, "--on", day, "--out", job / "r.html").returncode == 0
        page = golden.words((job / "r.html").read_text(encoding="utf-8"))
        return [line for line in page.splitlines() if line.startswith("Lot CW-26") and "2026-09-02" in line]

    assert (len(named("2026-11-25")), len(named("2027-07-01"))) == (0, 1)
