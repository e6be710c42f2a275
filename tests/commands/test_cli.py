"""The program as a whole: what it says first, its exit codes, and that it stays quick and quiet."""

import signal
import subprocess
import sys

import pytest

import predictor
from predictor.__main__ import COMMANDS
from tests.conftest import ROOT, SAMPLE

HEAVY = (
    *("pandas", "scipy.stats", "statsmodels", "matplotlib", "pydantic", "rich"),
    *("flask", "jinja2", "waitress", "segno"),
)


def test_the_first_page_names_the_first_command_and_the_help(run):
    done = run()
    assert (done.returncode, done.stderr) == (0, "")
    assert {"predictor init myjob", "predictor plan myjob"} <= set(map(str.strip, done.stdout.splitlines()))
    assert "predictor --help" in done.stdout


def test_help_names_every_command(run):
    done = run("--help")
    assert done.returncode == 0
    assert {line.split()[0] for line in done.stdout.splitlines() if line.strip()} >= set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example_within_eighty_columns(name, run):
    done = run(name, "--help")
    assert done.returncode == 0
    assert f"    predictor {name}" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80


def test_version_is_that_of_the_package(run):
    assert run("--version").stdout == f"predictor {predictor.__version__}\n"


@pytest.mark.parametrize("arguments", [["plann"], ["--nonsense"], ["plan", "--nonsense"], ["plan", "a", "b"]])
def test_wrong_usage_ends_with_two_and_no_result(arguments, run):
    done = run(*arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert "Error: " in done.stderr


def test_an_argument_that_could_play_with_the_terminal_is_refused(run):
    done = run("recommend", "\x1b[31mtrials.csv")
    assert (done.returncode, done.stdout) == (2, "")
    assert "\x1b" not in done.stderr


def test_broken_pipe_is_quiet():
    # the reader closes at once, and a megabyte is more than a pipe holds
    script = "import predictor.__main__ as m; m.HELP = 'word\\n' * 200_000; m.main([])"
    program = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT)
    program.stdout.close()
    messages = program.stderr.read()
    program.stderr.close()
    assert (program.wait(timeout=60), messages) == (0, b"")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs a device that is always full")
def test_a_full_disk_is_one_sentence(run_program):
    done = run_program("plan", "--job", SAMPLE, shell="> /dev/full")
    assert done.returncode == 1
    assert done.stderr.splitlines()[-1] == "The output: No space left on device."


@pytest.mark.skipif(sys.platform == "win32", reason="signals as on POSIX")
def test_stopping_it_is_quiet(job):
    # a process begun in the background may have been told to ignore the signal
    script = "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
    script += "from predictor.__main__ import main; main(sys.argv[1:])"
    command = [sys.executable, "-c", script, "record", str(job / "trials.csv")]
    pipes = dict.fromkeys(("stdin", "stdout", "stderr"), subprocess.PIPE)
    with subprocess.Popen(command, cwd=ROOT, **pipes) as program:
        question = program.stderr.read(4)  # it waits for an answer now
        program.send_signal(signal.SIGINT)
        out, err = program.communicate(timeout=60)
    assert question.startswith(b"Box")
    assert (program.returncode, out) == (130, b"")
    assert b"Traceback" not in err


@pytest.fixture
def faulty(monkeypatch):
    """A program with a fault in one command: none of ours is known, or it would be mended."""

    def command():
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr("predictor.commands.plan.command", command)


@pytest.mark.usefixtures("faulty")
def test_a_fault_of_the_program_is_one_sentence(run):
    done = run("plan")
    assert (done.returncode, done.stdout) == (1, "")
    assert "(ZeroDivisionError: division by zero)" in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.mark.usefixtures("faulty")
def test_developers_can_see_where_a_fault_of_the_program_is(run):
    with pytest.raises(ZeroDivisionError):
        run("plan", PREDICTOR_TRACE="1")


def test_letters_a_terminal_does_not_have_do_not_stop_it(run_program, job):
    path = job / "plan.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("tall mix", "taller Gräsermix ≥ 1"), encoding="utf-8")
    found = run_program("plan", "--job", job, PYTHONIOENCODING="ascii")
    assert found.returncode == 0
    assert "taller Gr?sermix ? 1" in found.stdout


@pytest.mark.slow
def test_output_has_no_colour_codes(run_program):
    for arguments in ([], ["--help"], ["plan", "--job", SAMPLE], ["plan", "--nonsense"]):
        found = run_program(*arguments, FORCE_COLOR="1", TERM="xterm-256color")
        assert "\x1b" not in found.stdout + found.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ["plan", "--job", SAMPLE],
        ["recommend", SAMPLE / "trials.csv", "--json"],
        ["compare", SAMPLE / "trials.csv", "--json"],
        ["check", SAMPLE / "field.csv"],
    ],
    ids=lambda arguments: arguments[0],
)
def test_nothing_heavy_is_loaded(arguments):
    """pandas, scipy.stats, statsmodels and matplotlib cost 0.3 to 1.5 s: only studies and plots may load them."""
    assert not set(loaded(arguments)) & set(HEAVY)


def test_a_card_loads_nothing_that_only_a_comparison_of_lots_needs(tmp_path):
    """scipy.optimize costs a third of a second; a card was slow for the sake of a file that it did not write over."""
    arguments = ["card", SAMPLE, "--out", tmp_path / "card.html"]
    assert not set(loaded(arguments)) & {*HEAVY, "scipy.optimize"}


def test_help_loads_no_numpy():
    assert "numpy" not in loaded(["--help"])


def test_only_an_audit_itself_loads_the_other_library():
    assert not set(loaded(["audit", "--help"])) & {*HEAVY, "numpy"}
    assert "statsmodels" in loaded(["audit", SAMPLE, "--box", "small"])


def loaded(arguments):
    """Modules loaded by a run of the program."""
    script = (
        "import sys\nfrom predictor.__main__ import main\n"
        f"try: main({list(map(str, arguments))!r})\nexcept SystemExit as end: assert end.code == 0, end.code\n"
        "print(*sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True)
    return done.stdout.splitlines()[-1].split()


def test_every_public_name_can_be_had_and_none_is_loaded_before():
    script = "import sys, predictor; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", script], cwd=ROOT, check=False).returncode == 0
    for name in predictor.__all__:
        assert getattr(predictor, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        predictor.nonsense  # noqa: B018
