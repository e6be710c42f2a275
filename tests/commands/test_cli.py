"""The program as a whole: what it says first, its exit codes, and that it stays quick and quiet."""

import subprocess
import sys

import pytest

import predictor
from predictor.__main__ import COMMANDS, main
from tests.conftest import ROOT, SAMPLE

HEAVY = ("pandas", "scipy.stats", "statsmodels", "matplotlib", "pydantic", "rich")


def ended(arguments, capsys):
    with pytest.raises(SystemExit) as end:
        main(arguments)
    found = capsys.readouterr()
    return end.value.code, found.out, found.err


def test_alone_it_says_what_to_do_first(capsys):
    code, text, messages = ended([], capsys)
    assert (code, messages) == (0, "")
    assert "Start with a folder for the job:\n\n    predictor init myjob" in text
    assert "predictor --help" in text


def test_help_names_every_command(capsys):
    code, text, _ = ended(["--help"], capsys)
    assert code == 0
    for name in COMMANDS:
        assert f"\n  {name} " in text


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example_within_eighty_columns(name, capsys):
    code, text, _ = ended([name, "--help"], capsys)
    assert code == 0
    assert f"    predictor {name}" in text
    assert max(map(len, text.splitlines())) <= 80


def test_version_is_that_of_the_package(capsys):
    assert ended(["--version"], capsys) == (0, f"predictor {predictor.__version__}\n", "")


@pytest.mark.parametrize("arguments", [["plann"], ["--nonsense"], ["plan", "--nonsense"], ["plan", "extra"]])
def test_wrong_usage_ends_with_two_and_no_result(arguments, capsys):
    code, text, messages = ended(arguments, capsys)
    assert (code, text) == (2, "")
    assert "Error: " in messages


def test_broken_pipe_is_quiet():
    # the reader closes at once, and a megabyte is more than a pipe holds
    script = "import predictor.__main__ as m; m.HELP = 'word\\n' * 200_000; m.main([])"
    program = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT)
    program.stdout.close()
    messages = program.stderr.read()
    program.stderr.close()
    assert (program.wait(timeout=60), messages) == (0, b"")


def raising(error):
    def read_plan(*_, **__):
        raise error

    return read_plan


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [
        (PermissionError(13, "Permission denied", "plan.csv"), 1, "plan.csv: Permission denied."),
        (
            ZeroDivisionError("division by zero"),
            1,
            "This is an error of the program, not of your files (ZeroDivisionError",
        ),
        (MemoryError(), 1, "This is an error of the program"),
    ],
)
def test_nobody_sees_a_traceback(error, code, words, capsys, monkeypatch):
    monkeypatch.setattr("predictor.job.job.read_plan", raising(error))
    found = ended(["plan", "--job", str(SAMPLE)], capsys)
    assert found[0] == code
    assert words in found[2]
    assert "Traceback" not in found[2]
    assert found[2].count("\n") == 1


def test_stopping_it_is_quiet(capsys, monkeypatch):
    monkeypatch.setattr("predictor.job.job.read_plan", raising(KeyboardInterrupt()))
    assert ended(["plan", "--job", str(SAMPLE)], capsys) == (130, "", "")


def test_developers_can_see_where_an_error_of_the_program_happened(monkeypatch):
    monkeypatch.setenv("PREDICTOR_TRACE", "1")
    monkeypatch.setattr("predictor.job.job.read_plan", raising(ZeroDivisionError()))
    with pytest.raises(ZeroDivisionError):
        main(["plan", "--job", str(SAMPLE)])


def test_letters_a_terminal_does_not_have_do_not_stop_it(run, job):
    path = job / "plan.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("tall mix", "taller Gräsermix ≥ 1"), encoding="utf-8")
    found = run("plan", "--job", job, PYTHONIOENCODING="ascii")
    assert found.returncode == 0
    assert "taller Gr?sermix ? 1" in found.stdout


def test_output_has_no_colour_codes(run):
    for arguments in ([], ["--help"], ["plan", "--job", SAMPLE], ["plan", "--nonsense"]):
        found = run(*arguments, FORCE_COLOR="1", TERM="xterm-256color")
        assert "\x1b" not in found.stdout + found.stderr


@pytest.mark.parametrize(
    "arguments", [["--help"], ["plan", "--job", str(SAMPLE)], ["plan", "--job", str(SAMPLE), "--json"]]
)
def test_nothing_heavy_is_loaded(arguments):
    script = (
        "import sys\nfrom predictor.__main__ import main\n"
        f"try: main({arguments!r})\nexcept SystemExit as end: assert end.code == 0, end.code\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=False)
    assert found.stderr.splitlines()[-1] == "[]", found.stderr


def test_help_loads_no_numpy():
    script = (
        "import sys\nfrom predictor.__main__ import main\n"
        "try: main(['--help'])\nexcept SystemExit: sys.exit('numpy' in sys.modules)"
    )
    found = subprocess.run([sys.executable, "-c", script], capture_output=True, cwd=ROOT, check=False)
    assert found.returncode == 0


def test_every_public_name_can_be_had_and_none_is_loaded_before():
    script = "import sys, predictor; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], cwd=ROOT, check=False).returncode == 0
    for name in predictor.__all__:
        assert getattr(predictor, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        predictor.nonsense  # noqa: B018
