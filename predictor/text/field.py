"""Field checks and factors in sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

from predictor.domain.catch import slips
from predictor.domain.result import Remark
from predictor.domain.seed import BoxPlan
from predictor.field.results import BoxFactor, CheckResult, FieldResult, in_units
from predictor.field.seeds import NORMAL_95
from predictor.format import count, figures, listed, percent, weight
from predictor.job.job import Job
from predictor.text.fold import Fold
from predictor.units import METRES, SQUARE_METRES, Units


def _never_alone(remark: Remark) -> str:
    *others, last = remark["boxes"]
    if not others:
        return f"Box {last} was never weighed alone, so its factor rests on those of the other boxes."
    return (
        f"Boxes {', '.join(others)} and {last} were only weighed together. Their total is known, and each is corrected "
        "by about the same share. Nothing shows which of them gave more or less: weigh one box alone to find out."
    )


CAUSES = {
    "half": "area, turns or rows were counted once instead of twice, or twice instead of once",
    "pounds": "pounds and kilograms were mixed up",
    "acres": "acres and hectares were mixed up",
    "ounces": "a weight in ounces was converted with a wrong number",
    "decimal": "a decimal point is in the wrong place",
    "rows": "the rows of a catch were taken for those of the drill",
    "swapped": "area and seed used changed places",
    "left": "what was left in the box was not weighed back",
    "added": "seed that was added was not written down",
    "length": "the length of row is wrong",
}


def _slip(remark: Remark) -> str:
    *others, last = [CAUSES[each] for each in remark["causes"]]
    perhaps = f"{'; '.join(others)}; or {last}" if others else last
    return (
        f"Rejected: it is {weight(remark['ratio'])} times what was expected, which is more likely a slip than the "
        f"drill. Nothing rests on it unless a second one agrees. Perhaps {perhaps}. Weigh or count again."
    )


# Yousif, Gedarif University, field seasons 2006-2008, five crops; read, title and page not recorded.
PUBLISHED = "published field rates were 4 to 15 % below standing ones, 8 % on average."
MOTOR = "A motor does not slip as a wheel does, but speed and jolting may differ in the field. Make a check early."
UNCHECKED = "No field check has corrected the target: the field rate is likely about 8 % lower. Make a check early."

# What is taken as given of the weights of a check.
WEIGHED = {
    "used": "the seed left weighed back and taken off",
    "left": "every refill written down",
    "nothing_left": "the box empty at the end, every refill written down",
}


def _measure(remark: Remark) -> str:
    """The area or length of a check, in its drill's units."""
    if "row_m" in remark.values:
        unit = "ft" if remark.values.get("units", "us") == "us" else "m"
        return f"{figures(remark['row_m'] / METRES[unit])} {unit}"
    area = "ac" if remark.values.get("units", "us") == "us" else "ha"
    return f"{figures(remark['area_m2'] / SQUARE_METRES[area])} {area}"


SENTENCES = {
    "count_not_planned": "The plan does not say how many seeds are in a gram of this lot.",
    "seeds_unknown": (
        "How many seeds to expect is not known. Write the tag of each lot into the plan, and seeds_per_lb where the "
        "program has no count of its own."
    ),
    "part_of_blend": "{lot} is part of {blend}. Write {blend} as its lot.",
    "not_planned": "The plan has no such lot in that box, so there is no target.",
    "no_catch": "The trials have no catch of {lots}, so this check gives no field factor.",
    "towed": (
        "Catches of {lots} were made while the drill was towed. They have slip in them, so this check is compared with "
        "the target and gives no field factor."
    ),
    "no_seed": "No seed was found: look for a plugged tube or an empty box. The field factor does not use this check.",
    "slip": _slip,
    "fault": (
        "That is {factor:.2f} times the standing rate, and another check agrees. Look for the cause: plugged tubes, a "
        "slipping or wrong chain, a gate out of place. It counts for this lot only."
    ),
    "other_season": (
        "The plan is of another season than this check of {season}, so there is no target. What was planted, in "
        "planted.csv, or target_g in the trials of that season would give one."
    ),
    "never_alone": _never_alone,
    "given_counted": lambda remark: f"Taken as given: {_measure(remark)} of row, in rows like the others.",
    "given_weighed": lambda remark: f"Taken as given: {_measure(remark)} sown, {WEIGHED[remark['how']]}.",
    "written_twice": lambda remark: (
        f"field.csv, {_lines(remark, 'is', 'are')} the check of line {remark['first']} again, "
        "and would count twice. Keep one. Delete the rest, or write no in the column use."
    ),
    "copied": lambda remark: (
        f"field.csv, {_lines(remark, 'has', 'have')} the very setting, area and seed of line {remark['first']}, of "
        f"{remark['day']}. If that was copied from another season, write what was measured."
    ),
}


def _lines(remark: Remark, one: str, many: str) -> str:
    """The lines of copies, and the verb that goes with them."""
    lines = remark["lines"]
    return f"line {lines[0]} {one}" if len(lines) == 1 else f"lines {listed(map(str, lines))} {many}"


def check_words(check: CheckResult, units: Units, *, details: bool = True) -> list[str]:
    """One check in sentences; with `details` what its limits rest on, and its factor."""
    boxes = " + ".join(
        f"{box}, {lot} at {setting}" for box, lot, setting in zip(check.boxes, check.lots, check.settings, strict=True)
    )
    shown = check.to_dict(units)
    text = f"{check.date} {boxes}: "
    text += "seeds counted" if check.achieved is None else f"{figures(shown['achieved'])} {shown['unit']}"
    ratio = [percent(each) for each in (check.ratio, check.ratio_lower, check.ratio_upper) if each is not None]
    if ratio:
        counted = " pure seeds, dead ones included" if str(shown["unit"]).startswith("seeds") else ""
        text += f", {ratio[0]} % of the target of {figures(shown['target'])}{counted} ({ratio[1]} to {ratio[2]} %)"
    said = [f"{text}."]
    if details and check.count_log_sd is not None:
        down, up = (100 * abs(math.expm1(each * check.count_log_sd)) for each in (-NORMAL_95, NORMAL_95))
        error = f"{down:.0f} % fewer to {up:.0f} % more"
        said.append(f"The limits allow for an error in the seeds per pound, from {error} (95 %).")
    factor = [f"{each:.2f}" for each in (check.factor, check.factor_lower, check.factor_upper) if each is not None]
    if details and factor:
        said.append(f"Field rate over standing rate: {factor[0]} ({factor[1]} to {factor[2]}).")
    # of a check that is rejected the likely causes say it
    given = None if check.finding == "slip" else in_units(check.given, units)
    return said + [str(each) for each in (check.why_not, given) if each]


NO_FACTOR = "There is no field factor: no check could be compared with catches of its lot."
WHAT_FACTORS_ARE = "1.00: a box gives in the field what it gave while the drill stood."


def factor_figures(factor: float, limits: tuple[float, float] | None) -> str:
    """A field factor, with its limits where they are known.

    >>> factor_figures(0.918, (0.85, 0.99)), factor_figures(0.918, None)
    ('0.92 (0.85 to 0.99)', '0.92')
    """
    return f"{factor:.2f}" if limits is None else f"{factor:.2f} ({limits[0]:.2f} to {limits[1]:.2f})"


def factor_words(box: BoxFactor) -> str:
    """One box's factor, and how it changes, in sentences."""
    checks = [count(box.alone, "check")] if box.alone else []
    checks += [f"{count(box.together, 'check')} with other boxes"] if box.together else []
    text = f"{box.box}: {factor_figures(box.factor, (box.lower, box.upper))}, from {' and '.join(checks)}."
    if box.trend is None or box.trend_lower is None or box.trend_upper is None:
        return text
    span = f"{100 * box.trend_lower:+.0f} to {100 * box.trend_upper:+.0f} %"
    if box.trend_lower <= 0 <= box.trend_upper:
        return f"{text} No trend is visible ({span} in 30 days)."
    change = f"It changes by {100 * box.trend:+.0f} % in 30 days ({span})"
    return f"{text} {change}: look for wear, damp seed or other ground."


def _named(boxes: Sequence[str]) -> str:
    *others, last = boxes
    return f"{listed(others)} and {last}" if others else last


def unchecked_note(unchecked: Sequence[str], boxes: int, motors: Sequence[str] = ()) -> str:
    """That no field check corrects the targets of some boxes, of so many; "" where all are corrected.

    `unchecked` have meters that a wheel turns in the field, `motors` do not.
    """
    said = []
    if unchecked:
        which = "these targets" if len(unchecked) == boxes else f"the target of {_named(unchecked)}"
        said.append(
            f"No field check has corrected {which}. The rate in the field is then likely about 8 % lower: {PUBLISHED} "
            "Make a field check early."
        )
    if motors:
        said.append(f"No field check has corrected the target of {_named(motors)}. {MOTOR}")
    return " ".join(said)


def standing_note(
    unchecked: Sequence[str],
    boxes: int,
    towed: Sequence[str] = (),
    motors: Sequence[str] = (),
    checked: Sequence[str] = (),
) -> str:
    """What chances of the standing drill leave out, for the boxes that no field check corrects, of so many.

    Slip is in the chances of boxes that were caught while the drill was towed. Meters that a motor turns (`motors`, not
    checked either) have none. A check judged `checked` at their settings, so their targets are not corrected.
    """
    if len(towed) == boxes:
        return "Chances are those of the drill as it was towed, so slip is in them."
    but = f", and for {_named(towed)} those of the drill as it was towed, with slip in them" if towed else ""
    start = f"Chances are those of the standing drill{but}."
    by_motor = f" No field check corrects the target of {_named(motors)}. {MOTOR}" if motors else ""
    if checked:
        start += f" Field checks judged {_named(checked)} in the field, slip and jolting included."
    if not unchecked and not motors:
        if len(checked) + len(towed) == boxes:
            return start
        return f"{start} The targets allow for the slip and jolting that field checks showed."
    if not unchecked:
        return start + by_motor
    where = "" if len(unchecked) == boxes else f" where no field check corrects the target ({listed(unchecked)})"
    return f"{start} Slip and jolting in the field come on top{where}: {PUBLISHED} Make a field check early.{by_motor}"


def correction(boxes: Sequence[BoxPlan]) -> str:
    """That the targets of some boxes and lots are corrected for field factors."""
    factors = ", ".join(f"{each.box.name} {each.field_factor:.2f}" for each in boxes)
    return f"Targets are corrected for field factors: {factors}."


def target_words(job: Job | None, box: str, lot: str = "") -> list[str]:
    """What field checks did to the target catch of each lot of a box, or of one lot."""
    if job is None or job.plan is None:
        return []
    said = []
    for each in job.plan.boxes:
        if lot and each.lot.lower() != lot.lower():
            continue
        if each.box.name == box and job.is_towed(each.box, each.lot):
            said.append(f"The target catch of {each.lot} stays as it is, since the drill was towed for it.")
        elif each.box.name == box and each.field_factor == 1:
            said.append(
                f"The target catch of {each.lot} stays as it is: a check within tolerance judges the setting of its "
                "lot and does not move the target."
            )
        elif each.box.name == box:
            catch = job.drill.catch_of(each.box)
            new, step = each.target_catch_g(catch.turns, catch.rows), catch.scale_resolution_g
            said.append(
                f"The target catch of {each.lot} changes from {weight(new * each.field_factor, step)} to "
                f"{weight(new, step)} g, for a factor of {each.field_factor:.2f}."
            )
    return said


def _checks(found: FieldResult, units: Units, fold: Fold, job: Job | None, *, details: bool) -> list[str]:
    """The checks of the season in hand, then those of earlier ones: how many, or with `details` each."""
    now = [each for each in found.checks if job is None or job.is_of_now(each)]
    earlier = [each for each in found.checks if each not in now]
    said = []
    for title, checks in (("CHECKS", now), ("CHECKS OF EARLIER SEASONS", earlier if details else [])):
        said += [title] if checks else []
        for check in checks:
            first, *rest = check_words(check, units, details=details)
            said += [fold(first), *(fold(each, "    ", "    ") for each in rest)]
    if earlier and not details:
        said.append(fold(f"{count(len(earlier), 'check')} of earlier seasons: --details shows what they say.", ""))
    return said


def lines(found: FieldResult, units: Units, fold: Fold, job: Job | None = None, *, details: bool = True) -> list[str]:
    """Checks, factors and what they do to the target catches of a job, folded."""
    said = [fold(str(each), "! ", "  ") for each in found.remarks]
    said += _checks(found, units, fold, job, details=details)
    said.append("FIELD FACTOR (field over standing rate)")
    if not found.boxes:
        said.append(fold(f"{NO_FACTOR} See above."))
    for box in found.boxes:
        said += [fold(factor_words(box)), *(fold(each, "    ", "    ") for each in target_words(job, box.box))]
    planned = [each.box.name for each in job.plan.boxes] if job and job.plan and found.boxes else []
    others = [box for box in dict.fromkeys(planned) if not found.of(box)]
    for name in others:
        towed = (
            job is not None
            and job.plan is not None
            and all(job.is_towed(each.box, each.lot) for each in job.plan.boxes if each.box.name == name)
        )
        motor = job is not None and not slips(job.drill, job.drill.box(name))
        missing = MOTOR if motor else UNCHECKED
        known = "its catches were towed, so slip is in them." if towed else f"not checked. {missing}"
        said.append(fold(f"{name}: {known}"))
    return said
