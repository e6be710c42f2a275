"""What is looked at from the page at the drill: the log of a box, its picture, the cards and the season's record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from predictor.errors import InputError
from predictor.unseen import visible

if TYPE_CHECKING:
    from predictor.domain.trials import Trials
    from predictor.job.job import Job
    from predictor.job.stage import Stage
    from predictor.pages.blocks import Page
    from predictor.serving.book import Book

# Catches that one page of a phone lists, the last ones: nobody scrolls further.
MOST_LISTED = 200


@dataclass(frozen=True)
class Row:
    """A catch of the log in words; "" for what it does not say."""

    line: str
    weight: str
    setting: str
    made: str  # Its length and rows, and how full the box was
    apart: str  # The weights of its rows or parts
    lot: str
    when: str  # The day, and who caught it
    used: str  # What it was used for, or why not
    counts: bool


def log_page(book: Book, box: str) -> str:
    """The catches of a box as a page, newest first, below the picture of the lot that is in it."""
    with book.lock:
        job, problems = book.best()
        name = _box(job, box)
        stages = [each for each in job.season_stages() if each.box == name]
        mine = job.trials.of(box=name)
        rows = _rows(job, mine, stages)
    from predictor.text.caught import catch_picture
    from predictor.text.record import NO_CATCH, not_listed

    more = len(mine) - len(rows)
    note = not_listed(len(rows), more, in_hand=False) if more else "" if rows else NO_CATCH
    pictures = [(each.lot, catch_picture(each)) for each in stages if each.in_hand and len(mine)]
    said = str(InputError(problems)).splitlines() if problems else []
    return _filled("log.html", box=name, rows=rows, note=note, pictures=pictures, problems=said)


def _rows(job: Job, trials: Trials, stages: list[Stage]) -> list[Row]:
    """The last catches of a box, newest first."""
    import numpy as np

    from predictor.job.record import uses_of
    from predictor.text.record import caught_columns

    last = trials.where(np.arange(len(trials)) >= len(trials) - MOST_LISTED)
    uses = uses_of(last, [each.advice for each in stages])
    places = range(len(trials) - len(last), len(trials))
    names = ("Line", "Net g", "Setting", "Length, rows", "Full %", "Rows (+) or parts (/)", "Lot", "Date", "Used")
    columns = caught_columns(job.drill, last, uses, places)
    rows = zip(*(columns[name] for name in names), last.operator.tolist(), uses, strict=True)
    return [
        Row(
            line=line,
            weight=f"{grams} g",
            setting=setting,
            made=f"{made}, box {full} % full" if full else made,
            apart=apart,
            lot=lot,
            when=", ".join(filter(None, (day, operator))),
            used=used,
            counts=use in ("used", "earlier"),
        )
        for line, grams, setting, made, full, apart, lot, day, used, operator, use in rows
    ][::-1]


def picture(book: Book, box: str, lot: str) -> bytes:
    """The catch picture of a box and lot as SVG, kept until a file of the job changes."""
    from predictor.text.trials import nothing_to_do

    with book.lock:
        job, _ = book.best()
        tasks = job.tasks(box, lot)
        if not tasks:
            raise InputError(nothing_to_do(job.trials, box, lot))
        # by the names of the files, so that other spellings of them are not kept beside each other
        return book.once(f"picture of {tasks[0].box.name}: {tasks[0].lot}", lambda: _drawn(job.stages(box, lot)))


def _drawn(stages: list[Stage]) -> bytes:
    from predictor.plots.advice import plot_boxes
    from predictor.plots.style import render
    from predictor.text.caught import catch_picture

    return render(plot_boxes(stages), "svg", alt=" ".join(map(catch_picture, stages)))


def card(book: Book) -> str:
    """The setting card of the boxes as they are filled, as `card` writes it."""

    def made(job: Job) -> Page:
        from predictor.pages.of_job import setting_card, small_sheet

        units = book.units or job.drill.units
        return setting_card(job, _in_hand(job), units, small_sheet(units))[0]

    return _page(book, made)


def decision(book: Book) -> str:
    """The decision card, as `card --decision` writes it."""

    def made(job: Job) -> Page:
        from predictor.pages.of_job import decision_card, small_sheet

        return decision_card(job, _in_hand(job), small_sheet(book.units or job.drill.units)).page

    return _page(book, made)


def record(book: Book) -> str:
    """The season's record, as `report` writes it."""

    def made(job: Job) -> Page:
        from predictor.job.record import make_record
        from predictor.pages.of_job import files_of, large_sheet
        from predictor.pages.report import report_page

        units = book.units or job.drill.units
        found = make_record(job, files_of(job, book.drill, None, book.place.file))
        return report_page(found, units=units, paper=large_sheet(units))

    return _page(book, made)


def _page(book: Book, made: Callable[[Job], Page]) -> str:
    """A page of the whole job; where it cannot be made, a page that says why."""
    from predictor.pages.blocks import Items, Page, Text
    from predictor.pages.html import to_html

    with book.lock:
        try:
            job, problems = book.best()
            if problems:
                raise InputError(problems)
            page = made(job)
        except InputError as error:
            why = Items(tuple(str(error).splitlines()))
            page = Page("This page cannot be made yet", (why, Text("Correct this, then open the page again.")))
        return to_html(page)


def _in_hand(job: Job) -> list[Stage]:
    """The boxes as they are filled; an InputError where there is nothing to say of any."""
    from predictor.text.trials import nothing_to_do

    stages = job.stages_in_hand()
    if not stages:
        raise InputError(nothing_to_do(job.trials))
    return stages


def _box(job: Job, name: str) -> str:
    """A box of the drill by its name; an InputError that names the boxes where there is none of that name."""
    names = [each.name for each in job.drill.boxes]
    if name not in names:
        raise InputError(f"The drill has no box of this name. Its boxes are: {', '.join(names)}.")
    return name


def _filled(name: str, **values: object) -> str:
    """A template of this room with its values, each escaped and without invisible characters."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    found = Environment(
        loader=PackageLoader("predictor.serving"),
        autoescape=True,
        finalize=lambda each: visible(str(each)),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return found.get_template(name).render(values)
