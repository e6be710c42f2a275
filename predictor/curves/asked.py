"""What is asked of a curve: its arguments checked, and settings that are not known passed by."""

from collections.abc import Callable
from typing import Literal

import numpy as np

from predictor.domain.arguments import SMALLEST, number, numbers, refuse, share, word
from predictor.domain.control import Floats
from predictor.errors import InputError
from predictor.numbers import Range

Of = Literal["mean", "next"]
OF: tuple[Of, ...] = ("mean", "next")


def like(values: Floats) -> float | Floats:
    """A float for an array without dimensions."""
    return float(values) if np.ndim(values) == 0 else values


def at_known(answer: Callable[..., Floats], *asked: Floats) -> float | Floats:
    """What a function of flat arrays answers for several of one shape, NaN where one of them is NaN."""
    flat = [each.ravel() for each in asked]
    known = np.asarray(~np.isnan(flat).any(axis=0))
    if known.all():
        return like(answer(*flat).reshape(asked[0].shape))
    found = np.full(len(known), np.nan)
    if known.any():
        found[known] = answer(*(each[known] for each in flat))
    return like(found.reshape(asked[0].shape))


def together(**arrays: object) -> tuple[Floats, ...]:
    """Numbers by the names of their arguments, all in the shape they have together."""
    found = {name: numbers(value, name) for name, value in arrays.items()}
    try:
        return tuple(np.broadcast_arrays(*found.values()))
    except ValueError:
        shapes = ", ".join(f"{name} has {each.shape}" for name, each in found.items())
        raise InputError(f"{' and '.join(found)} must be of shapes that go together; {shapes}.") from None


def level_of(level: object) -> float:
    """The probability of limits."""
    return share(level, "level", "0.95")


def of_what(of: object) -> None:
    """Refuse what is neither the mean nor the next catch."""
    word(of, "of", OF)


def lengths(weight: object) -> Floats:
    """How many ordinary catches long the next ones are."""
    found = numbers(weight, "weight")
    if (found < SMALLEST).any():
        refuse("weight", "above 0", float(found[found < SMALLEST].flat[0]))
    return found


def shares(share: object) -> Floats:
    """Probabilities between 0 and 1."""
    found = numbers(share, "share")
    if ((found <= 0) | (found >= 1)).any():
        refuse("share", "between 0 and 1", float(found[(found <= 0) | (found >= 1)].flat[0]))
    return found


def one(x: object) -> Floats:
    """One setting, NaN where it is not known."""
    found = numbers(x, "x")
    if found.ndim:
        refuse("x", "one setting", x)
    return found


def outputs(low: object, high: object) -> tuple[float, float]:
    """Two outputs, the lower first; either may be infinite."""
    ends = number(low, "low", infinite=True), number(high, "high", infinite=True)
    if ends[0] > ends[1]:
        refuse("low", f"at most high, which is {ends[1]:g}", ends[0])
    return ends


def ascending(x: object) -> Floats:
    """Settings in one row, from the one that gives least."""
    found = numbers(x, "x")
    if found.ndim != 1 or not len(found) or not (np.diff(found) >= 0).all() or np.isnan(found).any():
        refuse("x", "settings in one row, ascending and none missing", x)
    return found


def doubt_of(doubt: object) -> float:
    """The probability left outside at either side."""
    return number(doubt, "doubt", Range(0, 0.5, above=True))
