"""What a terminal gets that a pipe does not: bold letters, its whole width, and a line that shows how far work is."""

import io
import sys

import pytest

from predictor.__main__ import BOLD, Terminal
from predictor.commands.output import show, width
from predictor.commands.working import Working
from predictor.text.table import Strong, Table
from tests.conftest import SAMPLE
from tests.running import run, run_on_terminals, run_program


class _Screen(io.StringIO):
    def isatty(self):
        return True


def bold(text):
    return f"{BOLD[0]}{text}{BOLD[1]}"


@pytest.mark.parametrize(
    ("screen", "environment", "shown"),
    [
        (_Screen, {"TERM": "xterm"}, f"  box  {bold('LOCK AT 4')}  sure\n"),
        (_Screen, {"TERM": "dumb"}, "  box  LOCK AT 4  sure\n"),
        (_Screen, {"TERM": "xterm", "NO_COLOR": "1"}, "  box  LOCK AT 4  sure\n"),
        (io.StringIO, {"TERM": "xterm"}, "  box  LOCK AT 4  sure\n"),
    ],
)
def test_only_a_terminal_that_can_gets_bold_letters(monkeypatch, screen, environment, shown):
    monkeypatch.delenv("NO_COLOR", raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    stream = screen()
    monkeypatch.setattr(sys, "stdout", Terminal(stream))
    show([Strong("  box  LOCK AT 4  sure", 7, 16)])
    assert stream.getvalue() == shown


def test_a_name_that_holds_terminal_codes_makes_nothing_bold(monkeypatch):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    stream = _Screen()
    monkeypatch.setattr(sys, "stdout", Terminal(stream))
    show(Table(80, strong=frozenset({1})).lines([["\x1b[1mbox", "LOCK\x1b[0m"]]))
    assert stream.getvalue().count("\x1b") == 2
    assert stream.getvalue().index(BOLD[0]) > stream.getvalue().index("box")


@pytest.mark.parametrize(("columns", "written"), [(20, 40), (40, 40), (60, 60), (80, 80), (100, 100), (200, 100)])
def test_lines_are_as_wide_as_the_terminal_between_40_and_100_columns(monkeypatch, columns, written):
    monkeypatch.setenv("COLUMNS", str(columns))
    assert width() == written


ROWS = [
    ["chaffy", "tall mix", "LOCK AT", " 4", "97 in 100", "48.4 g expected"],
    ["small", "a lot with quite a long name", "SET", "14.5", "not caught there yet (98 in 100)"],
    ["", "", "then catch: 28 turns, 3 rows, 23.3 g"],
]


@pytest.mark.parametrize("columns", range(40, 101, 10))
def test_a_table_keeps_every_cell_and_no_line_is_too_long(columns):
    lines = Table(columns, strong=frozenset({2, 3}), names=2).lines(ROWS)
    assert max(map(len, lines)) <= columns
    words = [word for row in ROWS for cell in row for word in cell.split()]
    assert sorted(" ".join(lines).replace(",", "").split()) == sorted(" ".join(words).replace(",", "").split())
    assert [each.parts[1].split() for each in lines if isinstance(each, Strong)] == [
        ["LOCK", "AT", "4"],
        ["SET", "14.5"],
    ]


def test_columns_stand_below_each_other_where_there_is_room():
    lines = Table(100, strong=frozenset({2, 3}), names=2).lines(ROWS)
    assert lines[0].index("LOCK") == lines[1].index("SET") == lines[2].index("then")
    assert lines[0].index("97 in") == lines[1].index("not caught")


def test_progress_is_written_over_in_place_and_gone_at_the_end(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    stream = _Screen()
    monkeypatch.setattr(sys, "stderr", Terminal(stream))
    monkeypatch.setattr("predictor.commands.working.OFTEN", 0.0)
    with Working("box", 12) as work:
        assert list(work.each("ab")) == ["a", "b"]
    shown = stream.getvalue()
    assert "\n" not in shown
    assert "box 1 of 12" in shown
    assert "box 3 of 12" in shown
    *_, last, end = shown.split("\r")
    assert last.strip() == end == ""
    assert len(last) == len("Working: box 3 of 12 ...")


def test_progress_that_is_quick_is_not_shown(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    stream = _Screen()
    monkeypatch.setattr(sys, "stderr", stream)
    with Working("box", 3, after=60) as work:
        work.tick()
    assert stream.getvalue() == ""


@pytest.mark.parametrize(("screen", "term"), [(io.StringIO, "xterm"), (_Screen, "dumb")])
def test_progress_goes_to_no_pipe(monkeypatch, screen, term):
    monkeypatch.setenv("TERM", term)
    stream = screen()
    monkeypatch.setattr(sys, "stderr", stream)
    with Working("box", 3) as work:
        work.tick()
    assert stream.getvalue() == ""


def on_screen(sent):
    """What is left on a terminal after what it was sent."""
    lines = []
    for line in sent.split("\n"):
        shown = ""
        for part in line.split("\r"):
            shown = part + shown[len(part) :]
        lines.append(shown.rstrip())
    return "\n".join(lines)


@pytest.mark.slow
def test_a_study_shows_how_far_it_is_on_a_terminal_alone():
    study = ("simulate", "--study", "--runs", "10")
    done = run_on_terminals(*study)
    assert done.returncode == 0
    assert "Working: run " in done.stderr
    assert on_screen(done.stderr).strip() == ""
    assert run(*study).stderr == ""


@pytest.mark.parametrize("columns", [80, *(pytest.param(each, marks=pytest.mark.slow) for each in (40, 60, 100, 200))])
def test_an_answer_on_a_terminal_is_bold_and_as_wide_as_it(columns):
    done = run_on_terminals("recommend", SAMPLE, columns=columns)
    assert done.returncode == 0, done.stderr
    assert done.stdout.count(BOLD[0]) == done.stdout.count(BOLD[1]) == 3
    plain = done.stdout.replace(BOLD[0], "").replace(BOLD[1], "")
    assert "\x1b" not in plain
    assert 0.8 * min(columns, 100) < max(map(len, plain.splitlines())) <= min(columns, 100)
    assert plain == run_on_terminals("recommend", SAMPLE, columns=columns, TERM="dumb").stdout
    assert f"{BOLD[0]}LEAVE IT AT 17{BOLD[1]}" in done.stdout


def test_an_answer_in_a_pipe_or_without_colour_holds_no_code():
    assert "\x1b" not in run_on_terminals("recommend", SAMPLE, NO_COLOR="1").stdout
    piped = run_program("recommend", SAMPLE, TERM="xterm")
    assert "\x1b" not in piped.stdout + piped.stderr
    assert "\r" not in piped.stderr


@pytest.mark.slow
@pytest.mark.parametrize("command", [("card", "--decision"), ("report",)], ids=" ".join)
def test_slow_pages_show_how_far_they_are_and_leave_only_messages(command, tmp_path):
    arguments = (*command, SAMPLE, "--out", tmp_path / "page.html")
    done = run_on_terminals(*arguments)
    assert done.returncode == 0
    assert "Working: " in done.stderr
    assert on_screen(done.stderr).split() == run(*arguments).stderr.split()
