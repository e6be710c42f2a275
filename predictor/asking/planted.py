"""One line of what was planted, asked for at the drill: what was not given by options is a question."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from predictor.asking.asked import Asked, as_said, settings_to_choose
from predictor.errors import InputError
from predictor.units import AREA_UNIT, SQUARE_METRES, WEIGHT_UNIT

if TYPE_CHECKING:
    from predictor.domain.control import Setting
    from predictor.domain.drill import SeedBox
    from predictor.domain.planted import PlantedLine
    from predictor.domain.result import Remark
    from predictor.job.job import Job
    from predictor.job.planting import ToPlant

ASKED_AGAIN = ("planted.new_field", "planted.more_than_left", "planted.far")
AGAIN = "Nothing was saved. Enter the line again."


@dataclass(frozen=True)
class Given:
    """What options alone give."""

    date: str
    area_m2: float | None
    operator: str
    note: str
    tolerance: float
    confidence: float


def ask_line(asked: Asked, job: Job, given: Given) -> PlantedLine:
    """The line that was given and asked for; slips are asked about."""
    from predictor.domain.planted import PlantedLine
    from predictor.job.days import early_day
    from predictor.job.plant import before_move, evidence_of, known_on, questions

    early = early_day(job, given.date)  # before the catches after that day are left out
    if early is not None and not asked.agreed(early):
        raise InputError(AGAIN)
    job = known_on(job, given.date)
    left = to_plant(job, given.date)
    box = _box(asked, job, left)
    lot = _lot(asked, job, box)
    setting = _setting(asked, job, box, lot, given.date)
    field = _field(asked, job, box, left)
    area = given.area_m2
    if area is None:
        moved = before_move(job, box, lot) is not None
        area = _area(asked, job, box, field, left) if not moved else _area_at(asked, job, setting)
    loaded, remains = _weights(asked, job)
    evidence = evidence_of(job, box, lot, setting, given.tolerance, given.confidence)
    amounts = area, loaded, remains, given.operator, given.note
    line = PlantedLine(given.date, field, box, lot, setting, *amounts, True, evidence, 0)
    agreed: set[str] = set()
    while wrong := next((each for each in questions(job, line) if str(each) not in agreed), None):
        if asked.agreed(wrong):
            agreed.add(str(wrong))
        else:
            line = _asked_again(asked, job, line, wrong, left)
    return line


def _asked_again(asked: Asked, job: Job, line: PlantedLine, wrong: Remark, left: tuple[ToPlant, ...]) -> PlantedLine:
    """The line with the answers that were wrong given again; options stand, and then nothing is saved."""
    if asked.weighed or wrong.code not in ASKED_AGAIN:
        raise InputError(AGAIN)
    asked = replace(asked, given={**asked.given, "field": None, "loaded": None, "left": None})
    if wrong.code == "planted.new_field":
        return replace(line, field=_field(asked, job, line.box, left))
    line = replace(line, area_m2=_area(asked, job, line.box, line.field, left))
    if wrong.code == "planted.more_than_left":
        return line
    loaded, remains = _weights(asked, job)
    return replace(line, loaded_g=loaded, left_g=remains)


def to_plant(job: Job, day: str) -> tuple[ToPlant, ...]:
    """What the boxes in hand have still to plant in the season of a day."""
    from predictor.job.planting import still_to_plant

    boxes = [task.box.name for task in job.in_hand()]
    return still_to_plant(job.planted.season(day), boxes, job.drill.fields)


def _box(asked: Asked, job: Job, left: tuple[ToPlant, ...]) -> SeedBox:
    """The box; the usual one is the next that is not planted, in the field of the last line if there is one."""
    from predictor.files.entry import read_box

    last = job.planted.lines[-1].field.lower() if len(job.planted) else ""
    usual = next((each.box for each in left if each.field.lower() == last), left[0].box if left else "")
    # a line written without asking must say which box it is about
    if asked.weighed and len(job.drill.boxes) > 1:
        usual = ""
    names = [each.name for each in job.drill.boxes]
    label = f"Box ({', '.join(names)})"
    return asked.value("box", label, usual, lambda text: read_box(text, job.drill), choices=as_said(names))


def _lot(asked: Asked, job: Job, box: SeedBox) -> str:
    """The lot, under the name that its catches carry."""
    from predictor.domain.result import Remark
    from predictor.job.checking import known_lots
    from predictor.job.entry import named_lot, usual_lot

    def read(text: str) -> str:
        if not text:
            raise ValueError("A line needs the name of its lot.")
        name = named_lot(job, box, text)
        if name.lower() != " ".join(text.lower().split()):
            asked.say(str(Remark("planted.part_of_blend", {"part": text, "blend": name})))
        return name

    in_hand = (task.lot for task in job.in_hand() if task.box.name == box.name)
    choices = as_said(known_lots(job, box))
    return asked.value("lot", "Lot", next(in_hand, usual_lot(job, box)), read, choices=choices)


def _setting(asked: Asked, job: Job, box: SeedBox, lot: str, day: str) -> Setting:
    """The setting; the usual one is that in force, else where the lot was planted last, else the one advised.

    After a check that moved the box Enter could mean either, until what was planted before it is noted.
    """
    from predictor.files.entry import setting_of
    from predictor.job.entry import advice_on
    from predictor.job.plant import before_move, setting_in_force

    def read(text: str) -> Setting:
        return setting_of(text, box)

    before, now = before_move(job, box, lot), setting_in_force(job, box, lot)
    if before is not None:
        label = f"Setting (it was at {before}, and was to be moved to {now})"
        choices, typing = settings_to_choose(box, map(str, (before, now)))
        return asked.value("setting", label, "", read, choices=choices, typing=typing)
    advice, season = advice_on(job, box, lot), job.planted.season(day)
    planted = [each for each in season if each.box == box and each.lot.lower() == lot.lower()]
    known = [now, planted[-1].setting if planted else None, None if advice is None else advice.advised]
    likely = [each.text for each in known if each is not None]
    choices, typing = settings_to_choose(box, likely)
    return asked.value("setting", "Setting", next(iter(likely), ""), read, choices=choices, typing=typing)


def _field(asked: Asked, job: Job, box: SeedBox, left: tuple[ToPlant, ...]) -> str:
    """The field, as the drill file writes it; "" where the job names none."""
    names = {each.name.lower(): each.name for each in job.drill.fields}
    last = job.planted.lines[-1].field if len(job.planted) else ""
    mine = [each.field for each in left if each.box == box.name and each.field]
    usual = last if last in mine or not names else next(iter(mine), last)

    def read(text: str) -> str:
        name = " ".join(text.split())
        return names.get(name.lower(), name)

    if asked.given["field"] is None and asked.weighed and (usual or not names):
        return usual
    label = f"Field ({', '.join(names.values())})" if names else "Field (Enter if it has no name)"
    return asked.value("field", label, usual, read, choices=as_said(names.values()) or {"": "no name"})


def _area(asked: Asked, job: Job, box: SeedBox, field: str, left: tuple[ToPlant, ...]) -> float:
    """The area; the usual one is what this box has left of the field."""
    unit = AREA_UNIT[job.drill.units]
    mine = (each.area_m2 for each in left if (each.box, each.field) == (box.name, field) and each.field)
    rest = next(mine, math.nan)
    usual = "" if math.isnan(rest) else f"{rest / SQUARE_METRES[unit]:.6g}"
    return _ground(asked, job, f"Area, {unit}", usual)


def _area_at(asked: Asked, job: Job, setting: Setting) -> float:
    """The area planted at one of the two settings of a box that was moved in the field."""
    return _ground(asked, job, f"Area planted at {setting}, {AREA_UNIT[job.drill.units]}", "")


def _ground(asked: Asked, job: Job, label: str, usual: str) -> float:
    """An area in square metres."""
    from predictor.files.amounts import read_area

    units = job.drill.units
    option = f"area-{AREA_UNIT[units]}"
    return asked.value("area", label, usual, lambda text: read_area(text, units), option, typing="number")


def _weights(asked: Asked, job: Job) -> tuple[float, float]:
    """The seed loaded and left, grams; NaN where it was not weighed."""
    from predictor.files.amounts import read_bulk

    units = job.drill.units
    unit, empty, unknown = WEIGHT_UNIT[units], "Enter if it was not weighed", {"": "not weighed"}

    def weight(text: str) -> float:
        return read_bulk(text, units) if text else math.nan

    def loaded_weight(text: str) -> float:
        if (found := weight(text)) == 0:
            raise ValueError("No seed was loaded. Write what was in the box at the start, with all that was added.")
        return found

    def left_weight(text: str) -> float:
        if (found := weight(text)) > loaded:
            raise ValueError("More seed is left than was loaded. Check both weights.")
        return found

    if asked.given["left"] is not None and asked.given["loaded"] is None and asked.weighed:
        raise InputError("Nothing was saved: pass --loaded too, so that the seed used is known.")
    loaded = left = math.nan
    if asked.given["loaded"] is not None or not asked.weighed:
        label = f"Seed loaded, all that was added too, {unit} ({empty})"
        loaded = asked.value("loaded", label, "", loaded_weight, choices=unknown, typing="weight")
        if asked.given["left"] is None and asked.weighed:
            raise InputError("Nothing was saved: pass --left too, so that the seed used is known. An empty box has 0.")
    if asked.given["left"] is not None or not (asked.weighed or math.isnan(loaded)):
        label = f"Seed left in the box, {unit} ({empty})"
        left = asked.value("left", label, "", left_weight, choices=unknown, typing="weight")
    return loaded, left
