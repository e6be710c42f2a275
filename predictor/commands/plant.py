"""predictor plant: keep what was planted where, with the evidence as it is on that day."""

from __future__ import annotations

import datetime
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any

from predictor.asking.planted import Given, ask_line, to_plant
from predictor.commands import options
from predictor.commands.answering import after_saving
from predictor.commands.keeping import mend, saving, warn_if_open
from predictor.commands.output import lead_on, next_step, print_json, say, wrapped
from predictor.commands.typed import Typed
from predictor.errors import InputError, Problem
from predictor.job.plain import next_dict
from predictor.text import cautions
from predictor.units import AREA_UNIT, RATE_UNIT, WEIGHT_UNIT, Units

if TYPE_CHECKING:
    from pathlib import Path

    from predictor.domain.drill import Drill
    from predictor.domain.planted import PlantedLine
    from predictor.job.job import Job

HELP = f"""Keep what was planted: box, lot, setting, field, area, and the seed loaded and left.

Examples:

    predictor plant myjob

    predictor plant myjob --box small --field north --area-ac 8 --loaded 50 --left "4 lb"

    predictor plant myjob --undo

{options.HELP} A line goes into its
planted.csv, with all evidence up to its day. Catches, checks, tags or advice that come later do not change it: the
record states what was planted, and says the new advice as "for next time".

Enter a line for each field, box and lot. You are asked for what you do not give by options. Enter takes the value in
brackets. With --area-ac or --area-ha only what looks odd is asked about.

The seed loaded is what was in the box at the start and all that was added. Weights are in lb, or in kg for a metric
drill. 18.2kg or "40 lb" names its unit, and 50+50+12.5 adds up bags. Leave both weights out if you did not weigh.

--undo takes the last line back. Nothing is ever deleted.

{cautions.HELP}
"""


def command(
    place: options.JobPlace = options.HERE,
    box: Annotated[str | None, options.named("--box", "BOX", "Box that was planted.")] = None,
    lot: Annotated[str | None, options.named("--lot", "LOT", "Lot or blend in the box.")] = None,
    setting: Annotated[
        str | None, options.named("--setting", "SETTING", "Where it stood; the locked setting if not given.")
    ] = None,
    field: Annotated[str | None, options.named("--field", "NAME", "Field that was planted.")] = None,
    area_ac: options.Acres = None,
    area_ha: options.Hectares = None,
    loaded: Annotated[str | None, options.named("--loaded", "WEIGHT", "Seed loaded, with all that was added.")] = None,
    left: Annotated[str | None, options.named("--left", "WEIGHT", "Seed left in the box at the end.")] = None,
    on: Annotated[datetime.date | None, options.named("--on", "DATE", "Day, if not today.", options.day)] = None,
    operator: Annotated[str, options.named("--operator", "NAME", "Who planted.")] = "",
    note: Annotated[str, options.named("--note", "TEXT", "Anything worth remembering.")] = "",
    drill: options.DrillFile = None,
    tolerance: options.Tolerance = 0.10,
    confidence: options.Confidence = 0.95,
    history: options.History = None,
    yes: Annotated[bool, options.named("--yes", None, "Keep the line, whatever looks odd.")] = False,
    undo: Annotated[bool, options.named("--undo", None, "Take the last line back.")] = False,
    units: options.UnitsOption = None,
    as_json: options.AsJson = False,
) -> None:
    """Ask, save, answer."""
    from predictor.files.drill import read_drill
    from predictor.files.kinds import planted_lines
    from predictor.job.planting import line_dict
    from predictor.text.planted import saved

    area = options.area_m2(area_ac, area_ha)
    named = {"box": box, "lot": lot, "setting": setting, "field": field, "loaded": loaded, "left": left}
    asked = Typed(named, yes, weighed=area is not None)
    path, file = place.folder / "planted.csv", options.job_file(place.folder, drill, "drill.toml")
    machine = read_drill(file)
    warn_if_open(path)
    mend(planted_lines(machine), path, asked)
    if undo:
        _undo(place, machine, path, box, as_json)
        return
    try:
        job = options.told(_read(place, file, history), factors=False)
    except InputError:  # a line without its evidence would be no record
        say("Nothing was saved. Write the line down on paper, and first mend this:")
        raise
    day = on or datetime.date.today()
    line = ask_line(asked, job, Given(day.isoformat(), area, operator, note, tolerance, confidence))
    line = replace(line, line=_save(machine, path, line, as_json))
    shown = units or machine.units
    say(saved(line.line, line, shown))
    after_saving(
        "line",
        {"line": line.line},
        lambda: _answer(_read(place, file, history), line, place, shown, as_json),
        {"planted": line_dict(line, shown)},
        as_json,
    )


def _read(place: options.Place, drill: Path, history: list[str] | None) -> Job:
    from predictor.job.read import read_job

    return read_job(place.folder, drill=drill, earlier=history or [])


def _save(drill: Drill, path: Path, line: PlantedLine, as_json: bool) -> int:
    """Add the line to the file, and return its number."""
    from predictor.files.kinds import planted_lines
    from predictor.files.log import add_row, begin_log
    from predictor.job.plant import cells_of

    kind = planted_lines(drill)
    with saving(path, " Write the line down on paper.", as_json=as_json):
        begun = begin_log(kind, path)  # not before: an entry given up leaves no empty file
        number = add_row(kind, path, cells_of(line, drill.units))
    if begun:
        say(f"A new file: {path}", whole=True)
    return number


def _undo(place: options.Place, drill: Drill, path: Path, box: str | None, as_json: bool) -> None:
    """Take the last line back."""
    from predictor.files.kinds import planted_lines
    from predictor.files.log import undo_last
    from predictor.text.planted import undone

    if not path.exists():
        raise InputError([Problem("Nothing was planted yet, so there is nothing to undo.", str(path))])
    with saving(path, as_json=as_json):
        line, cells = undo_last(planted_lines(drill), path, box=box)
    if as_json:
        print_json({"schema": 1, "line": line, "saved": True, "unused": cells, "problems": []})
        return
    print(wrapped(undone(line, cells), ""))
    say("To take that back, write yes in its column use.")
    lead_on("Enter the line again:", "plant", place)


def _answer(job: Job, line: PlantedLine, place: options.Place, units: Units, as_json: bool) -> dict[str, Any]:
    """What was planted so far, and what is left: printed, or its values for JSON."""
    from predictor.job.planting import planting
    from predictor.text.planted import lines

    if as_json:
        return _dict(job, line, units)
    found, left = planting(job.planted.season(line.date)), to_plant(job, line.date)
    print("\n".join(lines(line, found, left, units, wrapped)))
    print(wrapped(cautions.TOWED, ""))
    next_step(job, place, "plant")
    return {}


def _dict(job: Job, line: PlantedLine, units: Units) -> dict[str, Any]:
    """The line and the totals as plain values."""
    from predictor.job.planting import line_dict, planting

    found = planting(job.planted.season(line.date))
    return {
        "units": units,
        "rate_unit": RATE_UNIT[units],
        "area_unit": AREA_UNIT[units],
        "weight_unit": WEIGHT_UNIT[units],
        "planted": line_dict(line, units),
        **found.to_dict(units),
        "still_to_plant": [each.to_dict(units) for each in to_plant(job, line.date)],
        **next_dict(job, "plant"),
    }
