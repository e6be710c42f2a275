"""Answers on boxes and lots as aligned lines: the first that every command prints."""

from __future__ import annotations

from collections.abc import Sequence

from predictor.text.answer import Answer
from predictor.text.doing import Doing
from predictor.text.table import Table, on_point

# The longest verb that has a column; what begins with a longer one is written across.
LONGEST = len("leave it at")


def answer_lines(answers: Sequence[Answer], width: int) -> list[str]:
    """A line for each box and lot: what to do, at which setting, how sure that is, and the weight to expect.

    Below a box that needs another catch, or was planted somewhere, a second line says so.
    """
    doings = [each.doing for each in answers if _in_columns(each.doing)]
    long, settings = max((len(each.verb) for each in doings), default=0), on_point([each.setting for each in doings])
    told = iter([f"{each.verb.upper():{long}} {at}" for each, at in zip(doings, settings, strict=True)])
    rows = [row for each in answers for row in _rows(each, next(told) if _in_columns(each.doing) else "")]
    return Table(width, strong=frozenset({2}), names=2).lines(rows)


def _in_columns(doing: Doing) -> bool:
    return bool(doing.setting) and len(doing.verb) <= LONGEST


def _rows(answer: Answer, told: str) -> list[list[str]]:
    """The row of a box and lot, and those that go on with it; `told` is what to do where that is in columns."""
    doing, name = answer.doing, [answer.box, answer.lot]
    asks = not answer.ready and doing.setting
    weight = "" if asks or not doing.setting else _weight(answer)
    if not told:
        rest = [", ".join(filter(None, (answer.sure, weight))), _catch(answer) if asks else ""]
        return [[*name, doing.text()], *(["", "", each] for each in rest if each)]
    row = [*name, told, *([answer.sure] if asks else [answer.sure, weight])]
    below = _catch(answer) if asks else _more(doing)
    return [row, ["", "", below]] if below else [row]


def _weight(answer: Answer) -> str:
    """The weight that a catch at the setting should have, beside its target."""
    if not answer.expected:
        return f"target {answer.target}" if answer.target else ""
    return f"{answer.expected} expected, target {answer.target.removesuffix(' g')}"


def _catch(answer: Answer) -> str:
    """The catch that is asked for, and where its weight should lie."""
    what = answer.doing.then.removesuffix(" again")
    begin = "" if not what else f"{what}: " if what.startswith("or ") else f"then {what}: "
    usual = f"; {answer.usual.removesuffix(' g')} is usual" if answer.usual else ""
    return f"{begin}{answer.made}, {answer.target}{usual}"


def _more(doing: Doing) -> str:
    """Where it was planted, and what goes on."""
    then = doing.then.upper()
    return ", ".join(filter(None, (doing.where, then if doing.where or not then else f"THEN {then}")))
