"""One field check asked for: what was not given is a question."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from predictor.asking.asked import Asked, as_said, settings_to_choose
from predictor.errors import InputError

if TYPE_CHECKING:
    from predictor.domain.checks import Part
    from predictor.domain.control import Setting
    from predictor.domain.drill import Drill, SeedBox
    from predictor.job.checking import NewCheck
    from predictor.job.job import Job

Way = Literal["weighed", "counted"]
WAYS = {"w": "seed weighed over an area", "c": "seeds counted in a row, on a hard surface"}
GIVEN_UP = "Nothing was saved. Add the check again."
MEASURED = ("area", "loaded", "left", "used", "counted", "row")


@dataclass(frozen=True)
class Told:
    """What is known of a check beside what was measured."""

    day: datetime.date
    today: datetime.date
    operator: str = ""
    note: str = ""


def ask_check(asked: Asked, job: Job, told: Told) -> NewCheck:
    """The check that was given and asked for; slips are asked about."""
    from predictor.job.checking import NewCheck, questions

    parts = _parts(asked, job)
    start = NewCheck(
        told.day.isoformat(), parts, field=_field(asked, job, parts[0].box.name), operator=told.operator, note=told.note
    )
    way = _way(asked)
    while True:
        new = _weighed(asked, job.drill, start) if way == "weighed" else _counted(asked, job.drill, start)
        wrong = next((each for each in questions(job, new, told.today) if not asked.agreed(each)), None)
        if wrong is None:
            return new
        if asked.weighed or wrong.code != "check.slip":
            raise InputError(GIVEN_UP)
        asked = replace(asked, given={name: text for name, text in asked.given.items() if name not in MEASURED})


def _parts(asked: Asked, job: Job) -> tuple[Part, ...]:
    """The boxes that ran, each with its lot and setting."""
    from predictor.domain.checks import Part
    from predictor.job.checking import next_box

    names = ", ".join(each.name for each in job.drill.boxes)
    label = f"Box ({names}; + between boxes weighed together)" if len(job.drill.boxes) > 1 else f"Box ({names})"
    usual = "" if asked.weighed and len(job.drill.boxes) > 1 else next_box(job)  # no box is checked unseen
    choices = as_said(each.name for each in job.drill.boxes)
    boxes = asked.value("box", label, usual, lambda text: _boxes(text, job.drill), choices=choices)
    parts = []
    for box, lot, setting in zip(boxes, *(_split(asked, name, len(boxes)) for name in ("lot", "setting")), strict=True):
        one = replace(asked, given={**asked.given, "lot": lot, "setting": setting})
        of = f" of {box.name}" if len(boxes) > 1 else ""
        found = _lot(one, job, box, of)
        parts.append(Part(box, found, _setting(one, job, box, found, of)))
    return tuple(parts)


def _boxes(text: str, drill: Drill) -> list[SeedBox]:
    """The boxes of an answer; a box's own name may contain a plus sign."""
    from predictor.files.entry import read_box

    whole = [each for each in drill.boxes if each.name.lower() == text.lower()]
    boxes = whole or [read_box(each.strip(), drill) for each in text.split("+")]
    if len({box.name for box in boxes}) < len(boxes):
        raise ValueError("A box appears twice. Name each once.")
    return boxes


def _split(asked: Asked, name: str, number: int) -> list[str | None]:
    """What was given for each box, joined by plus signs."""
    text = asked.given.get(name)
    if text is None or number == 1:
        return [text] * number
    pieces = [each.strip() for each in text.split("+")]
    if len(pieces) != number:
        asked.refuse(name, f"there are {number} boxes, so {number} are needed, joined by +, in the same order.")
    return list(pieces)


def _lot(asked: Asked, job: Job, box: SeedBox, of: str) -> str:
    """The lot that was in a box; one that is new there is asked about."""
    from predictor.domain.result import Remark
    from predictor.job.checking import known_lots, lot_in
    from predictor.job.entry import named_lot

    def read(text: str) -> str:
        name = named_lot(job, box, text)
        if name.lower() != " ".join(text.lower().split()):
            asked.say(str(Remark("check.part_of_blend", {"part": text, "blend": name})))
        return next((each for each in known_lots(job, box) if each.lower() == name.lower()), name)

    known = known_lots(job, box)
    lot = asked.value("lot", f"Lot{of}", lot_in(job, box), read, choices=as_said(known))
    if (
        known
        and lot not in known
        and not asked.agreed(Remark("check.new_lot", {"lot": lot, "box": box.name, "known": known}))
    ):
        raise InputError("Nothing was saved. Add the check again with the lot's right name.")
    return lot


def _setting(asked: Asked, job: Job, box: SeedBox, lot: str, of: str) -> Setting:
    """The setting of a box during the check; one that nothing speaks for is asked about."""
    from predictor.domain.result import Remark
    from predictor.files.entry import setting_of
    from predictor.job.checking import advised, set_at

    likely = set_at(job, box, lot)
    label, usual = f"Setting{of}", likely[0].text if len(likely) == 1 else ""
    if len(likely) > 1:  # it was to be moved: Enter could mean either
        label = f"Setting{of} (it was at {likely[0]}, and was to be moved to {likely[1]})"
    elif not likely and not asked.weighed:
        usual = str(advised(job, box, lot) or "")
    choices, typing = settings_to_choose(box, [each.text for each in likely] or [usual])
    setting = asked.value("setting", label, usual, lambda text: setting_of(text, box), choices=choices, typing=typing)
    if likely and setting not in likely:
        values = {"box": box.name, "setting": setting.text, "usual": [each.text for each in likely]}
        if not asked.agreed(Remark("check.other_setting", values)):
            raise InputError("Nothing was saved. Add the check again with its setting.")
    return setting


def _field(asked: Asked, job: Job, box: str) -> str:
    """The field, as the drill file writes it; asked for where the drill file names fields."""
    names = {each.name.lower(): each.name for each in job.drill.fields}
    given = asked.given.get("field")
    planted = [each.field for each in job.planted.lines if each.use and each.box.name == box]
    usual = planted[-1] if planted else ""

    def read(text: str) -> str:
        name = " ".join(text.split())
        return names.get(name.lower(), name)

    if given is None and (asked.weighed or not names):
        return usual
    usual = usual or next(iter(names.values()))  # fields stand in the order of planting
    return asked.value("field", f"Field ({', '.join(names.values())})", usual, read, choices=as_said(names.values()))


def _way(asked: Asked) -> Way:
    """How the check was made: as options say, else asked for."""
    given = {name for name in MEASURED if asked.given.get(name) is not None}
    if given:
        return "counted" if given & {"counted", "row"} else "weighed"

    def read(text: str) -> Way:
        ways: dict[str, Way] = {"w": "weighed", "c": "counted"}
        if text[:1].lower() not in ways:
            raise ValueError("Answer w or c.")
        return ways[text[:1].lower()]

    asked.say("How did you check it? w: seed weighed over an area. c: seeds counted in a row, on a hard surface.")
    return asked.value("way", "w or c", "w", read, "used", choices=WAYS, typing="choices")


def _weighed(asked: Asked, drill: Drill, start: NewCheck) -> NewCheck:
    """A check by weight."""
    from predictor.files.amounts import read_bulk, read_ground
    from predictor.units import AREA_UNIT, WEIGHT_UNIT

    units = drill.units
    unit, ground, far = WEIGHT_UNIT[units], AREA_UNIT[units], "1200 ft" if units == "us" else "400 m"
    label, option = f"Area sown, {ground} (or the distance drilled, as {far})", f"area-{ground}"
    area, distance = asked.value("area", label, "", lambda text: read_ground(text, units), option, typing="number")
    start = replace(start, area_m2=area, distance_m=distance)

    def some(text: str) -> float:
        return _above(read_bulk(text, units))

    if asked.given.get("used") is not None:
        return replace(start, used_g=asked.value("used", "", "", some))
    while True:
        loaded = asked.value("loaded", f"Seed loaded, {unit} (+ between loads)", "", some, typing="weight")
        left = asked.value("left", f"Seed left, {unit}", "", lambda text: read_bulk(text, units), typing="weight")
        if left < loaded:
            return replace(start, loaded_g=loaded, left_g=left)
        wrong = "As much seed is left as was loaded, or more. Was a refill left out? Weigh what is left in the box."
        if asked.given.get("left") is not None:
            asked.refuse("left", wrong)
        asked.say(wrong)
        asked = replace(asked, given={**asked.given, "loaded": None})


def _above(grams: float) -> float:
    """A weight above 0."""
    if grams == 0:
        raise ValueError("The weight is 0, so there is nothing to judge. Weigh again.")
    return grams


def _counted(asked: Asked, drill: Drill, start: NewCheck) -> NewCheck:
    """A check by a count of seeds."""
    from predictor.files.amounts import read_length
    from predictor.files.field import MOST_SEEDS
    from predictor.numbers import parse_number

    def seeds(text: str) -> float:
        number = parse_number(text, what="a number of seeds", grouped=True)
        if not 0 <= number <= MOST_SEEDS or number != int(number):
            raise ValueError(f"{text} is not a number of seeds. Write a whole number.")
        return number

    number = asked.value("counted", "Seeds counted", "", seeds, typing="number")
    unit = "ft" if drill.units == "us" else "m"

    def length(text: str) -> float:
        return read_length(text, drill.units, 1e5, "a length of row")

    row = asked.value(
        "row", f"Length of row, {unit}, all counted rows together", "", length, f"row-{unit}", typing="number"
    )
    return replace(start, seeds=number, row_m=row)
