"""predictor init: a commented job folder to start from."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import Annotated

import typer

from predictor.commands.options import UnitsOption, choice
from predictor.commands.output import begun, say, wrapped
from predictor.errors import InputError, Problem
from predictor.text import cautions

HELP = f"""Write a job folder to start from: drill.toml and plan.csv, with notes.

Examples:

    predictor init myjob

    predictor init myjob --units metric

Figures and lots in it are examples: put your own in their place. Files that are there stay as they are.
--units is us if not given.

{cautions.HELP}
"""


def command(
    folder: Annotated[str, typer.Argument(metavar="DIR", help="Folder to make.")],
    units: UnitsOption = None,
) -> None:
    """Write the two files, never over what is there."""
    choice("units", units, ("us", "metric"))
    from importlib import resources

    target = Path(folder)
    there = [name for name in ("drill.toml", "plan.csv") if (target / name).exists()]
    if there:
        raise InputError([Problem(f"There is a job here already ({', '.join(there)}). Name a new folder.", folder)])
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = f"The folder cannot be made: {error.strerror}. Name another."
        raise InputError([Problem(message, folder)]) from None
    for name in ("drill.toml", "plan.csv"):
        stem, _, ending = name.partition(".")
        text = resources.files("predictor.commands").joinpath(f"templates/{stem}_{units or 'us'}.{ending}").read_bytes()
        begun(target / name, text)
        say(f"Written: {target / name}")
    print(wrapped("Open both in an editor and put your drill and your lots in place of the examples. Then:", ""))
    print(f"  predictor plan --job {shlex.quote(folder)}")
