"""The cards for the cab: settings with what is behind them, and the decision card, as pages."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from predictor.advice.lot_fit import FILL_CHAFFY
from predictor.advice.result import Advice
from predictor.domain.control import Setting
from predictor.domain.drill import Drill
from predictor.domain.seed import BoxPlan
from predictor.field.budget import FILL_OTHER_RANGE
from predictor.format import figures
from predictor.job.job import Job, Task
from predictor.pages.blocks import Facts, Frame, Grid, Items, Lines, Page, Sign, Text
from predictor.pages.decision_card import Range, Table
from predictor.text import cautions
from predictor.text.advice import headline, what_to_do
from predictor.units import (
    GRAMS_PER_KILOGRAM,
    GRAMS_PER_POUND,
    METRES_PER_FOOT,
    RATE_UNIT,
    SQUARE_METRES_PER_ACRE,
    SQUARE_METRES_PER_HECTARE,
    rate_in,
)

# No box is run emptier than this, whatever its output does; common practice.
LEAST_FILLING = {"chaffy": 1 / 3}
LEAST_FILLING_OTHER = 1 / 4
# A bag by which acres are reckoned where the weight of the full box is not known.
BAG_LB, BAG_KG = 50.0, 25.0


START = "Lock every control, turn the drive wheel by hand, and look under each row before you start."


@dataclass(frozen=True)
class CardBox:
    """What a card says of one box."""

    advice: Advice
    plan: BoxPlan | None
    refill_at: float  # Filling at which to refill, a fraction
    loss: float  # By how much less comes out then than from a half-full box, a fraction
    measured: bool  # Whether catches at several fillings told that; else it is the usual effect


def card_box(job: Job, task: Task, advice: Advice) -> CardBox:
    """One box of a card.

    A box is refilled where its output has fallen by half the tolerance, and never run emptier than a quarter (a third
    where seed is chaffy): the effect of filling as the catches showed it, else as published for chaffy seed, else
    10 % from full to nearly empty, assumed.
    """
    effect = FILL_CHAFFY[0] if task.box.holds == "chaffy" else FILL_OTHER_RANGE
    standing = None
    if advice.advised is not None and advice.catches_used:
        standing = job.stationary(task.box, task.lot, advice.advised.opening)
    measured = standing is not None and standing.fill_effect == standing.fill_effect
    if measured:
        effect = max(standing.fill_effect, 0.0)
    least = LEAST_FILLING.get(task.box.holds, LEAST_FILLING_OTHER)
    at = least if effect <= 0 else min(max(0.5 - advice.tolerance / 2 / effect, least), 0.5)
    plan = None if job.plan is None else job.plan.target(task.box.name, task.lot)
    return CardBox(advice, plan, at, -math.expm1(-effect * (0.5 - at)), measured)


def setting_page(job: Job, boxes: Sequence[CardBox], *, units: str, paper: str, date: str) -> Page:
    """The setting card."""
    blocks = [_frame(each, job.drill, units) for each in boxes]
    ready = all(each.advice.decision == "lock" for each in boxes)
    if not ready:
        blocks.insert(0, Text("Not every box is locked: catch where the card says so.", strong=True))
    blocks += [
        Items((*cautions.CAUTIONS, START)),
        Lines(("Set by, date", "Checked by, date")),
    ]
    footer = f"Catches to {date}." if date else ""
    return Page(f"Settings: {job.drill.name}", tuple(blocks), paper, one=True, footer=footer, date=date)


def _frame(box: CardBox, drill: Drill, units: str) -> Frame:
    advice = box.advice
    name = f"{advice.box}: {advice.lot}" if advice.lot else advice.box
    state = headline(advice)
    low, high = (advice.target_catch_g * (1 + each) for each in (-advice.tolerance, advice.tolerance))
    facts = []
    if advice.chance is not None and advice.decision != "unreachable":
        what = "" if advice.whole_drill else ", of the rows caught"
        facts.append(
            ("Chance", f"{min(int(100 * advice.chance), 99)} in 100 within {100 * advice.tolerance:g} %{what}")
        )
    facts.append(
        (
            "Target catch",
            f"{_g(advice.target_catch_g)} g ({_g(low)} to {_g(high)}) in {advice.turns:g} turns, {advice.rows:g} rows, "
            f"after {drill.catch.charge_turns:g} turns to charge",
        )
    )
    if box.plan is not None:
        facts += _plan_facts(box, drill, units)
    percent = 5 * math.ceil(20 * box.refill_at - 1e-9)
    basis = "as the catches showed" if box.measured else "assumed, not measured here"
    less = f"{100 * box.loss:.0f} % less comes out there than half full, {basis}"
    facts.append(("Refill", f"at {percent} % full ({less})"))
    return Frame((Sign(name, state), Facts(tuple(facts))))


def _plan_facts(box: CardBox, drill: Drill, units: str) -> list[tuple[str, str]]:
    """Rate, seeds in a row, acres a load."""
    plan = box.plan
    facts = [("Rate", f"{figures(rate_in(plan.bulk_rate, units))} {RATE_UNIT[units]} bulk")]
    if plan.field_factor != 1:
        facts[0] = ("Rate", f"{facts[0][1]}; target catch is for a field factor of {plan.field_factor:.2f}")
    row = METRES_PER_FOOT if units == "us" else 1.0
    pure, live = (each * drill.row_spacing_m * row for each in (plan.pure_seeds_per_m2, plan.seeds_per_m2))
    if pure == pure:
        unit = "foot" if units == "us" else "metre"
        facts.append(("Look for", f"{pure:.1f} seeds per {unit} of row ({live:.1f} of them alive)"))
    grams = GRAMS_PER_POUND if units == "us" else GRAMS_PER_KILOGRAM
    area_m2 = SQUARE_METRES_PER_ACRE if units == "us" else SQUARE_METRES_PER_HECTARE
    area, weight = ("ac", "lb") if units == "us" else ("ha", "kg")
    bag = (BAG_LB if units == "us" else BAG_KG) * grams
    load, name = (bag, "Seed for") if plan.box.full_g is None else (plan.box.full_g, "A full box")
    covers = load / plan.bulk_rate / area_m2
    facts.append(
        (
            name,
            f"{figures(covers)} {area} {'in' if plan.box.full_g is None else 'of'} {load / grams:.3g} {weight}",
        )
    )
    return facts


def _g(grams: float) -> str:
    return f"{grams:.0f}" if grams >= 1000 else f"{grams:.1f}" if grams >= 1 else f"{grams:.2g}"


def range_words(found: Range, present: Setting) -> str:
    """A range's answer in a few words."""
    text = what_to_do(found.decision, found.setting, present, capitals=found.decision == "lock")
    if found.decision == "lengthen":
        return f"{text}: {found.turns:g} turns, {found.rows:g} rows"
    return text


def weight_words(found: Range, step: float) -> str:
    """A range's weights, to the scale's step."""
    places = min(max(0, math.ceil(-math.log10(step) - 1e-9)), 6)
    low, high = (None if each is None else f"{each:.{places}f}" for each in (found.low_g, found.high_g))
    if low is None and high is None:
        return "any weight"
    if low is None:
        return f"up to {high} g"
    if high is None:
        return f"{low} g or more"
    return f"{low} g" if low == high else f"{low} to {high} g"


def decision_page(
    drill: Drill, tables: Sequence[Table], done: Sequence[Advice], *, paper: str, date: str, tolerance: float
) -> Page:
    """The decision card."""
    blocks, step = [], drill.catch.scale_resolution_g
    for advice in done:
        blocks.append(Text(f"{advice.box}, {advice.lot}: {headline(advice)}. {advice.reason}", strong=True))
    for table in tables:
        made = f"at {table.setting}, {table.turns:g} turns, {table.rows:g} rows"
        half = ", box half full" if drill.box(table.box).holds == "chaffy" else ""
        if table.after is None:
            title = f"{table.box}, {table.lot}: next catch {made}, after {drill.catch.charge_turns:g} to charge{half}; "
            title += f"target {_g(table.target_g)} g"
        else:
            title = f"{table.box}, if that catch was {weight_words(table.after, step)}: then {made}"
        rows = tuple(
            (weight_words(each, step), range_words(each, table.setting), _share(each.likely)) for each in table.ranges
        )
        if not any(row[2] for row in rows):  # before any catch nobody can tell
            rows = tuple(row[:2] for row in rows)
        header = ("Weight", "Do", "Likely")[: len(rows[0])]
        blocks.append(Grid(header, rows, frozenset({2}), title))
    blocks.append(
        Text(
            f"Weigh to the scale's step, net. Within {100 * tolerance:g} % of target is wanted. Note every weight, "
            "also the odd ones, and record them afterwards."
            + (" A second table holds for the middle of its range." if any(each.after for each in tables) else ""),
            small=True,
        )
    )
    blocks.append(Items(cautions.CAUTIONS))
    footer = f"Catches to {date}." if date else ""
    return Page(f"What to do after the next catch: {drill.name}", tuple(blocks), paper, footer=footer, date=date)


def _share(likely: float) -> str:
    if likely != likely:
        return ""
    return f"{100 * likely:.0f} %" if likely >= 0.01 else "rare"
