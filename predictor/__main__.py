"""The command line: runs one command, and turns errors into sentences and an exit code."""

import contextlib
import os
import sys
import warnings
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from importlib import import_module
from io import StringIO
from typing import Any, TextIO

import click
import typer

from predictor import __version__
from predictor.errors import TRACE, DriveWarning, sentence
from predictor.numbers import quoted
from predictor.text.table import OnPaper, Strong
from predictor.unseen import visible

# One module a command, in the order of the work.
COMMANDS = (
    *("init", "plan", "record", "serve", "recommend", "compare", "audit"),
    *("check", "card", "load", "plant", "report", "simulate"),
)

STDOUT = 1  # as systems number open files
DONE, WRONG_INPUT, WRONG_USAGE, STOPPED = 0, 1, 2, 130
# Tables of a calibration are small. More threads would wait for each other, which takes several times the computing.
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")

# What begins and ends bold letters on a terminal, and letters that are black on white: colours that no theme changes.
BOLD = ("\x1b[1m", "\x1b[0m")
ON_PAPER = ("\x1b[38;5;16;48;5;231m", "\x1b[0m")

HELP = """Find the setting for a planned rate, how sure it is, and when to stop.

Start with a folder for the job:

    predictor init myjob

Put your drill and seed tags into its two files. See what each box must drop:

    predictor plan myjob

At the drill, record each catch. It is saved, then answered with what to do:

    predictor record myjob

The drill's manual, the seed tag and the local specification take precedence.
"""
# The longest path that systems know; no value is longer.
LONGEST_ARGUMENT = 4096
MORE = "\nAll commands: predictor --help"


class Terminal:
    """A stream on which invisible characters are written out: none can reach a terminal as a command.

    Only the part of a line that stands out is bold, where the stream is a terminal that can show it.
    """

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self.shows_paper = os.environ.get("TERM", "dumb") != "dumb" and stream.isatty()
        self._bold = BOLD if self.shows_paper and not os.environ.get("NO_COLOR") else ("", "")

    def write(self, text: str) -> int:
        """Write a text; a carriage return alone begins the line again, as what shows progress does."""
        if isinstance(text, Strong):
            before, strong, after = (visible(part, lines=True) for part in text.parts)
            return self._stream.write(f"{before}{self._bold[0]}{strong}{self._bold[1]}{after}")
        if isinstance(text, OnPaper):
            return self._stream.write(visible(text).join(ON_PAPER if self.shows_paper else ("", "")))
        return self._stream.write(text if text == "\r" else visible(text, lines=True))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


def build() -> typer.Typer:
    """The program with all its commands."""
    # Rich help would eat text in square brackets, and print source on a crash.
    app = typer.Typer(
        help=HELP,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    )
    for name in COMMANDS:
        module = import_module(f"predictor.commands.{name}")
        app.command(name, help=module.HELP)(module.command)

    @app.callback(invoke_without_command=True)
    def _top(
        context: typer.Context,
        version: bool = typer.Option(False, "--version", is_eager=True, callback=_version, help="Show the version."),
    ) -> None:
        if context.invoked_subcommand is None:
            print(HELP + MORE)

    return app


def _version(wanted: bool) -> None:
    if wanted:
        print(f"predictor {__version__}")
        raise typer.Exit()


def main(arguments: list[str] | None = None) -> None:
    """Run the program; ends it with 0 done, 1 something wrong in the input, 2 wrong usage, 130 stopped by the user.

    Parameters
    ----------
    arguments : list of str, optional
        Command and options; those of the command line where not given.

    Raises
    ------
    SystemExit
        With the exit code; always, unless PREDICTOR_TRACE is set and the error is the program's own.
    """
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
    for name in ("stdout", "stderr"):  # the caller closed it: write into nothing
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a terminal without these letters gets ? instead of a crash
            # what is typed keeps its bytes until it is known which letters they are
            stream.reconfigure(errors="surrogateescape" if stream is sys.stdin else "replace")
    with redirect_stdout(Terminal(sys.stdout)), redirect_stderr(Terminal(sys.stderr)):
        code = _run(sys.argv[1:] if arguments is None else arguments)
    sys.exit(code)


def _run(given: list[str]) -> int:
    """Run the program and say what is wrong; its exit code."""
    from predictor.commands.letters import argument

    arguments = []
    for text in given:
        each = argument(text)
        if each is None:
            print(
                f"{text!a} contains letters that cannot be read here. Set PYTHONUTF8=1, or retype it.", file=sys.stderr
            )
            return WRONG_USAGE
        if not each.isprintable():  # it could reach the terminal as a command
            print(f"{quoted(each)} contains an invisible character. Retype it.", file=sys.stderr)
            return WRONG_USAGE
        if len(each) > LONGEST_ARGUMENT:
            print(f"{quoted(each)} is longer than {LONGEST_ARGUMENT:,} characters.", file=sys.stderr)
            return WRONG_USAGE
        arguments.append(each)
    try:
        with _warnings_said():
            code = build()(args=arguments, prog_name="predictor", standalone_mode=False)
        sys.stdout.flush()
    except (BrokenPipeError, SystemExit):
        # The reader of our output has gone (typer makes SystemExit of it): writing the rest, or flushing at
        # exit, would fail again.
        os.dup2(os.open(os.devnull, os.O_WRONLY), STDOUT)
        code = DONE
    except (click.Abort, KeyboardInterrupt):
        code = STOPPED
    except click.ClickException as error:
        error.show(words := StringIO())
        print(words.getvalue(), end="", file=sys.stderr)
        code = WRONG_USAGE
    except Exception as error:
        if os.environ.get(TRACE):
            raise
        print(sentence(error), file=sys.stderr)
        code = WRONG_INPUT
    return code if isinstance(code, int) else DONE


@contextlib.contextmanager
def _warnings_said() -> Iterator[None]:
    """Say what a drive lacks, once in a command."""
    shown, said = warnings.showwarning, set[str]()

    def show(message: Warning | str, category: type[Warning], *rest: Any, **more: Any) -> None:
        if not issubclass(category, DriveWarning):
            shown(message, category, *rest, **more)
        elif str(message) not in said:
            said.add(str(message))
            print(message, file=sys.stderr)

    with warnings.catch_warnings():
        warnings.simplefilter("always", DriveWarning)
        warnings.showwarning = show
        yield


if __name__ == "__main__":
    main()
