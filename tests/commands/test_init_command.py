"""predictor init: a folder that plan accepts at once, and commands that lead on from one to the next."""

import json
import re
import shlex
from importlib import import_module

import pytest

from predictor.__main__ import COMMANDS


@pytest.mark.parametrize(("units", "unit"), [("us", "lb/ac"), ("metric", "kg/ha")])
def test_a_new_job_is_accepted_by_plan_at_once(run, tmp_path, units, unit):
    done = run("init", tmp_path / "job", "--units", units)
    assert done.returncode == 0
    plan = run("plan", "--job", tmp_path / "job")
    assert plan.returncode == 0
    assert "drill.toml still holds" in plan.stderr
    assert "plan.csv still holds" in plan.stderr
    assert f"{unit} bulk" in plan.stdout
    assert [line.split()[:1] for line in plan.stdout.splitlines() if "example C" in line][:1] == [["small"]]


def test_every_key_of_the_new_job_has_a_note(run, tmp_path):
    run("init", tmp_path)
    text = (tmp_path / "drill.toml").read_text(encoding="utf-8")
    for word in (
        "Roll the loaded drill ten turns",
        "smallest step of your scale",
        "more_is",
        "full_lb",
        "Ask your programme",
    ):
        assert word in text


def test_what_is_there_is_never_overwritten(run, tmp_path):
    (tmp_path / "plan.csv").write_text("mine")
    done = run("init", tmp_path)
    assert done.returncode == 1
    assert "There is a job here already (plan.csv)" in done.stderr
    assert (tmp_path / "plan.csv").read_text() == "mine"
    assert not (tmp_path / "drill.toml").exists()


def make_it_mine(folder):
    """Lots of my own, and a drill that I measured: no box is locked on the figures of the example."""
    drill, plan = folder / "drill.toml", folder / "plan.csv"
    drill.write_text(drill.read_text("utf-8").replace("# measured =", "measured ="), "utf-8")
    plan.write_text(plan.read_text("utf-8").replace("example ", "tag "), "utf-8")


def test_each_command_ends_with_the_next_from_init_to_the_report(run, tmp_path, monkeypatch):
    """Follow only what is said, weights given: the commands lead from an empty folder to the record for the file."""
    monkeypatch.chdir(tmp_path)

    def lines(done):
        assert done.returncode == 0, done.stderr
        return re.findall(r"^  predictor (.+)$", done.stdout + done.stderr, re.MULTILINE)

    said = lines(run("init", "my job"))
    assert said == ["plan 'my job'"]
    make_it_mine(tmp_path / "my job")
    said = lines(run(*shlex.split(said[-1])))
    assert said == ["record 'my job'"]
    boxes = json.loads(run("plan", "--job", "my job", "--json").stdout)["boxes"]
    targets = {each["box"]: each["target_catch_g"] for each in boxes}
    for box, lot, setting in (("small", "tag C", "20"), ("chaffy", "tall mix", "3")):
        for wobble in (1.0, 1.01, 0.99, 1.0, 1.02, 0.98, 1.01, 1.0):
            weight = f"{targets[box] * wobble:.1f}"
            catch = ("--box", box, "--lot", lot, "--setting", setting, "--catch", weight, "--yes")
            if said[-1].startswith("record"):
                said = lines(run(*shlex.split(said[-1]), *catch, stdin=""))
    assert said == ["card 'my job'"]
    said = lines(run(*shlex.split(said[-1])))
    assert said == ["check 'my job' --add"]
    bulk = {each["box"]: each["bulk_rate"] for each in boxes}
    for box in ("chaffy", "small"):  # the first check is led to by the card, the second by the first
        used = f"{5 * 0.95 * bulk[box]:.2f}"
        said = lines(run(*shlex.split(said[-1]), "--box", box, "--area-ac", "5", "--used", used, stdin=""))
    assert said == ["plant 'my job'"]
    said = ["report 'my job'"]
    assert run(*shlex.split(said[-1])).returncode == 0
    assert (tmp_path / "my job" / "reports" / "my-drill.html").exists()


# What is typed at the questions of an example that gives no box, by the command.
ANSWERS = {
    "record": "small\n\n14\ns\n24\n",
    "check": "small\n\n14\nw\n2\n20\n9\n",
    "plant": "small\n\n14\n\n2\n20\n9\ny\n",
}


@pytest.mark.slow
@pytest.mark.parametrize("name", [each for each in COMMANDS if each != "init"])  # which is tried above
def test_examples_of_every_help_can_be_run(run, job, tmp_path, monkeypatch, name):
    """Every example in the help of a command, on the sample job under the name the examples use."""
    monkeypatch.chdir(tmp_path)
    job.rename(tmp_path / "myjob")
    (tmp_path / "reports").mkdir()
    # a page is open until Ctrl-C, and who serves has a network; both are tried in tests/serving
    monkeypatch.setattr("predictor.serving.door.Door.open", lambda self, begin: None)
    monkeypatch.setattr("predictor.serving.addresses.own_addresses", lambda: ["192.168.1.20"])
    renamed = {"J-25": "CW-24", "K-26": "forb mix", "31": "14", "61.2+59.8+60.4": "7.6+7.5+7.7"}
    renamed |= {"45.1/45.9/44.6/45.8": "5.8/5.7/5.6/5.9", "43.2": "10.9"}
    examples = re.findall(r"^    predictor (.+)$", import_module(f"predictor.commands.{name}").HELP, re.MULTILINE)
    assert examples
    for example in examples:
        if "--study" not in example:  # takes minutes
            answers = "y\n" if "--box" in example else ANSWERS.get(name, "")
            done = run(*(renamed.get(word, word) for word in shlex.split(example)), stdin=answers)
            assert done.returncode == 0, (example, done.stderr)
