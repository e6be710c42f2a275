"""An audit as a page: the verdict on each lot first, then every figure, test and picture behind it."""

from __future__ import annotations

import platform
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import scipy

from predictor import __version__
from predictor.audit.results import Audit, BoxAudit, LotAudit, Opinion
from predictor.job.job import Job
from predictor.pages.blocks import Block, Grid, Heading, Items, Page, Paper, Picture, Text
from predictor.plots.audit import plot_lot, plot_seasons
from predictor.text import audit as words, audit_lines as tables

# Columns whose cells are figures.
FIGURES = ("ours", *tables.METHODS.values(), "digits", "p", "catches", "ideal", "set at")


def audit_page(audit: Audit, job: Job, paper: Paper, files: Sequence[tuple[str, str]]) -> Page:
    """The audit as a page."""
    blocks: list[Block] = [Text(words.WHAT), *_verdicts(audit), Text(words.by_chance(audit))]
    for each in audit.lots:
        blocks += _lot(each)
    for box in audit.boxes:
        blocks += _box(box)
    blocks += [
        Heading("How to read this"),
        Items((words.DIGITS, words.TESTS, words.worth_note())),
        *_origin(job, files),
    ]
    date = max(job.trials.date.tolist(), default="")
    return Page(f"Second opinion: {job.drill.name}", tuple(blocks), paper, date=date)


def _verdicts(audit: Audit) -> Iterator[Block]:
    if len(audit.lots) < audit.all_lots:
        yield Text(words.not_shown(audit))
    rows = [(words.title(each), str(each.verdict), words.look_at(each)) for each in audit.lots]
    rows += [(f"{each.box}, all lots", str(each.verdict), words.look_at_box(each)) for each in audit.boxes]
    yield Heading("Verdicts")
    yield Grid(
        ("Lot", "Second opinion", "Look at"), tuple(rows), caption="Each lot in one line", named=True, folds=True
    )


def _lot(found: LotAudit) -> Iterator[Block]:
    name = words.title(found)
    yield Heading(name)
    yield Text(str(found.verdict), strong=True)
    yield from map(Text, words.notes(found))
    yield from _grid(f"{name}: figures by catches alone", *tables.figure_rows(found.opinions))
    yield from _whys(found.opinions)
    yield from _grid(f"{name}: tests of residuals", *tables.check_rows(found.checks))
    yield from _grid(f"{name}: with and without prior knowledge", *tables.view_rows(found.views))
    if found.residuals is not None:
        yield Picture(plot_lot(found), words.pictured([found]))


def _box(found: BoxAudit) -> Iterator[Block]:
    yield Heading(words.box_title(found))
    yield Text(str(found.verdict), strong=True)
    yield from map(Text, words.box_notes(found))
    for opinion in found.opinions:
        name = "ratios of lots" if opinion.method == "ols" else "lots as random effects"
        yield from _grid(f"{found.box}: {name}", *tables.figure_rows((opinion,)))
        yield from _whys((opinion,))
    if found.season is not None:
        yield from _grid(f"{found.box}: test of seasons", *tables.check_rows((found.season,)))
    if found.by_season:
        yield Picture(plot_seasons(found), words.seasons_pictured(found))


def _whys(opinions: Iterable[Opinion]) -> Iterator[Block]:
    for each in opinions:
        yield Text(str(each.why))


def _grid(caption: str, header: tuple[str, ...], rows: tables.Rows) -> Iterator[Block]:
    """A table; a reason goes over the columns that it leaves out."""
    if not rows:
        return
    shown = [name[:1].upper() + name[1:] for name in header]
    whole = tuple((*row, *[""] * (len(header) - len(row))) for row in rows)
    numeric = frozenset(k for k, name in enumerate(header) if name in FIGURES and all(len(row) > k for row in rows))
    yield Grid(tuple(shown), whole, numeric, caption, named=True)


def _origin(job: Job, files: Sequence[tuple[str, str]]) -> Iterator[Block]:
    import statsmodels

    versions = f"predictor {__version__}, statsmodels {statsmodels.__version__}, Python {platform.python_version()}"
    versions = f"{versions}, numpy {np.__version__}, scipy {scipy.__version__}"
    yield Heading("How this was made")
    rows = tuple((name, f"{digest[:32]} {digest[32:]}") for name, digest in files)
    yield Grid(("File", "SHA-256"), rows, caption="Files that were read", named=True)
    yield Text(" ".join([f"{versions}.", *job.messages]), small=True)
