"""The words of the record of a season."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache, partial

from predictor.advice.result import Advice
from predictor.domain.catch import CatchSize, catch_size, slips
from predictor.domain.drill import Drill, Viable
from predictor.domain.seed import LotPlan, Plan
from predictor.domain.trials import Trials
from predictor.format import count, decimals_of, figures, listed, plain
from predictor.job.record import Record, Use
from predictor.job.stage import Stage
from predictor.lots.results import LotComparison, Reference
from predictor.text.advice import standing_note
from predictor.text.answer import answer
from predictor.text.counts import basis_and_range
from predictor.text.drill import charge_words, drive_words, fed_rows, size_words
from predictor.text.field import PUBLISHED, factor_words, target_words
from predictor.text.lots import (
    lot_sentence,
    season_sentences,
    seasons_of_lots_sentences,
    shape_sentence,
    spread_sentences,
)
from predictor.text.planted import area_words, confirmed_words, left_words
from predictor.text.tag import bag_words, methods_note, treatment
from predictor.units import GRAMS, METRES, RATE_UNIT, Units, rate_in

# A record lists this many lots of a box against the reference; `compare --json` lists all.
MOST_LOTS = 12
TO_FILL = "________________"

NO_PLAN = "This job has no plan, so tags and targets were not recorded."
NO_CATCH = "There is no catch yet."
NO_CHECK = "No field check was made, so no target is corrected."
NO_BUDGET = "This needs a plan and catches."
NO_LOTS = "No box has catches of two lots."
CHECKS = "Field checks"
BUDGET_NOTE = "In the manner of JCGM 100:2008. Shares are of the variance."


def no_check(drill: Drill) -> str:
    """That no field check was made, and what the field rate then is, where a wheel turns the meters of any box."""
    if not any(slips(drill, box) for box in drill.boxes):
        return NO_CHECK
    return f"{NO_CHECK} The field rate is likely about 8 % lower: {PUBLISHED}"


def particulars(record: Record, units: Units) -> tuple[tuple[str, str], ...]:
    """Who, where, when and with what, each with its name; what is not known is left to be filled in."""
    told, drill = record.particulars, record.job.drill
    found = record.planting
    ground = (found.everything.area_m2 or None) if told.area_m2 is None else told.area_m2
    days = list(dict.fromkeys(each.date for each in found.lines))
    fields = list(dict.fromkeys(each.field for each in found.lines if each.field))
    planted = told.planted or " to ".join(dict.fromkeys([*days[:1], *days[-1:]]))
    width = "in" if units == "us" else "cm"
    rows = f"{drill.rows} rows {drill.row_spacing_m / METRES[width]:.4g} {width} apart"
    fed = "".join(f"; box {box.name} feeds {each}" for box in drill.boxes if (each := fed_rows(drill, box, units)))
    catch = drill.catch
    driven = ", ".join([rows, *drive_words(drill, units)])
    own = [(f"; box {box.name} ", box.catch) for box in drill.boxes if box.catch is not None]
    size = "".join(
        f"{whose}{size_words(CatchSize(each.turns, each.counted, catch.rows))}, {charge_words(each)}"
        for whose, each in [("", catch), *own]
    )
    return (
        ("For", told.client or TO_FILL),
        ("Place", told.place or listed(fields) or TO_FILL),
        ("Area", TO_FILL if ground is None else area_words(ground, units)),
        ("Planted on", planted or TO_FILL),
        ("Depth of seed", told.depth or TO_FILL),
        ("Operator", record.operators or TO_FILL),
        ("Last catch or check", record.date or "none"),
        ("Drill", f"{drill.name}: {driven}{fed}"),
        ("Usual catch", f"{size}, scale to {plain(catch.scale_resolution_g)} g"),
    )


def in_short(particulars: Sequence[tuple[str, str]]) -> str:
    """Those of the particulars that are known and that a reader asks for first, in one line."""
    first = ("For", "Place", "Area", "Planted on", "Operator", "Last catch or check")
    return " ".join(
        f"{name}: {value.removesuffix('.')}." for name, value in particulars if name in first and value != TO_FILL
    )


def still_to_plant(record: Record, units: Units) -> str:
    """What the boxes have still to plant; "" where nothing is left, or nothing was planted and no field is named."""
    if not record.left or not (record.planting.lines or record.job.drill.fields):
        return ""
    return f"Still to plant: {'; '.join(left_words(record.left, units))}."


def chance_note(advices: Sequence[Advice]) -> str:
    """What the chances and weights of the settings refer to."""
    tolerance = advices[0].tolerance
    return (
        f"{standing_note(advices)} A chance is that the mean rate of all rows, where single rows were weighed, or "
        f"else of the rows caught, is within {plain(100 * tolerance)} % of target."
    )


def facts(record: Record, stage: Stage) -> tuple[tuple[str, str], ...]:
    """What is behind the setting of one box, each with its name."""
    advice, found, job = stage.advice, answer(stage), record.job
    expected = f"{found.expected}; 95 of 100 catches there lie from {found.usual}" if found.usual else found.expected
    factors = [] if job.field is None else [each for each in job.field.boxes if each.box == stage.box]
    factor = [text for each in factors for text in (factor_words(each), *target_words(job, stage.box, stage.lot))]
    every = (
        ("Why", found.reason),
        ("Target catch", f"{found.target}, within tolerance {found.zone}; {found.made}"),
        ("Expected", expected),
        ("Repeatability", "" if advice.repeatability is None else f"{100 * advice.repeatability:.1f} %"),
        ("Curve", f"{advice.model[0].upper()}{advice.model[1:]}. {advice.history}".strip()),
        ("Field factor", " ".join(factor)),
    )
    return tuple((name, value) for name, value in every if value)


def as_given(advice: Advice) -> list[str]:
    """What was taken as given of the catches of a lot, and which of its lines a person stands by."""
    stood_by = confirmed_words(advice.trials.line[advice.trials.confirmed].tolist())
    return [each for each in (str(advice.given or ""), stood_by) if each]


RULES: dict[Viable, str] = {
    "germination": "germination alone",
    "hard": "germination with hard seed",
    "total": "germination with dormant and hard seed",
}


def lot_name(lot: LotPlan) -> str:
    """A lot with the bag and the blend it is in."""
    inside = [lot.blend] if lot.blend else []
    inside += [bag_words(lot.bag)] if lot.bag else []
    name = f"{lot.lot} (in {', '.join(reversed(inside))})" if inside else lot.lot
    return f"{name}, {done}" if (done := treatment(lot)) else name


def alive(lot: LotPlan) -> str:
    """Germination of a lot in per cent, or its TZ test, which is marked; "" where there is no tag."""
    if lot.tz == lot.tz:
        return f"{100 * lot.tz:.4g} TZ"
    return f"{100 * lot.germination:.4g}" if lot.germination == lot.germination else ""


def seeds(lot: LotPlan, units: Units) -> tuple[str, str]:
    """Seeds in a pound or a gram of a lot, and where their number is from."""
    if math.isnan(lot.seeds_per_g):
        return "not known", ""
    grams = GRAMS["lb"] if units == "us" else 1.0
    number = f"{lot.seeds_per_g * grams:,.0f}"
    if lot.seeds_from != "table":
        return number, "plan"
    return number, basis_and_range(lot.seeds_sources, lot.seeds_low * grams, lot.seeds_high * grams)


def plan_note(plan: Plan, units: Units) -> str:
    """Which seed counts as live, and the carrier of each box."""
    by_rule: dict[str, list[str]] = {}
    for lot in plan.lots:
        if lot.tagged and lot.tz != lot.tz:
            by_rule.setdefault(RULES[lot.viable], []).append(f"{lot.bag} ({lot.species})" if lot.bag else lot.lot)
    rules = [
        f"{rule}{f' for {listed(dict.fromkeys(lots))}' if len(by_rule) > 1 else ''}" for rule, lots in by_rule.items()
    ]
    carriers = [
        f"{each.box.name}: {figures(rate_in(each.carrier, units))} {RATE_UNIT[units]}"
        for each in plan.boxes
        if each.carrier
    ]
    bags = "In a premixed bag, pure seed and PLS are of the whole bag." if any(lot.bag for lot in plan.lots) else ""
    tests = [f"PLS counts {'; '.join(rules)}."] if rules else []
    tests += ["A TZ test counts every living seed."] if any(lot.tz == lot.tz for lot in plan.lots) else []
    tests += [bags] if bags else []
    tests += [f"Carrier in {'; '.join(carriers)}."] if carriers else []
    return " ".join([*tests, *([meant] if (meant := methods_note(plan)) else [])])


def caught_size(drill: Drill, box: str, turns: float, rows: float, towed: bool) -> str:
    """The size of a catch."""
    return size_words(catch_size(turns, rows, drill, drill.box(box), towed))


def caught_columns(drill: Drill, trials: Trials, uses: Sequence[Use], places: Sequence[int]) -> dict[str, list[str]]:
    """Catches as columns of words; `places` are where each is in its log, counted from 0, for one that has no line."""
    size = cache(partial(caught_size, drill))  # the same in most rows
    weighed, apart = (partial(each, step_g=drill.catch.scale_resolution_g) for each in (as_weighed, weighed_apart))
    sizes = (trials.box, trials.turns, trials.rows, trials.towed)
    lines = zip(places, trials.line.tolist(), strict=True)
    return {
        "Line": [str(line or f"Catch {i + 1}") for i, line in lines],
        "Date": trials.date.tolist(),
        "Lot": trials.lot.tolist(),
        "Setting": trials.setting.tolist(),
        "Length, rows": list(map(size, *(each.tolist() for each in sizes))),
        "Net g": list(map(weighed, trials.catch_g.tolist())),
        "Rows (+) or parts (/)": list(map(apart, trials.rows_g, trials.parts_g)),
        "Full %": ["" if math.isnan(fill) else plain(fill) for fill in trials.fill_pct.tolist()],
        "Used": list(map(use_words, uses, trials.note.tolist(), trials.confirmed.tolist())),
    }


def not_listed(listed: int, more: int, *, in_hand: bool) -> str:
    """That a log is too long to be listed whole, or to the end of the lots in hand."""
    whose = " of the lots in hand" if in_hand else ""
    which = f"The last {count(listed, 'catch', 'catches')}{whose}" if listed else "No catches"
    return f"{which} are listed here. {more:,} more are in the log."


def weighed_apart(rows_g: tuple[float, ...] | None, parts_g: tuple[float, ...] | None, step_g: float) -> str:
    """The weights of the rows and of the parts of a catch."""
    signs = ((" + ", rows_g), (" / ", parts_g))
    return "; ".join(sign.join(as_weighed(each, step_g) for each in grams) for sign, grams in signs if grams)


def as_weighed(grams: float, step_g: float) -> str:
    """A weight in steps of the scale, and a digit finer where it was written finer.

    >>> as_weighed(41.0, 0.1), as_weighed(12.5, 1.0), as_weighed(28.34952, 0.1)
    ('41.0', '12.5', '28.35')
    """
    digits = decimals_of(step_g)
    rough = f"{grams:.{digits}f}"
    return rough if abs(float(rough) - grams) < 0.05 * 10**-digits else f"{grams:.{digits + 1}f}"


USES: dict[Use, str] = {
    "unused": "left out: {}",
    "uncharged": "left out: not charged",
    "nothing": "left out: weighed nothing",
    "set aside": "not used: the others contradict it, or it was made again",
    "standing": "not used: the drill stood, and the others were towed",
    "used": "used",
    "earlier": "earlier lot",
}


def use_words(use: Use, note: str, confirmed: bool = False) -> str:
    """What a catch was used for, with its note, and whether a person stands by it."""
    text = USES[use].format(note or "marked") + ("; confirmed" if confirmed else "")
    return f"{text}; {note}" if note and use != "unused" else text


def comparison(against: Reference, found: LotComparison) -> list[str]:
    """The lots of a box in sentences, without where to start with each."""
    others = [row for row in found.lots if row.name != against.name]
    said = [lot_sentence(against, row) for row in others[:MOST_LOTS]]
    if len(others) > MOST_LOTS:
        said.append(f"The log holds {count(len(others) - MOST_LOTS, 'more lot')}.")
    said += [
        shape_sentence(found),
        *seasons_of_lots_sentences(found.lots_in_seasons),
        *spread_sentences(found.spread),
        *season_sentences(found),
    ]
    return [each for each in said if each]
