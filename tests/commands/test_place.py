"""A job is named by its folder or by any file in it, for every command alike."""

import json
import shutil

import pytest

# What each command prints of the sample job; `report` writes a file instead, so its table is read.
COMMANDS = {
    "plan": ("--json",),
    "recommend": ("--json",),
    "compare": ("--json",),
    "check": ("--json",),
    "card": ("--json",),
    "report": ("--csv",),
}


def shown(run, name, place, cwd, *more):
    """What a command says of a job: its JSON, or the table of the report."""
    options, table = COMMANDS[name], cwd / "settings-of-it.csv"
    if name != "report":
        done = run(name, *place, *options, *more, cwd=cwd)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)
    done = run(name, *place, *options, table, *more, cwd=cwd)
    assert done.returncode == 0, done.stderr
    return table.read_text()


@pytest.mark.parametrize("name", COMMANDS)
def test_folder_file_and_current_folder_are_the_same_job(run, job, name):
    usual = shown(run, name, [], job)
    for file in ("", "drill.toml", "plan.csv", "trials.csv", "field.csv"):
        assert shown(run, name, [job.name + "/" + file], job.parent) == usual, file


@pytest.mark.parametrize("name", ["plan", "report"])
def test_the_option_for_scripts_names_the_same_job_and_only_one_may_be_named(run, job, name):
    assert shown(run, name, ["--job", job.name], job.parent) == shown(run, name, [job.name], job.parent)
    done = run(name, job.name, "--job", job.name, cwd=job.parent)
    assert (done.returncode, done.stdout) == (2, "")
    assert "--job" in done.stderr


@pytest.mark.parametrize("name", ["recommend", "card", "compare", "report"])
def test_a_log_of_another_name_is_read_with_the_job_beside_it(run, job, name):
    usual = shown(run, name, [job], job)
    (job / "trials.csv").rename(job / "spring.csv")
    assert shown(run, name, [job / "spring.csv"], job) == usual


def test_a_plan_and_checks_of_another_name_are_read_by_their_commands(run, job):
    for name, file in (("plan", "plan.csv"), ("check", "field.csv")):
        usual = shown(run, name, [job], job)
        shutil.copy(job / file, job / "other.csv")
        (job / file).rename(job / "away.txt")
        assert shown(run, name, [job / "other.csv"], job) == usual
        (job / "away.txt").rename(job / file)


def test_a_catch_goes_into_the_log_of_the_folder_whatever_names_it(run, job):
    catch = ("--box", "small", "--lot", "forb mix", "--setting", "14", "--catch", "23.6", "--yes")
    before = (job / "trials.csv").read_text().count("\n")
    for count, place in enumerate((".", "plan.csv", "trials.csv"), 1):
        assert run("record", place, *catch, cwd=job).returncode == 0
        assert (job / "trials.csv").read_text().count("\n") == before + count
    assert run("record", "spring.csv", *catch, cwd=job).returncode == 0
    assert "23.6" in (job / "spring.csv").read_text()


def test_next_commands_do_not_name_the_current_folder(run, job):
    assert "\n  predictor record\n" in run("recommend", cwd=job).stderr
