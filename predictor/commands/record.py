"""predictor record: at the drill, one catch at a time."""

from __future__ import annotations

import datetime
import sys
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from predictor.asking.catch import Size, ask_catch, ask_day
from predictor.asking.rows import LEFT_OUT, waiting_rows
from predictor.commands import options
from predictor.commands.answering import after_saving, tell_unread
from predictor.commands.keeping import mend, saving, warn_if_open
from predictor.commands.output import lead_on, next_step, print_json, say, show_stages, wrapped
from predictor.commands.typed import Oops, Stop, Typed
from predictor.errors import InputError
from predictor.job.at_drill import AtDrill
from predictor.job.plain import next_dict, staged_dict
from predictor.text import cautions
from predictor.units import Units

if TYPE_CHECKING:
    from predictor.advice.other_drills import KeptDrills
    from predictor.files.entry import Catch
    from predictor.files.kept import KeptLog
    from predictor.job.job import Job

HELP = f"""Save a catch in the log, and say what to do next.

Examples:

    predictor record myjob

    predictor record myjob --box small --lot K-26 --setting 31 --catch 61.2+59.8+60.4

    predictor record myjob --box small --lot K-26 --setting 31 --catch 45.1/45.9/44.6/45.8

    predictor record myjob --box small --lot K-26 --setting 31 --distance-ft 100 --catch 43.2

    predictor record myjob --undo

    predictor record myjob --confirm 7

{options.HELP} A catch goes into its
log, trials.csv. The log is begun where there is none.

You are asked for what you do not give by options. Enter takes the value in brackets. On a terminal it goes on to the
next catch until every box can be locked. Answer "stop" to any question to end, or "oops" to take this catch back; as
the first answer "oops" takes back the catch before. With --catch only what looks odd is asked about. A weight may end
in oz or lb.

The question for the weight names the turns and rows of the catch that was advised. If you made another one, give
--turns or --rows. With --catch they are those of the drill file unless you give them. For a catch made while the drill
was towed, give the distance. It has slip in it, so no field factor is applied to it.

Rows that you weigh singly have + between them: 61.2+59.8+60.4. If you stop a catch every few turns and weigh, put
/ between the parts. 7.1/7.3/6.9/7.2 is one catch, weighed in four parts of equal turns. It counts as their sum.
The parts show from the first catch on how well this box repeats, and take no more seed.

--undo marks the last catch unused. Nothing is ever deleted. --confirm notes that you looked at a line again and that
it is right as it stands, such as 7, or 3,5-7.

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
    confirm: Annotated[
        options.Lines | None,
        options.named("--confirm", "LINES", "These lines of the log are right as they stand.", options.lines_of),
    ] = None,
    units: options.UnitsOption = None,
    as_json: options.AsJson = False,
) -> None:
    """Ask, save, answer."""
    from predictor.advice.other_drills import KeptDrills
    from predictor.files.kept import KeptLog
    from predictor.files.kinds import TRIALS

    at = AtDrill(place, drill, tuple(history or []), not no_history)
    path = at.log
    given = {"box": box, "lot": lot, "setting": setting, "catch": catch, "tare": tare, "fill": fill}
    talks = catch is None and not as_json and not undo and confirm is None and _on_a_terminal()
    asked = Typed(given, yes, weighed=catch is not None, talks=talks)
    warn_if_open(path)
    mend(TRIALS, path, replace(asked, talks=False))
    if undo:
        _undo(place, box, as_json)
    elif confirm is not None:
        _confirm(at, confirm.numbers, units, as_json)
    else:
        size = Size(turns, options.towed_over(turns, distance_ft, distance_m), rows, not_charged)
        day = on or datetime.date.today()
        book = _Book(at, on, day, operator, note, units, as_json, KeptLog(), KeptDrills())
        _one_after_another(asked, size, book)


def _on_a_terminal() -> bool:
    return sys.stdin is not None and sys.stdin.isatty()


@dataclass(frozen=True)
class _Book:
    """Where catches are written, and what goes into each row beside the catch."""

    at: AtDrill
    on: datetime.date | None  # The day that was named
    day: datetime.date
    operator: str
    note: str
    units: Units | None
    as_json: bool
    kept: KeptLog  # What was read of the log
    drills: KeptDrills  # What was learned of other drills
    told: set[str] = field(default_factory=set)  # What need not be said or asked again in this session

    @property
    def path(self) -> Path:
        """The log."""
        return self.at.log


def _one_after_another(asked: Typed, size: Size, book: _Book) -> None:
    """One catch, and on a terminal the next ones, as they are advised."""
    saved, opening = list[int](), asked.talks and not asked.yes
    if asked.talks:
        say('Answer "stop" to any question to end, or "oops" to begin the catch again.')
    job, whole = _job(book)
    while True:
        now = replace(asked, answers=[])
        try:
            if opening:
                _ask_open(now, job, book)
                opening = False
                job, whole = _job(book)
                continue
            saved.append(_one(now, job, size, book))
        except Stop:
            break
        except Oops:
            opening = False
            _take_back(now, book, saved)
        else:
            if not asked.talks:
                return
            asked, size = replace(asked, given=dict.fromkeys(asked.given) | {"tare": asked.given["tare"]}), Size()
        job, whole = _job(book)
        if saved and whole and not _more_to_catch(job):
            break
    if saved and whole:
        next_step(job, book.at.place, "record")
    elif not saved:
        say("No catch was saved.")


def _more_to_catch(job: Job) -> bool:
    """Whether the next step of the job is a catch."""
    step = job.next_step("record")
    return step is not None and step.code in ("catch", "next_lot", "check_log")


def _one(asked: Typed, job: Job, size: Size, book: _Book) -> int:
    """Ask for one catch, save it and answer it; return its line."""
    from predictor.files.kinds import TRIALS
    from predictor.files.log import add_row, begin_log
    from predictor.job.entry import catch_cells
    from predictor.text.log import saved

    ask_day(asked, job, book.day, book.told)
    caught = ask_catch(asked, job, size)
    cells = {**catch_cells(job, caught, book.day), "operator": book.operator, "note": book.note}
    with saving(book.path, " Write the catch down on paper.", as_json=book.as_json):
        begun = begin_log(TRIALS, book.path)  # not before: an entry given up leaves no empty log
        line = add_row(TRIALS, book.path, cells, book.kept)
    if begun:
        say(f"A new log: {book.path}", whole=True)
    say(saved(line, caught))
    after_saving(
        "catch",
        {"line": line},
        lambda: _advise(book, caught, asked=not asked.weighed, goes_on=asked.talks),
        {"results": [], "next": None},
        book.as_json,
    )
    return line


def _take_back(asked: Typed, book: _Book, saved: list[int]) -> None:
    """Take back the answers of this catch, or where there are none the last catch that was saved since the begin."""
    from predictor.files.kinds import TRIALS
    from predictor.files.log import leave_out
    from predictor.text.log import undone

    if asked.answers:
        say("This catch is taken back. Begin it again.")
    elif saved:
        line = saved.pop()
        with saving(book.path):
            row = leave_out(TRIALS, book.path, [line], "undone")[0]
        say(undone(line, row))
    else:
        say("Nothing was saved since you began. To take back an earlier catch, use --undo.")


def _ask_open(asked: Typed, job: Job, book: _Book) -> None:
    """Ask about the rows for which a lock waits, before the next catch."""
    from predictor.domain.result import Remark
    from predictor.files.kinds import TRIALS
    from predictor.files.log import confirm, leave_out

    for lines, each in waiting_rows(job).items():
        say(str(each))
        answer = asked.line(f"{Remark('log.right_as_they_stand')} (y/n, Enter later)", "confirm")
        if answer.lower() in ("y", "yes"):
            with saving(book.path):
                confirm(TRIALS, book.path, lines)
        elif answer and asked.agreed(Remark("log.leave_out")):
            with saving(book.path):
                leave_out(TRIALS, book.path, lines, LEFT_OUT)
        elif answer:
            say("Correct them in the log. Until then a lock waits for them.")


def _confirm(at: AtDrill, lines: tuple[int, ...], units: Units | None, as_json: bool) -> None:
    """Note that lines of the log are right as they stand, and advise on their boxes."""
    from predictor.files.kinds import TRIALS
    from predictor.files.log import confirm
    from predictor.job.read import read_whole
    from predictor.text.log import confirmed

    with saving(at.log, as_json=as_json):
        rows = confirm(TRIALS, at.log, lines)
    for line, cells in zip(lines, rows, strict=True):
        say(confirmed(line, cells))

    def answer() -> dict[str, Any]:
        job = read_whole(at.sources())
        boxes = dict.fromkeys(cells["box"].lower() for cells in rows)
        stages = [each for each in job.stages_in_hand() if each.box.lower() in boxes]
        if as_json:
            return {"results": [staged_dict(each, units) for each in stages], **next_dict(job, "record")}
        show_stages(stages, units)
        next_step(job, at.place, "record")
        return {}

    after_saving("confirmation", {"confirmed": list(lines)}, answer, {"results": [], "next": None}, as_json)


def _undo(place: options.Place, box: str | None, as_json: bool) -> None:
    """Mark the last catch unused."""
    from predictor.files.kinds import TRIALS
    from predictor.files.log import undo_last
    from predictor.text.log import undone

    path = Path(place.path("trials.csv"))
    with saving(path, as_json=as_json):
        line, cells = undo_last(TRIALS, path, box=box)
    if as_json:
        print_json({"schema": 1, "line": line, "saved": True, "unused": cells, "problems": []})
        return
    print(wrapped(undone(line, cells), ""))
    say("To take that back, write yes in its column use.")
    lead_on("What do the other catches say?", "recommend", place)


def _job(book: _Book) -> tuple[Job, bool]:
    """The job as far as it can be read, and whether that is all of it: a catch is kept whatever else is broken."""
    from predictor.files.kinds import TRIALS
    from predictor.files.log import check_log
    from predictor.job.read import read_best

    job, problems = read_best(book.at.sources(book.on, book.kept, book.drills))
    if problems:
        try:
            check_log(TRIALS, book.path)
        except InputError:  # a log that takes no catch is refused before any question
            say("Nothing was saved. First mend this:")
            raise
        tell_unread(problems, "catch", book.told)
    return job, not problems


def _advise(book: _Book, caught: Catch, *, asked: bool, goes_on: bool) -> dict[str, Any]:
    """The advice for the box just caught: printed, or its values for JSON."""
    from predictor.job.read import read_whole

    # what to do next is said of today, though the catch may be of an earlier day: later rows are not to come
    today = max(book.day, datetime.date.today())
    job = read_whole(book.at.sources(today, book.kept, book.drills))
    stages = job.stages(caught.box.name, caught.lot)
    if book.as_json:
        return {"results": [staged_dict(each, book.units) for each in stages], **next_dict(job, "record")}
    show_stages(stages, book.units, given=not asked)
    if not stages:
        lead_on("This lot has no target. Add it to plan.csv, and ask again:", "recommend", book.at.place)
    elif not goes_on:
        next_step(job, book.at.place, "record")
    return {}
