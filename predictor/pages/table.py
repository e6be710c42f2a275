"""The settings of a record as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
import re

from predictor.advice.result import Advice
from predictor.domain.planted import PlantedLot
from predictor.domain.seed import BoxPlan, LotPlan
from predictor.job.planting import contents
from predictor.job.record import Record
from predictor.units import AREA_UNIT, GRAMS, RATE_UNIT, SQUARE_METRES, WEIGHT_UNIT, Units, rate_in

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
# What was planted, from the lines alone; `used` is the part of the row's lot.
PLANTED = ("planted_on", "planted_field", "planted_setting", "planted_chance")
RATES = ("planned_pls", "planned_bulk", "expected_bulk", "expected_pls")
Cell = str | float | None

_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?").fullmatch


def settings_csv(record: Record, units: Units) -> str:
    """A row for each lot of the plan, and for each line in which it was planted; safe to open in a spreadsheet.

    Tag, setting and rates are those of today. The columns of what was planted come from the lines alone, also for lots
    that the plan does not have.
    """
    unit = RATE_UNIT[units].replace("/", "_")
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    amounts = (f"planted_area_{AREA_UNIT[units]}", f"planted_used_{WEIGHT_UNIT[units]}")
    header = [*COLUMNS, *(f"{name}_{unit}" for name in RATES), *PLANTED, *amounts]
    writer.writerow(header)
    found = {(each.box, each.lot.lower()): each for each in record.results}
    planted = _planted(record, units)
    for plan in record.job.plan.boxes if record.job.plan else ():
        advice = found.get((plan.box.name, plan.lot.lower()))
        for lot in plan.lots:
            cells = [*_tag(lot), *_setting(plan, advice), *_rates(plan, lot, advice, units)]
            _, lines = planted.pop(_key(plan.box.name, plan.lot, lot), ([], [[]]))
            for each in lines:
                writer.writerow(map(_cell, [*cells, *each] + [None] * (len(header) - len(cells) - len(each))))
    for names, lines in planted.values():
        row = dict(zip(COLUMNS, names, strict=False))
        for each in lines:
            before = [row.get(column) for column in header[: len(header) - len(each)]]
            writer.writerow(map(_cell, [*before, *each]))
    return out.getvalue()


# A lot in a box, in capitals or not: box, filling, bag, lot, species.
Key = tuple[str, str, str, str, str]


def _key(box: str, filling: str, lot: LotPlan | PlantedLot) -> Key:
    return box, filling.lower(), lot.bag.lower(), lot.lot.lower(), lot.species.lower()


def _planted(record: Record, units: Units) -> dict[Key, tuple[list[str], list[list[Cell]]]]:
    """The names of each lot that was planted, and the cells of each line in which it was."""
    rows: dict[Key, tuple[list[str], list[list[Cell]]]] = {}
    for line in record.planting.lines:
        chance = None if line.evidence is None else line.evidence.chance
        area = line.area_m2 / SQUARE_METRES[AREA_UNIT[units]]
        for lot in contents(line):
            used = lot.share * line.used_g / GRAMS[WEIGHT_UNIT[units]]
            cells = [line.date, line.field, line.setting.text, chance, area, used]
            blend = "" if line.lot in (lot.lot, lot.bag) else line.lot
            names = [line.box.name, blend, lot.bag, lot.lot, lot.species]
            rows.setdefault(_key(line.box.name, line.lot, lot), (names, []))[1].append(cells)
    return rows


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
