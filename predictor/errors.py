"""What goes wrong, in sentences: where it is, what was found and what to do."""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from predictor.format import count
from predictor.numbers import clipped
from predictor.unseen import visible

# A developer sets this to see where an error of the program itself happened.
TRACE = "PREDICTOR_TRACE"
# More than anyone counts: a file with more has one cause of them all, which the first ones show.
MOST_PROBLEMS = 5000
# So many problems that are alike are said one by one, for whoever mends each; more are said once.
FEW = 3
MOST_KINDS, MOST_PLACES = 30, 8  # Kinds of problem that are shown, and places of each
LONGEST_MESSAGE, LONGEST_FILE, LONGEST_PLACE = 1000, 5000, 200
# What problems of one kind may differ in: what was found is in quotes or is a number.
_FOUND = re.compile(r'"[^"]*+"|[0-9][0-9.,]*+')


@dataclass(frozen=True)
class Problem:
    """One thing wrong with the input, placed where a person can find it.

    Attributes
    ----------
    message : str
        What was found, what is wrong with it and what to do, in whole sentences.
    file : str, optional
        Name of the file as the user gave it.
    line : int, optional
        Line of the file, counted from 1 as a spreadsheet counts its rows.
    column : str, optional
        Column header.
    key : str, optional
        Place in a file of keys: "row_spacing_in", "box small, highest".

    Examples
    --------
    >>> print(Problem('"12,4 g" is not a weight. Write the number alone, here 12.4.', "trials.csv", 14, "catch_g"))
    trials.csv line 14, column catch_g: "12,4 g" is not a weight. Write the number alone, here 12.4.
    """

    message: str
    file: str | None = None
    line: int | None = None
    column: str | None = None
    key: str | None = None

    def __post_init__(self) -> None:
        longest = {"message": LONGEST_MESSAGE, "file": LONGEST_FILE, "column": LONGEST_PLACE, "key": LONGEST_PLACE}
        for name, most in longest.items():
            text = getattr(self, name)
            if text is not None:
                object.__setattr__(self, name, clipped(visible(text), most))

    def __str__(self) -> str:
        place = self.file or ""
        if self.line is not None:
            place += f" line {self.line}"
        if self.column is not None:
            place += f"{',' if place else ''} column {self.column}"
        if self.key is not None:
            place += f"{',' if place else ''} {self.key}"
        return f"{place.strip()}: {self.message}" if place.strip() else self.message


class InputError(ValueError):
    """Everything wrong with one input, all of it at once.

    Parameters
    ----------
    problems : iterable of Problem, or str
        A single sentence is taken as one problem without a place.
    """

    def __init__(self, problems: Iterable[Problem] | str):
        self.problems = (Problem(problems),) if isinstance(problems, str) else tuple(problems)
        super().__init__("\n".join(_said(self.problems)))

    def __str__(self) -> str:
        return str(self.args[0])

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        return type(self), (self.problems,)


def _said(problems: Sequence[Problem]) -> list[str]:
    """A sentence for each problem; of many that are alike, one sentence for the first, with where the others are."""
    kinds: dict[tuple[object, ...], list[Problem]] = {}
    for each in problems:
        kinds.setdefault(_kind(each), []).append(each)
    said: list[str] = []
    shown = list(kinds)[:MOST_KINDS]
    known = set(shown)
    for each in problems:
        kind = _kind(each)
        if kind not in known:
            continue
        alike = kinds[kind]
        once = len(alike) > FEW or (each.key is None and len({(one.message, one.line is None) for one in alike}) == 1)
        if not once or len(alike) == 1:
            said.append(str(each))
        elif each is alike[0]:
            said.append(f"{each} {_also(alike[1:])}")
    more = len(kinds) - len(shown)
    if more:
        said.append(f"There {'is' if more == 1 else 'are'} {count(more, 'more kind')} of problem. Correct these first.")
    return said


def _kind(problem: Problem) -> tuple[object, ...]:
    """What problems have in common that differ only in their place and in the values that were found."""
    return problem.file, problem.column, problem.key is None, _FOUND.sub("", problem.message)


def _also(others: Sequence[Problem]) -> str:
    """Where else a problem is."""
    if any(each.key is not None for each in others):
        places = [f"{each.key}{'' if each.line is None else f' (line {each.line})'}" for each in others[:MOST_PLACES]]
        rest, what = len(others) - len(places), "with " + count(len(others), "more key")
    else:
        lines = sorted({each.line for each in others if each.line is not None})
        if len(lines) == 1:
            return f"The same is wrong in line {lines[0]}."
        spans = _spans(lines)
        places = [f"{a}" if a == b else f"{a} to {b}" for a, b in spans[:MOST_PLACES]]
        rest = sum(b - a + 1 for a, b in spans[MOST_PLACES:])
        what = "in " + (count(len(lines), "more line") if lines else count(len(others), "more place"))
        if 1 < len(lines) <= FEW:
            return f"The same is wrong in lines {', '.join(map(str, lines[:-1]))} and {lines[-1]}."
    if not places:
        return f"The same is wrong {what}."
    last = f"{count(rest, 'other')}{f', the last in line {others[-1].line}' if others[-1].line else ''}" if rest else ""
    if not rest and len(places) > 1:
        last = places.pop()
    return f"The same is wrong {what}: {', '.join(places)}{f' and {last}' if last else ''}."


def _spans(lines: Sequence[int]) -> list[tuple[int, int]]:
    """First and last of each run of lines that follow each other; two lines are no run."""
    spans: list[tuple[int, int]] = []
    for line in lines:
        if spans and spans[-1][1] == line - 1:
            spans[-1] = spans[-1][0], line
        else:
            spans.append((line, line))
    return [each for a, b in spans for each in ([(a, a), (b, b)] if b == a + 1 else [(a, b)])]


class UnknownName(InputError, KeyError):
    """A name that is not there: an InputError that code which looks names up may catch as a KeyError."""


class WrongKind(InputError, TypeError):
    """An argument of another kind than is needed: an InputError that may be caught as a TypeError."""


def sentence(error: Exception) -> str:
    """What went wrong, for a person: never a traceback."""
    if isinstance(error, InputError):
        return str(error)
    if isinstance(error, UnicodeEncodeError):  # of a file name: all texts are written in UTF-8
        return (
            f"{error.object!r} is no file name in the character set of this terminal. Set PYTHONUTF8=1, or rename it."
        )
    if isinstance(error, OSError):
        return f"{error.filename or 'The output'}: {error.strerror or error}."
    return (
        f"This is an error of the program, not of your files ({type(error).__name__}: {error}). "
        f"Please report it with what the same command shows when {TRACE}=1 is set."
    )


class NotEnoughCatches(ValueError):
    """Fewer catches than the curve has free parameters, and no prior to stand in for them."""


class Unsure(OSError):
    """A fault of the drive after which a change of a file may be saved, or a part of it, or nothing.

    Parameters
    ----------
    why : exception or str
        What the system said.
    line : int, optional
        First line of the file that was to change.
    """

    def __init__(self, why: BaseException | str, line: int | None = None):
        super().__init__(getattr(why, "strerror", None) or str(why))
        self.line = line

    def __str__(self) -> str:
        return (
            f"It may be saved, whole or in part: {self.args[0]}. Look at this place of the file, and enter it again "
            "only if it is not there."
        )


class DriveWarning(UserWarning):
    """Something was saved, but on a drive that lacks a safeguard or reported an error afterwards.

    Parameters
    ----------
    message : str
        What is lacking and what to do, in whole sentences.
    file : str or path
    """

    def __init__(self, message: str, file: str | os.PathLike[str]):
        super().__init__(f"{visible(os.fspath(file))}: {message}")


class Problems:
    """Collects what is wrong with one file while it is read."""

    def __init__(self, file: str, most: int = MOST_PROBLEMS):
        self.file, self.most, self.found = file, most, list[Problem]()
        self.columns: Sequence[str] = ()  # In the order of the file

    def add(self, message: str, line: int | None = None, column: str | None = None, key: str | None = None) -> None:
        """Note one thing that is wrong."""
        self.found.append(Problem(message, self.file, line, column, key))

    @property
    def enough(self) -> bool:
        """Whether there are more than anyone reads, so that reading on would help nobody."""
        return len(self.found) > self.most

    def error(self) -> InputError:
        """All of them, by line and from left to right; of more than anyone counts, the first of each kind."""
        places = {name: k for k, name in enumerate(self.columns)}
        last = len(places)
        ordered = sorted(self.found, key=lambda each: (each.line or 0, places.get(each.column or "", last)))
        if self.enough:
            counted = ordered[: self.most]
            seen = set(map(_kind, counted))
            firsts = {_kind(each): each for each in reversed(ordered[self.most :]) if _kind(each) not in seen}
            left = [*firsts.values()][::-1]
            more = f"There are more problems than the {self.most:,} that were counted. Correct these first."
            ordered = [*counted, *left, Problem(more, self.file)]
        return InputError(ordered)

    def check(self) -> None:
        """Raise an InputError if anything was found."""
        if self.found:
            raise self.error()


def meant(name: str, names: Collection[str], otherwise: str) -> str:
    """A question about what was probably meant, or another sentence if no name is near."""
    found = near(name, names)
    return f"Did you mean {found}?" if found else otherwise


def near(name: str, names: Collection[str], cutoff: float = 0.6) -> str | None:
    """The name most like a given one, or None: it is offered as what was probably meant."""
    import difflib  # only a misspelling needs it

    by_small = {each.lower(): each for each in names}
    found = difflib.get_close_matches(name.lower()[:100], list(by_small), n=1, cutoff=cutoff)
    return by_small[found[0]] if found else None
