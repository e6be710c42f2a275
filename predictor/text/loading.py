"""The loading sheet in words: where to stop, what goes into each box there, and how many bags to open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from predictor.domain.seed import BoxPlan
from predictor.field.loading import BoxLoad, Loading, Part, Stop
from predictor.format import count, decimals_of, figures, listed, percent, plain, weight as to_step
from predictor.job.loading import InHand, LoadingSheet
from predictor.job.stage import Stage
from predictor.text import cards, cautions
from predictor.text.fields import area, fields_area
from predictor.text.fold import Fold, facts
from predictor.text.stage import headline as stage_headline
from predictor.text.tag import bag_words, treatment
from predictor.units import GRAMS, RATE_UNIT, WEIGHT_UNIT, Units, rate_in

WEIGH = (
    "Weigh what goes into each box, and what is left in it at the end of each field. The record of what was planted "
    "asks for both."
)
TOO_EARLY = (
    "If a box is down to its refill level before the area given here, it drops more than planned. Make a field check "
    "before you load more."
)
TAGS = "Keep the tag of every bag you open."
# A box that lasts longer than to its next fill by this part of it may wait that long.
WORTH_SAYING = 0.1


def weight(grams: float, step_g: float, units: Units) -> str:
    """A weight as the scale shows it.

    >>> weight(453.59237, 45.359237, "us"), weight(250.0, 10.0, "metric")
    ('1.0 lb', '0.25 kg')
    """
    unit = GRAMS[WEIGHT_UNIT[units]]
    return f"{grams / unit:,.{decimals_of(step_g / unit)}f} {WEIGHT_UNIT[units]}"


def box_weight(grams: float, load: BoxLoad, units: Units) -> str:
    """A weight of all that is in a box, to the finest step of its parts."""
    return weight(grams, min(part.step_g for part in load.parts), units)


def about(grams: float, units: Units) -> str:
    """A weight that is only expected.

    >>> about(453.59237, "us"), about(20.0, "us"), about(250.0, "metric")
    ('1.00 lb', '0.04 lb', '0.2 kg')
    """
    value = grams / GRAMS[WEIGHT_UNIT[units]]
    return f"{figures(value) if value >= 1 else to_step(value)} {WEIGHT_UNIT[units]}"


def part_name(part: Part) -> str:
    """A lot or bag with its species, or the carrier."""
    if not part.lots:
        return "carrier"
    species = list(dict.fromkeys(lot.species for lot in part.lots))
    return f"{part.name}, {species[0]}" if len(species) == 1 else f"{bag_words(part.name)} ({len(species)} species)"


def bags_words(part: Part, fill: int, units: Units) -> str:
    """The bags to open for a fill, and what is then left of the last one; "" where a bag's weight is not known."""
    if part.bags is None:
        return ""
    opened, left = part.bags[fill]
    before = part.bags[fill - 1][1] if fill else 0.0
    rest = f"{weight(left, part.step_g, units)} left" if left > part.step_g / 2 else "nothing left"
    if not opened:
        return f"from the open bag, {rest}"
    more = f"open {opened} more" if before > part.step_g / 2 else f"open {count(opened, 'bag')}"
    return f"{more}, {rest}{' in the last' if opened > 1 else ''}"


def all_bags(part: Part, units: Units) -> str:
    """The bags of a lot in all; "" where a bag's weight is not known."""
    if part.bags is None:
        return ""
    number = sum(opened for opened, _ in part.bags)
    return f"{count(number, 'bag')} of {plain(round(part.bag_g / GRAMS[WEIGHT_UNIT[units]], 2))} {WEIGHT_UNIT[units]}"


def order(loading: Loading, units: Units) -> list[tuple[str, str]]:
    """The stops in order: when, and which boxes are filled."""
    return [
        (f"After {area(stop.at_m2, units)}", f"refill {listed(load.plan.box.name for load, _ in stop.fills)}")
        for stop in loading.stops[1:]
    ]


def stop_words(stop: Stop, loading: Loading, units: Units) -> tuple[str, str]:
    """Where a stop is: by the ground covered in all, and by that in its field; "" for the latter where they agree."""
    if stop.at_m2 == 0:
        first = loading.fields[0].name
        return "Before you start", f"in field {first}" if first else ""
    done = f"After {area(stop.at_m2, units)}"
    if not stop.field.name:
        return done, ""
    if stop.within_m2 >= stop.field.area_m2 * (1 - 1e-6):
        return done, f"at the end of field {stop.field.name}"
    return done, f"in field {stop.field.name}, {area(stop.within_m2, units)} of it done"


def fill_words(load: BoxLoad, k: int, units: Units) -> list[str]:
    """What a fill does: the ground it plants, and how long it lasts where that is longer."""
    fill = load.fills[k]
    said = [f"plants {area(fill.plants_m2, units)}"]
    if fill.lasts_m2 - fill.to_m2 > WORTH_SAYING * fill.plants_m2:
        said.append(f"would last to {area(fill.lasts_m2, units)}")
    return said


def left_words(grams: float, units: Units) -> str:
    """What is expected to be left in a box: a weight that would be shown as 0 is nothing."""
    return "nothing" if grams / GRAMS[WEIGHT_UNIT[units]] < 0.05 else f"about {about(grams, units)}"


def left_in_boxes(loading: Loading, units: Units) -> list[tuple[str, list[tuple[str, str]]]]:
    """The end of each field, with each box and what it is expected to hold there."""
    found, done = [], 0.0
    for each in loading.fields:
        done += each.area_m2
        name = f"At the end of field {each.name}" if each.name else "At the end"
        found.append((name, [(load.plan.box.name, left_words(load.left_g(done), units)) for load in loading.boxes]))
    return found


def box_name(plan: BoxPlan) -> str:
    """A box with what is in it."""
    return f"{plan.box.name}, {plan.lot}"


def headline(sheet: LoadingSheet) -> str:
    """What the sheet is for."""
    whole = fields_area(sheet.fields, sheet.units) if sheet.fields[0].name else area(sheet.area_m2, sheet.units)
    if not (sheet.passes or sheet.in_turn):
        return f"Nothing is left to load: all of {whole} is planted"
    return f"Loads for {whole}"


def first(stages: Sequence[Stage]) -> list[str]:
    """What has to be looked at before the boxes in hand can be set; nothing where nothing waits."""
    waiting = [each for each in stages if each.in_hand and each.reached == "testing" and each.advice.waiting]
    return [f"Box {each.box}, {each.lot}: {stage_headline(each)}. {each.advice.reason}" for each in waiting]


def field_names(sheet: LoadingSheet) -> str:
    """The fields with their areas, in order; "" for one field."""
    if len(sheet.fields) == 1:
        return ""
    return ", ".join(f"{each.name} {area(each.area_m2, sheet.units)}" for each in sheet.fields)


def planted_words(sheet: LoadingSheet) -> list[str]:
    """What is planted already, and so is not loaded for."""
    said, units = [], sheet.units
    for box in dict.fromkeys(box for box, _ in sheet.planted_m2 if box not in sheet.done):
        done = ", ".join(
            f"{area(m2, units)} of {field}" for (other, field), m2 in sheet.planted_m2.items() if other == box
        )
        said.append(f"Box {box} has planted {done}. The sheet is for the rest.")
    for box, ground in sheet.unplaced_m2.items():
        said.append(
            f"planted.csv has {area(ground, units)} of box {box} in no field that is named here. That is not taken off."
        )
    said += [f"Box {box} has planted everything." for box in sheet.done]
    if said and sheet.passes:
        said.append("The first load is for empty boxes. Take off what is still in them.")
    return said


def pass_words(loading: Loading, sheet: LoadingSheet) -> str:
    """What is still to be planted, and by which boxes; "" where it is all of it, by all of them."""
    ground = f"{area(loading.area_m2, sheet.units)} to plant"
    if len(sheet.passes) > 1:
        return f"{listed(each.plan.box.name for each in loading.boxes)}: {ground}."
    return f"{ground}." if loading.area_m2 < sheet.area_m2 * (1 - 1e-6) else ""


def stops_note(loading: Loading) -> str:
    """How many stops there are, and how many are saved; "" where there is none."""
    number, alone = len(loading.stops) - 1, loading.stops_alone - 1
    if not number:
        return "No stop to refill." if all(each.plan.box.full_g is not None for each in loading.boxes) else ""
    saved = f" Filling each box only when it has to be would take {count(alone, 'stop')}." if alone > number else ""
    return f"{count(number, 'stop')} to refill.{saved}"


def notes(sheet: LoadingSheet) -> list[str]:
    """What the loads rest on, and what is missing for them."""
    units, loads = sheet.units, sheet.loads
    every = (*loads, *sheet.in_turn)
    sized = [each for each in every if each.plan.box.full_g is not None]
    refills = [(each.plan.box.name, cards.refill(each.refill)) for each in sized]
    said = list(dict.fromkeys(f"Box {box}: {text[0].lower()}{text[1:]}." for box, text in refills))
    if kept := [each for each in loads if each.reserve_g]:
        parts = ", ".join(f"{each.plan.box.name} {about(each.left_g(each.area_m2), units)}" for each in kept)
        said.append(f"This stays in the boxes at the end, so that seed covers the meters to the last row: {parts}.")
    if unknown := list(dict.fromkeys(each.plan.box.name for each in every if each.plan.box.full_g is None)):
        one = len(unknown) == 1
        said.append(
            f"drill.toml does not say how much seed {'box' if one else 'boxes'} {listed(unknown)} "
            f"{'holds' if one else 'hold'}, so no stop to refill is worked out for {'it' if one else 'them'}. Write "
            f"full_{WEIGHT_UNIT[units]} for the box. Add the seed that must stay in the box at the end."
        )
    if loose := list(
        dict.fromkeys(part.name for each in every for part in each.parts if part.lots and part.bags is None)
    ):
        column = f"bag_weight_{WEIGHT_UNIT[units]}"
        said.append(f"Bags are not counted for {listed(loose)}: plan.csv has no {column} there.")
    return said


def care(sheet: LoadingSheet) -> list[str]:
    """What to mind while loading, the treated lots by name."""
    lots = [lot for each in (*sheet.loads, *sheet.in_turn) for lot in each.plan.lots]
    treated = dict.fromkeys(f"{lot.bag or lot.lot} ({treatment(lot)})" for lot in lots if treatment(lot))
    first = [f"Treated seed: {listed(treated)}. Read its tag before you open the bag."] if treated else []
    return [*first, *cautions.LOADING, TAGS]


def in_hand_words(each: InHand, units: Units) -> str:
    """Whether the seed that is there is enough."""
    part, there = each.part, about(each.weight_g, units)
    needed = weight(part.total_g, part.step_g, units)
    if each.short_g <= 0:
        return f"{part.name}: {there} there, {needed} needed. {about(-each.short_g, units)} will be left over."
    return (
        f"{part.name}: {there} there, {needed} needed. {about(each.short_g, units)} are missing: it plants "
        f"{area(each.plants_m2, units)}, down to an empty box."
    )


def lines(sheet: LoadingSheet, wrapped: Fold) -> list[str]:
    """The sheet for a terminal."""
    said = [wrapped(headline(sheet), "")]
    said += [wrapped(each) for each in (field_names(sheet), *planted_words(sheet)) if each]
    for loading in sheet.passes:
        said += _pass_lines(loading, sheet, wrapped)
    if sheet.in_turn:
        said += ["", *_in_turn_lines(sheet, wrapped)]
    if sheet.in_hand:
        said += ["", "SEED THAT IS THERE", *(wrapped(in_hand_words(each, sheet.units)) for each in sheet.in_hand)]
    said += ["", *(wrapped(each, "") for each in notes(sheet))]
    if sheet.passes:
        said += ["", wrapped(WEIGH, ""), wrapped(TOO_EARLY, "")]
    return [*said, "", *(wrapped(each, "! ", "  ") for each in care(sheet))]


def _pass_lines(loading: Loading, sheet: LoadingSheet, wrapped: Fold) -> Iterator[str]:
    units = sheet.units
    if title := pass_words(loading, sheet):
        yield from ("", wrapped(title, ""))
    if note := stops_note(loading):
        yield wrapped(note)
    for when, what in order(loading, units):
        yield wrapped(f"{when}: {what}", "    ")
    for k, stop in enumerate(loading.stops):
        done, where = stop_words(stop, loading, units)
        title = "BEFORE YOU START" if k == 0 else f"STOP {k}: {done[0].lower()}{done[1:]}"
        yield from ("", *facts(wrapped, title, *([where] if where else []), indent=""))
        for load, number in stop.fills:
            yield from _fill_lines(load, number, units, wrapped)
    yield from ("", "LEFT IN THE BOXES")
    for name, left in left_in_boxes(loading, units):
        yield wrapped(f"{name}: {', '.join(f'{box} {rest}' for box, rest in left)}", "  ", "    ")
    yield from ("", "IN ALL")
    for each in loading.boxes:
        yield from _total_lines(each, units, wrapped)


def _fill_lines(load: BoxLoad, k: int, units: Units, wrapped: Fold) -> Iterator[str]:
    put = f"{box_name(load.plan)}: {'load' if k == 0 else 'add'} {box_weight(load.fills[k].weight_g, load, units)}"
    yield from facts(wrapped, put, *fill_words(load, k, units))
    for part in load.parts:
        bags = bags_words(part, k, units)
        if len(load.parts) > 1:
            said = f"{part_name(part)}: {weight(part.weights[k], part.step_g, units)}"
            yield wrapped(f"{said} ({bags})" if bags else said, "    ", "      ")
        elif bags:
            yield wrapped(bags, "    ", "      ")


def _total_lines(load: BoxLoad, units: Units, wrapped: Fold) -> Iterator[str]:
    alone = len(load.parts) == 1
    bags = [each for each in (all_bags(load.parts[0], units),) if each and alone]
    yield from facts(wrapped, f"{box_name(load.plan)}: {box_weight(load.total_g, load, units)}", *bags)
    for part in () if alone else load.parts:
        bags = [each for each in (all_bags(part, units),) if each]
        yield from facts(
            wrapped, f"{part_name(part)}: {weight(part.total_g, part.step_g, units)}", *bags, indent="    "
        )


def _in_turn_lines(sheet: LoadingSheet, wrapped: Fold) -> Iterator[str]:
    yield wrapped(in_turn_note(sheet), "")
    for load in sheet.in_turn:
        yield from facts(wrapped, *in_turn_facts(load, sheet))
        for part in load.parts if len(load.parts) > 1 else ():
            yield wrapped(f"{part_name(part)}: {weight(part.weights[0], part.step_g, sheet.units)}", "    ")


def in_turn_note(sheet: LoadingSheet) -> str:
    """Why no stops are worked out for a box that takes several lots in turn, and what to do."""
    boxes = list(dict.fromkeys(each.plan.box.name for each in sheet.in_turn))
    first = sheet.in_turn[0].plan
    return (
        f"{'Box' if len(boxes) == 1 else 'Boxes'} {listed(boxes)}: several lots, one after the other. The plan does "
        "not say which field gets which. For the fills of one lot, name it and its fields, as in "
        f'--box {first.box.name} --lot "{first.lot}" --field NAME=AREA.'
    )


def in_turn_facts(load: BoxLoad, sheet: LoadingSheet) -> list[str]:
    """What a full box of one of several lots is and plants."""
    units, plan, fill = sheet.units, load.plan, load.fills[0]
    rate = f"{figures(rate_in(plan.bulk_rate, units))} {RATE_UNIT[units]}"
    rest = sheet.rest_m2(plan.box.name)
    ground = f"all {area(rest, units)}" if rest == sheet.area_m2 else f"the {area(rest, units)} not planted yet"
    whole = f"{about(plan.load_g(rest), units)} for {ground}"
    if plan.box.full_g is None:
        return [f"{plan.lot}: {rate}", whole]
    down = f"down to {percent(load.refill.at)} % full"
    full = f"a full box of {box_weight(fill.weight_g, load, units)} plants {area(fill.plants_m2, units)} {down}"
    return [f"{plan.lot}: {rate}", full, whole]
