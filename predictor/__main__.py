"""The command line: reads arguments, calls one command, turns what goes wrong into sentences and an exit code."""

from __future__ import annotations

import os
import sys
from importlib import import_module

import typer

from predictor import __version__
from predictor.errors import InputError

# One module a command, in the order of the work.
COMMANDS = ("plan", "recommend")

DONE, WRONG_INPUT, WRONG_USAGE = 0, 1, 2

FIRST = """Which setting gives the planned rate, how sure that is, and when to stop.

Start with:

    predictor plan --job FOLDER

which needs drill.toml and plan.csv in FOLDER (see sample_trials in the project for a job to copy), then make a
catch, write it into trials.csv there, and ask:

    predictor recommend FOLDER/trials.csv

The drill's manual, the seed tag and the local specification come first.
"""


def _build() -> typer.Typer:
    # Rich help would eat text in square brackets, and print source on a crash.
    app = typer.Typer(
        help=FIRST,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        no_args_is_help=True,
        context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    )
    for name in COMMANDS:
        module = import_module(f"predictor.commands.{name}")
        app.command(name, help=module.HELP)(module.command)

    @app.callback(invoke_without_command=False)
    def _top(
        version: bool = typer.Option(False, "--version", is_eager=True, callback=_version, help="Show the version."),
    ) -> None:
        pass

    return app


def _version(wanted: bool) -> None:
    if wanted:
        print(f"predictor {__version__}")
        raise typer.Exit()


def main(arguments: list[str] | None = None) -> None:
    """Run the program; ends it with 0 done, 1 something wrong in the input, 2 wrong usage."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a terminal without these letters gets ? instead of a crash
            stream.reconfigure(errors="replace")
    try:
        _build()(args=arguments, prog_name="predictor")
    except InputError as error:
        print(error, file=sys.stderr)
        sys.exit(WRONG_INPUT)
    except BrokenPipeError:
        # the reader of our output has gone; writing the rest, or flushing, would fail again
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(DONE)
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        sys.exit(130)
    except OSError as error:
        print(f"{error.filename or 'A file'}: {error.strerror or error}.", file=sys.stderr)
        sys.exit(WRONG_INPUT)


if __name__ == "__main__":
    main()
