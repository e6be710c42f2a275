"""predictor record: at the drill, one catch at a time."""

from __future__ import annotations

import contextlib
import datetime
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from predictor.commands import options
from predictor.commands.asking import Asked, Size, ask_catch
from predictor.commands.keeping import mend, saving
from predictor.commands.output import lead_on, next_dict, next_step, print_json, say, staged_dict, wrapped
from predictor.errors import InputError
from predictor.text import cautions
from predictor.units import Units

if TYPE_CHECKING:
    from predictor.files.entry import Catch
    from predictor.job.job import Job

HELP = f"""Save a catch in the log, and say what to do next.

Examples:

    predictor record myjob

    predictor record myjob --box small --lot K-26 --setting 31 --catch 61.2+59.8+60.4

    predictor record myjob --box small --lot K-26 --setting 31 --catch 45.1/45.9/44.6/45.8

    predictor record myjob --box small --lot K-26 --setting 31 --distance-ft 100 --catch 43.2

    predictor record myjob --undo

{options.HELP} A catch goes into its
log, trials.csv. The log is begun where there is none.

You are asked for what you do not give by options. Enter takes the value in brackets, which is that of the last
catch. With --catch only what looks odd is asked about. A weight may end in oz or lb.

The question for the weight names the turns and rows of the catch that was advised. If you made another one, give
--turns or --rows. With --catch they are those of the drill file unless you give them. For a catch made while the drill
was towed, give the distance. It has slip in it, so no field factor is applied to it.

Rows that you weigh singly have + between them: 61.2+59.8+60.4. If you stop a catch every few turns and weigh, put
/ between the parts. 7.1/7.3/6.9/7.2 is one catch, weighed in four parts of equal turns. It counts as their sum.
The parts show from the first catch on how well this box repeats, and take no more seed.

--undo marks the last catch unused. Nothing is ever deleted.

{cautions.HELP}
"""


def command(
    place: options.JobPlace = options.HERE,
    box: Annotated[str | None, options.named("--box", "BOX", "Box that was caught.")] = None,
    lot: Annotated[str | None, options.named("--lot", "LOT", "Lot or blend in the box.")] = None,
    setting: Annotated[
        str | None, options.named("--setting", "SETTING", "Lever reading, chain position, or 24 on high.")
    ] = None,
    catch: Annotated[
        str | None, options.named("--catch", "WEIGHT", "Such as 61.2, 2.1oz, rows 20+21+20, parts 7.1/7.3.")
    ] = None,
    tare: Annotated[str | None, options.named("--tare", "WEIGHT", "Empty container, taken off each weight.")] = None,
    turns: options.Turns = None,
    distance_ft: options.DistanceFt = None,
    distance_m: options.DistanceM = None,
    rows: options.Rows = None,
    fill: Annotated[str | None, options.named("--fill", "PERCENT", "How full the box was.")] = None,
    not_charged: Annotated[bool, options.named("--not-charged", None, "The meters were not charged first.")] = False,
    operator: Annotated[str, options.named("--operator", "NAME", "Who made the catch.")] = "",
    note: Annotated[str, options.named("--note", "TEXT", "Anything worth remembering.")] = "",
    on: Annotated[datetime.date | None, options.named("--on", "DATE", "Day, if not today.", options.day)] = None,
    drill: options.DrillFile = None,
    history: options.History = None,
    no_history: options.NoHistory = False,
    yes: Annotated[bool, options.named("--yes", None, "Keep the catch, whatever looks odd.")] = False,
    undo: Annotated[bool, options.named("--undo", None, "Mark the last catch unused.")] = False,
    units: options.UnitsOption = None,
    as_json: options.AsJson = False,
) -> None:
    """Ask, save, answer."""
    from predictor.domain.result import Remark
    from predictor.files.entry import season_of
    from predictor.files.kinds import TRIALS
    from predictor.files.log import add_row, begin_log
    from predictor.text.log import saved

    path = Path(place.path("trials.csv"))
    given = {"box": box, "lot": lot, "setting": setting, "catch": catch, "tare": tare, "fill": fill}
    asked = Asked(given, yes, weighed=catch is not None)
    with saving(path, "" if undo else " Write the catch down on paper."):
        mend(TRIALS, path, asked)
        if undo:
            _undo(place, box, as_json)
            return
        remembered = _Remembered(drill, tuple(history or []), not no_history, on)
        job = _job(path, remembered)
        caught = ask_catch(asked, job, Size(turns, options.towed_over(turns, distance_ft, distance_m), rows))
        today = on or datetime.date.today()
        if today > datetime.date.today() and not asked.agreed(Remark("log.future_day", {"day": today})):
            raise InputError("Nothing was saved. Record the catch again with its day.")
        season = season_of(job.trials.of(box=caught.box.name, lot=caught.lot), today)
        cells = caught.cells() | {"date": today.isoformat(), "season": season, "operator": operator, "note": note}
        cells |= {"charged": "no" if not_charged else "yes", "use": "yes"}
        if begin_log(TRIALS, path):  # not before: an entry given up leaves no empty log
            say(f"A new log: {path}", whole=True)
        line = add_row(TRIALS, path, cells)
    say(saved(line, caught))
    _advise(place, remembered, caught, units, as_json, line)


@dataclass(frozen=True)
class _Remembered:
    """The drill file, what is to be learned from, and the day of the catch where it is not today."""

    drill: str | None
    history: tuple[str, ...]
    use_history: bool
    today: datetime.date | None


def _undo(place: options.Place, box: str | None, as_json: bool) -> None:
    """Mark the last catch unused."""
    from predictor.files.kinds import TRIALS
    from predictor.files.log import undo_last
    from predictor.text.log import undone

    line, cells = undo_last(TRIALS, Path(place.path("trials.csv")), box=box)
    if as_json:
        print_json({"schema": 1, "line": line, "unused": cells})
        return
    print(wrapped(undone(line, cells), ""))
    say("To take that back, write yes in its column use.")
    lead_on("What do the other catches say?", "recommend", place)


def _job(path: Path, given: _Remembered) -> Job:
    """The job as far as it can be read: a catch is kept even where another row or file is broken."""
    from predictor.domain.trials import no_trials
    from predictor.files.drill import read_drill
    from predictor.files.kinds import TRIALS
    from predictor.files.log import check_log, only_begun
    from predictor.job.job import Job

    with contextlib.suppress(InputError):
        return _read(path.parent, given, None if not path.exists() or only_begun(TRIALS, path) else path)
    try:
        check_log(TRIALS, path)
    except InputError:  # a log that takes no catch is refused before any question
        say("Nothing was saved. First mend this:")
        raise
    with contextlib.suppress(InputError):
        return _read(path.parent, replace(given, history=()), None, with_earlier=False)
    machine = read_drill(options.job_file(path.parent, given.drill, "drill.toml"))
    return Job(machine, no_trials(machine), None)


def _read(folder: Path, given: _Remembered, trials: Path | None, with_earlier: bool = True) -> Job:
    from predictor.job.read import read_job

    machine = options.job_file(folder, given.drill, "drill.toml")
    return read_job(
        folder,
        drill=machine,
        trials=trials,
        earlier=given.history,
        with_trials=False,
        with_earlier=with_earlier,
        use_history=given.use_history,
        today=given.today,
    )


def _advise(
    place: options.Place, given: _Remembered, caught: Catch, units: Units | None, as_json: bool, line: int
) -> None:
    """The advice for the box just caught."""
    from predictor.text.advice import standing_note
    from predictor.text.doing import given_lines
    from predictor.text.stage import lines

    try:
        job = _read(place.folder, given, Path(place.path("trials.csv")))
    except InputError:
        say("The catch is kept. For advice, first mend this:")
        raise
    stages = job.stages(caught.box.name, caught.lot)
    if as_json:
        shown = [staged_dict(each, units) for each in stages]
        print_json({"schema": 1, "line": line, "results": shown, **next_dict(job, "record")})
        return
    for stage in stages:
        print("\n".join(lines(stage, units, wrapped)))
    results = [each.advice for each in stages]
    for text in given_lines(results):
        print(wrapped(text, ""))
    if any(each.decision == "lock" for each in results):
        print(wrapped(standing_note(results), ""))
    if not results:
        lead_on("This lot has no target. Add it to plan.csv, and ask again:", "recommend", place)
        return
    print(wrapped(cautions.short(each.towed for each in results), ""))
    next_step(job, place, "record")
