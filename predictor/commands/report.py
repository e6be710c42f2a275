"""predictor report: the season's record as one file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from predictor.commands import options
from predictor.commands.output import write
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
    job: options.JobFolder = ".",
    out: options.HtmlFile = None,
    pdf: options.PdfFile = None,
    csv: Annotated[
        Path | None,
        options.named("--csv", "FILE.csv", "Write the settings as a table.", options.to_write, endings=(".csv",)),
    ] = None,
    client: Annotated[str, options.named("--for", "TEXT", "Landowner or programme.")] = "",
    place: Annotated[str, options.named("--place", "TEXT", "Where it was sown.")] = "",
    depth: Annotated[str, options.named("--depth", "TEXT", "Depth of the seed.")] = "",
    operator: Annotated[str, options.named("--operator", "TEXT", "Who did it; those of the trials if not given.")] = "",
    area_ac: options.Acres = None,
    area_ha: options.Hectares = None,
    on: options.PlantingDay = None,
    drill: options.DrillFile = None,
    plan: options.PlanFile = None,
    tolerance: options.Tolerance = 0.10,
    confidence: options.Confidence = 0.95,
    no_field_factor: options.NoFieldFactor = False,
    viable: options.ViableRule = None,
    units: options.UnitsOption = None,
    paper: Annotated[
        str | None, options.named("--paper", "PAPER", "a4 or letter.", options.one_of, names=("a4", "letter"))
    ] = None,
) -> None:
    """Read, work out, write."""
    area = options.area_m2(area_ac, area_ha)
    from predictor.job.read import read_job
    from predictor.pages.report import Particulars, make_record, report_page, settings_csv

    machine = options.job_file(job, drill, "drill.toml")
    found = read_job(job, drill=machine, plan=plan, viable=viable, use_field_factor=not no_field_factor)
    options.told(found)
    files = [machine, Path(plan) if plan else Path(job) / "plan.csv"]
    files += [Path(job) / "trials.csv", Path(job) / "field.csv"]
    record = make_record(
        found,
        [each for each in files if each.exists()],
        Particulars(client, place, depth, operator, area, on.isoformat() if on else ""),
        tolerance=tolerance,
        confidence=confidence,
    )
    shown = units or found.drill.units
    if csv is not None:
        write(csv, settings_csv(record, shown).encode("utf-8"), files)
        if out is None and pdf is None:
            return
    page = report_page(record, units=shown, paper=paper or ("letter" if shown == "us" else "a4"))
    if out is not None or pdf is None:
        from predictor.pages.html import to_html

        target = out or _place(job, found.drill.name)
        write(target, to_html(page).encode("utf-8"), files)
    if pdf is not None:
        from predictor.pages.pdf import to_pdf

        write(pdf, to_pdf(page), files)


def _place(job: str, name: str) -> Path:
    """reports/NAME.html in the job's folder, the folder made where there is none."""
    folder = Path(job) / "reports"
    folder.mkdir(exist_ok=True)
    plain = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name.lower())
    return folder / f"{'-'.join(filter(None, plain.split('-'))) or 'record'}.html"
