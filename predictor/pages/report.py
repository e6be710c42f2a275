"""The record of a season as a page: what was planted and decided first, then what is behind it."""

from __future__ import annotations

import platform
from collections.abc import Sequence

import numpy as np
import scipy

from predictor import __version__
from predictor.domain.trials import Trials
from predictor.format import figures
from predictor.job.record import Record, Use
from predictor.job.stage import Stage
from predictor.pages.blocks import Block, Facts, Grid, Heading, Items, Lines, Page, Paper, Picture, Text
from predictor.pages.evidence import evidence_blocks
from predictor.pages.planted import planted_blocks, used_blocks
from predictor.pages.tags import tag_blocks
from predictor.plots.lots import plot_lots
from predictor.text import cautions, record as words
from predictor.text.answer import answer
from predictor.text.pictures import lots_compared
from predictor.units import RATE_UNIT, Units, rate_in

# More catches than a record can be read with: of a longer log those of the lots in hand are listed, the last ones.
MOST_LISTED = 5000


def report_page(record: Record, *, units: Units, paper: Paper) -> Page:
    """The record as a page."""
    particulars = words.particulars(record, units)
    blocks: tuple[Block, ...] = (
        Text(words.in_short(particulars)),
        *planted_blocks(record.planting, units, record.planted_before),
        *_decided(record, units),
        *used_blocks(record.planting, units),
        *evidence_blocks(record, units),
        *tag_blocks(record, units),
        *_catches(record),
        *_lots(record),
        Heading("Cautions"),
        Items(cautions.CAUTIONS),
        Heading("Particulars"),
        Facts(particulars),
        Lines(("Operator, date", "Checked by, date", "For the programme, date")),
        *_origin(record),
    )
    return Page(f"Seeding record: {record.job.drill.name}", blocks, paper, date=record.date)


def _decided(record: Record, units: Units) -> list[Block]:
    """Where each box is, how sure that is, and what is left to do."""
    unit = RATE_UNIT[units]
    header = ("Box", "Lot", "Decision", "How sure", f"Planned {unit}", f"Expected {unit}")
    rows = tuple(_decision(record, each, units) for each in record.stages)
    blocks: list[Block] = [Heading("Decided")]
    blocks.append(Grid(header, rows, frozenset({4, 5}), "Where each box is", named=True))
    if left := words.still_to_plant(record, units):
        blocks.append(Text(left))
    return [*blocks, Text(words.chance_note(record.results), small=True)] if record.stages else blocks


def _decision(record: Record, stage: Stage, units: Units) -> tuple[str, ...]:
    found, advice, plan = answer(stage), stage.advice, record.plan_of(stage.advice)
    # the catches say what to expect at the setting that they advise, not at another one
    rate = advice.rate(advice.expected_output, units) if found.expected else None
    return (
        *(found.box, found.lot, found.headline, found.sure),
        "" if plan is None else figures(rate_in(plan.bulk_rate, units)),
        "" if rate is None else figures(rate),
    )


def _catches(record: Record) -> list[Block]:
    """Every catch, also those left out, and what each was used for, box by box."""
    trials, uses = record.job.trials, record.uses()
    if not uses:
        return [Heading("Catches"), Text(words.NO_CATCH)]
    listed = np.arange(len(uses))
    if len(uses) > MOST_LISTED:
        listed = np.flatnonzero(np.array(uses) != "earlier")[-MOST_LISTED:]
        trials, uses = trials.where(np.isin(np.arange(len(uses)), listed)), [uses[i] for i in listed.tolist()]
    more = len(record.job.trials) - len(uses)
    blocks: list[Block] = [
        Heading("Catches"),
        *([Text(words.not_listed(len(uses), more, in_hand=True))] if more else []),
    ]
    for box in dict.fromkeys(trials.box.tolist()):
        mine = trials.box == box
        blocks.append(_caught(record, trials.where(mine), [uses[i] for i in np.flatnonzero(mine)], listed[mine]))
    return blocks


def _caught(
    record: Record, trials: Trials, uses: Sequence[Use], places: np.ndarray[tuple[int], np.dtype[np.intp]]
) -> Grid:
    """The catches of one box; a column that says nothing is left out, and one size of all catches is in the caption."""
    columns = words.caught_columns(record.job.drill, trials, uses, places.tolist())
    caption, made = f"Catches of {trials.box[0]}", set(columns["Length, rows"])
    if len(made) == 1:
        caption = f"{caption}, each of {made.pop()}"
        del columns["Length, rows"]
    kept = {name: column for name, column in columns.items() if any(column)}
    numeric = frozenset(k for k, name in enumerate(kept) if name in ("Line", "Net g", "Full %"))
    return Grid(tuple(kept), tuple(zip(*kept.values(), strict=True)), numeric, caption, named=True)


def _lots(record: Record) -> list[Block]:
    blocks: list[Block] = [Heading("Lots compared")]
    told = [(each.reference, each) for each in record.comparisons if each.reference is not None]
    if not told:
        return [*blocks, Text(words.NO_LOTS)]
    for against, found in told:
        blocks.append(Heading(f"{found.box}, compared with lot {against.name}", 3))
        blocks += [Picture(plot_lots([found]), lots_compared(found)), Items(tuple(words.comparison(against, found)))]
    return blocks


def _origin(record: Record) -> list[Block]:
    python = platform.python_version()
    versions = f"predictor {__version__}, Python {python}, numpy {np.__version__}, scipy {scipy.__version__}"
    rows = tuple((name, f"{digest[:32]} {digest[32:]}") for name, digest in record.files)
    text = " ".join([f"{versions}.", *record.job.messages])
    files = Grid(("File", "SHA-256"), rows, caption="Files that were read", named=True)
    return [Heading("How this was made"), files, Text(text, small=True)]
