"""Ranges of weight put together until they fit on a card: few, none thinner than the scatter, falling steadily."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from predictor.advice.decision import Decision
from predictor.domain.control import Setting
from predictor.domain.result import Remark

# What a card says of a weight: the decision of the program, a lock on offer, or that the program is to be asked.
Said = Decision | Literal["offer", "ask"]

# A range less likely than this is not worth a row.
RARE = 0.01
# Rows of a table.
MOST_ROWS = 9
# What is never said of a weight that was not looked at: it ends the work, or questions the catch.
FIRM = ("lock", "offer", "unreachable", "recheck")
ASK = Remark("decision.ask")

# How far apart two settings are, as the logarithm of their outputs.
Apart = Callable[[Setting, Setting], float]


@dataclass(frozen=True)
class Act:
    """What to do after a catch of one weight."""

    said: Said
    setting: Setting | None
    turns: float
    rows: float
    why: Remark

    @property
    def slip(self) -> bool:
        """Whether a likely slip has to be looked at first."""
        return self.why.code.startswith("slips.")

    def like(self, other: Act) -> bool:
        """Whether both send to the same catch, or to the program; the reasons may differ."""
        if self.said == other.said == "ask":
            return True
        mine, others = ((each.said, each.setting, each.turns, each.rows, each.slip) for each in (self, other))
        return mine == others


@dataclass(frozen=True)
class Piece:
    """Neighbouring weights with one act, in steps of the scale."""

    start: int
    stop: int
    likely: float
    act: Act
    own: float  # How likely the weights are for which the act was worked out
    light: Setting | None = None  # Where the act names several settings: those of its lightest and heaviest weights
    heavy: Setting | None = None

    @property
    def width(self) -> float:
        """Log of the last weight over the first."""
        return math.log((self.stop + 0.5) / max(self.start - 0.5, 0.5))

    @property
    def firm(self) -> bool:
        """Whether it must not grow."""
        return self.act.said in (*FIRM, "ask")

    @property
    def handed_over(self) -> bool:
        """Whether its weights may be given to a neighbour that asks for another catch."""
        return not self.firm or (self.act.said == "lock" and self.likely < RARE)

    @property
    def ends(self) -> tuple[Setting | None, Setting | None]:
        """The settings of its lightest and heaviest weights."""
        return self.light or self.act.setting, self.heavy or self.act.setting


def merged(pieces: list[Piece], thin: float, apart: Apart, most: int = MOST_ROWS) -> list[Piece]:
    """Pieces put together: rare ends go to the program, and `thin` is half the repeatability.

    What is put together takes the act of the part with the greater chance. Only where the rows are still too many a
    row names two settings, of its lightest and its heaviest weights, each right for the weights beside it.
    """
    found = _joined(_ends_folded(pieces))
    for step in (_thin_one, _rising_one, _one_too_many):
        while (fewer := step(found, thin, apart, most)) is not None:
            found = _joined(fewer)
    return found


def _ends_folded(pieces: list[Piece]) -> list[Piece]:
    """Ends that are rare with the program to be asked."""
    found = list(pieces)
    for order in (1, -1):
        found = found[::order]
        for i, each in enumerate(found):
            if each.likely >= RARE and each.act.said != "ask":
                break
            found[i] = asked(each)
        found = found[::order]
    return found


def asked(piece: Piece) -> Piece:
    """A piece of whose weights the program is to be asked."""
    return replace(piece, act=replace(piece.act, said="ask", setting=None, why=ASK), light=None, heavy=None)


def _joined(pieces: list[Piece]) -> list[Piece]:
    """Neighbours that say the same as one."""
    found: list[Piece] = []
    for each in pieces:
        if found and found[-1].act.like(each.act) and (found[-1].ends == each.ends):
            found[-1] = _both(found[-1], each, found[-1])
        else:
            found.append(each)
    return found


def _both(one: Piece, other: Piece, says: Piece) -> Piece:
    """Two neighbours as one that says what one of them said."""
    same = one.act.like(other.act)
    own = one.own + other.own if same else says.own
    return replace(says, start=one.start, stop=other.stop, likely=one.likely + other.likely, own=own)


def _at(pieces: list[Piece], i: int, piece: Piece) -> list[Piece]:
    """The pieces with one in place of the two from i on."""
    return [*pieces[:i], piece, *pieces[i + 2 :]]


def _likelier(one: Piece, other: Piece) -> Piece:
    """The one of two neighbours whose act both are to have: a firm one never takes any weights."""
    return max(one, other, key=lambda each: (not each.firm, each.own))


def _pairs(pieces: list[Piece]) -> list[int]:
    """Neighbours, by the first of them, that can become one."""
    return [
        i
        for i, (one, other) in enumerate(itertools.pairwise(pieces))
        if one.handed_over and other.handed_over and not (one.firm and other.firm)
    ]


def _put_together(pieces: list[Piece], i: int) -> list[Piece]:
    """The pieces with the one from i on and its neighbour as one."""
    one, other = pieces[i : i + 2]
    return _at(pieces, i, _both(one, other, _likelier(one, other)))


def _thin_one(pieces: list[Piece], thin: float, apart: Apart, most: int) -> list[Piece] | None:
    """The thinnest piece, or a rare lock, given to the neighbour whose setting is nearer; None where there is none."""
    pairs = _pairs(pieces)
    narrow = {k for i in pairs for k in (i, i + 1) if pieces[k].firm or pieces[k].width < thin}
    if not narrow:
        return None
    k = min(narrow, key=lambda each: pieces[each].width)
    i = min((i for i in pairs if k in (i, i + 1)), key=lambda i: _distance(pieces[i], pieces[i + 1], apart))
    return _put_together(pieces, i)


def _distance(one: Piece, other: Piece, apart: Apart) -> float:
    a, b = one.act.setting, other.act.setting
    return math.inf if a is None or b is None else apart(a, b)


def _rises(one: Piece, other: Piece) -> bool:
    """Whether the heavier piece has a higher opening than the lighter one, on the same drive."""
    (_, a), (b, _) = one.ends, other.ends
    return a is not None and b is not None and a.drive == b.drive and b.opening > a.opening + 1e-9


def _rising_one(pieces: list[Piece], thin: float, apart: Apart, most: int) -> list[Piece] | None:
    """Two neighbours that rise as one, or with the program to be asked where one of them is firm."""
    # a catch that is repeated is repeated where it was made, whatever the weights beside it ask for
    known = [i for i, each in enumerate(pieces) if each.act.setting is not None and each.act.said != "recheck"]
    i, j = next(((i, j) for i, j in itertools.pairwise(known) if _rises(pieces[i], pieces[j])), (0, 0))
    if not j:
        return None
    one, other = pieces[i], pieces[j]
    if j == i + 1 and not one.firm and not other.firm:
        return _put_together(pieces, i)
    gone = i if (one.firm, one.likely) < (other.firm, other.likely) else j
    return [asked(each) if k == gone else each for k, each in enumerate(pieces)]


def _one_too_many(pieces: list[Piece], thin: float, apart: Apart, most: int) -> list[Piece] | None:
    """The least likely two neighbours as one row, those that move first; at last the program is to be asked."""
    if len(pieces) <= most:
        return None

    def likely(i: int) -> float:
        return pieces[i].likely + pieces[i + 1].likely

    pairs = _pairs(pieces)
    moves = [i for i in pairs if _move_alike(pieces[i].act, pieces[i + 1].act)]
    if not pairs:
        found = [i for i in range(len(pieces)) if _beside_the_program(pieces, i)]
        last = min(found, key=lambda i: pieces[i].likely)
        return [asked(each) if k == last else each for k, each in enumerate(pieces)]
    i = min(moves or pairs, key=likely)
    fewer = _put_together(pieces, i)
    (light, _), (_, heavy) = pieces[i].ends, pieces[i + 1].ends
    if moves and light is not None and heavy is not None and apart(light, heavy) > thin:
        fewer[i] = replace(fewer[i], light=light, heavy=heavy)
    return fewer


def _beside_the_program(pieces: list[Piece], i: int) -> bool:
    """Whether a piece says something, and lies at an end or beside one of which the program is to be asked."""
    beside = [each.act.said for each in pieces[max(i - 1, 0) : i + 2]]
    return pieces[i].act.said != "ask" and ("ask" in beside or len(beside) < 3)


def _move_alike(one: Act, other: Act) -> bool:
    """Whether both move on the same drive, to a catch of the same size."""
    if one.setting is None or other.setting is None or {one.said, other.said} != {"move"}:
        return False
    return (one.turns, one.rows, one.setting.drive) == (other.turns, other.rows, other.setting.drive)
