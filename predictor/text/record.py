"""The words of the record of a season."""

from __future__ import annotations

import math
from collections.abc import Sequence

from predictor.advice.result import Advice
from predictor.domain.catch import CatchSize, catch_size, slips
from predictor.domain.drill import Drill, Viable
from predictor.domain.seed import LotPlan, Plan
from predictor.format import count, figures, listed, plain
from predictor.job.record import Record, Use
from predictor.job.stage import Stage
from predictor.lots.results import LotComparison, Reference
from predictor.text.advice import standing_note
from predictor.text.counts import basis_and_range
from predictor.text.doing import headline as advice_headline, without_slip
from predictor.text.drill import charge_words, drive_words, fed_rows, size_words
from predictor.text.field import PUBLISHED
from predictor.text.lots import (
    lot_sentence,
    season_sentences,
    seasons_of_lots_sentences,
    shape_sentence,
    spread_sentences,
)
from predictor.text.planted import confirmed_words
from predictor.text.stage import headline
from predictor.text.tag import bag_words, methods_note, treatment
from predictor.units import AREA_UNIT, GRAMS, METRES, RATE_UNIT, SQUARE_METRES, Units, rate_in

# A record lists this many lots of a box against the reference; `compare --json` lists all.
MOST_LOTS = 12
TO_FILL = "________________"

NO_PLAN = "This job has no plan, so tags and targets were not recorded."
NO_CATCH = "There is no catch yet."
NO_CHECK = "No field check was made, so no target is corrected."
NO_BUDGET = "This needs a plan and catches."
NO_LOTS = "No box has catches of two lots."
NEXT_TIME = (
    "These lots are planted. This is what catches, checks and plan say now; it changes nothing of what was planted."
)
BUDGET_NOTE = "In the manner of JCGM 100:2008. Shares are of the variance."


def no_check(drill: Drill) -> str:
    """That no field check was made, and what the field rate then is, where a wheel turns the meters of any box."""
    if not any(slips(drill, box) for box in drill.boxes):
        return NO_CHECK
    return f"{NO_CHECK} The field rate is likely about 8 % lower: {PUBLISHED}"


def particulars(record: Record, units: Units) -> tuple[tuple[str, str], ...]:
    """Who, where, when and with what, each with its name; what is not known is left to be filled in."""
    told, drill, area = record.particulars, record.job.drill, AREA_UNIT[units]
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
        ("Area", TO_FILL if ground is None else f"{ground / SQUARE_METRES[area]:.4g} {area}"),
        ("Planted on", planted or TO_FILL),
        ("Depth of seed", told.depth or TO_FILL),
        ("Operator", record.operators or TO_FILL),
        ("Last catch or check", record.date or "none"),
        ("Drill", f"{drill.name}: {driven}{fed}"),
        ("Usual catch", f"{size}, scale to {plain(catch.scale_resolution_g)} g"),
    )


def setting(stage: Stage) -> str:
    """What a box is to be at; of a lot that is planted, what is advised for the next time."""
    return advice_headline(stage.advice) if stage.reached == "planted" else headline(stage)


def reached(stage: Stage) -> str:
    """What was done with a planted lot, or what a field check asks for."""
    return f"{stage.box}, {stage.lot}: {headline(stage)}."


def chance_note(advices: Sequence[Advice]) -> str:
    """What the chances and weights of the settings refer to."""
    tolerance = advices[0].tolerance
    return (
        f"{standing_note(advices)} A chance is that the mean rate of all rows, where single rows were weighed, or "
        f"else of the rows caught, is within {plain(100 * tolerance)} % of target. Weights are for the length and rows "
        "of the next catch: those of the last one, unless a larger one is asked for."
    )


def evidence(record: Record, advice: Advice) -> str:
    """What is behind the setting of one box."""
    plan = record.plan_of(advice)
    without = f" {wait}" if (wait := without_slip(advice)) else ""
    said = [f"{advice.box}, {advice.lot}: {advice.reason}{without} Curve: {advice.model}."]
    if advice.repeatability is not None:
        said.append(f"Repeatability {100 * advice.repeatability:.1f} %.")
    if plan is not None and plan.field_factor != 1:
        said.append(f"Field factor {plan.field_factor:.2f}.")
    said += [] if advice.given is None else [str(advice.given)]
    said += [stood_by] if (stood_by := confirmed_words(advice.trials.line[advice.trials.confirmed].tolist())) else []
    if advice.history:
        said.append(f"Before these catches: {advice.history}")
    return " ".join(said)


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


def seeds(lot: LotPlan, units: Units) -> str:
    """Seeds in a pound or a gram of a lot."""
    if math.isnan(lot.seeds_per_g):
        return "not known"
    grams = GRAMS["lb"] if units == "us" else 1.0
    count = f"{lot.seeds_per_g * grams:,.0f}"
    if lot.seeds_from != "table":
        return count
    return f"{count} ({basis_and_range(lot.seeds_sources, lot.seeds_low * grams, lot.seeds_high * grams)})"


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


def not_listed(listed: int, more: int) -> str:
    """That a log is too long to be listed whole."""
    which = f"The last {count(listed, 'catch', 'catches')} of the lots in hand" if listed else "No catches"
    return f"{which} are listed here. {more:,} more are in the log."


def weighed_apart(rows_g: tuple[float, ...] | None, parts_g: tuple[float, ...] | None) -> str:
    """The weights of the rows and of the parts of a catch."""
    signs = ((" + ", rows_g), (" / ", parts_g))
    return "; ".join(sign.join(f"{each:.4g}" for each in grams) for sign, grams in signs if grams)


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
