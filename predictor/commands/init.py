"""predictor init: a commented job folder to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from predictor.commands import options
from predictor.commands.output import begin_job, lead_on
from predictor.text import cautions

HELP = f"""Write a job folder to start from: drill.toml and plan.csv.

Examples:

    predictor init myjob

    predictor init myjob --units metric

Both files have notes. The figures and lots in them are examples: replace them with your own. A file that
is there already is never replaced. --units is us if not given.

The program begins the other files of the job when you first need them: trials.csv for the catches, field.csv for the
field checks and planted.csv for what was planted.

{cautions.HELP}
"""


def command(
    folder: Annotated[str, typer.Argument(metavar="DIR")],
    units: options.UnitsOption = None,
) -> None:
    """Write the two files."""
    from importlib import resources

    templates = resources.files("predictor.commands").joinpath("templates")
    names = {"drill.toml": f"drill_{units or 'us'}.toml", "plan.csv": f"plan_{units or 'us'}.csv"}
    begin_job(Path(folder), {name: templates.joinpath(template).read_bytes() for name, template in names.items()})
    lead_on(
        "Next: open both in an editor, and put your drill and your lots in place of the examples.",
        *("plan", folder),
    )
