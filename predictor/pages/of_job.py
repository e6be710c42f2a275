"""The pages of a job that was read: the same ones whether a command writes them or the page at the drill shows them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from predictor.advice.ranges import Table, table_after
from predictor.advice.result import Advice
from predictor.field.filling import refill
from predictor.job.job import Job
from predictor.job.stage import Stage
from predictor.pages.blocks import Page, Paper
from predictor.pages.cards import CardBox, setting_page
from predictor.pages.decision import decision_page, rows_for
from predictor.units import Units


def small_sheet(units: Units) -> Paper:
    """The paper of a card where none is asked for."""
    return "half-letter" if units == "us" else "a5"


def large_sheet(units: Units) -> Paper:
    """The paper of a record where none is asked for."""
    return "letter" if units == "us" else "a4"


def setting_card(job: Job, stages: Sequence[Stage], units: Units, paper: Paper) -> tuple[Page, list[CardBox]]:
    """The setting card of some boxes, and what it says of each."""
    boxes = []
    for each in stages:
        known = each.setting or (each.advice.advised if each.advice.catches_used else None)
        plan = job.plan.target(each.box, each.lot) if job.plan else None
        given = None if known is None else job.given(each.task, known)
        boxes.append(CardBox(each, plan, refill(each.task.box, given, each.advice.tolerance)))
    return setting_page(job.drill, boxes, units, paper), boxes


@dataclass(frozen=True)
class NextCatches:
    """A decision card, the tables on it, and the boxes that need no further catch."""

    page: Page
    tables: list[Table]
    done: list[Stage]


def decision_card(
    job: Job,
    stages: Sequence[Stage],
    paper: Paper,
    along: Callable[[list[Advice]], Iterable[Advice]] = iter,
) -> NextCatches:
    """The decision card of some boxes; `along` goes through their advices, each of which is slow work."""
    # what is in the ground needs no further catch
    advices = [each.advice for each in stages if each.reached != "planted"]
    most = rows_for(len(advices), paper)
    tables = [table for each in along(advices) if (table := table_after(each, most)) is not None]
    done = [each for each in stages if each.box not in {table.box for table in tables}]
    return NextCatches(decision_page(job.drill, tables, done, stages, paper), tables, done)


def files_of(job: Job, drill: str | None, plan: str | None, trials: str | None) -> list[tuple[str, str]]:
    """Name and SHA-256 of each file that a job was read from; the names are those of files not of the folder's own."""
    names = [drill or "drill.toml", plan or "plan.csv", trials or "trials.csv", "field.csv", "planted.csv"]
    parts = (job.drill, job.plan, job.trials, job.checks, job.planted)
    found = [(Path(name).name, part.digest) for name, part in zip(names, parts, strict=True) if part is not None]
    return [each for each in found if each[1]]
