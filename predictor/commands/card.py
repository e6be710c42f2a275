"""predictor card: the setting card for the cab, and the decision card for the next catch."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Any, Literal

from predictor.commands import options
from predictor.commands.output import lead_on, next_step, print_json, say, write_page
from predictor.commands.working import Working
from predictor.errors import InputError
from predictor.job.plain import next_dict, staged_dict
from predictor.text import cautions

if TYPE_CHECKING:
    from predictor.advice.result import Advice
    from predictor.job.job import Job
    from predictor.job.stage import Stage
    from predictor.pages.blocks import Page, Paper
    from predictor.units import Units

HELP = f"""Make a card for the cab, or for the next catch.

Examples:

    predictor card myjob

    predictor card myjob --decision --out next.html

    predictor card myjob --pdf card.pdf

{options.HELP}

The setting card shows the setting of each box, its target catch, what to look
for in the row and when to refill. The decision card gives ranges of weight for the next catch and what to
do in each, for a shed without a computer. Each card is one file that needs no network.

{cautions.HELP}
"""


def command(
    place: options.JobPlace = options.HERE,
    decision: Annotated[bool, options.named("--decision", None, "The decision card.")] = False,
    box: options.BoxOnly = None,
    out: options.HtmlFile = None,
    pdf: options.PdfFile = None,
    paper: Annotated[
        Literal["a5", "half-letter", "a4", "letter"] | None,
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
    history: options.History = None,
    no_history: options.NoHistory = False,
    no_field_factor: options.NoFieldFactor = False,
    viable: options.ViableRule = None,
    units: options.UnitsOption = None,
    as_json: options.AsJson = False,
) -> None:
    """Read, advise, write the card."""
    from predictor.job.read import read_job
    from predictor.pages.of_job import small_sheet
    from predictor.text.trials import nothing_to_do

    folder = place.folder
    job = read_job(
        folder,
        drill=options.job_file(folder, drill, "drill.toml"),
        trials=place.file,  # the folder's own need not be there yet
        plan=plan,
        earlier=history or [],
        viable=viable,
        use_history=not no_history,
        use_field_factor=not no_field_factor,
    )
    known = options.told(job).stages_in_hand(tolerance, confidence)  # no other lot is fitted
    stages = [each for each in known if box is None or each.box.lower() == box.lower()]
    if not stages:
        raise InputError(nothing_to_do(job.trials, box))
    shown = units or job.drill.units
    page, result = (_decision if decision else _settings)(job, stages, shown, paper or small_sheet(shown))
    if as_json:
        print_json({"schema": 1, **result, **next_dict(job, "card")})
        if out is None and pdf is None:
            return
    usual = folder / ("decision.html" if decision else "card.html")
    write_page(page, out, pdf, usual, [place.path("trials.csv"), drill, plan])
    say(cautions.short(each.advice.towed for each in stages))
    if decision and result["tables"]:
        lead_on("Next: catch, look up what to do, and record each weight.", "record", place)
    else:
        next_step(job, place, "card")


def _settings(job: Job, stages: list[Stage], units: Units, paper: Paper) -> tuple[Page, dict[str, Any]]:
    from predictor.pages.of_job import setting_card

    page, boxes = setting_card(job, stages, units, paper)
    return page, {"results": [{**staged_dict(each.stage, units), "refill_at": each.refill.at} for each in boxes]}


def _decision(job: Job, stages: list[Stage], units: Units, paper: Paper) -> tuple[Page, dict[str, Any]]:
    from predictor.pages.of_job import decision_card

    found = decision_card(job, stages, paper, _shown)
    done = [staged_dict(each, units) for each in found.done]
    return found.page, {"tables": [each.to_dict() for each in found.tables], "done": done}


def _shown(advices: list[Advice]) -> Iterator[Advice]:
    """The advices, while a line says how far the work on them is."""
    with Working("box", len(advices)) as work:
        yield from work.each(advices)
