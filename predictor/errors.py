"""What goes wrong, in sentences: where it is, what was found and what to do."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from predictor.unseen import visible

# A developer sets this to see where an error of the program itself happened.
TRACE = "PREDICTOR_TRACE"
# More than anyone reads: a file with more has one cause of them all, which the first ones show.
MOST_PROBLEMS = 1000


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
        super().__init__("\n".join(map(str, self.problems)))

    def __str__(self) -> str:
        return "\n".join(map(str, self.problems))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        return type(self), (self.problems,)


class UnknownName(InputError, KeyError):
    """A name that is not there: an InputError that code which looks names up may catch as a KeyError."""


class WrongKind(InputError, TypeError):
    """An argument of another kind than is needed: an InputError that may be caught as a TypeError."""


def sentence(error: Exception) -> str:
    """What went wrong, for a person: never a traceback."""
    if isinstance(error, InputError):
        return str(error)
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

    def __init__(self, file: str):
        self.file, self.found = file, list[Problem]()
        self.columns: Sequence[str] = ()  # In the order of the file

    def add(self, message: str, line: int | None = None, column: str | None = None, key: str | None = None) -> None:
        """Note one thing that is wrong."""
        self.found.append(Problem(message, self.file, line, column, key))

    @property
    def enough(self) -> bool:
        """Whether there are more than anyone reads, so that reading on would help nobody."""
        return len(self.found) > MOST_PROBLEMS

    def error(self) -> InputError:
        """All of them, by line and from left to right, without those that are more than anyone reads."""
        places = {name: k for k, name in enumerate(self.columns)}
        last = len(places)
        ordered = sorted(self.found, key=lambda each: (each.line or 0, places.get(each.column or "", last)))
        if self.enough:
            more = "There are more problems than are listed here. Correct these first."
            ordered[MOST_PROBLEMS:] = [Problem(more, self.file, ordered[MOST_PROBLEMS - 1].line)]
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
