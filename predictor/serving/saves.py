"""An entry of the page, saved once: first what is asked about it, then its row, then the state with the answer."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from predictor.asking.catch import Size, ask_catch, ask_container, ask_day, to_catch
from predictor.asking.rows import LEFT_OUT, mend, open_elsewhere, waiting_rows
from predictor.domain.catch import Distance
from predictor.domain.result import Remark
from predictor.errors import InputError, Problem, Unsure
from predictor.files.kinds import TRIALS, field_checks, planted_lines
from predictor.files.log import add_once, begin_log, check_log, confirm, leave_out, row_of_entry, undo_entry
from predictor.serving.entry import Entry, read_entry
from predictor.serving.state import last_catch, next_catch, state
from predictor.serving.tapped import Question, Tapped
from predictor.text import log as log_text, taps

if TYPE_CHECKING:
    from predictor.domain.drill import Drill
    from predictor.files.form import Kind, Value
    from predictor.job.job import Job
    from predictor.serving.book import Book

# What the page shows of the next catch of a box, and what a catch is saved as where nobody said otherwise.
SHOWN = ("lot", "setting", "turns", "rows")
TOWED: tuple[Distance, ...] = ("ft", "m")
MEND_FIRST = "Nothing was saved. First mend this:"
ON_PAPER = " Write it down on paper."
# An answer of a save: where it went, what is said of it, and its box.
Saved = tuple[int, list[str], str]


class Refused(Exception):
    """The entry cannot be saved as the files are now; it waits until somebody has mended them."""


def save(book: Book, sent: Any) -> dict[str, Any]:
    """Save an entry, or say what is asked about it or is in its way."""
    try:
        entry = read_entry(sent)
        if entry.job != book.job_id:
            raise Refused("This was typed for another job. It stays here until that job is served again.")
        with book.lock:
            line, said, box = _SAVES[entry.kind](book, entry)
            found = _state_with(book)
    except Question as question:
        return {"result": "ask", "question": question.question}
    except Unsure as error:
        return {"result": "unsure", "said": [str(error)]}
    except OSError as error:
        return {"result": "refused", "said": [f"Nothing was saved: {error.strerror or error}.{ON_PAPER}"]}
    except Refused as error:
        return {"result": "refused", "said": str(error).splitlines()}
    except InputError as error:
        return {"result": "again", "said": str(error).splitlines()}
    return {"result": "saved", "id": entry.id, "line": line, "said": said, "box": box, "state": found}


def _state_with(book: Book) -> dict[str, Any] | None:
    """The state with what was just saved; None where it cannot be worked out, since saved it is all the same."""
    try:
        return state(book)
    except Exception:  # the page hears why when it asks for the state
        return None


def _catch(book: Book, entry: Entry) -> Saved:
    """A catch: asked about as `record` asks, and saved."""
    from predictor.job.entry import catch_cells, last_container

    path = book.log
    if there := _there(TRIALS, path, entry):
        return there
    asked = _asked(entry, "catch", takes_usual=True)
    _mended(TRIALS, path, asked)
    day = _day(entry, asked)
    job = _best(book, day, TRIALS, path)
    ask_day(asked, job, day, set())
    asked, size = _as_shown(replace(asked, along=bool(last_container(job.trials))), job, entry)
    caught = ask_catch(asked, job, size)
    more: dict[str, Value] = {"entry": entry.id, "use": "no" if entry.get("use") == "no" else "yes"}
    more |= {name: entry.get(name) or "" for name in ("operator", "note")}
    line = _added(book, TRIALS, path, {**catch_cells(job, caught, day), **more})
    return line, [log_text.saved(line, caught), *asked.notes], caught.box.name


def _check(book: Book, entry: Entry) -> Saved:
    """A field check: asked for as `check --add` asks, and saved."""
    from predictor.asking.check import Told, ask_check
    from predictor.text.check import saved

    drill, path = _drill(book), book.checks
    kind = field_checks(drill)
    if there := _there(kind, path, entry):
        return there
    asked = _asked(entry, "check")
    _mended(kind, path, asked)
    day = _day(entry, asked)
    told = Told(day, datetime.date.today(), entry.get("operator") or "", entry.get("note") or "")
    new = ask_check(asked, _best(book, day, kind, path), told)
    line = _added(book, kind, path, {**new.cells(), "entry": entry.id})
    return line, [saved(line, new, book.units or drill.units), *asked.notes], new.parts[0].box.name


def _plant(book: Book, entry: Entry) -> Saved:
    """A planted line: asked for as `plant` asks, and saved."""
    from predictor.advice.aim import CONFIDENCE, TOLERANCE
    from predictor.asking.planted import Given, ask_line
    from predictor.job.plant import cells_of
    from predictor.text.planted import saved

    drill, path = _drill(book), book.planted
    kind = planted_lines(drill)
    if there := _there(kind, path, entry):
        return there
    asked = _asked(entry, "plant")
    _mended(kind, path, asked)
    more = entry.get("operator") or "", entry.get("note") or ""
    job = _whole(book)  # a line without its evidence would be no record
    new = ask_line(asked, job, Given(_day(entry, asked).isoformat(), None, *more, TOLERANCE, CONFIDENCE))
    line = _added(book, kind, path, {**cells_of(new, drill.units), "entry": entry.id})
    return line, [saved(line, new, book.units or drill.units), *asked.notes], new.box.name


def _undo(book: Book, entry: Entry) -> Saved:
    """Mark a row as unused: the one of an entry, or the last catch of its box. Harmless when it is sent again."""
    kind, path, undone = _file(book, entry.get("file") or "trials")
    if entry.get("entry"):
        line, cells = undo_entry(kind, path, entry.get("entry") or "")
        return line, [undone(line, cells)], cells["box"]
    if kind is not TRIALS or not (entry.get("line") or "").isdecimal():
        raise InputError(taps.CHANGED)
    line, job = int(entry.get("line") or 0), _best(book, None, TRIALS, path)
    mine = job.trials.where(job.trials.line == line)
    if not len(mine):
        raise InputError(taps.CHANGED)
    box = str(mine.box[0])
    if not mine.use[0]:
        return line, [taps.SETTLED], box
    last = last_catch(job, next(each for each in job.drill.boxes if each.name == box))
    if last is None or last["line"] != line:
        raise InputError(taps.LATER_ROWS)
    if entry.get("text") not in (None, last["text"]):  # another row has this line now
        raise InputError(taps.CHANGED)
    return line, [undone(line, leave_out(TRIALS, path, [line], "undone")[0])], box


def _settle(book: Book, entry: Entry) -> Saved:
    """Confirm rows for which a lock waits, or leave them out."""
    job, path = _best(book, None, TRIALS, book.log), book.log
    waiting = {",".join(map(str, lines)): lines for lines in waiting_rows(job)}
    box, lines = entry.get("box") or "", waiting.get(entry.get("lines") or "")
    if lines is None or taps.on_page(str(waiting_rows(job)[lines])) != entry.get("text"):
        return 0, [taps.SETTLED], box
    if entry.kind == "confirm":
        rows = confirm(TRIALS, path, lines)
        return lines[0], [log_text.confirmed(*each) for each in zip(lines, rows, strict=True)], box
    rows = leave_out(TRIALS, path, lines, LEFT_OUT)
    return lines[0], [log_text.undone(*each) for each in zip(lines, rows, strict=True)], box


_SAVES: dict[str, Callable[[Book, Entry], Saved]] = {
    "catch": _catch,
    "check": _check,
    "plant": _plant,
    "undo": _undo,
    "confirm": _settle,
    "leave_out": _settle,
}
# Values that stand for an answer, by kind.
_GIVEN = {
    "catch": ("box", "lot", "setting", "catch", "tare", "container", "fill", "charged", "size"),
    "check": ("box", "lot", "setting", "field", "way", "area", "loaded", "left", "used", "counted", "row"),
    "plant": ("box", "lot", "setting", "field", "area", "loaded", "left"),
}


def _asked(entry: Entry, kind: str, *, takes_usual: bool = False) -> Tapped:
    given = {name: entry.get(name) for name in _GIVEN[kind]}
    if "tare" in given:
        given["tare"] = given["tare"] or None  # taken back by an answer, and then asked; a lot that was not shown is ""
    return Tapped(given, yes=False, weighed=False, answers=entry.answers, takes_usual=takes_usual)


def _mended(kind: Kind, path: Path, asked: Tapped) -> None:
    """Ask about a last line that was cut short; say where a spreadsheet has the file open."""
    try:
        mend(kind, path, asked)
    except InputError as error:
        raise Refused(str(error)) from None
    found = open_elsewhere(path)
    if found is not None:
        asked.say(str(found))


def _day(entry: Entry, asked: Tapped) -> datetime.date:
    """The day of an entry: today, unless it was typed on another day of the laptop and is said to be of that one."""
    today = datetime.date.today()
    if entry.day == today:
        return today
    typed_on = Remark("taps.typed_on", {"day": entry.day, "today": today})
    return entry.day if asked.agreed(typed_on) else today


def _best(book: Book, day: datetime.date | None, kind: Kind, path: Path) -> Job:
    """The job as far as it can be read: a row is kept even where another file is broken."""
    from predictor.job.read import read_best

    try:
        job, problems = read_best(book.sources(day))
        if problems:
            check_log(kind, path)
    except InputError as error:
        raise Refused(f"{MEND_FIRST}\n{error}") from None
    return job


def _whole(book: Book) -> Job:
    """The job, where all of it can be read."""
    from predictor.job.read import read_whole

    try:
        return read_whole(book.sources())
    except InputError as error:
        raise Refused(f"{MEND_FIRST}\n{error}") from None


def _drill(book: Book) -> Drill:
    from predictor.files.drill import read_drill

    try:
        return read_drill(book.at.drill_file)
    except InputError as error:
        raise Refused(f"{MEND_FIRST}\n{error}") from None


def _there(kind: Kind, path: Path, entry: Entry) -> Saved | None:
    """What is said of an entry that is in its file already; None where it is not."""
    try:
        found = row_of_entry(kind, path, entry.id)
    except InputError as error:
        raise Refused(f"{MEND_FIRST}\n{error}") from None
    if found is None:
        return None
    line, cells = found
    return line, [taps.there(line, cells)], cells.get("box", "")


def _added(book: Book, kind: Kind, path: Path, cells: Mapping[str, Value]) -> int:
    """Save a row, and return its line."""
    try:
        begin_log(kind, path)
        return add_once(kind, path, cells, book.kept if kind is TRIALS else None)[0]
    except InputError as error:
        raise Refused(str(error)) from None


def _file(book: Book, name: str) -> tuple[Kind, Path, Callable[[int, Mapping[str, str]], str]]:
    """The file that an entry went into, and how a row of it is said to be taken back."""
    from predictor.text import check, planted

    if name == "trials":
        return TRIALS, book.log, log_text.undone
    drill = _drill(book)
    if name == "field":
        return field_checks(drill), book.checks, check.undone
    if name == "planted":
        return planted_lines(drill), book.planted, planted.undone
    raise InputError([Problem("There is no such file.", name)])


def _as_shown(asked: Tapped, job: Job, entry: Entry) -> tuple[Tapped, Size]:
    """What was given of the catch, and its size; where the page showed another catch than it would now, that is asked.

    A catch of another phone, or one that waited with this one, may have changed what is asked for.
    """
    from predictor.files.entry import read_box

    try:
        box = read_box(entry.get("box") or "", job.drill)
    except ValueError as error:
        raise InputError(f"Nothing was saved. {error}") from None
    shown = {**dict.fromkeys(SHOWN, ""), **entry.shown}
    now = next_catch(job, to_catch(job, box, entry.get("lot") or shown["lot"]))
    unit = {"counted": shown.get("counted") or now["counted"]}  # of a length that was chosen, too
    if unit["counted"] not in (*TOWED, job.drill.catch_of(box).counted):  # the drill file was changed since
        raise InputError(taps.LOOK_AGAIN)
    if not (entry.get("setting") or shown["setting"]):  # as of another lot: nobody saw a setting, so none is taken
        asked.used.add("setting")
        now = {**now, "setting": ""}
    size, asked = _size(entry, {**unit, **entry.values}), _with_container(asked, shown, now)
    as_now = all(entry.get(name) or shown[name] == now[name] for name in SHOWN[1:])
    if as_now and unit["counted"] in (now["counted"], entry.get("counted")):
        return asked, size
    made = shown.get("made") or f"{shown['turns']} by {shown['rows']}"
    if not asked.agreed(Remark("taps.as_shown", {"setting": shown["setting"], "lot": now["lot"], "made": made})):
        raise InputError(taps.LOOK_AGAIN)
    setting = entry.get("setting") or shown["setting"] or None
    as_shown = _size(entry, {**unit, **shown, **entry.values})
    return replace(asked, given={**asked.given, "setting": setting}), as_shown


def _with_container(asked: Tapped, shown: Mapping[str, str], now: Mapping[str, str]) -> Tapped:
    """What was given of the catch; where another container has been weighed along since, what was weighed is asked."""
    given = asked.given
    if given["tare"] or given["container"] or shown.get("weighed", now["weighed"]) == now["weighed"]:
        return asked
    return replace(asked, given={**given, "container": ask_container(asked)})


def _size(entry: Entry, values: Mapping[str, str]) -> Size:
    """The size of a catch as it was chosen, where it was."""
    from predictor.numbers import parse_number

    try:
        length, rows = (parse_number(values[name]) if values.get(name) else None for name in ("turns", "rows"))
    except ValueError as error:
        raise InputError(f"Nothing was saved. {error}") from None
    if not all(each is None or 0 < each < 1e5 for each in (length, rows)) or (rows is not None and rows != int(rows)):
        raise InputError(taps.NO_SIZE)
    uncharged, other = entry.get("charged") == "no", entry.get("size") == "other"
    towed = next((unit for unit in TOWED if unit == values.get("counted")), None)
    if length is not None and towed is not None:
        return Size(None, (length, towed), rows, uncharged, other)
    return Size(length, None, rows, uncharged, other)
