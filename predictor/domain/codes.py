"""Codes of a column: its different values, and for each row which of them it has."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Protocol, TypeVar, get_args

import numpy as np
import numpy.typing as npt

from predictor.domain.made import with_column

Codes = npt.NDArray[np.intp]
# Columns of `Trials` whose texts are looked up again and again.
Coded = Literal["box", "lot", "season", "setting", "date", "drill_name", "operator"]
CODED: tuple[Coded, ...] = get_args(Coded)


class HasTexts(Protocol):
    """Columns of texts, as `Trials`; what was coded is kept with them."""

    @property
    def _coded(self) -> dict[str, tuple[list[str], Codes]]: ...


Some = TypeVar("Some", bound=HasTexts)


def coded(key: Codes) -> tuple[Codes, Codes]:
    """The different keys, sorted, and the index of each one among them: by counting where keys are few enough."""
    if int(key.max(initial=0)) > 8 * len(key) + 1000:
        different, code = np.unique(key, return_inverse=True)
        return different, code
    there = np.bincount(key) > 0
    return np.flatnonzero(there), (np.cumsum(there) - 1)[key]


def as_they_appear(key: Codes) -> tuple[Codes, Codes]:
    """The row in which each different key first appears, in order, and the index of each row's key among them."""
    different, code = coded(key)
    first = np.zeros(len(different), dtype=np.intp)
    first[code[::-1]] = np.arange(len(code))[::-1]  # the last that is written stays: the first row
    order = np.argsort(first)
    rank = np.empty(len(order), dtype=np.intp)
    rank[order] = np.arange(len(order))
    return first[order], rank[code]


def codes_of(trials: HasTexts, column: Coded) -> tuple[list[str], Codes]:
    """The different texts of a column, sorted, and the index of each row's among them; worked out once."""
    if column not in trials._coded:  # kept with the trials
        texts = getattr(trials, column).tolist()
        different = list(dict.fromkeys(texts))
        place = {name: k for k, name in enumerate(different)}
        which = np.zeros(len(texts), dtype=np.intp)
        if len(different) > 1:  # many columns hold one text
            which = np.fromiter(map(place.__getitem__, texts), dtype=np.intp, count=len(texts))
        keep_codes(trials, column, different, which)
    return trials._coded[column]


def keep_codes(trials: HasTexts, column: Coded, different: list[str], which: npt.NDArray[np.signedinteger]) -> None:
    """Keep what `codes_of` is to give, from the different texts of a column in any order and each row's among them."""
    order = sorted(range(len(different)), key=different.__getitem__)
    rank = np.empty(len(order), dtype=np.intp)
    rank[order] = np.arange(len(order))
    trials._coded[column] = [different[k] for k in order], rank[which]


def keep_codes_of_all(trials: HasTexts, several: Sequence[HasTexts]) -> None:
    """Keep the codes of trials that are several one below the other, where one of these has them."""
    for column in CODED:
        if any(column in each._coded for each in several):
            place: dict[str, int] = {}
            which = list[Codes]()
            for names, code in (codes_of(each, column) for each in several):
                which.append(np.array([place.setdefault(name, len(place)) for name in names], np.intp)[code])
            keep_codes(trials, column, list(place), np.concatenate(which))


def with_same_texts(trials: Some, name: str, column: object) -> Some:
    """Trials with other openings, or with what was assumed; codes of their texts stay."""
    same = with_column(trials, name, column)
    same.__dict__["_coded"] = trials._coded
    return same
