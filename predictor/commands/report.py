"""predictor report: the season's record as one file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from predictor.commands.options import (
    DrillFile,
    Job,
    NoFieldFactor,
    PlanFile,
    UnitsOption,
    Viable,
    area_m2,
    choice,
    day,
    fraction,
    job_of,
)
from predictor.commands.output import output, written
from predictor.text import cautions

HELP = f"""Write the season's record: one file for the landowner and the programme.

Examples:

    predictor report --job myjob --out reports/north-field.html

    predictor report --job myjob --for "Made-up trust" --place "north field" --area-ac 14 --pdf record.pdf

    predictor report --job myjob --csv settings.csv

Tags, targets, every catch with those left out and why, curves, settings, field checks, the uncertainty
of the planted live seed, lots compared, and lines to sign. What no file says is left to be filled in.

{cautions.HELP}
"""


def command(
    job: Job = ".",
    out: Annotated[
        str | None, typer.Option(metavar="FILE.html", help="Where to write it; reports/NAME.html if not given.")
    ] = None,
    pdf: Annotated[str | None, typer.Option(metavar="FILE.pdf", help="Write a PDF; with --out the HTML too.")] = None,
    csv: Annotated[str | None, typer.Option(metavar="FILE.csv", help="Write the settings as a table.")] = None,
    client: Annotated[str, typer.Option("--for", metavar="TEXT", help="Landowner or programme.")] = "",
    place: Annotated[str, typer.Option(metavar="TEXT", help="Where it was sown.")] = "",
    depth: Annotated[str, typer.Option(metavar="TEXT", help="Depth of the seed.")] = "",
    operator: Annotated[str, typer.Option(metavar="TEXT", help="Who did it; those of the trials if not given.")] = "",
    area_ac: Annotated[str | None, typer.Option(metavar="ACRES", help="Area sown.")] = None,
    area_ha: Annotated[str | None, typer.Option(metavar="HECTARES", help="The same in hectares.")] = None,
    on: Annotated[str | None, typer.Option(metavar="DATE", help="Day of planting, as 2026-04-18.")] = None,
    drill: DrillFile = None,
    plan: PlanFile = None,
    tolerance: Annotated[str, typer.Option(metavar="FRACTION", help="How far the rate may be off.")] = "0.10",
    confidence: Annotated[str, typer.Option(metavar="CHANCE", help="How sure before a setting is locked.")] = "0.95",
    no_field_factor: NoFieldFactor = False,
    viable: Viable = None,
    units: UnitsOption = None,
    paper: Annotated[str | None, typer.Option(metavar="PAPER", help="a4 or letter.")] = None,
) -> None:
    """Read, work out, write."""
    choice("viable", viable, ("germination", "total"))
    choice("units", units, ("us", "metric"))
    paper = paper.lower() if paper else None
    choice("paper", paper, ("a4", "letter"))
    html_file, pdf_file, csv_file = output("out", out, ".html"), output("pdf", pdf, ".pdf"), output("csv", csv, ".csv")
    limits = fraction("tolerance", tolerance, at_least=0.0), fraction("confidence", confidence, at_least=0.5)
    area, planted = area_m2(area_ac, area_ha), day("on", on)
    from predictor.commands.options import drill_path
    from predictor.pages.report import Particulars, make_record, report_page, settings_csv

    found = job_of(job, drill=drill, plan=plan, viable=viable, use_field_factor=not no_field_factor)
    files = [drill_path(job, drill), Path(plan) if plan else Path(job) / "plan.csv"]
    files += [Path(job) / "trials.csv", Path(job) / "field.csv"]
    record = make_record(
        found,
        [each for each in files if each.exists()],
        Particulars(client, place, depth, operator, area, planted.isoformat() if planted else ""),
        tolerance=limits[0],
        confidence=limits[1],
    )
    shown = units or found.drill.units
    if csv is not None:
        written(csv_file, settings_csv(record, shown).encode("utf-8"), files)
        if out is None and pdf is None:
            return
    page = report_page(record, units=shown, paper=paper or ("letter" if shown == "us" else "a4"))
    if out is not None or pdf is None:
        from predictor.pages.html import to_html

        target = html_file or _place(job, found.drill.name)
        written(target, to_html(page).encode("utf-8"), files)
    if pdf is not None:
        from predictor.pages.pdf import to_pdf

        written(pdf_file, to_pdf(page), files)


def _place(job: str, name: str) -> Path:
    """reports/NAME.html in the job's folder, the folder made where there is none."""
    folder = Path(job) / "reports"
    folder.mkdir(exist_ok=True)
    plain = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name.lower())
    return folder / f"{'-'.join(filter(None, plain.split('-'))) or 'record'}.html"
