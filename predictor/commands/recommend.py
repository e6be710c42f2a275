"""predictor recommend: the main job, from catches to a setting."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from predictor.commands import options
from predictor.commands.output import draw, lead_on, next_step, print_json, show_stages
from predictor.commands.working import Working
from predictor.job.plain import next_dict, staged_dict
from predictor.text import cautions

TARGET_G = "Target catch of one box, grams, over the turns and rows of its last catch."
HELP = f"""Say which setting to use, how sure that is, and when to stop testing.

Examples:

    predictor recommend myjob

    predictor recommend myjob --box small --target-g 61.5

{options.HELP} A log of another name
is read in place of its trials.csv; "-" reads the log from standard input.

{cautions.HELP}
"""


def command(
    place: options.JobPlace = options.HERE,
    box: options.BoxOnly = None,
    lot: Annotated[str | None, options.named("--lot", "LOT", "This lot only.")] = None,
    drill: options.DrillFile = None,
    plan: options.PlanFile = None,
    target_g: Annotated[
        float | None,
        options.named("--target-g", "GRAMS", TARGET_G, options.number, above=1e-3, below=1e7),
    ] = None,
    tolerance: options.Tolerance = 0.10,
    confidence: options.Confidence = 0.95,
    history: options.History = None,
    no_history: options.NoHistory = False,
    no_field_factor: options.NoFieldFactor = False,
    viable: options.ViableRule = None,
    units: options.UnitsOption = None,
    plot: options.PlotFile = None,
    details: options.Details = False,
    as_json: options.AsJson = False,
) -> None:
    """Read, advise, print."""
    if target_g is not None and box is None:
        raise typer.BadParameter("A target catch is that of one box: name it with --box.", param_hint="--target-g")
    from predictor.errors import InputError, Problem
    from predictor.job.read import read_job
    from predictor.text.trials import nothing_to_do

    folder, trials = place.folder, place.path("trials.csv")
    if trials != "-" and not Path(trials).exists() and (folder / "drill.toml").exists():
        if Path(trials) == folder / "trials.csv":
            message = f"There is no catch yet. Record the first with: predictor record {place}"
            raise InputError([Problem(message, trials)])
        lead_on("No log yet? The first catch begins it:", "record", place)
    job = read_job(
        folder,
        drill=options.job_file(folder, drill, "drill.toml"),
        trials=trials,
        plan=plan,
        earlier=history or [],
        viable=viable,
        use_history=not no_history,
        use_field_factor=not no_field_factor,
    )
    tasks = options.told(job).tasks(box, lot, target_g)
    with Working("lot", len(tasks), after=1.0) as work:
        for task in work.each(tasks):  # the job keeps each advice
            job.advice(task, tolerance, confidence)
    stages = job.stages(box, lot, target_g, tolerance=tolerance, confidence=confidence)
    if not stages:
        raise InputError(nothing_to_do(job.trials, box, lot))
    if as_json:
        print_json(
            {"schema": 1, "results": [staged_dict(each, units) for each in stages], **next_dict(job, "recommend")}
        )
    else:
        show_stages(stages, units, details=details)
    if plot is not None:
        from predictor.plots.advice import plot_boxes
        from predictor.text.caught import catch_picture

        draw(plot_boxes(stages), " ".join(map(catch_picture, stages)), plot, [trials, drill, plan, *(history or [])])
    if not as_json and trials != "-":
        next_step(job, place, "recommend")
