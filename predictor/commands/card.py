"""predictor card: the setting card for the cab, and the decision card for the next catch."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from predictor.commands import options
from predictor.commands.output import lead_on, print_json, say, write
from predictor.text import cautions

if TYPE_CHECKING:
    from predictor.job.job import Job, Task
    from predictor.pages.blocks import Page

HELP = f"""Make a card for the cab, or for the next catch.

Examples:

    predictor card myjob/trials.csv

    predictor card myjob/trials.csv --decision --out next.html

    predictor card myjob/trials.csv --pdf card.pdf

TRIALS.csv holds the catches. The setting card shows each box's setting, target catch, what to look for
in the row and when to refill. The decision card gives ranges of weight for the next catch and what to do
in each, for a shed without a computer. Each is one file that needs no network.

{cautions.HELP}
"""

# Second tables take seconds a box.
MOST_WITH_SECOND = 3


def command(
    trials: options.TrialsFile = "trials.csv",
    decision: Annotated[bool, options.named("--decision", None, "The decision card.")] = False,
    box: options.BoxOnly = None,
    out: options.HtmlFile = None,
    pdf: options.PdfFile = None,
    paper: Annotated[
        str | None,
        options.named(
            "--paper",
            "PAPER",
            "a5, half-letter, a4 or letter.",
            options.one_of,
            names=("a5", "half-letter", "a4", "letter"),
        ),
    ] = None,
    drill: options.DrillFile = None,
    plan: options.PlanFile = None,
    tolerance: options.Tolerance = 0.10,
    confidence: options.Confidence = 0.95,
    no_history: options.NoHistory = False,
    no_field_factor: options.NoFieldFactor = False,
    viable: options.ViableRule = None,
    units: options.UnitsOption = None,
    as_json: options.AsJson = False,
) -> None:
    """Read, advise, write the card."""
    from predictor.job.read import read_job

    limits = tolerance, confidence
    folder = Path(trials).parent
    own = Path(trials).name == "trials.csv"  # which a job need not have yet
    job = read_job(
        folder,
        drill=options.job_file(folder, drill, "drill.toml"),
        trials=None if own else trials,
        plan=plan,
        viable=viable,
        use_history=not no_history,
        use_field_factor=not no_field_factor,
    )
    tasks = [task for task in options.told(job).in_hand() if box is None or task.box.name.lower() == box.lower()]
    if not tasks:
        from predictor.errors import InputError

        raise InputError(job.nothing_to_do(box))
    shown = units or job.drill.units
    sheet = paper or ("half-letter" if shown == "us" else "a5")
    page, result = (_decision if decision else _settings)(job, tasks, limits, shown, sheet)
    if as_json:
        print_json({"schema": 1, **result})
        if out is None and pdf is None:
            return
    target = out or folder / ("decision.html" if decision else "card.html")
    if out is not None or pdf is None:
        from predictor.pages.html import to_html

        write(target, to_html(page).encode("utf-8"), [trials, drill, plan])
    if pdf is not None:
        from predictor.pages.pdf import to_pdf

        write(pdf, to_pdf(page), [trials, drill, plan])
    say(cautions.SHORT)
    if decision:
        lead_on("Next: catch, look up what to do, and record each weight.", "record", trials)
    else:
        field = folder / "field.csv"
        lead_on("Next, in the field: weigh back seed on a known area, write field.csv, then:", "check", field)


def last_day(job: Job, tasks: list[Task]) -> str:
    """Day of the last catch of the boxes of a card; "" where none is dated."""
    days = [day for task in tasks for day in job.trials.of(box=task.box.name, lot=task.lot).date.tolist() if day]
    return max(days, default="")


def _settings(job: Job, tasks: list[Task], limits, units: str, paper: str) -> tuple[Page, dict]:
    from predictor.pages.setting_card import card_box, setting_page

    boxes = [card_box(job, task, job.advice(task, *limits)) for task in tasks]
    page = setting_page(job, boxes, units=units, paper=paper, date=last_day(job, tasks))
    results = [{**each.advice.to_dict(units), "refill_at": each.refill_at} for each in boxes]
    return page, {"results": results}


def _decision(job: Job, tasks: list[Task], limits, units: str, paper: str) -> tuple[Page, dict]:
    from predictor.pages.decision_card import decision_card
    from predictor.pages.setting_card import decision_page

    tables, done = [], []
    second = len(tasks) <= MOST_WITH_SECOND
    if not second:
        say("Second tables are left out for so many boxes: ask for one with --box.")
    for task in tasks:
        found = decision_card(job, task, tolerance=limits[0], confidence=limits[1], second=second)
        tables += found
        if not found:
            done.append(job.advice(task, *limits))
    page = decision_page(job.drill, tables, done, paper=paper, date=last_day(job, tasks), tolerance=limits[0])
    return page, {"tables": [each.to_dict() for each in tables], "done": [each.to_dict(units) for each in done]}
