"""The record of a season as a page."""

from __future__ import annotations

import platform
from collections.abc import Iterable, Sequence
from functools import cache, partial

import numpy as np
import scipy

from predictor import __version__
from predictor.advice.result import Advice
from predictor.domain.seed import LotPlan
from predictor.field.budget import Budget
from predictor.format import figures, in_100, percent, plain, weight
from predictor.job.record import Record
from predictor.pages.blocks import Block, Facts, Grid, Heading, Items, Lines, Page, Paper, Picture, Text
from predictor.pages.planted import planted_blocks
from predictor.plots.advice import plot_boxes
from predictor.plots.budget import plot_budgets
from predictor.plots.lots import plot_lots
from predictor.text import cautions, field, record as words, tag
from predictor.text.budget import budget_words
from predictor.text.doing import look_at
from predictor.text.pictures import lots_compared
from predictor.units import RATE_UNIT, Units, rate_in

# More catches than a record can be read with: of a longer log those of the lots in hand are listed, the last ones.
MOST_LISTED = 5000


def report_page(record: Record, *, units: Units, paper: Paper) -> Page:
    """The record as a page."""
    blocks: tuple[Block, ...] = (
        Facts(words.particulars(record, units)),
        *planted_blocks(record.planting, units, record.planted_before),
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
    )
    return Page(f"Seeding record: {record.job.drill.name}", blocks, paper, date=record.date)


def _settings(record: Record, units: Units) -> list[Block]:
    """What each box is set to, and on what evidence; of lots that are planted, what is advised for next time."""
    ahead = [each for each in record.results if not record.is_planted(each)]
    planted = [each for each in record.results if record.is_planted(each)]
    blocks = [Heading("Settings"), *_advised(record, ahead, units)] if ahead or not planted else []
    if planted:
        reached = tuple(words.reached(record.stage_of(each)) for each in planted)
        blocks += [Heading("For next time"), Items(reached), Text(words.NEXT_TIME), *_advised(record, planted, units)]
    return blocks


def _advised(record: Record, results: Sequence[Advice], units: Units) -> list[Block]:
    """The advice on boxes, in a table, in sentences and as pictures."""
    rates = (f"{what} bulk {RATE_UNIT[units]}" for what in ("Planned", "Expected"))
    header = ("Box", "Lot", "Setting", "Chance", "Target catch", "Expected", *rates)
    rows = tuple(_setting_row(record, each, units) for each in results)
    blocks: list[Block] = [Grid(header, rows, frozenset(range(3, 8)))]
    if results:
        blocks.append(Text(words.chance_note(results), small=True))
    for each in results:
        blocks += [Text(words.evidence(record, each)), *_items([*look_at(each), *each.warnings])]
    for each in results:
        if each.catches_used:
            alt = f"Catches, curve, target and setting of box {each.box}."
            blocks.append(Picture(plot_boxes([each], units), alt))
    return blocks


def _setting_row(record: Record, advice: Advice, units: Units) -> tuple[str, ...]:
    plan, expected = record.plan_of(advice), advice.expected_catch_g
    rate = advice.rate(advice.expected_output, units)
    return (
        *(advice.box, advice.lot, words.setting(record.stage_of(advice))),
        "" if advice.chance is None or advice.waiting else f"{in_100(advice.chance)} in 100",
        f"{weight(advice.target_catch_g, advice.step_g)} g",
        "" if expected is None else f"{weight(expected, advice.step_g)} g",
        "" if plan is None else figures(rate_in(plan.bulk_rate, units)),
        "" if rate is None else figures(rate),
    )


def _tags(record: Record, units: Units) -> list[Block]:
    plan, unit = record.job.plan, RATE_UNIT[units]
    if plan is None:
        return [Heading("Seed"), Text(words.NO_PLAN)]
    header = (
        *("Box", "Lot", "Species", "Pure %", "Germ. %", "Dormant %", "Hard %", "PLS %", "Tested"),
        *(f"PLS {unit}", f"Bulk {unit}", "Seeds a lb" if units == "us" else "Seeds a g"),
    )
    rows = tuple(_tag_row(lot, units) for lot in plan.lots)
    grid = Grid(header, rows, frozenset({*range(3, 8), *range(9, 12)}))
    return [
        Heading("Seed"),
        grid,
        *_analysis(plan.lots),
        Text(words.plan_note(plan, units), small=True),
        *_items(map(str, plan.remarks)),
    ]


def _analysis(lots: Sequence[LotPlan]) -> list[Block]:
    """What else the tags say, where they do."""
    header = (
        *("Box", "Lot", "Species", "Variety", "Origin"),
        *("Other crop %", "Weed %", "Inert %", "Coating %", "Noxious seed"),
    )
    rows = tuple(
        (lot.box, words.lot_name(lot), lot.species, lot.variety, lot.origin, *tag.percents(lot), lot.noxious)
        for lot in tag.table(lots)
    )
    return [Grid(header, rows, frozenset(range(5, 9)), "The rest of the tags")] if rows else []


def _tag_row(lot: LotPlan, units: Units) -> tuple[str, ...]:
    alive = words.alive(lot)
    shares = (f"{100 * each:.4g}" if lot.tagged else "" for each in (lot.dormant, lot.hard, lot.pls))
    return (
        *(lot.box, words.lot_name(lot), lot.species),
        *(f"{100 * lot.purity:.4g}" if lot.tagged else "", alive, *shares),
        lot.test_date,
        *(figures(rate_in(each, units)) if each == each else "" for each in (lot.pls_rate, lot.bulk_rate)),
        words.seeds(lot, units),
    )


def _catches(record: Record) -> list[Block]:
    """Every catch, also those left out, and what each was used for."""
    trials, uses = record.job.trials, record.uses()
    if not uses:
        return [Heading("Catches"), Text(words.NO_CATCH)]
    listed = np.arange(len(uses))
    if len(uses) > MOST_LISTED:
        listed = np.flatnonzero(np.array(uses) != "earlier")[-MOST_LISTED:]
        trials, uses = trials.where(np.isin(np.arange(len(uses)), listed)), [uses[i] for i in listed.tolist()]
    header = (
        "Line",
        "Date",
        "Box",
        "Lot",
        "Setting",
        "Length, rows",
        "Net g",
        "Rows (+) or parts (/)",
        "Full %",
        "Used",
    )
    size = cache(partial(words.caught_size, record.job.drill))  # the same in most rows
    sizes = (trials.box, trials.turns, trials.rows, trials.towed)
    columns = (
        [str(line or f"Catch {i + 1}") for i, line in zip(listed.tolist(), trials.line.tolist(), strict=True)],
        *(each.tolist() for each in (trials.date, trials.box, trials.lot, trials.setting)),
        map(size, *(each.tolist() for each in sizes)),
        [f"{weight:.5g}" for weight in trials.catch_g.tolist()],
        map(words.weighed_apart, trials.rows_g, trials.parts_g),
        ["" if np.isnan(fill) else plain(fill) for fill in trials.fill_pct.tolist()],
        map(words.use_words, uses, trials.note.tolist(), trials.confirmed.tolist()),
    )
    rows = tuple(zip(*columns, strict=True))
    more = len(record.job.trials) - len(rows)
    note = [Text(words.not_listed(len(rows), more))] if more else []
    return [Heading("Catches"), *note, Grid(header, rows, frozenset({0, 6, 8}))]


def _field(record: Record, units: Units) -> list[Block]:
    found, blocks = record.job.field, [Heading("Field checks")]
    if found is None:
        return [*blocks, Text(words.no_check(record.job.drill))]
    checks = Items(tuple(" ".join(field.check_words(each, units)) for each in found.checks))
    factors = [
        Text(" ".join([f"Field factor of {field.factor_words(box)}", *field.target_words(record.job, box.box)]))
        for box in found.boxes
    ]
    return [*blocks, checks, *factors, *_items(map(str, found.remarks))]


def _budgets(record: Record) -> list[Block]:
    blocks: list[Block] = [Heading("Uncertainty of the planted live seed")]
    if not record.budgets:
        return [*blocks, Text(words.NO_BUDGET)]
    for each in record.budgets:
        picture = Picture(plot_budgets([each]), f"Sources of uncertainty of box {each.box} as bars.")
        blocks += [_budget_grid(each), Text(" ".join(budget_words(each))), picture]
    return [*blocks, Text(words.BUDGET_NOTE, small=True)]


def _budget_grid(budget: Budget) -> Grid:
    header = ("Source", "Basis", "Standard uncertainty", "Share", "Degrees of freedom")
    sources = [(str(each.title), str(each.basis), each.u, budget.share(each), each.dof) for each in budget.sources]
    rows = tuple(
        (name, basis, f"{100 * u:.1f} %", f"{percent(share)} %", "no limit" if dof > 1e4 else f"{dof:.0f}")
        for name, basis, u, share, dof in [*sources, ("all together", "", budget.combined, 1.0, budget.dof)]
    )
    return Grid(header, rows, frozenset({2, 3, 4}), f"{budget.box}, {budget.lot}")


def _lots(record: Record) -> list[Block]:
    blocks: list[Block] = [Heading("Lots compared")]
    told = [(each.reference, each) for each in record.comparisons if each.reference is not None]
    if not told:
        return [*blocks, Text(words.NO_LOTS)]
    for against, found in told:
        blocks.append(Text(f"{found.box}, compared with lot {against.name}", strong=True))
        blocks += [Items(tuple(words.comparison(against, found))), Picture(plot_lots([found]), lots_compared(found))]
    return blocks


def _origin(record: Record) -> list[Block]:
    python = platform.python_version()
    versions = f"predictor {__version__}, Python {python}, numpy {np.__version__}, scipy {scipy.__version__}"
    rows = tuple((name, f"{digest[:32]} {digest[32:]}") for name, digest in record.files)
    text = " ".join([f"{versions}.", *record.job.messages])
    return [Heading("How this was made", 3), Text(text, small=True), Grid(("File", "SHA-256"), rows)]


def _items(sentences: Iterable[str]) -> list[Block]:
    """A list of sentences; nothing where there is none."""
    found = tuple(sentences)
    return [Items(found)] if found else []
