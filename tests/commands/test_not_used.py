"""What a file holds and the program does not use is named, once, by every command that reads it."""

import pytest

COMMANDS = {
    "plan": ("plan", "--job", "{job}"),
    "recommend": ("recommend", "{job}/trials.csv"),
    "card": ("card", "{job}/trials.csv"),
    "check": ("check", "{job}/field.csv"),
    "compare": ("compare", "{job}/trials.csv", "--history", "{job}/trials.csv"),
    "report": ("report", "--job", "{job}", "--csv", "{job}/settings.csv"),
}


@pytest.fixture
def with_own_columns(job):
    """The sample job with two columns more in each table."""
    for name in ("plan.csv", "trials.csv", "field.csv"):
        lines = (job / name).read_text().splitlines()
        head = next(i for i, line in enumerate(lines) if not line.startswith("#"))
        for i in range(head, len(lines)):
            lines[i] += ",weather,field_id" if i == head else ",fair,7"
        (job / name).write_text("\n".join(lines) + "\n")
    return job


@pytest.mark.parametrize("command", COMMANDS)
def test_columns_of_ones_own_are_named_in_one_line_of_a_file(run, with_own_columns, command):
    done = run(*(each.format(job=with_own_columns) for each in COMMANDS[command]), columns=200)
    assert done.returncode == 0, done.stderr
    said = [line for line in done.stderr.splitlines() if "weather" in line]
    files = {name for name in ("plan.csv", "trials.csv", "field.csv") for line in said if name in line}
    read = {"compare": {"trials.csv"}}.get(command, {"plan.csv", "trials.csv", "field.csv"})
    assert (files, len(said)) == (read, len(read))
    assert all("weather, field_id" in line for line in said)
    assert "weather" not in done.stdout


@pytest.mark.parametrize(("target", "passed_over"), [(21.8, False), (30, True)])
def test_a_target_of_the_trials_that_passes_over_the_plan_is_said(run, job, target, passed_over):
    """The plan's target of this lot is 21.8 g without the field checks."""
    (job / "field.csv").unlink()
    (job / "trials.csv").write_text(f"box,lot,setting,catch_g,target_g\nsmall,forb mix,14,22,{target}\n")
    said = run("recommend", job / "trials.csv", columns=200).stderr
    assert ("small forb mix" in said) is passed_over
