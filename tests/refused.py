"""What is refused: places are asserted, words are held by golden files."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest

from predictor.errors import InputError, Problem
from tests import golden


def problems_of(call: Callable[[], object]) -> tuple[Problem, ...]:
    """The problems with which a call is refused."""
    with pytest.raises(InputError) as caught:
        call()
    return caught.value.problems


def places_of(call: Callable[[], object]) -> str:
    """The places of these problems, as "line 2, column box; line 3, column lot"."""
    shown = (str(replace(each, message="", file=None)) for each in problems_of(call))
    return "; ".join(each.removesuffix(": ") for each in shown)


def refusals(name: str, calls: Mapping[str, Callable[[], object]]) -> None:
    """Hold the words of several refusals in the golden file of this name."""
    said = [
        "\n".join([f"== {case}", *(str(replace(each, file=None)) for each in problems_of(call))])
        for case, call in calls.items()
    ]
    golden.check(name, "\n\n".join(said))
