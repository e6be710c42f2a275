"""predictor report: the season's record as one file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from predictor.commands import options
from predictor.commands.output import next_step, write, write_page
from predictor.commands.working import Working
from predictor.job.place import JOB_FILES
from predictor.text import cautions

HELP = f"""Write the season's record: one file for the landowner and the programme.

Examples:

    predictor report myjob --out reports/north-field.html

    predictor report myjob --for "Made-up trust" --place "north field" --area-ac 14 --pdf record.pdf

    predictor report myjob --csv settings.csv

{options.HELP}

The record holds tags, targets, every catch and what it was used for, curves, settings, field checks, the
uncertainty of the planted live seed, a comparison of lots, and lines to sign. What the files do not say
is left blank, to be filled in by hand.

{cautions.HELP}
"""


def command(
    where: options.JobPlace = options.HERE,
    job: options.JobFolder = None,
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
    history: options.History = None,
    no_history: options.NoHistory = False,
    no_field_factor: options.NoFieldFactor = False,
    viable: options.ViableRule = None,
    units: options.UnitsOption = None,
    paper: Annotated[
        Literal["a4", "letter"] | None,
        options.named("--paper", "PAPER", "a4 or letter.", options.one_of, names=("a4", "letter")),
    ] = None,
) -> None:
    """Read, work out, write."""
    from predictor.job.read import read_job
    from predictor.job.record import Particulars, make_record
    from predictor.pages.of_job import files_of, large_sheet

    area, planted = options.area_m2(area_ac, area_ha), on.isoformat() if on else ""
    where = options.one_place(where, job)
    folder = where.folder
    machine = options.job_file(folder, drill, "drill.toml")
    found = read_job(
        folder,
        trials=where.file,
        drill=machine,
        plan=plan,
        earlier=history or [],
        viable=viable,
        use_history=not no_history,
        use_field_factor=not no_field_factor,
        today=on,
    )
    options.told(found)
    read = [drill, plan, where.file, *(folder / name for name in JOB_FILES)]
    told = Particulars(client, place, depth, operator, area, planted)
    with Working("record"):
        files = files_of(found, drill, plan, where.file)
        record = make_record(found, files, told, tolerance=tolerance, confidence=confidence)
    shown = units or found.drill.units
    if csv is not None:
        from predictor.pages.table import settings_csv

        write(csv, settings_csv(record, shown).encode("utf-8"), read)
    if csv is None or out or pdf:
        from predictor.pages.report import report_page

        with Working("page"):
            page = report_page(record, units=shown, paper=paper or large_sheet(shown))
        write_page(page, out, pdf, _usual_place(folder, found.drill.name), read)
    next_step(found, where, "report")


def _usual_place(folder: Path, name: str) -> Path:
    """reports/NAME.html in the job's folder."""
    plain = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name.lower())
    return folder / "reports" / f"{'-'.join(filter(None, plain.split('-'))) or 'record'}.html"
