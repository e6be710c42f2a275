"""The words of the cards for the cab and for the next catch."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from predictor.domain.drill import Drill
from predictor.domain.planted import PlantedLine
from predictor.domain.seed import BoxPlan
from predictor.field.filling import Refill
from predictor.field.seeds import NORMAL_95
from predictor.format import (
    figures,
    in_100,
    listed,
    percent,
    plain,
    two_figures,
)
from predictor.job.stage import Stage
from predictor.text.advice import out_of_reach
from predictor.text.answer import Answer
from predictor.text.doing import on_target, other_slips, without_slip
from predictor.text.drill import fed_rows
from predictor.text.plan import as_sown
from predictor.text.tag import method_words
from predictor.units import AREA_UNIT, GRAMS, METRES_PER_FOOT, RATE_UNIT, SQUARE_METRES, WEIGHT_UNIT, Units, rate_in

# A bag for which the area is given where the weight of the full box is not known, in the user's unit.
BAG: dict[Units, float] = {"us": 50.0, "metric": 25.0}

ONE_AREA: dict[Units, str] = {"us": "acre", "metric": "hectare"}

NOT_READY = "NOT READY"
FIRST = "Manual, tag and local rules come first. Cautions: other side."
START = "Lock every control, run the meters, look under each row."
SEEDS = "Seeds in the row include dead ones, with 95 % limits from the count of seeds in a pound."


def how_many(ready: int, boxes: int) -> str:
    """How many boxes are not ready.

    Examples
    --------
    >>> how_many(2, 3), how_many(3, 3), how_many(0, 1)
    ('1 of 3 boxes not ready (black).', 'All 3 boxes are ready.', 'The box is not ready (black).')
    """
    if boxes == 1:
        return "The box is ready." if ready else "The box is not ready (black)."
    return f"All {boxes} boxes are ready." if ready == boxes else f"{boxes - ready} of {boxes} boxes not ready (black)."


def not_ready(stage: Stage, found: Answer) -> tuple[str, ...]:
    """What the next catch of a box needs, and why it is not ready; no setting but the one to catch at is named."""
    why = stage.advice.why
    reason = out_of_reach(why, name_it=False) if why.code == "advice.unreachable" else str(why)
    if not found.doing.setting:
        return (found.reason if stage.doing != "advised" else reason,)
    charge = f", after {found.charge}" if found.charge else ""
    return f"{found.zone} in {found.made}{charge}.", reason


def ready(stage: Stage, found: Answer, plan: BoxPlan | None, at: Refill, drill: Drill, units: Units) -> tuple[str, ...]:
    """What a box plants, when to refill it, and what the field says of it."""
    lines = [f"{found.zone} in {found.made}."]
    if other_slips(stage.advice) and stage.reached != "planted":
        lines.append("A catch looks odd: see the other side.")
    if plan is not None and (seeds := _in_a_row(plan, drill, units)) is not None:
        low, high, row = seeds
        lines.append(f"In the row: {two_figures(low, high)} seeds a {row}.")
    covers = f"{load(plan, units)[0]} plants {load(plan, units)[1]}. " if plan is not None else ""
    return (*lines, f"{covers}Refill at {refill_at(at)} % full.", in_the_field(stage, units))


def in_the_field(stage: Stage, units: Units) -> str:
    """What a field check says of the setting; without one, that the setting is that of the standing drill."""
    verdict = stage.verdict
    if verdict is not None:
        limits = f"{percent(verdict.ratio_lower)} to {percent(verdict.ratio_upper)}"
        again = f" Check again at {verdict.move_to}." if verdict.move_to is not None else ""
        return f"Field check at {verdict.setting}: {percent(verdict.ratio)} % of target ({limits}).{again}"
    kind = "towed" if stage.advice.towed else "standing"
    return f"For the {kind} drill: make a field check on the first {ONE_AREA[units]}."


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


def behind(
    stage: Stage, found: Answer, plan: BoxPlan | None, at: Refill, drill: Drill, units: Units
) -> tuple[str, ...]:
    """What is behind the setting of a box, in sentences."""
    known = found.reason if stage.doing != "advised" else ""
    said = [known or chance(stage)]
    if stage.reached != "planted":
        said += [without_slip(stage.advice), *map(str, other_slips(stage.advice))]
    if plan is not None:
        said += plan_facts(plan, drill, units)
    return tuple(each if each.endswith(".") else f"{each}." for each in (*said, _refill(at)) if each)


def behind_all(plans: Sequence[BoxPlan | None], refills: Mapping[str, Refill], drill: Drill, units: Units) -> str:
    """What the seeds in the row and the refilling of every box rest on: sentences for all boxes at once."""
    rows = any(each is not None and _in_a_row(each, drill, units) is not None for each in plans)
    bases: dict[str, list[str]] = {}
    for box, found in refills.items():
        bases.setdefault(_basis(found), []).append(box)
    alike = len(bases) == 1
    basis = "; ".join(each if alike else f"{each} ({listed(boxes)})" for each, boxes in bases.items())
    return f"{f'{SEEDS} ' if rows else ''}At refilling, less comes out than at half full: {basis}."


def plan_facts(plan: BoxPlan, drill: Drill, units: Units) -> list[str]:
    """Rate, rows, how to catch and seeds in a row."""
    rate = f"Rate {figures(rate_in(plan.bulk_rate, units))} {RATE_UNIT[units]} bulk"
    rate += f", field factor {plan.field_factor:.2f}" if plan.field_factor != 1 else ""
    rate += f"; {meant}" if (meant := method_words(plan.method)) else ""
    fed, sown = fed_rows(drill, plan.box, units), as_sown(plan)
    facts = [rate, *([f"Feeds {fed}"] if fed else []), *([f"Catch the seed {sown}"] if sown else [])]
    if (seeds := _in_a_row(plan, drill, units)) is not None:
        low, high, row = seeds
        facts.append(f"In the row {two_figures(low, high)} pure seeds a {row}")
    return facts


def _in_a_row(plan: BoxPlan, drill: Drill, units: Units) -> tuple[float, float, str] | None:
    """Limits of 95 % of the pure seeds in a foot or metre of row, and its name; None where nobody can say."""
    length, row = (METRES_PER_FOOT, "foot") if units == "us" else (1.0, "metre")
    pure = plan.pure_seeds_per_m2 * drill.spacing_of(plan.box) * length
    if math.isnan(pure) or plan.method == "broadcast":
        return None
    low, high = (pure * math.exp(each * plan.seeds_log_sd) for each in (-NORMAL_95, NORMAL_95))
    return low, high, row


def load(plan: BoxPlan, units: Units) -> tuple[str, str]:
    """A full box or a bag, and the area that it plants."""
    unit, area = WEIGHT_UNIT[units], AREA_UNIT[units]
    full = BAG[units] if plan.box.full_g is None else plan.box.full_g / GRAMS[unit]
    covers = full * GRAMS[unit] / plan.bulk_rate / SQUARE_METRES[area]
    name = f"{plain(round(full, 1))} {unit}"
    return name if plan.box.full_g is None else f"A full box ({name})", f"{two_figures(covers)} {area}"


def refill_at(found: Refill) -> int:
    """When to refill, to the next 5 % of the box."""
    return 5 * math.ceil(20 * found.at - 1e-9)


def refill(found: Refill) -> str:
    """When to refill, and why."""
    return f"{_refill(found)} than at half full ({_basis(found)})"


def _refill(found: Refill) -> str:
    return f"Refill at {refill_at(found)} % full, where {percent(found.loss)} % less comes out"


def _basis(found: Refill) -> str:
    return "as the catches showed" if found.measured else "assumed, not measured here"
