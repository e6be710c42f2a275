"""What was planted, in sentences: questions about a slip, the line that was saved, and totals."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from predictor.domain.planted import Evidence, PlantedLine, PlantedLot
from predictor.domain.result import Remark
from predictor.format import count, figures, figures_to, in_100, listed, percent, plain
from predictor.job.planting import Amount, Planting, ToPlant
from predictor.text.doing import done
from predictor.text.fold import Fold
from predictor.units import (
    AREA_UNIT,
    GRAMS,
    RATE_UNIT,
    SQUARE_METRES,
    SQUARE_METRES_PER_SQUARE_FOOT,
    WEIGHT_UNIT,
    Units,
    rate_in,
)

# What each decision says of a box that is planted without a lock.
_NOT_LOCKED = {
    "move": "the catches advise {advised}",
    "repeat": "it takes another catch to be sure",
    "lengthen": "it takes larger catches to be sure",
    "unreachable": "no setting of this box reaches the target",
    "recheck": "a catch has to be made again first",
}


def _not_locked(remark: Remark) -> str:
    why = _NOT_LOCKED[remark["decision"]].format(advised=remark["advised"])
    if remark["decision"] == "move" and remark["advised"] == remark["setting"]:
        why = "no catch was made there yet"
    elif not remark["catches"]:
        why = "no catch was made"
    elif remark["slips"] and remark["decision"] == "recheck":
        why = f"the log has to be checked first. {remark['slips'][0]}"
        return f"Box {remark['box']} is not locked for {remark['lot']}: {why} Was it planted at {remark['setting']}?"
    return f"Box {remark['box']} is not locked for {remark['lot']}: {why}. Was it planted at {remark['setting']}?"


def _other_setting(remark: Remark) -> str:
    chance = remark["chance"]
    known = "" if math.isnan(chance) else f" {chances(chance)} that {remark['setting']} is within tolerance."
    return (
        f"Box {remark['box']} is to be at {remark['locked']} for {remark['lot']}.{known} Was it planted at "
        f"{remark['setting']}?"
    )


def _more_than_left(remark: Remark) -> str:
    area, left = (area_words(remark[name], remark["units"]) for name in ("area_m2", "left_m2"))
    whole = area_words(remark["field_m2"], remark["units"])
    return (
        f"Box {remark['box']} has {left} of the {whole} of {remark['field']} left to plant. Were {area} planted there?"
    )


def _new_field(remark: Remark) -> str:
    names = listed(each.name for each in remark["fields"])
    named = f"{remark['field']} is" if remark["field"] else "The line names no field, and this is"
    return f"{named} not one of the fields in drill.toml ({names}). Keep the line?"


def _far(remark: Remark) -> str:
    rate, target = (rate_words(remark[name], remark["units"]) for name in ("rate", "target"))
    return (
        f"Box {remark['box']}: {rate} is far from the target of {target}. Check area, weights and box. Keep the line?"
    )


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "future_day": "{day} has not come yet. Is it the day of planting?",
    "far": _far,
    "same_again": "Line {line} already says this. Was it planted twice?",
    "no_target": "The plan has no lot {lot} in box {box}, so there is no target to compare with. Keep the line?",
    "not_locked": _not_locked,
    "other_setting": _other_setting,
    "new_field": _new_field,
    "more_than_left": _more_than_left,
    "part_of_blend": "{part} is part of {blend}. The line is kept under that name.",
}

NOTE = (
    "Each line states what was known when it was written, from catches and checks up to its own day. Catches, checks, "
    "tags and advice that came later do not change it. A chance is that of the standing drill unless the lot was towed."
)
CARRIER, IN_ALL, NO_FIELD = "carrier", "all", "not named"
NOTHING_YET = "No planting was noted this season."


def chances(chance: float) -> str:
    """A chance as the start of a sentence.

    >>> chances(0.976)
    '97 chances in 100'
    """
    return f"{in_100(chance)} {'chance' if in_100(chance) == '1' else 'chances'} in 100"


def earlier_seasons(lines: Sequence[PlantedLine]) -> str:
    """That lines of seasons before are in the file, and not in the record of this one."""
    days = sorted(each.date for each in lines)
    when = f"on {days[0]}" if days[0] == days[-1] else f"from {days[0]} to {days[-1]}"
    what = count(len(lines), "line")
    one = len(lines) == 1
    return (
        f"{what} of planted.csv, {when}, {'is' if one else 'are'} of an earlier season and "
        f"{'is' if one else 'are'} not counted here."
    )


def area_words(area_m2: float, units: Units) -> str:
    """An area with its unit.

    >>> area_words(14 * SQUARE_METRES["ac"], "us"), area_words(20_000, "metric")
    ('14.0 ac', '2.00 ha')
    """
    unit = AREA_UNIT[units]
    return f"{figures(area_m2 / SQUARE_METRES[unit])} {unit}"


def weight_words(grams: float, units: Units) -> str:
    """A weight of bulk or live seed with its unit."""
    unit = WEIGHT_UNIT[units]
    return f"{figures(grams / GRAMS[unit])} {unit}"


def rate_words(rate: float, units: Units) -> str:
    """A rate with its unit."""
    return f"{figures(rate_in(rate, units))} {RATE_UNIT[units]}"


def live_words(per_m2: float, units: Units) -> str:
    """Live seeds on an area."""
    if units == "us":
        return f"{figures(per_m2 * SQUARE_METRES_PER_SQUARE_FOOT)} live seeds/ft2"
    return f"{figures(per_m2)} live seeds/m2"


def saved(line: int, planted: PlantedLine, units: Units) -> str:
    """That a line was saved."""
    where = f" of {planted.field}" if planted.field else ""
    what = f"box {planted.box.name}, {planted.lot} at {planted.setting}"
    return f"Saved as line {line}: {what}, {area_words(planted.area_m2, units)}{where}."


def undone(line: int, cells: Mapping[str, str]) -> str:
    """That a line was taken back."""
    where = f" in {cells['field']}" if cells.get("field") else ""
    return f"Line {line} is taken back: box {cells['box']}, {cells['lot']} at {cells['setting']}{where}."


def line_words(line: PlantedLine, units: Units) -> list[str]:
    """What one line says, in sentences, from the evidence that it keeps."""
    where = f"{line.field}, " if line.field else ""
    used = "the seed was not weighed" if math.isnan(line.used_g) else f"{weight_words(line.used_g, units)} used"
    said = [f"{where}{line.date}: {area_words(line.area_m2, units)}, {used}."]
    said += achieved(line, units)
    return [*said, *evidence_words(line, units)]


def achieved(line: PlantedLine, units: Units) -> list[str]:
    """The rate of a line against its target, and whether it is within tolerance."""
    if math.isnan(line.rate):
        return []
    evidence = line.evidence
    if evidence is None or math.isnan(evidence.target):
        return [f"Rate {rate_words(line.rate, units)}."]
    ratio = line.rate / evidence.target
    target = rate_words(evidence.target, units)
    said = [f"Rate {rate_words(line.rate, units)}, {percent(ratio)} % of the target of {target}."]
    if abs(ratio - 1) > evidence.tolerance:
        within = f"{plain(100 * evidence.tolerance)} %"
        said.append(f"That is not within {within} of target. Check it in the field before you plant more.")
    return said


# What the last field check of the lot said when a line was written.
CHECKED = {
    "leave": "A field check of this lot said to leave the box where it was.",
    "move": "A field check of this lot said to move the box for the rest.",
    "weigh": "A field check of this lot was to be weighed again, and nothing rests on it.",
}


def evidence_words(line: PlantedLine, units: Units) -> list[str]:
    """On what evidence a line was planted, as it was on that day."""
    evidence = line.evidence
    if evidence is None:
        return ["Written by hand: no evidence was kept with it."]
    said = []
    if not math.isnan(evidence.chance):
        towed = "the field rate" if evidence.towed else "the standing drill"
        within = f"within {plain(100 * evidence.tolerance)} % of target"
        said.append(f"{chances(evidence.chance)} that {towed} was {within}.")
    if not math.isnan(evidence.expected):
        limits = figures_to(*(rate_in(each, units) for each in (evidence.expected_low, evidence.expected_high)))
        said.append(f"Expected {rate_words(evidence.expected, units)}, limits {limits}.")
    return [*said, basis(evidence)]


def basis(evidence: Evidence) -> str:
    """What the evidence rests on."""
    catches = count(len(evidence.catches), "catch", "catches")
    factor = "" if evidence.field_factor == 1 else f", field factor {evidence.field_factor:.2f}"
    season = f" of {evidence.season}" if evidence.season else ""
    return f"Evidence: {catches}{season}{factor}; predictor {evidence.program} on {evidence.made}."


def evidence_of_line(line: PlantedLine, units: Units) -> str:
    """The evidence of one line of the record, with the files that it rests on."""
    evidence = line.evidence
    said = evidence_words(line, units)
    if evidence is not None:
        decided = evidence.decision and f"Advised then by the catches: {advised(evidence)}."
        history, model = evidence.history, evidence.model and f"Curve: {evidence.model}."
        said += [f"Not settled then: {each}" for each in evidence.slips]
        said += [each for each in (evidence.given, confirmed_words(evidence.confirmed)) if each]
        files = [f"{name} {digest[:16]}" for name, digest in evidence.files]
        said += [each for each in (CHECKED.get(evidence.field_answer, ""), decided, history, model) if each]
        said += [f"Files then: {', '.join(files)}."] if files else []
    by = f" by {line.operator}" if line.operator else ""
    note = f" Note: {line.note.removesuffix('.')}." if line.note else ""
    return f"Line {line.line}{by}: {' '.join(said)}{note}"


def confirmed_words(lines: Sequence[int]) -> str:
    """Which lines of the log a person stands by; "" for none."""
    if not lines:
        return ""
    where = f"line {lines[0]}" if len(lines) == 1 else f"lines {listed(map(str, lines))}"
    return f"Someone was asked about {where} of the log, and stands by {'it' if len(lines) == 1 else 'them'}."


def advised(evidence: Evidence) -> str:
    """What was advised when a line was written, in a few words."""
    decision = "check_log" if evidence.slips and evidence.decision == "recheck" else evidence.decision
    return done(decision, evidence.advised).text(capitals=False)


_RULES = {"germination": "germination", "hard": "germination, hard", "total": "germination, hard, dormant"}


def rule(lot: PlantedLot) -> str:
    """What counted as alive; "" where there was no tag, or a TZ test that counts every living seed."""
    return "" if math.isnan(lot.pls) or lot.tz == lot.tz else _RULES[lot.viable]


def unknown_part(amount: Amount, units: Units) -> str:
    """Which lines were not weighed, and what the others used; "" where all is known."""
    if not amount.not_weighed:
        return "live seed is not known" if math.isnan(amount.pls_g) else ""
    known = f"{weight_words(amount.weighed_g, units)} is known; " if amount.weighed_g else ""
    return f"{known}{not_weighed(amount)}"


def why_unknown(amount: Amount) -> str:
    """Why live seed is not known; "" where it is."""
    if math.isnan(amount.pls_g):
        return not_weighed(amount) if amount.not_weighed else "no tag"
    return "seeds a weight not known" if math.isnan(amount.live_seeds) else ""


def amount_words(amount: Amount, units: Units) -> str:
    """Weight used, rate and share of the target; what was not weighed is named."""
    if not amount.weighed_m2:
        return f"{area_words(amount.area_m2, units)}, not weighed"
    rate = rate_words(amount.rate, units)
    ratio = "" if math.isnan(amount.ratio) else f", {percent(amount.ratio)} % of target"
    said = f"{weight_words(amount.weighed_g, units)} on {area_words(amount.weighed_m2, units)}, {rate}{ratio}"
    return f"{said}; {not_weighed(amount)}" if amount.not_weighed else said


def not_weighed(amount: Amount) -> str:
    """Which lines were not weighed."""
    lines = listed(map(str, amount.not_weighed))
    return f"line {lines} was not weighed" if len(amount.not_weighed) == 1 else f"lines {lines} were not weighed"


def live_amount(amount: Amount, units: Units) -> str:
    """Live seed of a species; unknown where a line was not weighed or its tag does not say."""
    if math.isnan(amount.pls_g):
        return f"not known: {not_weighed(amount)}" if amount.not_weighed else "not known: there is no tag"
    pls = f"{weight_words(amount.pls_g, units)} PLS"
    return pls if math.isnan(amount.live_seeds) else f"{pls}, {live_words(amount.live_per_m2, units)}"


def lines(line: PlantedLine, found: Planting, left: Sequence[ToPlant], units: Units, wrapped: Fold) -> list[str]:
    """The answer to a line that was saved: what was planted, the totals, and what is left."""
    said = [wrapped(f"BOX {line.box.name}, lot {line.lot}: PLANTED AT {line.setting}", "")]
    said += [wrapped(each) for each in line_words(line, units)]
    said += [wrapped("Planted so far, by box and lot", "")]
    for each in found.fillings:
        said.append(wrapped(f"{', '.join(each.names)}: {amount_words(each, units)}"))
        said += [wrapped(part, "    ") for part in content_words(found, each, units)]
    if len(found.fillings) > 1:
        whole = found.everything
        said.append(wrapped(f"In all, {area_words(whole.area_m2, units)}: {used_words(whole, units)}"))
    if found.species:
        said.append(wrapped("Live seed planted so far", ""))
        said += [wrapped(f"{each.names[0]}: {live_amount(each, units)}") for each in found.species]
    said += [wrapped(each) for each in unknown_words(found)]
    if left:
        said += [wrapped("Still to plant", ""), *(wrapped(each) for each in left_words(left, units))]
    return said


def content_words(found: Planting, filling: Amount, units: Units) -> list[str]:
    """What each lot of a filling and its carrier came to, where there is more than one lot in it."""
    lots = [(each.names[2], each) for each in found.contents if each.names[:2] == filling.names]
    lots += [(CARRIER, each) for each in found.carrier if each.names == filling.names]
    return [f"{name} {used_words(each, units)}" for name, each in lots] if len(lots) > 1 else []


def unknown_words(found: Planting) -> list[str]:
    """Which lines are in no figure of live seed."""
    lines = found.without_tags
    if not lines:
        return []
    named = f"line {lines[0]}" if len(lines) == 1 else f"lines {listed(map(str, lines))}"
    return [f"The live seed of {named} is not known and not counted here: no tag was kept."]


def used_words(amount: Amount, units: Units) -> str:
    """The weight used of a lot."""
    if math.isnan(amount.used_g):
        known = f"{weight_words(amount.weighed_g, units)} is known; " if amount.weighed_m2 else ""
        return f"{known}{not_weighed(amount)}"
    return weight_words(amount.used_g, units)


def left_words(left: Sequence[ToPlant], units: Units) -> list[str]:
    """What is still to be planted, field by field."""
    fields: dict[str, list[ToPlant]] = {}
    for each in left:
        fields.setdefault(each.field, []).append(each)
    said = []
    for field, boxes in fields.items():
        named = [
            each.box if math.isnan(each.area_m2) else f"{each.box} {area_words(each.area_m2, units)}" for each in boxes
        ]
        said.append(f"{field}: {listed(named)}" if field else f"Boxes: {listed(named)}")
    return said
