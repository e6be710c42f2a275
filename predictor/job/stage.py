"""Where a box and lot are on the way from the first catch to the record, so that every command says the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from predictor.advice.result import Advice
from predictor.domain.control import Setting
from predictor.domain.planted import PlantedLine
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.field.verdict import Verdict
from predictor.job.task import Task

Reached = Literal["testing", "locked", "planted"]
# A verdict that finds the rate likely out of tolerance, and no setting that is clearly better.
NO_BETTER = "verdict.leave_no_better"
Doing = Literal["advised", "leave", "move", "weigh", "planted"]


@dataclass(frozen=True)
class Stage:
    """Where one box and lot are in their season.

    Attributes
    ----------
    task : Task
    advice : Advice
        What the catches say now; of a lot that was planted it is for the next time.
    planted : tuple of PlantedLine
        Of this season, in order of their days.
    verdict : Verdict or None
        Of the last field check of this season, unless later catches, or a line at another setting, go before it.
    in_hand : bool
        Whether the lot is the one in the box.
    """

    task: Task
    advice: Advice
    planted: tuple[PlantedLine, ...]
    verdict: Verdict | None
    in_hand: bool

    @property
    def box(self) -> str:
        """Name of the box."""
        return self.task.box.name

    @property
    def lot(self) -> str:
        """Name under which its catches are recorded."""
        return self.task.lot

    @property
    def left_there(self) -> bool:
        """Whether a field check says to leave the box where it is, and not only that nothing better is known."""
        return self.verdict is not None and self.verdict.answer == "leave" and self.verdict.why.code != NO_BETTER

    @property
    def reached(self) -> Reached:
        """How far the box and lot are: "testing", "locked" or "planted"."""
        if self.planted:
            return "planted"
        return "locked" if self._in_field or self.advice.decision == "lock" else "testing"

    @property
    def _in_field(self) -> bool:
        """Whether a field check says where the box is to be."""
        return self.verdict is not None and (self.left_there or self.verdict.answer != "leave")

    @property
    def doing(self) -> Doing:
        """What its headline is about: the advice, or what a field check or planting made of it."""
        if self.verdict is not None and self.verdict.answer != "leave":
            return self.verdict.answer
        # a box that was checked where it stands now says so, wherever it was planted before
        if self.planted and not (self.left_there and self.setting != self.planted[-1].setting):
            return "planted"
        return "leave" if self.left_there else "advised"

    @property
    def setting(self) -> Setting | None:
        """The setting in force: where the box is to be for the rest; None before a lock."""
        if self.verdict is not None and self.verdict.answer == "move":
            return self.verdict.move_to
        if (
            self.verdict is not None
            and self._in_field
            and not (self.planted and self.planted[-1].date > self.verdict.date)
        ):
            return self.verdict.setting
        if self.planted:
            return self.planted[-1].setting
        return self.advice.advised if self.reached == "locked" else None

    @property
    def headline(self) -> Remark:
        """What to do or what was done, in a few words; `str(stage.headline)` gives them."""
        return Remark(f"stage.{self.doing}", {"stage": self})

    def to_dict(self) -> dict[str, Any]:
        """The stage as plain values for JSON.

        Returns
        -------
        dict
            The setting in force is None before a lock.
        """
        lines = [
            {"date": each.date, "field": each.field, "setting": each.setting.text, "line": each.line}
            for each in self.planted
        ]
        return {
            "reached": self.reached,
            "doing": self.doing,
            "headline": str(self.headline),
            "setting": None if self.setting is None else self.setting.text,
            "in_hand": self.in_hand,
            "planted": lines,
            "verdict": None if self.verdict is None else self.verdict.to_dict(),
        }


def stage_of(
    task: Task, advice: Advice, lines: Sequence[PlantedLine], verdict: Verdict | None, *, in_hand: bool
) -> Stage:
    """The stage of a box and lot, from all lines and the last verdict of that lot, of whatever season."""
    dates = [each for each in advice.trials.date.tolist() if each]
    mine = tuple(each for each in lines if _of_season(each, task.season, dates))
    last = max(dates, default="")
    locked = advice.advised if advice.decision == "lock" else None
    if verdict is not None and verdict.answer == "leave" and locked == verdict.setting:
        last = ""  # later catches that agree with it do not go before it
    return Stage(task, advice, mine, _standing(verdict, task.season, mine, last), in_hand)


def _of_season(line: PlantedLine, season: str | None, dates: Sequence[str]) -> bool:
    """Whether a line was planted in the season of the catches of its lot."""
    if not season or (line.evidence is not None and line.evidence.season == season):
        return True
    return not dates or line.date >= min(dates)


def _standing(
    verdict: Verdict | None, season: str | None, lines: Sequence[PlantedLine], last_catch: str
) -> Verdict | None:
    """The verdict, unless it is of another season or something later goes before it."""
    if verdict is None or (season and verdict.season and verdict.season != season):
        return None
    if not lines:
        return None if last_catch > verdict.date else verdict
    last = lines[-1]
    moved = last.date == verdict.date and last.setting == verdict.move_to
    return None if moved or (last.date > verdict.date and last.setting != verdict.setting) else verdict


def lot_in_hand(catches: Trials, lines: Sequence[PlantedLine], lots: Sequence[str]) -> str:
    """The lot that is in a box, from its catches and its planted lines in use; "" where no lot is known.

    It is that of the last catch or line. On one day a catch of a lot that is not planted goes before a line. Without
    either it is the first of `lots`.
    """
    caught, day = (str(catches.lot[-1]), str(catches.date[-1])) if len(catches) else ("", "")
    last = max(lines, key=lambda each: (each.date, each.line), default=None)
    if last is None:
        return caught or next(iter(lots), "")
    planted = caught.lower() in {each.lot.lower() for each in lines}
    if caught and (day > last.date or (not planted and (day == last.date or not day))):
        return caught
    return next((each for each in lots if each.lower() == last.lot.lower()), caught or last.lot)
