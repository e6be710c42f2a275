"""predictor simulate: a made-up drill to practise on, and how often the advice is right."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from predictor.commands import options
from predictor.commands.output import begin_job, lead_on, print_json
from predictor.commands.working import Working

HELP = """Practise on a made-up drill, or see how often the advice is right.

Make a practice job, then catch at settings of your choice; each catch is written into its trials.csv:

    predictor simulate practice --seed 7

    predictor simulate practice --box small --setting 30

    predictor recommend practice

See how often the advice is right on made-up boxes of many kinds, and how often the usual hand methods are:

    predictor simulate --study --runs 100

Every drill, lot and weight here is invented.
"""

STEP = "Lever step of the study, as a share of the range."
ROWS_DIFFER = "How rows differ in the study."


def command(
    folder: Annotated[str | None, typer.Argument(metavar="DIR")] = None,
    seed: Annotated[int, typer.Option(help="Number of the made-up drill.", min=0)] = 1,
    box: Annotated[str | None, options.named("--box", "BOX", "Catch from this box.")] = None,
    setting: Annotated[str | None, options.named("--setting", "SETTING", "Catch at this setting.")] = None,
    study: Annotated[bool, options.named("--study", None, "Print how often the advice is right.")] = False,
    runs: Annotated[int, typer.Option(help="Made-up calibrations in each row.", min=10, max=100_000)] = 30,
    processes: Annotated[int, typer.Option(help="Processes that share the study.", min=1, max=256)] = 1,
    tolerance: Annotated[
        float, options.named("--tolerance", "FRACTION", "Tolerance of the study.", options.number, below=1.0)
    ] = 0.10,
    step: Annotated[float, options.named("--step", "SHARE", STEP, options.number, above=0.0005, below=0.3)] = 0.01,
    rows_differ: Annotated[
        float, options.named("--rows-differ", "FRACTION", ROWS_DIFFER, options.number, above=-1e-9, below=0.5)
    ] = 0.0,
    as_json: options.AsJson = False,
) -> None:
    """Practise, or study."""
    if study:
        _study(runs, seed, tolerance, step, rows_differ, processes, as_json)
        return
    if as_json:
        raise typer.BadParameter("Use it with --study. Practice writes files.", param_hint="--json")
    if folder is None:
        raise typer.BadParameter("Name a folder to practise in, or add --study.", param_hint="DIR")
    if box is None and setting is None:
        _begin(Path(folder), seed)
    elif box is None or setting is None:
        raise typer.BadParameter("A catch needs both --box and --setting.", param_hint="--box")
    else:
        _catch(Path(folder), box, setting)


def _begin(folder: Path, seed: int) -> None:
    """Write the files of a practice job; never over files that are there."""
    from predictor.study.practice import practice_files

    begin_job(folder, practice_files(seed))
    print(f"A made-up drill is ready in {folder}.")
    lead_on("What to catch:", "plan", folder)
    lead_on("Make a catch:", "simulate", folder, "--box", "small", "--setting", "30")


def _catch(folder: Path, box: str, setting: str) -> None:
    """Make one catch and add it to trials.csv."""
    from predictor.study.practice import NoSuchSetting, make_catch
    from predictor.text.study import catch_words

    try:
        made = make_catch(folder, box, setting)
    except NoSuchSetting as error:
        raise typer.BadParameter(str(error), param_hint="--setting") from None
    print(catch_words(made))
    lead_on("What do the catches say?", "recommend", folder)


def _study(
    runs: int, seed: int, tolerance: float, step: float, rows_differ: float, processes: int, as_json: bool
) -> None:
    from predictor.study.characteristics import PARTS, whole_study
    from predictor.text.study import study_words

    with Working("run", PARTS * runs) as work:
        found = whole_study(runs, seed, tolerance, step, rows_differ, work.tick, processes)
    if as_json:
        print_json(found.to_dict())
    else:
        print("\n".join(study_words(found)))
