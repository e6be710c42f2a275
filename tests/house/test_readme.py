"""What README shows is what the program prints, from the checkout and from an installed wheel."""

import re
import shutil
import subprocess
import sys

import pytest

from predictor.__main__ import COMMANDS
from tests.house import study
from tests.house.readme_blocks import BLOCK, PAGES, SESSION, commands, output, session
from tests.house.test_structure import ROOMS
from tests.running import ROOT

TEXT = (ROOT / "README.md").read_text(encoding="utf-8")


def test_readme_shows_the_two_commands():
    assert [command.split()[0] for command in commands(TEXT)] == ["plan", "recommend"]


SHOWN = [
    (page.parent.name, found["command"], found["text"])
    for page in PAGES
    for found in BLOCK.finditer(page.read_text("utf-8"))
]


@pytest.mark.parametrize(("page", "command", "shown"), SHOWN)
def test_outputs_in_readme_and_tutorial_are_the_true_ones(page, command, shown):
    assert output(command) == shown


def test_python_sessions_in_readme_show_true_answers():
    names = {}
    shown = [found["text"] for found in SESSION.finditer(TEXT)]
    assert len(shown) > 1
    for text in shown:
        assert session(text, names) == text


def test_pages_show_the_study_that_is_kept():
    for path, block in study.blocks(study.kept()).items():
        assert study.shown(path.read_text(encoding="utf-8")) == block


def test_pictures_of_the_pages_are_there():
    for page in PAGES:
        for name in re.findall(r"!\[[^\]]+\]\(([^)]+)\)", page.read_text("utf-8")):
            assert (page.parent / name).stat().st_size > 10_000


def test_contributors_are_shown_the_rooms_in_their_order_and_files_that_exist():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert tuple(re.findall(r"^\| `(\w+)/` \|", text, re.MULTILINE)) == ROOMS
    text += (ROOT / "sample_trials" / "statistics.md").read_text(encoding="utf-8")
    paths = set(re.findall(r"`((?:\w+/)*\w+(?:/|\.py|\.pyi|\.json))`", text))
    assert len(paths) > 20
    places = (ROOT, ROOT / "predictor", ROOT / "predictor" / "advice")
    assert not [path for path in paths if not any((place / path).exists() for place in places)]


@pytest.mark.slow
def test_an_installed_wheel_answers_the_same_in_another_folder(run_program, tmp_path):
    """Built without the network from this checkout, installed into a folder of its own."""
    wheels, site, elsewhere = tmp_path / "wheels", tmp_path / "site", tmp_path / "elsewhere"
    source = tmp_path / "source"
    ignored = shutil.ignore_patterns(".git", ".venv", ".hypothesis", "*.egg-info", "build", "__pycache__", ".*_cache")
    shutil.copytree(ROOT, source, ignore=ignored)
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    subprocess.run(
        [*pip, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", str(wheels), str(source)],
        check=True,
        timeout=180,
        capture_output=True,
    )
    wheel = next(wheels.glob("*.whl"))
    subprocess.run(
        [*pip, "install", "--no-deps", "--target", str(site), str(wheel)], check=True, timeout=120, capture_output=True
    )
    elsewhere.mkdir()
    shutil.copytree(ROOT / "sample_trials", elsewhere / "sample_trials")
    for command in commands(TEXT):
        done = run_program(*command.split(), cwd=elsewhere, PYTHONPATH=str(site))
        assert (done.returncode, done.stdout) == (0, output(command)), done.stderr


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_stands_in_readme_and_has_help_with_an_example(command, run):
    assert f"predictor {command}" in TEXT
    done = run(command, "--help")
    assert done.returncode == 0
    assert f"predictor {command}" in done.stdout.split("Options:")[0]


def test_cautions_stand_in_readme_and_in_the_help_of_commands_at_the_drill(run):
    from predictor.text import cautions

    for caution in cautions.CAUTIONS:
        assert caution in TEXT
    for command in ("plan", "recommend", "record", "serve", "check"):
        words = " ".join(run(command, "--help").stdout.split())
        for caution in cautions.CAUTIONS:
            assert caution in words
