"""The settings of a record as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
import re

from predictor.advice.result import Advice
from predictor.domain.seed import BoxPlan, LotPlan
from predictor.job.record import Record
from predictor.units import RATE_UNIT, Units, rate_in

COLUMNS = (
    *(
        "box",
        "blend",
        "bag",
        "lot",
        "species",
        "purity_pct",
        "germination_pct",
        "tz_pct",
        "dormant_pct",
        "hard_pct",
        "other_crop_pct",
        "weed_pct",
        "inert_pct",
        "coating_pct",
        "noxious",
        "origin",
        "variety",
        "method",
        "treatment",
        "test_date",
        "viable",
        "pls_pct",
    ),
    *("setting", "decision", "chance", "field_factor", "target_catch_g", "expected_catch_g"),
)
RATES = ("planned_pls", "planned_bulk", "expected_bulk", "expected_pls")
Cell = str | float | None

_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?").fullmatch


def settings_csv(record: Record, units: Units) -> str:
    """A row for each lot of the plan: tag, setting, planned and expected rates; safe to open in a spreadsheet."""
    unit = RATE_UNIT[units].replace("/", "_")
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*COLUMNS, *(f"{name}_{unit}" for name in RATES)])
    found = {(each.box, each.lot.lower()): each for each in record.results}
    for plan in record.job.plan.boxes if record.job.plan else ():
        advice = found.get((plan.box.name, plan.lot.lower()))
        for lot in plan.lots:
            writer.writerow(map(_cell, [*_tag(lot), *_setting(plan, advice), *_rates(plan, lot, advice, units)]))
    return out.getvalue()


def _tag(lot: LotPlan) -> list[Cell]:
    parts = (lot.dormant, lot.hard) if lot.tagged else (math.nan, math.nan)
    shares = (100 * each for each in (lot.purity, lot.germination, lot.tz, *parts))
    rule = lot.viable if lot.tagged else None
    names = (lot.box, lot.blend, lot.bag, lot.lot, lot.species)
    rest = (100 * each for each in (lot.other_crop, lot.weed, lot.inert, lot.coating))
    texts = (lot.noxious, lot.origin, lot.variety, lot.method)
    return [*names, *shares, *rest, *texts, lot.treatment, lot.test_date, rule, 100 * lot.pls]


def _setting(plan: BoxPlan, advice: Advice | None) -> list[Cell]:
    if advice is None:
        return [None, None, None, plan.field_factor, None, None]
    setting = None if advice.advised is None else advice.advised.text
    return [setting, advice.decision, advice.chance, plan.field_factor, advice.target_catch_g, advice.expected_catch_g]


def _rates(plan: BoxPlan, lot: LotPlan, advice: Advice | None, units: Units) -> list[Cell]:
    planned = [rate_in(lot.pls_rate, units), rate_in(lot.bulk_rate, units)]
    expected = None if advice is None else advice.rate(advice.expected_output, units)
    if expected is None:
        return [*planned, None, None]
    part = expected / rate_in(plan.bulk_rate, units)  # the lots of a blend run out as they were mixed
    return [*planned, part * planned[1], part * planned[0]]


def _cell(value: Cell) -> str:
    """A cell as text; one that a spreadsheet would take for a formula gets an apostrophe."""
    if value is None or value != value:
        return ""
    if not isinstance(value, str):
        return f"{value:.10g}"
    return f"'{value}" if value[:1] in ("=", "+", "-", "@", "\t", "\r") and not _NUMBER(value) else value
