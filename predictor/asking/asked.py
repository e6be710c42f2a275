"""Where answers come from: what every way to ask has in common."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NoReturn, TypeVar

if TYPE_CHECKING:
    from predictor.domain.drill import SeedBox
    from predictor.domain.result import Remark

T = TypeVar("T")
# What is typed as an answer: a weight of rows or parts, one number, or letters; nothing where the choices are all.
Typing = Literal["weight", "number", "text", "choices"]
NO_CHOICES: Mapping[str, str] = {}


def as_said(answers: Iterable[str]) -> dict[str, str]:
    """Answers that are their own words, each once."""
    return {each: each for each in answers if each}


def settings_to_choose(box: SeedBox, likely: Iterable[str]) -> tuple[dict[str, str], Typing]:
    """The likely settings of a box, and all others where it has few; how others are answered."""
    from predictor.domain.control import Sprockets

    if not isinstance(box.control, Sprockets):
        return as_said(likely), "text"
    return as_said([*likely, *(each.text for each in box.control.settings)]), "choices"


@dataclass(frozen=True)
class Asked(ABC):
    """Values that were given beforehand, and answers for the rest."""

    given: Mapping[str, str | None]
    yes: bool  # Whether whatever looks odd is kept
    weighed: bool  # Whether what was weighed was given; usual values are then taken unasked

    @abstractmethod
    def say(self, text: str) -> None:
        """Tell the technician something."""

    @abstractmethod
    def agreed(self, question: Remark, *, enter: bool = False) -> bool:
        """Whether the answer is yes. An answer without a word is a yes only where `enter` says so."""

    @abstractmethod
    def one_of(self, question: Remark, choices: Mapping[str, str], option: str) -> str:
        """One of the keys of `choices`, which go with words; `option` is what to pass in place of the answer."""

    @abstractmethod
    def value(
        self,
        name: str,
        label: str,
        usual: str,
        read: Callable[[str], T],
        option: str = "",
        *,
        choices: Mapping[str, str] = NO_CHOICES,
        typing: Typing = "text",
    ) -> T:
        """A value that was given, or an answer that can be read; an answer without a word is the usual one.

        `option` is what to pass in place of the answer, where it is not called by the name. `choices` are the answers
        to expect, with their words, and `typing` says what others are made of.
        """

    @abstractmethod
    def refuse(self, option: str, why: str) -> NoReturn:
        """Give the entry up for a value that was given."""
