"""predictor audit: a second opinion on each figure, for whoever checks the work."""

from __future__ import annotations

from typing import Annotated

from predictor.commands import options
from predictor.commands.output import draw, lead_on, print_json, show, width, write_page
from predictor.commands.working import Working
from predictor.job.place import JOB_FILES
from predictor.text import cautions

HELP = f"""Put each figure beside the answer of another library.

Examples:

    predictor audit myjob

    predictor audit myjob --box small --out audit.html

{options.HELP} A log of another name
is read in place of its trials.csv; "-" reads the log from standard input.

This is for whoever checks the work. Each box and lot has the line by catches alone with its limits, and
beside it what statsmodels answers on the same catches. The command says in how many digits they agree and who
is right where they differ, tests the residuals, and shows what prior knowledge contributed.

{cautions.HELP}
"""


def command(
    place: options.JobPlace = options.HERE,
    box: options.BoxOnly = None,
    lot: Annotated[str | None, options.named("--lot", "LOT", "This lot only.")] = None,
    drill: options.DrillFile = None,
    plan: options.PlanFile = None,
    history: options.History = None,
    no_history: options.NoHistory = False,
    out: options.HtmlFile = None,
    pdf: options.PdfFile = None,
    plot: options.PlotFile = None,
    details: options.Details = False,
    as_json: options.AsJson = False,
) -> None:
    """Read, work out, print."""
    from predictor.audit.audit import audit_job
    from predictor.errors import InputError
    from predictor.job.read import read_job
    from predictor.text.audit_lines import audit_lines
    from predictor.text.trials import nothing_to_do

    folder = place.folder
    job = read_job(
        folder,
        drill=options.job_file(folder, drill, "drill.toml"),
        trials=place.path("trials.csv"),
        plan=plan,
        earlier=history or [],
        use_history=not no_history,
    )
    with Working("lots", after=1.0):
        audit = audit_job(options.told(job), box, lot)
    if not audit.lots:
        raise InputError(nothing_to_do(job.trials, box, lot))
    if as_json:
        print_json(audit.to_dict())
    else:
        show(audit_lines(audit, width(), details=details))
    read = [place.file, drill, plan, *(history or []), *(folder / name for name in JOB_FILES)]
    if out or pdf:
        from predictor.pages.audit import audit_page
        from predictor.pages.of_job import files_of, large_sheet

        with Working("page"):
            files = files_of(job, drill, plan, place.file)
            page = audit_page(audit, job, large_sheet(job.drill.units), files)
        write_page(page, out, pdf, folder, read)
    if plot is not None:
        from predictor.plots.audit import plot_audit
        from predictor.text.audit import pictured

        draw(plot_audit(audit.lots), pictured(audit.lots), plot, read)
    if not as_json and place.file != "-":
        lead_on("Next: what the catches of each box say.", "recommend", place)
