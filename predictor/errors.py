"""What goes wrong, said in sentences: where, what was found, what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Problem:
    """One thing wrong with the input, placed where a person can find it.

    Attributes
    ----------
    message : str
        What was found, what is wrong with it and what to do; whole sentences.
    file : str, optional
        Name of the file as the user gave it.
    line : int, optional
        Line of the file, counted from 1 as a spreadsheet counts its rows.
    column : str, optional
        Column header.
    key : str, optional
        Where it stands in a file of keys: "row_spacing_in", "box small, highest".

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
        super().__init__("\n".join(str(problem) for problem in self.problems))


class NotEnoughCatches(ValueError):
    """Fewer catches than the curve has free parameters, and no prior to stand in for them."""
