"""What the columns of catches may hold when someone makes them by hand: what a reader would give."""

import itertools
from collections.abc import Mapping, Sequence
from functools import partial
from operator import itemgetter
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from predictor.domain.arguments import kind, refuse
from predictor.domain.drill import Drill
from predictor.errors import WrongKind
from predictor.unseen import UNSEEN

# Letters of the types of arrays that a column may have.
_LETTERS = {
    float: ("fiu", "numbers"),
    int: ("iu", "whole numbers"),
    bool: ("b", "True and False"),
    object: ("OU", "texts"),
}
# Lowest value of a column, whether it may be that value, and whether it may be missing.
_LOWEST = {"catch_g": (0.0, True, False), "turns": (0.0, False, False), "rows": (0.0, False, False),
           "opening": (-np.inf, False, True), "distance_m": (0.0, False, True), "fill_pct": (0.0, True, True),
           "target_g": (0.0, False, True), "wanted_g": (0.0, False, True), "tare_g": (0.0, True, True)}  # fmt: skip
_NAMES = ("box", "lot", "season", "setting")

Holder = TypeVar("Holder", bound=Any)
Made = TypeVar("Made", bound=Any)


def rows_of(
    holder: Holder, index: npt.NDArray[np.int_] | slice, columns: Mapping[str, type], apart: Sequence[str]
) -> Holder:
    """Some rows of columns that were checked; a slice copies no array.

    `__init__` is not called, since that would check them again.
    """
    part = object.__new__(type(holder))
    part.__dict__.update({name: getattr(holder, name) for name in holder.__dataclass_fields__})
    part.__dict__.update({name: getattr(holder, name)[index] for name in columns})
    pick = itemgetter(index) if isinstance(index, slice) else partial(_picked, index.tolist())
    part.__dict__.update({name: pick(getattr(holder, name)) for name in apart})
    return part


def _picked(places: list[int], values: tuple[Any, ...]) -> tuple[Any, ...]:
    """The values in some places."""
    if 2 * len(places) > len(values) == values.count(None):  # quicker where most are picked, and so in most logs
        return (None,) * len(places)
    return tuple(map(values.__getitem__, places))


def as_read(kind: type[Made], values: Mapping[str, Any]) -> Made:
    """An object of a class of columns, of which a reader has looked at each cell: nobody checks them again."""
    made = object.__new__(kind)
    made.__dict__.update({name: values[name] for name in kind.__dataclass_fields__})
    return made


def with_column(holder: Holder, name: str, column: object) -> Holder:
    """The same with another column, or what was assumed: the program made it, and nobody has to check it."""
    part = object.__new__(type(holder))
    part.__dict__.update({each: getattr(holder, each) for each in holder.__dataclass_fields__})
    part.__dict__[name] = column
    return part


def check_columns(holder: object, columns: Mapping[str, type], apart: Sequence[str]) -> None:
    """Refuse columns that no reader gives; whole numbers and shorter floats are taken as floats."""
    n = len(getattr(holder, next(iter(columns))))
    for name, holds in columns.items():
        given = getattr(holder, name)
        found = _column(given, name, n, holds)
        if found is not given:
            object.__setattr__(holder, name, found)
    for name, (low, at_low, missing) in _LOWEST.items():
        values = getattr(holder, name)
        right = (values >= low if at_low else values > low) & (values < np.inf) | (missing & np.isnan(values))
        if not right.all():
            must = (
                "finite numbers" if np.isinf(low) else f"finite numbers {'of at least' if at_low else 'above'} {low:g}"
            )
            refuse(name, f"{must}{', or NaN where there is none' if missing else ''}", float(values[~right][0]))
    kind(getattr(holder, "drill", None), "drill", (Drill, type(None)), "a Drill or None")
    for name in apart:
        _weights(getattr(holder, name), name, n)


def _column(value: object, name: str, n: int, holds: type) -> npt.NDArray[Any]:
    """A column of n floats, whole numbers, flags or texts, of which none is masked."""
    if type(value) is not np.ndarray or value.shape != (n,):
        refuse(name, f"an array of shape ({n},), as box is, with nothing masked", value, WrongKind)
    letters, what = _LETTERS[holds]
    if value.dtype.kind not in letters:
        refuse(name, f"an array of {what}", value, WrongKind)
    if holds is float:
        return value.astype(float, copy=False)
    if value.dtype.kind == "O":
        texts = value.tolist()
        if not all(issubclass(each, str) for each in set(map(type, texts))):
            refuse(name, f"an array of {what}", next(each for each in texts if not isinstance(each, str)), WrongKind)
    if name in _NAMES and UNSEEN.search("\n".join(set(value.tolist()))):
        unseen = next(each for each in value.tolist() if UNSEEN.search(each))
        refuse(name, "texts without invisible characters", unseen)
    return value


def _weights(value: object, name: str, n: int) -> None:
    """Refuse what is not several weights of each catch, or None."""
    if not isinstance(value, tuple) or len(value) != n:
        refuse(name, f"a tuple of {n} entries, one for each catch", value)
    if set(map(type, value)) <= {tuple, type(None)}:  # all at once, since a log may have a hundred thousand
        weights = list(itertools.chain.from_iterable(filter(None, value)))
        if set(map(type, weights)) <= {float} and _all_weights(np.array(weights)):
            return
    for each in value:
        if each is not None and not (isinstance(each, tuple) and all(_is_weight(one) for one in each)):
            refuse(name, "for each catch a tuple of finite numbers of at least 0, or None", each, WrongKind)


def _all_weights(values: npt.NDArray[np.float64]) -> bool:
    return bool(((values >= 0) & (values < np.inf)).all())


def _is_weight(value: object) -> bool:
    return isinstance(value, float | int | np.number) and not isinstance(value, bool) and 0 <= float(value) < np.inf
