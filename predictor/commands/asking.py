"""One catch asked for at the drill: questions on the terminal, and what an answer stands for."""

from __future__ import annotations

import datetime
import sys
from typing import TYPE_CHECKING, Any

from predictor.commands.options import rows_of
from predictor.commands.output import say, wrapped
from predictor.errors import InputError

if TYPE_CHECKING:
    from predictor.domain.drill import Drill, SeedBox
    from predictor.files.entry import Weight
    from predictor.job.job import Job

# Prompts that nobody can answer: what is missing must come by options.
_NOT_ASKED = "Nothing was saved: nobody is there to answer. Give it by option: {option}."


class Asked:
    """Questions on the terminal, answers from standard input."""

    def __init__(self, yes: bool):
        self.yes = yes

    def text(self, prompt: str, option: str) -> str:
        """An answer."""
        from predictor.files.text import CONTROL

        while True:
            print(prompt, end=" ", file=sys.stderr, flush=True)
            line = sys.stdin.readline() if sys.stdin is not None else ""
            if not line:
                print(file=sys.stderr)
                raise InputError(_NOT_ASKED.format(option=option))
            if not CONTROL.search(line.strip()):
                return line.strip()
            say("That holds a character that cannot be seen, as an arrow key makes. Type it again.")

    def agreed(self, question: str) -> bool:
        """Whether the answer is yes; with --yes it is."""
        if self.yes:
            say(f"{question} Kept (--yes).")
            return True
        answer = self.text(wrapped(f"{question} (y/n)", ""), "--yes, if it is right")
        return answer.lower() in ("y", "yes")


class Entry:
    """One catch: what was given by options, and the rest asked for."""

    def __init__(
        self,
        machine: Drill,
        job: Job | None,
        asked: Asked,
        decimal: str,
        turns: float | None,
        rows: float | None,
        given: dict[str, str | None],
    ):
        self.machine, self.job, self.asked, self.decimal, self.given = machine, job, asked, decimal, given
        self.turns = turns or machine.catch.turns
        self.rows = None if rows is None else rows_of(rows, machine)

    def values(self) -> dict[str, Any]:
        """The columns of the catch; asks for what is missing and about what looks odd."""
        from predictor.domain.control import Lever

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
                say(str(error))

    def _either(self, read):
        """What a text says with a decimal point, or with the log's own decimal sign."""
        try:
            return read(".")
        except ValueError:
            if self.decimal == ".":
                raise
            return read(self.decimal)

    def season(self, today: datetime.date) -> str:
        """Season of the catch: that of the lot's catches a few weeks before, else the year."""

        from predictor.files.entry import SAME_SEASON_DAYS

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
                say(f"{text} is part of {parts[text.lower()]}: recorded under that name.")
                return parts[text.lower()]
            return next((name for name in known if name.lower() == text.lower()), text)

        name = self._ask("lot", "Lot", last or (planned[0] if planned else ""), read)
        if known and name not in known and not self.asked.agreed(f"{name} is new in box {self.box.name}. A new lot?"):
            raise InputError("Nothing was saved. Record the catch again with the lot's right name.")
        return name

    def _setting(self) -> str:
        from predictor.files.entry import setting_of

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
        tasks = self.job.tasks(self.box.name, self.lot)
        advised = self.job.advice(tasks[0]).advised if tasks and tasks[0].season is not None else None
        return "" if advised is None else advised.text

    def _weight(self) -> Weight:
        from predictor.files.entry import questions, read_weight

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
        from predictor.domain.control import Lever

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
