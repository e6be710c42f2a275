"""What the public doors of the library ask of their arguments: each is checked once, there, and refused in a sentence.

A sentence names the argument, says what it must be, and shows what came. What stands behind a door checks nothing.
"""

import datetime
import math
import os
from collections.abc import Collection, Iterable, Mapping, Sequence
from decimal import Decimal
from numbers import Real
from typing import Any, NoReturn, TypeVar

import numpy as np
import numpy.typing as npt

from predictor.errors import InputError, UnknownName, WrongKind, near
from predictor.numbers import Range, parse_number, quoted
from predictor.unseen import UNSEEN

Kind = TypeVar("Kind")

ANY, POSITIVE, NOT_NEGATIVE, FROM_ONE = Range(), Range(0, above=True), Range(0), Range(1)
# Nothing that is measured is larger or smaller; the square of such a number is still one.
LARGEST, SMALLEST = 1e100, 1e-100


def number(value: object, name: str, allowed: Range = ANY, *, infinite: bool = False) -> float:
    """One finite number in a range, or an infinite one where that is allowed too."""
    found = value if type(value) is float else _float(value)
    if found is None:
        refuse(name, _number_words(allowed), value, WrongKind)
    if not allowed.has(found) or (math.isinf(found) and not infinite):
        refuse(name, _number_words(allowed), value)
    if not infinite and beyond(found, allowed):
        refuse(name, "of a size that can be measured, between 1e-100 and 1e+100", value)
    return found


def beyond(value: float, allowed: Range) -> bool:
    """Whether a number is larger than anything measured, or smaller where it must be above 0."""
    return abs(value) > LARGEST or (allowed == POSITIVE and value < SMALLEST)


def real(value: object, name: str) -> float:
    """One number, NaN and infinite ones too: what it may be is said where it is used."""
    found = _float(value)
    if found is None:
        refuse(name, "a number", value, WrongKind)
    return found


def maybe_number(value: object, name: str, allowed: Range = ANY) -> float | None:
    """One finite number in a range, or None."""
    return None if value is None else number(value, name, allowed)


def whole(value: object, name: str, allowed: Range) -> int:
    """One whole number in a range."""
    found = _float(value)
    if found is None or not allowed.has(found) or not found.is_integer():
        refuse(name, f"a whole number, {allowed}", value, WrongKind if found is None else InputError)
    return int(found)


def share(value: object, name: str, such_as: str) -> float:
    """One number between 0 and 1, neither of them."""
    found = _float(value)
    if found is None or not 0 < found < 1:
        refuse(name, f"a number between 0 and 1, such as {such_as}", value, WrongKind if found is None else InputError)
    return found


def several(value: object, name: str, ranges: Sequence[Range], what: str) -> tuple[float, ...]:
    """A fixed count of numbers, each in its range."""
    if isinstance(value, np.ndarray):
        value = value.tolist()
    if not isinstance(value, Sequence) or isinstance(value, str) or len(value) != len(ranges):
        refuse(name, f"{len(ranges)} numbers, {what}", value, WrongKind)
    return tuple(
        number(each, f"number {k} of {name}", allowed)
        for k, (each, allowed) in enumerate(zip(value, ranges, strict=True), 1)
    )


def number_or_text(value: object, name: str) -> float:
    """One finite number, or one written as text."""
    if not isinstance(value, str):
        return number(value, name)
    try:
        return parse_number(value)
    except ValueError as error:
        raise InputError(f"{name} must be a number. {error}") from None


def numbers(value: object, name: str) -> npt.NDArray[np.float64]:
    """Numbers of any shape as floats, NaN where one is missing: NaN, NA of pandas, masked. None is infinite."""
    if type(value) is float:
        found = np.asarray(value)
    elif type(value) is np.ndarray and value.dtype == np.float64:
        found = value
    else:
        found = _converted(value, name)
    if np.isinf(found).any():
        refuse(name, "finite numbers", math.inf)
    if (np.abs(found) > LARGEST).any():
        refuse(name, "numbers of at most 1e+100", float(found[np.abs(found) > LARGEST].flat[0]))
    return found


def word(value: object, name: str, words: Collection[str]) -> None:
    """Refuse what is none of the words known."""
    if isinstance(value, str) and value in words:
        return
    shown = [f'"{each}"' for each in words]
    must = " or ".join([", ".join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
    like = near(value, words) if isinstance(value, str) else None
    hint = f'Did you mean "{like}"?' if like else ""
    refuse(name, must, value, InputError if isinstance(value, str) else WrongKind, hint)


def maybe_word(value: object, name: str, words: Collection[str]) -> None:
    """Refuse what is neither None nor one of the words known."""
    if value is not None:
        word(value, name, words)


def text_of(value: object, name: str, what: str = "a text") -> str:
    """A text."""
    if not isinstance(value, str):
        refuse(name, what, value, WrongKind)
    return str(value)


def label(value: object, name: str) -> str:
    """The name of a lot or season: a text, or a whole number such as 2026, which a table may hold in place of one."""
    found = None if isinstance(value, str) else _float(value)
    if not isinstance(value, str) and (found is None or not found.is_integer()):
        refuse(name, "a text, or a whole number", value, WrongKind)
    return seen(str(value), name) if found is None else str(int(found))


def maybe_label(value: object, name: str) -> str | None:
    """The name of a lot or season, or None."""
    return None if value is None else label(value, name)


def in_capitals_or_not(value: str, names: Iterable[str]) -> str:
    """The name as it is there, if it is there in other capitals; else as it is."""
    there = list(dict.fromkeys(names))
    same = [] if value in there else [each for each in there if each.lower() == value.lower()]
    return same[0] if len(same) == 1 else value


def flag(value: object, name: str) -> bool:
    """True or False."""
    if not isinstance(value, bool | np.bool_):
        refuse(name, "True or False", value, WrongKind)
    return bool(value)


def flags(value: object, name: str, n: int) -> npt.NDArray[np.bool_]:
    """True or False for each of n things."""
    if type(value) is np.ndarray and value.dtype == bool and value.shape == (n,):
        return value
    must = f"one of True and False for each of {n}, none of them masked"
    if isinstance(value, np.ma.MaskedArray):
        refuse(name, must, value, WrongKind)
    try:
        found = np.asarray(value)
    except (ValueError, TypeError):
        refuse(name, must, value, WrongKind)
    if not n and found.shape == (0,):
        return np.zeros(0, dtype=bool)
    if found.dtype != bool or found.shape != (n,):
        refuse(name, must, value, WrongKind if found.dtype != bool else InputError)
    return found


def kind(value: object, name: str, wanted: type[Kind] | tuple[type[Kind], ...], what: str) -> None:
    """Refuse what is not of a class."""
    if not isinstance(value, wanted):
        refuse(name, what, value, WrongKind)


def name_of(value: object, name: str = "name") -> str:
    """A text that is not empty."""
    if not isinstance(value, str) or not value.strip():
        refuse(name, "a text that is not empty", value, InputError if isinstance(value, str) else WrongKind)
    return seen(str(value), name)


def seen(value: str, name: str) -> str:
    """A text without invisible characters: a terminal would take some as commands."""
    if UNSEEN.search(value):
        refuse(name, "a text without invisible characters", value)
    return value


def tuple_of(value: object, name: str, wanted: type[Kind], what: str) -> tuple[Kind, ...]:
    """A tuple or list of one class, as a tuple."""
    must = f"a tuple, each of them a {what}"
    if not isinstance(value, tuple | list):
        refuse(name, must, value, WrongKind)
    for each in value:
        kind(each, name, wanted, must)
    return tuple(value)


def day_of(value: object, name: str) -> datetime.date | None:
    """A day, or None."""
    if not isinstance(value, datetime.date | None):
        refuse(name, "a date, or None", value, WrongKind)
    return value.date() if isinstance(value, datetime.datetime) else value


def path_of(value: object, name: str) -> None:
    """Refuse what is no path."""
    if not isinstance(value, str | os.PathLike) or (isinstance(value, str) and "\0" in value):
        refuse(name, "the path of a file or folder", value, WrongKind)


def known_name(value: str, what: str, names: Iterable[str], where: str) -> str:
    """A name of those there are, in other capitals too; raises an UnknownName that lists them."""
    there = list(dict.fromkeys(names))
    found = in_capitals_or_not(value, there)
    if found in there:
        return found
    like = near(value, there)
    hint = f" Did you mean {like}?" if like else ""
    raise UnknownName(f"{where} no {what} {quoted(value)}.{hint} Known: {listed(there) or 'none'}.")


def listed(names: Sequence[str]) -> str:
    """Names with commas between, the first twenty of many."""
    return ", ".join(names[:20]) + (f" and {len(names) - 20} more" if len(names) > 20 else "")


def refuse(name: str, must: str, value: object, error: type[InputError] = InputError, more: str = "") -> NoReturn:
    """Raise the sentence on an argument that cannot be taken."""
    raise error(f"{name} must be {must}; got {came(value)}.{' ' if more else ''}{more}")


def came(value: object) -> str:
    """What came in place of an argument, in a few words."""
    if isinstance(value, str):
        return quoted(value)
    if value is None or isinstance(value, bool | np.bool_ | Real | Decimal | complex):
        try:
            shown = str(value)
        except ValueError:  # Python shows no whole number of more than some thousand digits
            return "a huge number"
        return shown if len(shown) <= 40 else f"{shown[:20]}... ({len(shown)} characters)"
    if isinstance(value, os.PathLike):
        return f"the path {quoted(str(value))}"
    if isinstance(value, np.ndarray):
        return f"an array of {value.dtype} of shape {value.shape}"
    name = type(value).__name__
    size = f" of length {len(value)}" if isinstance(value, list | tuple | Mapping) else ""
    return f"{'an' if name[:1].lower() in 'aeiou' else 'a'} {name}{size}"


def _number_words(allowed: Range) -> str:
    return "a finite number" if allowed == ANY else f"a finite number, {allowed}"


def _float(value: Any) -> float | None:
    """A number as a float, NaN where it is missing; None for what is no number, true and false and text among it."""
    if isinstance(value, np.ndarray) and value.ndim == 0:
        value = value[()]
    if value is np.ma.masked or type(value).__name__ == "NAType":
        return math.nan
    if isinstance(value, bool | np.bool_) or not isinstance(value, Real | Decimal):
        return None
    try:
        return float(value)
    except OverflowError:
        return -math.inf if isinstance(value, int) and value < 0 else math.inf
    except ValueError:  # a Decimal that signals
        return math.nan


def _converted(value: Any, name: str) -> npt.NDArray[np.float64]:
    """Numbers that are not floats yet."""
    must = "numbers: one, or an array of them"
    if isinstance(value, np.ma.MaskedArray):
        plain = _converted(value.data, name)
        return np.where(np.ma.getmaskarray(value), np.nan, plain)
    try:
        array = np.asarray(value, dtype=object if isinstance(value, list | tuple) else None)
    except (ValueError, TypeError):
        refuse(name, must, value, WrongKind)
    if array.dtype.kind in "fiu":
        return np.asarray(array, dtype=float)
    if array.dtype.kind != "O" or isinstance(value, Mapping):
        refuse(name, must, value, WrongKind)
    found = np.empty(array.shape)
    for place, each in np.ndenumerate(array):
        one = _float(each)
        if one is None:
            refuse(name, must, each if array.ndim else value, WrongKind)
        found[place] = one
    return found
