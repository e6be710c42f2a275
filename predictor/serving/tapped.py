"""Questions answered from what was tapped: the first one without an answer is sent to the page.

An entry comes with all answers so far, and the same code asks from the start. So nothing about an entry is kept between
two requests, and a server that was killed asks the same question again.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NoReturn

from predictor.asking.asked import NO_CHOICES, Asked, T, Typing
from predictor.domain.result import Remark
from predictor.errors import InputError
from predictor.text import taps

# Questions about a weight, at which a person may see what went wrong.
OF_WEIGHTS = frozenset({"log.far", "log.slip", "log.nothing"})

# What was on the scale, where it was not what the weight was taken for.
WITH_CONTAINER = {"label": taps.CONTAINER, "set": {"container": "c", "tare": ""}}
SEED_ALONE = {"label": taps.ALONE, "set": {"container": "s", "tare": ""}}


class Question(Exception):
    """A question without an answer, as the page is to show it."""

    def __init__(self, question: dict[str, Any]):
        super().__init__(question["text"])
        self.question = question


@dataclass(frozen=True)
class Tapped(Asked):
    """Values of an entry, and the answers that were tapped so far.

    Attributes
    ----------
    answers : mapping of str to str
        By the key of their question.
    takes_usual : bool
        Whether the usual answer is taken unasked, since the page has shown it.
    along : bool
        Whether the catches before were weighed with their container.
    notes : list of str
        What was said since the last question that was answered.
    """

    answers: Mapping[str, str] = field(default_factory=dict)
    takes_usual: bool = False
    along: bool = False
    notes: list[str] = field(default_factory=list, compare=False)
    asked: Counter[str] = field(default_factory=Counter, compare=False)  # How often each question was asked
    used: set[str] = field(default_factory=set, compare=False)  # Values of the entry that were taken

    def say(self, text: str) -> None:
        """Tell the technician something, with the next question or once the row is saved."""
        self.notes.append(text)

    def agreed(self, question: Remark, *, enter: bool = False) -> bool:
        """Whether the answer is yes."""
        choices = self._fixes() if question.code in OF_WEIGHTS else _answers({"y": taps.YES, "n": taps.NO})
        return self._answer(str(question), choices, ("y", "n")) == "y"

    def one_of(self, question: Remark, choices: Mapping[str, str], option: str) -> str:
        """One of the keys of `choices`."""
        return self._answer(str(question), _answers(choices), tuple(choices))

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
        """A value of the entry the first time it is needed, else an answer that can be read."""
        text = self.given.get(name) if name not in self.used else None
        if text is None and self.takes_usual and usual and name not in self.used:
            text = usual
        text = text or None  # nothing was shown, so what is usual by now was not
        self.used.add(name)
        key, wrong = self._key(label), ""
        for each in (text, self.answers.get(key)):
            heard = len(self.notes)
            try:
                if each is not None:
                    found = read(each or usual)
                    self._heard(heard if each is not text else 0)
                    return found
            except ValueError as error:
                wrong = str(error)
        asks = {"name": name, "input": "" if typing == "choices" else typing, "usual": usual, "problem": wrong}
        fixes = [SEED_ALONE] if name == "catch" and wrong and self._with_container() else []
        raise self._question(key, label, [*_answers(choices), *fixes], **asks)

    def _with_container(self) -> bool:
        """Whether the weight of this catch is taken as that of seed and container."""
        if self.given.get("tare"):
            return self.given["tare"] != "0"
        how = self.given.get("container") or self.answers.get(str(Remark("log.container")))
        return how == "c" if how else self.along

    def _fixes(self) -> list[dict[str, Any]]:
        """What to do about a weight that looks odd; what was done already is not offered again."""
        found: list[dict[str, Any]] = [{"label": taps.KEEP, "answer": "y"}, {"label": taps.MISREAD, "answer": "n"}]
        found.append(SEED_ALONE if self._with_container() else WITH_CONTAINER)
        if self.given.get("charged") != "no":
            found.append({"label": taps.NOT_CHARGED, "set": {"charged": "no"}})
        if self.given.get("size") != "other":
            found.append({"label": taps.OTHER_SIZE, "set": {"size": "other"}})
        return [*found, {"label": taps.BRIDGED, "answer": "y", "set": {"use": "no", "note": taps.BRIDGED_NOTE}}]

    def refuse(self, option: str, why: str) -> NoReturn:
        """Give the entry up for one of its values."""
        raise InputError(f"Nothing was saved. {why[:1].upper()}{why[1:]}")

    def _heard(self, notes: int) -> None:
        """Drop so many notes, which came with a question that was answered since."""
        del self.notes[:notes]

    def _key(self, text: str) -> str:
        """The key of a question: one that is asked again needs another answer."""
        self.asked[text] += 1
        return text if self.asked[text] == 1 else f"{text} ({self.asked[text]})"

    def _answer(self, text: str, choices: list[dict[str, Any]], allowed: tuple[str, ...]) -> str:
        key = self._key(text)
        if self.answers.get(key) in allowed:
            self._heard(len(self.notes))
            return self.answers[key]
        raise self._question(key, text, choices)

    def _question(self, key: str, text: str, choices: list[dict[str, Any]], **more: str) -> Question:
        nothing = {"name": "", "input": "", "usual": "", "problem": ""}
        said = [taps.on_page(each) for each in self.notes]
        return Question({"key": key, "text": taps.on_page(text), "said": said, "choices": choices, **nothing, **more})


def _answers(choices: Mapping[str, str]) -> list[dict[str, Any]]:
    """Keys that answer a question; a name keeps its letters."""
    return [
        {"label": words if words == answer else f"{words[:1].upper()}{words[1:]}", "answer": answer}
        for answer, words in choices.items()
    ]
