"""predictor record: at the drill, one catch at a time."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from predictor.commands.asking import Asked, Entry
from predictor.commands.options import AsJson, DrillFile, Rows, Turns, UnitsOption, day, job_file, trials_file
from predictor.commands.output import lead_on, next_step, print_json, say, wrapped
from predictor.errors import InputError, Problem
from predictor.text import cautions

if TYPE_CHECKING:
    from predictor.domain.drill import Drill
    from predictor.job.job import Job

HELP = f"""Add a catch to the log, saved at once, and say what to do next.

Examples:

    predictor record myjob/trials.csv

    predictor record myjob/trials.csv --box small --lot K-26 --setting 31 --catch 61.2+59.8+60.4

    predictor record myjob/trials.csv --undo

TRIALS.csv is the log of catches, begun where there is none. What is not given is asked for; Enter takes
what stands in brackets: that of the last catch. With --catch nothing more is asked, unless it looks odd.
A weight may be a sum of rows, and may end in oz or lb.
--undo marks the last catch unused; nothing is ever deleted.

{cautions.HELP}
"""


def command(
    trials: Annotated[
        str, typer.Argument(metavar="TRIALS.csv", parser=trials_file, help="The log; begun where there is none.")
    ] = "trials.csv",
    box: Annotated[str | None, typer.Option(metavar="BOX", help="Box caught.")] = None,
    lot: Annotated[str | None, typer.Option(metavar="LOT", help="Lot or blend in it.")] = None,
    setting: Annotated[str | None, typer.Option(metavar="SETTING", help="Lever reading or chain position.")] = None,
    catch: Annotated[
        str | None, typer.Option("--catch", metavar="WEIGHT", help="As 61.2, 2.1oz, or a sum of rows.")
    ] = None,
    tare: Annotated[str | None, typer.Option(metavar="WEIGHT", help="Empty container, taken off each weight.")] = None,
    turns: Turns = None,
    rows: Rows = None,
    fill: Annotated[str | None, typer.Option(metavar="PERCENT", help="How full the box was.")] = None,
    not_charged: Annotated[bool, typer.Option("--not-charged", help="Meters were not charged first.")] = False,
    operator: Annotated[str, typer.Option(metavar="NAME", help="Who caught.")] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Anything worth remembering.")] = "",
    on: Annotated[
        datetime.date | None, typer.Option(metavar="DATE", parser=day, help="Day of the catch; today if not given.")
    ] = None,
    drill: DrillFile = None,
    yes: Annotated[bool, typer.Option("--yes", help="Keep it, whatever looks odd.")] = False,
    undo: Annotated[bool, typer.Option("--undo", help="Mark the last catch unused.")] = False,
    units: UnitsOption = None,
    as_json: AsJson = False,
) -> None:
    """Ask, save, answer."""
    path = Path(trials)
    asked = Asked(yes)
    machine = _machine(path.parent, drill)
    if path.exists():
        _mend(path, asked)
    if undo:
        _undo(path, box, as_json)
        return
    decimal = _checked(path)
    job = _job(path, drill)
    given = {"box": box, "lot": lot, "setting": setting, "catch": catch, "tare": tare, "fill": fill}
    entry = Entry(machine, job, asked, decimal, turns, rows, given)
    values = entry.values()
    today = on or datetime.date.today()
    if today > datetime.date.today() and not asked.agreed(f"{today} is still to come. Is that the day of the catch?"):
        raise InputError("Nothing was saved. Record the catch again with its day.")
    values |= {"date": today.isoformat(), "season": entry.season(today), "operator": operator, "note": note}
    values |= {"charged": "no" if not_charged else "yes", "use": "yes"}
    from predictor.files.log import add_catch

    _start(path)  # not before: an entry given up leaves no empty log
    line = _written(path, lambda: add_catch(path, values))
    caught = f"{entry.weight.grams:.5g} g in {entry.turns:g} turns, {entry.rows:g} rows"
    say(f"Saved: line {line}, box {entry.box.name}, {entry.lot} at {entry.setting}: {caught}.")
    _advise(path, drill, entry, units, as_json, line)


def _machine(folder: Path, drill: str | None) -> Drill:
    from predictor.files.drill import read_drill

    return read_drill(job_file(folder, drill, "drill.toml"))


def _mend(path: Path, asked: Asked) -> None:
    """A last line cut short, as by a power failure, is kept as a comment, if the technician agrees."""
    from predictor.files.log import comment_out_last, cut_short

    cut = _written(path, lambda: cut_short(path))
    if cut is None:
        return
    from predictor.numbers import quoted

    say(f"Line {cut[0]} of {path} was cut short: {quoted(cut[1])}. It was never said to be saved.")
    if not asked.agreed("Keep it as a comment, and go on?"):
        raise InputError([Problem("Complete this line or delete it, then record again.", str(path), cut[0])])
    _written(path, lambda: comment_out_last(path))


def _written(path: Path, call, lost: str = "Write the catch down on paper."):
    """The result of a call that reads or writes the log; what the system says as a sentence."""
    try:
        return call()
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError([Problem(f"Nothing was saved: {reason}. {lost}".rstrip(), str(path))]) from None


def _undo(path: Path, box: str | None, as_json: bool) -> None:
    from predictor.files.log import undo_last

    if not path.exists():
        raise InputError([Problem("There is no such log.", str(path))])
    line, cells = _written(path, lambda: undo_last(path, box=box), "")
    column = next((name for name in ("catch_g", "catch_oz", "catch_lb", "catch_kg") if name in cells), "")
    weight = f"{_short(cells[column])} {column[6:]}" if column else ""
    if as_json:
        print_json({"schema": 1, "line": line, "unused": cells})
        return
    where = f"box {cells['box']}, {cells['lot']} at {cells['setting']}"
    print(wrapped(f"Line {line}, {where}, {weight}: marked unused.", ""))
    say("To take that back, write yes in its column use.")
    lead_on("What do the others say?", "recommend", path)


def _short(number: str) -> str:
    """A number of the log in five figures; as it stands where it is none."""
    try:
        return f"{float(number):.5g}"
    except ValueError:
        return number


def _start(path: Path) -> None:
    """Begin the log where there is none."""
    from predictor.files.log import begin_empty, new_log

    if path.exists() and path.stat().st_size:
        return
    if path.exists():  # begun by something else, and empty
        _written(path, lambda: begin_empty(path))
        return
    if not path.parent.is_dir():
        raise InputError([Problem(f"There is no folder {path.parent}. Make it, or name another.", str(path))])
    if _written(path, lambda: new_log(path)):
        say(f"A new log: {path}")


def _checked(path: Path) -> str:
    """The log's decimal sign; before any question it is seen whether a catch can be added at all."""
    from predictor.files.log import check_log

    if not path.exists():
        return "."
    try:
        return _written(path, lambda: check_log(path))
    except InputError as error:
        say("Nothing was saved, until this is mended:")
        raise error from None


def _job(path: Path, drill: str | None) -> Job | None:
    """The job as far as it can be read: a catch is kept even where another row is broken."""
    job, broken = _read(path.parent, drill, str(path))
    # a log with a header alone has no catch yet; anything else wrong in it is said after the catch was saved
    return job if broken is None else _read(path.parent, drill, None)[0]


def _read(folder: Path, drill: str | None, trials: str | None) -> tuple[Job | None, InputError | None]:
    from predictor.job.read import read_job

    try:
        job = read_job(folder, drill=job_file(folder, drill, "drill.toml"), trials=trials, with_trials=False)
    except InputError as error:
        return None, error
    return job, None


def _advise(path: Path, drill: str | None, entry: Entry, units: str | None, as_json: bool, line: int) -> None:
    """The advice for the box just caught."""
    from predictor.text.advice import lines

    job, broken = _read(path.parent, drill, str(path))
    if broken is not None:
        say("The catch is kept. No advice until this is mended:")
        raise broken
    tasks = job.tasks(entry.box.name, entry.lot)
    results = [job.advice(task) for task in tasks]
    if as_json:
        print_json({"schema": 1, "line": line, "results": [each.to_dict(units) for each in results]})
        return
    for advice in results:
        print("\n".join(lines(advice, units, wrapped)))
    if not results:
        lead_on("No target for this lot: add it to plan.csv, and ask again:", "recommend", path)
        return
    print(wrapped(cautions.SHORT, ""))
    next_step({each.decision for each in map(job.advice, job.in_hand())}, path)
