"""The settings of a record as a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable

from predictor.advice.result import Advice
from predictor.domain.drill import VIABLE
from predictor.domain.planted import PlantedLine, PlantedLot
from predictor.domain.seed import BoxPlan, LotPlan, pure_live_seed
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
# Where and when a row was planted; `used` is the part of the row's lot.
PLANTED = ("planted_on", "planted_field")
# What in the log looked like a slip and was not settled, which of its lines a person stands by, and what was assumed.
LOG = ("log_to_check", "log_lines_confirmed", "log_taken_as_given")
RATES = ("planned_pls", "planned_bulk", "expected_bulk", "expected_pls")
Cell = str | float | None

_NUMBER = re.compile(r"-?[0-9]+(?:\.[0-9]+)?").fullmatch


def settings_csv(record: Record, units: Units) -> str:
    """A row for each lot in each planted line, and for each lot that is still to be planted; safe for a spreadsheet.

    What was planted is stated from its line alone, whatever plan, catches and advice say later. The other lots have
    their tag, setting and rates as they are now.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    rows = [_planted(line, lot, units) for line in record.planting.lines for lot in contents(line)]
    done = {(each.box, each.lot.lower()) for each in record.stages if each.planted}
    advice = {(each.box, each.lot.lower()): each for each in record.results}
    for plan in record.job.plan.boxes if record.job.plan else ():
        key = plan.box.name, plan.lot.lower()
        if key not in done:
            rows += [_to_plant(plan, lot, advice.get(key), units) for lot in plan.lots]
    writer.writerow(header(units))
    writer.writerows([_cell(each) for each in row] for row in rows)
    return out.getvalue()


def header(units: Units) -> list[str]:
    """The columns of the table. A file that begins so is one of these tables, and may be written again."""
    unit = RATE_UNIT[units].replace("/", "_")
    amounts = (f"planted_area_{AREA_UNIT[units]}", f"planted_used_{WEIGHT_UNIT[units]}")
    return [*COLUMNS, *(f"{name}_{unit}" for name in RATES), *PLANTED, *amounts, *LOG]


def _planted(line: PlantedLine, lot: PlantedLot, units: Units) -> list[Cell]:
    """One lot of a line, as it was planted."""
    then = line.evidence
    used = lot.share * line.used_g / GRAMS[WEIGHT_UNIT[units]]
    where: list[Cell] = [line.date, line.field, line.area_m2 / SQUARE_METRES[AREA_UNIT[units]], used]
    blend = "" if line.lot in (lot.lot, lot.bag) else line.lot
    tag = _tag([line.box.name, blend, lot.bag, lot.lot, lot.species], lot, _pls(lot))
    if then is None:
        return [*tag, line.setting.text, *[None] * 9, *where, *[None] * len(LOG)]
    catch = then.target_catch_g
    setting: list[Cell] = [
        line.setting.text,
        "planted",
        then.chance,
        then.field_factor,
        catch,
        catch * then.expected / then.target,
    ]
    bulk = [rate_in(lot.share * each, units) for each in (then.target, then.expected)]
    log = _log(then.slips, then.confirmed, then.given)
    return [*tag, *setting, bulk[0] * lot.pls, bulk[0], bulk[1], bulk[1] * lot.pls, *where, *log]


def _log(slips: Iterable[str], confirmed: Iterable[int], given: str) -> list[Cell]:
    """What the log left open, and what a person stands by."""
    return [" ".join(slips), " ".join(map(str, confirmed)), given]


def _pls(lot: PlantedLot) -> float:
    """Pure live seed of a lot or species, as a fraction of the weight of the whole bag."""
    if lot.tz == lot.tz or lot.viable not in VIABLE:  # without a tag no rule is named
        return lot.purity * lot.tz
    return pure_live_seed(lot.purity, lot.germination, lot.dormant, lot.hard, lot.viable)


def _to_plant(plan: BoxPlan, lot: LotPlan, advice: Advice | None, units: Units) -> list[Cell]:
    """One lot that is still to be planted."""
    tag = _tag([lot.box, lot.blend, lot.bag, lot.lot, lot.species], lot, lot.pls)
    log: list[Cell] = [None] * len(LOG)
    if advice is not None:
        stood_by = advice.trials.line[advice.trials.confirmed].tolist()
        log = _log(map(str, advice.slips), stood_by, "" if advice.given is None else str(advice.given))
    # nothing was planted yet: neither day, field nor amounts
    return [*tag, *_setting(plan, advice), *_rates(plan, lot, advice, units), *[None] * 4, *log]


def _tag(names: list[Cell], lot: LotPlan | PlantedLot, pls: float) -> list[Cell]:
    """What the tag of a lot says, after its names."""
    tagged = pls == pls
    parts = (lot.dormant, lot.hard) if tagged else (math.nan, math.nan)
    shares = (100 * each for each in (lot.purity, lot.germination, lot.tz, *parts))
    rule = lot.viable if tagged else None
    rest = (100 * each for each in (lot.other_crop, lot.weed, lot.inert, lot.coating))
    texts = (lot.noxious, lot.origin, lot.variety, lot.method)
    return [*names, *shares, *rest, *texts, lot.treatment, lot.test_date, rule, 100 * pls]


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
