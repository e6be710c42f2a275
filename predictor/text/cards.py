"""The words of the cards for the cab and for the next catch."""

from __future__ import annotations

import math
from collections.abc import Sequence

from predictor.advice.ranges import Range, Table
from predictor.advice.result import Advice
from predictor.domain.catch import CatchSize, catch_size
from predictor.domain.drill import Drill
from predictor.domain.planted import PlantedLine
from predictor.domain.seed import BoxPlan
from predictor.field.filling import Refill
from predictor.field.seeds import NORMAL_95
from predictor.format import decimals_of, figures, in_100, percent, plain, weight as weighed, weights as weighed_between
from predictor.job.stage import Stage
from predictor.text.doing import look_first, on_target, other_slips, what_to_do, without_slip
from predictor.text.drill import charge_words, fed_rows, size_words
from predictor.text.plan import as_sown
from predictor.text.stage import headline
from predictor.text.tag import method_words
from predictor.units import AREA_UNIT, GRAMS, METRES_PER_FOOT, RATE_UNIT, SQUARE_METRES, WEIGHT_UNIT, Units, rate_in

# A bag for which the area is given where the weight of the full box is not known, in the user's unit.
BAG: dict[Units, float] = {"us": 50.0, "metric": 25.0}

START = "Lock every control, run the meters, and look under each row before you start."
NOT_LOCKED = "Not every box is locked. Make the catches that this card names first."


def chance(stage: Stage) -> str:
    """How sure the setting in force is; "" where nothing is known of it, and where the target is out of reach."""
    advice, verdict = stage.advice, stage.verdict
    if verdict is not None and stage.doing != "advised":
        known = verdict.chance if verdict.chance_there is None else verdict.chance_there
        return f"{in_100(known)} in 100 that the field rate is within {plain(100 * verdict.tolerance)} % of target"
    if stage.planted:
        return _when_planted(stage.planted[-1])
    if advice.chance is None or advice.decision == "unreachable" or advice.waiting:
        return ""
    return f"{in_100(advice.chance)} in 100 that {on_target(advice)}"


def _when_planted(line: PlantedLine) -> str:
    """The chance of a planted setting, as it was on that day."""
    found = line.evidence
    if found is None or math.isnan(found.chance):
        return ""
    of = f"the {'towed' if found.towed else 'standing'} drill was within {plain(100 * found.tolerance)} % of target"
    return f"{in_100(found.chance)} in 100 that {of}"


def done(stage: Stage) -> str:
    """What a box that needs no further catch is at, and why."""
    why = "" if stage.doing == "planted" else str(stage.verdict.why) if stage.verdict else stage.advice.reason
    why = " ".join(filter(None, (why, without_slip(stage.advice)))) if stage.doing == "advised" else why
    return " ".join(filter(None, (f"{stage.box}, {stage.lot}: {headline(stage)}.", why)))


def look_at(stage: Stage) -> tuple[str, ...]:
    """What looks like a slip in the catches of a box that is not planted yet."""
    advice = stage.advice
    if stage.reached == "planted":
        return ()
    waiting = (f"{advice.reason} {without_slip(advice)}",) if advice.waiting else ()
    return (*waiting, *map(str, other_slips(advice)))


def target_catch(advice: Advice, drill: Drill) -> str:
    """The target weight with its tolerance, and how to catch it."""
    low, high = (advice.target_catch_g * (1 + each) for each in (-advice.tolerance, advice.tolerance))
    charge = charge_words(drill.catch_of(advice.seed_box), advice.next_size)
    target = f"{weighed(advice.target_catch_g, advice.step_g)} g ({weighed_between(low, high, advice.step_g)})"
    return f"{target} in {size_words(advice.next_size)}, after {charge}"


def plan_facts(plan: BoxPlan, drill: Drill, units: Units) -> list[tuple[str, str]]:
    """Rate, seeds in a row, and the area that a load covers, each with its name."""
    rate = f"{figures(rate_in(plan.bulk_rate, units))} {RATE_UNIT[units]} bulk"
    rate += f"; {meant}" if (meant := method_words(plan.method)) else ""
    if plan.field_factor != 1:
        rate += f"; the target catch is for a field factor of {plan.field_factor:.2f}"
    fed = fed_rows(drill, plan.box, units)
    sown = as_sown(plan)
    facts = [("Rate", rate), *([("Rows", fed)] if fed else []), *([("Catch it", sown)] if sown else [])]
    length, row = (METRES_PER_FOOT, "foot") if units == "us" else (1.0, "metre")
    pure = plan.pure_seeds_per_m2 * drill.spacing_of(plan.box) * length
    if not math.isnan(pure) and plan.method != "broadcast":
        low, high = (pure * math.exp(each * plan.seeds_log_sd) for each in (-NORMAL_95, NORMAL_95))
        limits = f"95 % limits {low:.1f} to {high:.1f}, from the count of seeds in a pound"
        facts.append(("Look for", f"{pure:.1f} pure seeds per {row} of row, dead ones included ({limits})"))
    weight, area = WEIGHT_UNIT[units], AREA_UNIT[units]
    load = BAG[units] if plan.box.full_g is None else plan.box.full_g / GRAMS[weight]
    covers = load * GRAMS[weight] / plan.bulk_rate / SQUARE_METRES[area]
    name = "A bag" if plan.box.full_g is None else "A full box"
    return [*facts, (name, f"{load:.3g} {weight} covers {figures(covers)} {area}")]


def refill(found: Refill) -> str:
    """When to refill, to the next 5 % of the box, and why."""
    at = 5 * math.ceil(20 * found.at - 1e-9)
    basis = "as the catches showed" if found.measured else "assumed, not measured here"
    return f"at {at} % full, where {percent(found.loss)} % less comes out than at half full ({basis})"


def range_words(found: Range, table: Table, drill: Drill) -> tuple[str, ...]:
    """A range of weight, what to do in it, and how likely it is where a curve shows that."""
    decision = look_first(found.why.code) or found.decision
    text = what_to_do(decision, found.setting, table.setting, capitals=decision == "lock")
    text += f": {size_words(_size(found, table, drill))}" if found.decision == "lengthen" else ""
    words = (weight_words(found, drill.catch.scale_resolution_g), text)
    if found.likely is None:
        return words
    return (*words, f"{percent(found.likely)} %" if found.likely >= 0.01 else "rare")


def weight_words(found: Range, step: float) -> str:
    """The weights of a range, to the scale's step."""
    low, high = (None if each is None else f"{each:.{decimals_of(step)}f}" for each in (found.low_g, found.high_g))
    if low is None:
        return "any weight" if high is None else f"up to {high} g"
    if high is None:
        return f"{low} g or more"
    return f"{low} g" if low == high else f"{low} to {high} g"


def table_title(table: Table, drill: Drill) -> str:
    """Where and how the catch of a table is made."""
    made = f"at {table.setting}, {size_words(_size(table, table, drill))}"
    if table.after is not None:
        return (
            f"{table.box}, if that catch was {weight_words(table.after, drill.catch.scale_resolution_g)}: then {made}"
        )
    half = ", box half full" if drill.box(table.box).holds == "chaffy" else ""
    charge = charge_words(drill.catch_of(drill.box(table.box)), _size(table, table, drill))
    target = weighed(table.target_g, drill.catch.scale_resolution_g)
    return f"{table.box}, {table.lot}: next catch {made}, after {charge}{half}; target {target} g"


def how_to_use(tables: Sequence[Table], tolerance: float) -> str:
    """How to read a decision card."""
    towed = [each.towed for each in tables]
    drill = "towed drill" if towed and all(towed) else "drill" if any(towed) else "standing drill"
    text = (
        f"Weigh the net seed to the scale's step. The aim is that the {drill} is within "
        f"{plain(100 * tolerance)} % of target. Note every weight, the odd ones too, and record them afterwards."
    )
    if any(each.after for each in tables):
        text += " A second table is worked out for the middle of its range."
    return text


def _size(catch: Range | Table, table: Table, drill: Drill) -> CatchSize:
    return catch_size(catch.turns, catch.rows, drill, drill.box(table.box), table.towed)
