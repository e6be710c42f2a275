"""The season's record: everything a landowner, a programme or the next season asks, as one page."""

from __future__ import annotations

import csv
import hashlib
import io
import os
import platform
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from predictor import __version__
from predictor.advice.aim import CONFIDENCE, TOLERANCE
from predictor.advice.result import Advice
from predictor.domain.seed import LotPlan
from predictor.field.budget import Budget
from predictor.format import figures, percent
from predictor.job.job import Job, Task
from predictor.lots.results import LotComparison
from predictor.pages.blocks import Block, Facts, Grid, Heading, Items, Lines, Page, Picture, Text
from predictor.text import cautions
from predictor.text.advice import headline
from predictor.text.budget import budget_words
from predictor.text.field import check_words, factor_words, target_words
from predictor.text.lots import lot_sentence, season_sentences, shape_sentence, spread_sentences
from predictor.units import (
    AREA_UNIT,
    GRAMS_PER_POUND,
    METRES_PER_FOOT,
    METRES_PER_INCH,
    RATE_UNIT,
    SQUARE_METRES,
    rate_in,
)

# A report lists this many lots of a box against the reference; `compare --json` lists all.
MOST_LOTS = 12
TO_FILL = "________________"


@dataclass(frozen=True)
class Particulars:
    """What no file of the job says; "" is left to be filled in by hand."""

    client: str = ""
    place: str = ""
    depth: str = ""
    operator: str = ""
    area_m2: float | None = None
    planted: str = ""  # Day of planting, as YYYY-MM-DD


@dataclass(frozen=True)
class Record:
    """Everything a report shows, worked out."""

    job: Job
    tasks: tuple[Task, ...]
    results: tuple[Advice, ...]  # One a task
    budgets: tuple[Budget, ...]
    comparisons: tuple[LotComparison, ...]
    files: tuple[tuple[str, str], ...]  # Name and SHA-256 of each file read
    particulars: Particulars = field(default_factory=Particulars)

    @property
    def date(self) -> str:
        """Day of the last catch or check; "" where none is dated."""
        days = [each for each in self.job.trials.date.tolist() if each]
        days += [] if self.job.checks is None else [each.date for each in self.job.checks.checks]
        return max(days, default="")


def make_record(
    job: Job,
    files: Sequence[str | os.PathLike[str]],
    particulars: Particulars,
    *,
    tolerance: float = TOLERANCE,
    confidence: float = CONFIDENCE,
) -> Record:
    """Work out everything a report shows."""
    from predictor.lots.compare import compare_lots

    tasks = job.in_hand()
    results = tuple(job.advice(task, tolerance, confidence) for task in tasks)
    boxes = [box.name for box in job.drill.boxes if len(set(job.trials.of(box=box.name).lot.tolist())) > 1]
    comparisons = tuple(compare_lots(job.trials, name) for name in boxes)
    prints = tuple((Path(each).name, hashlib.sha256(Path(each).read_bytes()).hexdigest()) for each in files)
    return Record(
        job, tuple(tasks), results, tuple(job.budgets(tolerance, confidence)), comparisons, prints, particulars
    )


def report_page(record: Record, *, units: str, paper: str) -> Page:
    """The record as a page."""
    blocks: list[Block] = [
        *_what(record, units),
        *_settings(record, units),
        *_tags(record, units),
        *_catches(record),
        *_field(record, units),
        *_budgets(record),
        *_lots(record),
        Heading("Cautions"),
        Items(cautions.CAUTIONS),
        Heading("Signed"),
        Lines(("Operator, date", "Checked by, date", "For the programme, date")),
        *_origin(record),
    ]
    return Page(f"Seeding record: {record.job.drill.name}", tuple(blocks), paper, date=record.date)


def _what(record: Record, units: str) -> list[Block]:
    drill, told = record.job.drill, record.particulars
    us = units == "us"
    spacing = f"{drill.row_spacing_m / METRES_PER_INCH:.4g} in" if us else f"{100 * drill.row_spacing_m:.4g} cm"
    around = (
        f"{drill.rolling_circumference_m / METRES_PER_FOOT:.4g} ft" if us else f"{drill.rolling_circumference_m:.4g} m"
    )
    area = AREA_UNIT[units]
    catch = drill.catch
    return [
        Facts(
            (
                ("For", told.client or TO_FILL),
                ("Place", told.place or TO_FILL),
                ("Area", TO_FILL if told.area_m2 is None else f"{told.area_m2 / SQUARE_METRES[area]:.4g} {area}"),
                ("Planted on", told.planted or TO_FILL),
                ("Depth of seed", told.depth or TO_FILL),
                ("Operator", told.operator or _operators(record) or TO_FILL),
                ("Last catch or check", record.date or "none"),
                ("Drill", f"{drill.name}: {drill.rows} rows {spacing} apart, drive wheel {around} around"),
                (
                    "Usual catch",
                    f"{catch.turns:g} turns, {catch.rows} rows, {catch.charge_turns:g} turns to charge, scale to "
                    f"{catch.scale_resolution_g:g} g",
                ),
            )
        )
    ]


def _operators(record: Record) -> str:
    names = [*record.job.trials.operator.tolist()]
    return ", ".join(dict.fromkeys(filter(None, names)))


def _settings(record: Record, units: str) -> list[Block]:
    """What each box is set to, and on what evidence."""
    rows = []
    for advice in record.results:
        entry = None if record.job.plan is None else record.job.plan.target(advice.box, advice.lot)
        expected, rate = advice.expected_output, advice.rate(advice.expected_output, units)
        rows.append(
            (
                advice.box,
                advice.lot,
                headline(advice),
                "" if advice.chance is None else f"{min(int(100 * advice.chance), 99)} in 100",
                f"{advice.target_catch_g:.1f} g",
                "" if expected is None else f"{expected * advice.turns * advice.rows:.1f} g",
                "" if entry is None else figures(rate_in(entry.bulk_rate, units)),
                "" if rate is None else figures(rate),
            )
        )
    unit = RATE_UNIT[units]
    header = (
        "Box",
        "Lot",
        "Setting",
        "Chance",
        "Target catch",
        "Expected",
        f"Planned bulk {unit}",
        f"Expected bulk {unit}",
    )
    blocks: list[Block] = [Heading("Settings"), Grid(header, tuple(rows), frozenset({3, 4, 5, 6, 7}))]
    first = record.results[0] if record.results else None
    if first is not None:
        blocks.append(
            Text(
                f"Chance: that the true mean rate lies within {100 * first.tolerance:g} % of target; of the whole "
                "drill where single rows were weighed, else of the rows caught. Weights are for the turns and rows of "
                "the last catch.",
                small=True,
            )
        )
    for advice in record.results:
        entry = None if record.job.plan is None else record.job.plan.target(advice.box, advice.lot)
        factor = "" if entry is None or entry.field_factor == 1 else f" Field factor {entry.field_factor:.2f}."
        cv = "" if advice.repeatability is None else f" Repeatability {100 * advice.repeatability:.1f} %."
        history = f" Before these catches: {advice.history}" if advice.history else ""
        text = f"{advice.box}, {advice.lot}: {advice.reason} Curve: {advice.model}.{cv}{factor}{history}"
        blocks += [Text(text), *([Items(advice.warnings)] if advice.warnings else [])]
    return [*blocks, *_curves(record, units)]


def _curves(record: Record, units: str) -> list[Block]:
    from predictor.plots.advice import plot_boxes

    return [
        Picture(
            plot_boxes([each], units),
            f"Catches, curve, target and setting of box {each.box}.",
        )
        for each in record.results
        if each.catches_used
    ]


def _tags(record: Record, units: str) -> list[Block]:
    plan = record.job.plan
    if plan is None:
        return [Heading("Seed"), Text("There is no plan in this job: tags and targets were not recorded.")]
    rows = tuple(_tag_row(lot, units) for lot in plan.lots)
    unit = RATE_UNIT[units]
    count = "Seeds a lb" if units == "us" else "Seeds a g"
    header = (
        *("Box", "Lot", "Species", "Pure %", "Germ. %", "Dormant %", "PLS %", "Tested"),
        *(f"PLS {unit}", f"Bulk {unit}", count),
    )
    rule = "germination alone" if plan.viable == "germination" else "germination with dormant and hard seed"
    carriers = [
        f"{each.box.name}: {figures(rate_in(each.carrier, units))} {unit}" for each in plan.boxes if each.carrier
    ]
    blocks: list[Block] = [
        Heading("Seed"),
        Grid(header, rows, frozenset(range(3, 11)) - {7}),
        Text(f"PLS counts {rule}." + (f" Carrier in {'; '.join(carriers)}." if carriers else ""), small=True),
    ]
    return [*blocks, *([Items(tuple(map(str, plan.remarks)))] if plan.remarks else [])]


def _tag_row(lot: LotPlan, units: str) -> tuple[str, ...]:
    seeds = lot.seeds_per_g * (GRAMS_PER_POUND if units == "us" else 1.0)
    source = " (USDA table)" if lot.seeds_from == "table" else ""
    return (
        lot.box,
        f"{lot.lot} (in {lot.blend})" if lot.blend else lot.lot,
        lot.species,
        *(f"{100 * each:.4g}" for each in (lot.purity, lot.germination, lot.dormant, lot.pls)),
        lot.test_date,
        figures(rate_in(lot.pls_rate, units)),
        figures(rate_in(lot.bulk_rate, units)),
        f"{seeds:,.0f}{source}" if seeds == seeds else "not known",
    )


def _catches(record: Record) -> list[Block]:
    """Every catch, those left out too, and why."""
    trials = record.job.trials
    if not len(trials):
        return [Heading("Catches"), Text("None yet.")]
    in_hand = {(each.box, each.lot, each.season) for each in record.results}
    lots = {(each.box, each.lot) for each in record.results}  # undated catches go with any season
    aside = {line for each in record.results for line in each.set_aside}
    rows = []
    for i in range(len(trials)):
        if not trials.use[i]:
            state = f"left out: {trials.note[i]}" if trials.note[i] else "left out: marked"
        elif not trials.charged[i]:
            state = "left out: not charged"
        elif not trials.counts[i]:
            state = "left out: weighed nothing"
        elif int(trials.line[i]) in aside:
            state = "not used: the others contradict it, or it was made again"
        elif (*(here := (trials.box[i], trials.lot[i])), trials.season[i]) in in_hand or (
            here in lots and not trials.season[i]
        ):
            state = "used"
        else:
            state = "earlier lot"
        if trials.note[i] and not state.startswith("left out: " + trials.note[i]):
            state += f"; {trials.note[i]}"
        single = "" if trials.rows_g[i] is None else " + ".join(f"{each:.4g}" for each in trials.rows_g[i])
        rows.append(
            (
                str(trials.line[i] or f"Catch {i + 1}"),
                trials.date[i],
                *(trials.box[i], trials.lot[i], trials.setting[i]),
                f"{trials.turns[i]:g} x {trials.rows[i]:g}",
                f"{trials.catch_g[i]:.5g}",
                single,
                "" if np.isnan(trials.fill_pct[i]) else f"{trials.fill_pct[i]:g}",
                state,
            )
        )
    header = ("Line", "Date", "Box", "Lot", "Setting", "Turns x rows", "Net g", "Single rows", "Full %", "Used")
    return [Heading("Catches"), Grid(header, tuple(tuple(map(str, row)) for row in rows), frozenset({0, 6, 8}))]


def _field(record: Record, units: str) -> list[Block]:
    found = record.job.field
    blocks: list[Block] = [Heading("Field checks")]
    if found is None:
        return [
            *blocks,
            Text("None was made: the rate in the field is taken as the stationary one."),
        ]
    blocks.append(Items(tuple(" ".join(check_words(each, units)) for each in found.checks)))
    for box in found.boxes:
        targets = target_words(record.job, box.box)
        blocks.append(Text(f"Field factor of {factor_words(box)} {' '.join(targets)}"))
    return [*blocks, *([Items(tuple(map(str, found.remarks)))] if found.remarks else [])]


def _budgets(record: Record) -> list[Block]:
    from predictor.plots.budget import plot_budgets

    blocks: list[Block] = [Heading("Uncertainty of the planted live seed")]
    if not record.budgets:
        return [*blocks, Text("This needs a plan and catches.")]
    for budget in record.budgets:
        rows = tuple(
            (
                str(each.title),
                str(each.basis),
                f"{100 * each.u:.1f} %",
                f"{percent(budget.share(each))} %",
                _free(each.dof),
            )
            for each in budget.sources
        )
        total = ("all together", "", f"{100 * budget.combined:.1f} %", "100 %", _free(budget.dof))
        header = ("Source", "Basis", "Standard uncertainty", "Share", "Degrees of freedom")
        blocks.append(Grid(header, (*rows, total), frozenset({2, 3, 4}), f"{budget.box}, {budget.lot}"))
        blocks.append(Text(" ".join(budget_words(budget))))
        blocks.append(Picture(plot_budgets([budget]), f"Sources of uncertainty of box {budget.box} as bars."))
    text = "In the manner of JCGM 100:2008; shares are of the variance."
    return [*blocks, Text(text, small=True)]


def _free(dof: float) -> str:
    return "no limit" if dof > 1e4 else f"{dof:.0f}"


def _lots(record: Record) -> list[Block]:
    from predictor.plots.lots import plot_lots

    blocks: list[Block] = [Heading("Lots compared")]
    told = [(each.reference, each) for each in record.comparisons if each.reference is not None]
    if not told:
        return [*blocks, Text("No box has catches of two lots.")]
    for against, found in told:
        others = [row for row in found.lots if row.lot != against.lot]
        sentences = [lot_sentence(against, row, start=False) for row in others[:MOST_LOTS]]
        if len(others) > MOST_LOTS:
            sentences.append(f"{len(others) - MOST_LOTS} more lots are in the log.")
        sentences += [shape_sentence(found), *spread_sentences(found.spread), *season_sentences(found)]
        blocks += [Text(f"{found.box}, compared with lot {against.lot}", strong=True)]
        blocks.append(Items(tuple(filter(None, sentences))))
        text = f"Box {found.box}: curves of the lots, their ratios, and repeatability by season."
        blocks.append(Picture(plot_lots([found]), text))
    return blocks


def _origin(record: Record) -> list[Block]:
    import scipy

    python = platform.python_version()
    versions = f"predictor {__version__}, Python {python}, numpy {np.__version__}, scipy {scipy.__version__}"
    rows = tuple((name, digest[:32] + " " + digest[32:]) for name, digest in record.files)
    return [
        Heading("How this was made", 3),
        Text(f"{versions}. {' '.join(record.job.messages)}".strip(), small=True),
        Grid(("File", "SHA-256"), rows),
    ]


COLUMNS = (
    *("box", "blend", "lot", "species", "purity_pct", "germination_pct", "dormant_pct", "test_date", "pls_pct"),
    *("setting", "decision", "chance", "field_factor", "target_catch_g", "expected_catch_g"),
)


def settings_csv(record: Record, units: str) -> str:
    """A row for each lot of the plan: tag, setting, planned and expected rate; safe to open in a spreadsheet."""
    rate = RATE_UNIT[units].replace("/", "_")
    header = (*COLUMNS, f"planned_pls_{rate}", f"planned_bulk_{rate}", f"expected_bulk_{rate}", f"expected_pls_{rate}")
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    plan = record.job.plan
    by_box = {(each.box, each.lot.lower()): each for each in record.results}
    for entry in plan.boxes if plan is not None else ():
        advice = by_box.get((entry.box.name, entry.lot.lower()))
        expected = None if advice is None else advice.rate(advice.expected_output, units)
        # the lots of a blend run out as they were mixed
        part = None if expected is None else expected / rate_in(entry.bulk_rate, units)
        for lot in entry.lots:
            values = [
                *(lot.box, lot.blend, lot.lot, lot.species),
                *(100 * lot.purity, 100 * lot.germination, 100 * lot.dormant, lot.test_date, 100 * lot.pls),
                None if advice is None or advice.advised is None else advice.advised.text,
                None if advice is None else advice.decision,
                None if advice is None else advice.chance,
                entry.field_factor,
                None if advice is None else advice.target_catch_g,
                None
                if advice is None or advice.expected_output is None
                else advice.expected_output * advice.turns * advice.rows,
                rate_in(lot.pls_rate, units),
                rate_in(lot.bulk_rate, units),
                None if part is None else part * rate_in(lot.bulk_rate, units),
                None if part is None else part * rate_in(lot.pls_rate, units),
            ]
            writer.writerow([_cell(value) for value in values])
    return out.getvalue()


_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?").fullmatch


def _cell(value: str | float | None) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        formula = value[:1] in ("=", "+", "-", "@", "\t", "\r") and not _NUMBER(value)
        return f"'{value}" if formula else value
    return f"{value:.10g}"
