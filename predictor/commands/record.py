"""predictor record: at the drill, one catch at a time."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from predictor import cautions
from predictor.commands.options import (
    SAME_SEASON_DAYS,
    AsJson,
    DrillFile,
    UnitsOption,
    choice,
    day,
    lead_on,
    log_file,
    number,
    print_json,
    say,
    wrapped,
)
from predictor.errors import InputError, Problem

if TYPE_CHECKING:
    from predictor.drill import Drill, SeedBox
    from predictor.entry import Weight
    from predictor.job import Job

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

# Prompts that nobody can answer: what is missing must come by options.
_NOT_ASKED = "Nothing was saved: nobody is there to answer. Give it by option: {option}."


def command(
    trials: Annotated[str, typer.Argument(metavar="TRIALS.csv", help="The log; begun where there is none.")] = (
        "trials.csv"
    ),
    box: Annotated[str | None, typer.Option(metavar="BOX", help="Box caught.")] = None,
    lot: Annotated[str | None, typer.Option(metavar="LOT", help="Lot or blend in it.")] = None,
    setting: Annotated[str | None, typer.Option(metavar="SETTING", help="Lever reading or chain position.")] = None,
    catch: Annotated[
        str | None, typer.Option("--catch", metavar="WEIGHT", help="As 61.2, 2.1oz, or a sum of rows.")
    ] = None,
    tare: Annotated[str | None, typer.Option(metavar="WEIGHT", help="Empty container, taken off each weight.")] = None,
    turns: Annotated[str | None, typer.Option(metavar="TURNS", help="If not the drill file's.")] = None,
    rows: Annotated[str | None, typer.Option(metavar="ROWS", help="If not the drill file's.")] = None,
    fill: Annotated[str | None, typer.Option(metavar="PERCENT", help="How full the box was.")] = None,
    not_charged: Annotated[bool, typer.Option("--not-charged", help="Meters were not charged first.")] = False,
    operator: Annotated[str, typer.Option(metavar="NAME", help="Who caught.")] = "",
    note: Annotated[str, typer.Option(metavar="TEXT", help="Anything worth remembering.")] = "",
    on: Annotated[str | None, typer.Option(metavar="DATE", help="Day of the catch; today if not given.")] = None,
    drill: DrillFile = None,
    yes: Annotated[bool, typer.Option("--yes", help="Keep it, whatever looks odd.")] = False,
    undo: Annotated[bool, typer.Option("--undo", help="Mark the last catch unused.")] = False,
    units: UnitsOption = None,
    as_json: AsJson = False,
) -> None:
    """Ask, save, answer."""
    choice("units", units, ("us", "metric"))
    when = day("on", on)
    path = Path(log_file(trials))
    asked = _Asked(yes)
    machine = _machine(path.parent, drill)
    if path.exists():
        _mend(path, asked)
    if undo:
        _undo(path, box, as_json)
        return
    decimal = _checked(path)
    job = _job(path, drill)
    entry = _Entry(machine, job, asked, decimal, box, lot, setting, catch, tare, turns, rows, fill)
    values = entry.values()
    import datetime

    today = when or datetime.date.today()
    if today > datetime.date.today() and not asked.agreed(f"{today} is still to come. Is that the day of the catch?"):
        raise InputError("Nothing was saved. Record the catch again with its day.")
    values |= {"date": today.isoformat(), "season": entry.season(today), "operator": operator, "note": note}
    values |= {"charged": "no" if not_charged else "yes", "use": "yes"}
    from predictor.trials_log import add_catch

    _start(path)  # not before: an entry given up leaves no empty log
    line = _written(path, lambda: add_catch(path, values))
    caught = f"{entry.weight.grams:.5g} g in {entry.turns:g} turns, {entry.rows:g} rows"
    say(wrapped(f"Saved: line {line}, box {entry.box.name}, {entry.lot} at {entry.setting}: {caught}.", ""))
    _advise(path, drill, entry, units, as_json, line)


class _Asked:
    """Questions on the terminal, answers from standard input."""

    def __init__(self, yes: bool):
        self.yes = yes

    def text(self, prompt: str, option: str) -> str:
        """An answer; an InputError where standard input has ended."""
        from predictor.csv_text import CONTROL

        while True:
            print(prompt, end=" ", file=sys.stderr, flush=True)
            line = sys.stdin.readline() if sys.stdin is not None else ""
            if not line:
                print(file=sys.stderr)
                raise InputError(_NOT_ASKED.format(option=option))
            if not CONTROL.search(line.strip()):
                return line.strip()
            say(wrapped("That holds a character that cannot be seen, as an arrow key makes. Type it again.", ""))

    def agreed(self, question: str) -> bool:
        """Whether the answer is yes; with --yes it is."""
        if self.yes:
            say(wrapped(f"{question} Kept (--yes).", ""))
            return True
        answer = self.text(wrapped(f"{question} (y/n)", ""), "--yes, if it is right")
        return answer.lower() in ("y", "yes")


def _machine(folder: Path, drill: str | None) -> Drill:
    from predictor.commands.options import drill_path
    from predictor.drill_file import read_drill

    return read_drill(drill_path(folder, drill))


def _mend(path: Path, asked: _Asked) -> None:
    """A last line cut short, as by a power failure, is kept as a comment, if the technician agrees."""
    from predictor.trials_log import comment_out_last, cut_short

    cut = _written(path, lambda: cut_short(path))
    if cut is None:
        return
    from predictor.numbers import quoted

    say(wrapped(f"Line {cut[0]} of {path} was cut short: {quoted(cut[1])}. It was never said to be saved.", ""))
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
    from predictor.trials_log import undo_last

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
    say(wrapped("To take that back, write yes in its column use.", ""))
    lead_on("What do the others say?", f"predictor recommend {shlex.quote(str(path))}")


def _short(number: str) -> str:
    """A number of the log in five figures; as it stands where it is none."""
    try:
        return f"{float(number):.5g}"
    except ValueError:
        return number


def _start(path: Path) -> None:
    """Begin the log where there is none."""
    from predictor.trials_log import begin_empty, new_log

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
    from predictor.trials_log import check_log

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
    from predictor.commands.options import drill_path
    from predictor.job import read_job

    def own(name: str) -> Path | None:
        return folder / name if (folder / name).exists() else None

    try:
        job = read_job(drill_path(folder, drill), trials=trials, plan=own("plan.csv"), checks=own("field.csv"))
    except InputError as error:
        return None, error
    return job, None


class _Entry:
    """One catch: what was given by options, and the rest asked for."""

    def __init__(self, machine, job, asked, decimal, box, lot, setting, catch, tare, turns, rows, fill):
        self.machine: Drill = machine
        self.decimal: str = decimal
        self.job: Job | None = job
        self.asked: _Asked = asked
        self.given = {"box": box, "lot": lot, "setting": setting, "catch": catch, "tare": tare, "fill": fill}
        self.turns = number("turns", turns, below=1e5) or machine.catch.turns
        self.rows = number("rows", rows, whole=True)
        if self.rows is not None and self.rows > machine.rows:
            raise typer.BadParameter(
                f"{self.rows:g} is more than the drill's {machine.rows} rows.", param_hint="--rows"
            )

    def values(self) -> dict[str, Any]:
        """The columns of the catch; asks for what is missing and about what looks odd."""
        from predictor.drill import Lever

        self.box = self._box()
        self.mine = None if self.job is None else self.job.trials.of(box=self.box.name)
        self.lot = self._lot()
        self.setting = self._setting()
        self.weight = self._weight()
        fill = self._fill()
        # a lever reading is a number: the log may have another decimal sign
        setting = float(self.setting) if isinstance(self.box.control, Lever) else self.setting
        values: dict[str, Any] = {"box": self.box.name, "lot": self.lot, "setting": setting}
        values |= {"catch_g": self.weight.grams + self.weight.tare_g, "turns": self.turns, "rows": float(self.rows)}
        if len(self.weight.parts) > 1:
            values["rows_g"] = self.weight.parts
        if self.weight.tare_g:
            values["tare_g"] = self.weight.tare_g
        if fill is not None:
            values["fill_pct"] = fill
        return values

    def _ask(self, name: str, label: str, default: str, read):
        """A value by option, by question (asked again until it can be read), or, with --catch given, the last one."""
        text = self.given[name]
        if text is None and self.given["catch"] is not None and default:
            text = default
        if text is not None:
            try:
                return read(text)
            except ValueError as error:
                raise InputError(f"--{name}: {error}") from None
        hint = f" [{default}]" if default else ""
        while True:
            answer = self.asked.text(wrapped(f"{label}{hint}:", ""), f"--{name}") or default
            try:
                return read(answer)
            except ValueError as error:
                say(wrapped(str(error), ""))

    def _either(self, read):
        """What a text says with a decimal point, or with the log's own decimal sign."""
        try:
            return read(".")
        except ValueError:
            if self.decimal == ".":
                raise
            return read(self.decimal)

    def season(self, today) -> str:
        """Season of the catch: that of the lot's catches a few weeks before, else the year."""
        import datetime

        if self.mine is not None:
            mine = self.mine.of(lot=self.lot)
            for date, season in zip(mine.date[::-1].tolist(), mine.season[::-1].tolist(), strict=True):
                since = abs((today - datetime.date.fromisoformat(date)).days) if date else 0
                if season and since <= SAME_SEASON_DAYS:
                    return season
        return str(today.year)

    def _box(self) -> SeedBox:
        boxes = self.machine.boxes

        def read(text: str) -> SeedBox:
            found = next((each for each in boxes if each.name.lower() == text.lower()), None)
            if found is None:
                raise ValueError(f"The drill has no box {text!r}. Its boxes are {', '.join(b.name for b in boxes)}.")
            return found

        trials = None if self.job is None else self.job.trials
        last = str(trials.box[-1]) if trials is not None and len(trials) else ""
        return self._ask("box", f"Box ({', '.join(each.name for each in boxes)})", last, read)

    def _lot(self) -> str:
        last = str(self.mine.lot[-1]) if self.mine is not None and len(self.mine) else ""
        plan = None if self.job is None else self.job.plan
        planned = [] if plan is None else [each.lot for each in plan.boxes if each.box.name == self.box.name]
        known = [*planned, *(self.mine.lot.tolist() if self.mine is not None else [])]

        parts = (
            {}
            if plan is None
            else {lot.lot.lower(): lot.blend for lot in plan.lots if lot.box == self.box.name and lot.blend}
        )

        def read(text: str) -> str:
            text = " ".join(text.split())
            if not text:
                raise ValueError("A catch needs the name of its lot.")
            if text.lower() in parts and text not in known:
                say(wrapped(f"{text} is part of {parts[text.lower()]}: recorded under that name.", ""))
                return parts[text.lower()]
            return next((name for name in known if name.lower() == text.lower()), text)

        name = self._ask("lot", "Lot", last or (planned[0] if planned else ""), read)
        if known and name not in known and not self.asked.agreed(f"{name} is new in box {self.box.name}. A new lot?"):
            raise InputError("Nothing was saved. Record the catch again with the lot's right name.")
        return name

    def _setting(self) -> str:
        from predictor.entry import setting_of

        last, label = "", "Setting"
        if self.mine is not None and len(self.mine):
            last = str(self.mine.setting[-1])
            advised = self._advised()
            if advised not in ("", last) and self.given["catch"] is None:
                # Enter could mean either: it must be typed
                label, last = f"Setting ({advised} was advised, {last} was the last)", ""
        return self._ask(
            "setting", label, last, lambda text: self._either(lambda sign: setting_of(text, self.box, sign))
        )

    def _advised(self) -> str:
        """Where the last advice said to catch; "" where there was none."""
        from predictor.advice_words import shown

        tasks = self.job.tasks(self.box.name, self.lot)
        return shown(self.job.advice(tasks[0]).setting) if tasks and tasks[0].season is not None else ""

    def _weight(self) -> Weight:
        from predictor.entry import questions, read_weight

        try:
            tare = read_weight(self.given["tare"]).grams if self.given["tare"] else 0.0
        except ValueError as error:
            raise InputError(f"--tare: {error}") from None
        given_rows, caught = self.rows is not None, self.rows or self.machine.catch.rows
        while True:
            label = f"Weight of {self.turns:g} turns, {caught:g} rows, g"
            weight = self._ask(
                *("catch", label, ""),
                lambda text: self._either(lambda sign: read_weight(text, tare_g=tare, decimal=sign)),
            )
            parts = len(weight.parts)
            if parts > self.machine.rows:
                raise InputError(f"{parts} weights are more than the drill's {self.machine.rows} rows.")
            if self.rows is None:
                self.rows = float(parts) if parts > 1 else float(self.machine.catch.rows)
            odd = questions(
                self.box,
                self.setting,
                weight,
                expected_g=self._expected(),
                last=self._last_in_use(),
                size=f" in {self.turns:g} turns, {self.rows:g} rows",
            )
            if parts > 1 and parts != (self.rows if given_rows else caught):
                odd.insert(0, f"{parts} weights for {caught:g} rows. Was each of them one row, {parts} rows caught?")
            if all(self.asked.agreed(question) for question in odd):
                self.rows = float(parts) if parts > 1 else self.rows
                return weight
            if self.given["catch"] is not None:
                raise InputError("Nothing was saved. Record the catch again.")
            self.rows = None if parts > 1 else self.rows

    def _last_in_use(self) -> tuple[str, float] | None:
        """Setting and weight of the last catch of the box that is in use."""
        used = None if self.mine is None else self.mine.where(self.mine.use)
        return (str(used.setting[-1]), float(used.catch_g[-1])) if used is not None and len(used) else None

    def _expected(self) -> tuple[float, float] | None:
        """What the catch should weigh, 99 %, for its turns and rows; None where nobody can tell."""
        from predictor.drill import Lever

        if self.job is None:
            return None
        control = self.box.control
        opening = control.opening(float(self.setting) if isinstance(control, Lever) else self.setting)
        tasks = self.job.tasks(self.box.name, self.lot)
        if not tasks:
            return None
        curve = self.job.advice(tasks[0]).curve if len(self.mine) else None
        if curve is None:
            # nothing caught yet: a middling setting gives the target, more or less
            size = tasks[0].target_output * self.turns * self.rows
            return size / 5, size * 5
        low, high = curve.interval(opening, 0.99, "next")
        return float(low) * self.turns * self.rows, float(high) * self.turns * self.rows

    def _fill(self) -> float | None:
        given = self.given["fill"]
        if given is None and (self.box.holds != "chaffy" or self.given["catch"] is not None):
            return None

        def read(text: str) -> float | None:
            from predictor.numbers import parse_number

            if not text:
                return None
            value = parse_number(text.rstrip("% "), what="a filling in per cent")
            if not 0 <= value <= 150:
                raise ValueError(f"{text} is no filling: it lies between 0 and 150 per cent.")
            return value

        return self._ask("fill", "How full is the box, per cent (Enter: not looked)", "", read)


def _advise(path: Path, drill: str | None, entry: _Entry, units: str | None, as_json: bool, line: int) -> None:
    """The advice for the box just caught."""
    from predictor.advice_words import lines

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
        print(wrapped("No target for this lot: add it to plan.csv, and ask again:", ""))
        print(f"  predictor recommend {shlex.quote(str(path))}")
        return
    print(wrapped(cautions.SHORT, ""))
    decisions = {each.decision for each in map(job.advice, job.in_hand())}
    if decisions == {"lock"}:
        lead_on("Next: every box is locked. For the cab:", f"predictor card {shlex.quote(str(path))}")
    elif decisions <= {"lock", "unreachable"}:
        from predictor.commands.recommend import OUT_OF_REACH

        lead_on(OUT_OF_REACH, f"predictor plan --job {shlex.quote(str(path.parent))}")
    else:
        lead_on("Next catch:", f"predictor record {shlex.quote(str(path))}")
