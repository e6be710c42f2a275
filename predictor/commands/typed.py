"""Questions on the terminal, for what was not given by options."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NoReturn, TypeVar

from predictor.asking.asked import NO_CHOICES, Asked, Typing
from predictor.commands.letters import as_typed
from predictor.commands.output import say, wrapped
from predictor.errors import InputError

if TYPE_CHECKING:
    from predictor.domain.result import Remark

T = TypeVar("T")
# A terminal gives no longer line.
LONGEST_ANSWER = 4096


class Stop(Exception):
    """The answer was "stop": what is not saved yet is given up."""


class Oops(Exception):
    """The answer was "oops": the answers before it are taken back."""


@dataclass(frozen=True)
class Typed(Asked):
    """Values given by options, and answers from standard input for the rest."""

    talks: bool = False  # Whether "stop" and "oops" are understood, and the end of input before any answer is a stop
    answers: list[str] = field(default_factory=list, compare=False)  # So far

    def say(self, text: str) -> None:
        """Tell the technician something, on standard error."""
        say(text)

    def line(self, prompt: str, option: str) -> str:
        """An answer."""
        from predictor.unseen import UNSEEN

        while True:
            print(wrapped(prompt, ""), end=" ", file=sys.stderr, flush=True)
            line = sys.stdin.readline(LONGEST_ANSWER + 1) if sys.stdin is not None else ""
            if len(line) > LONGEST_ANSWER:  # not typed by a person; the rest of it is no answer to the next question
                raise InputError(f"Nothing was saved: the answer is longer than {LONGEST_ANSWER:,} characters.")
            if not line:
                print(file=sys.stderr)
                if self.talks and not self.answers:
                    raise Stop
                raise InputError(
                    f"Nothing was saved: input ended before the question was answered. Pass --{option} instead."
                )
            typed = as_typed(line, getattr(sys.stdin, "encoding", None))
            if typed is None:
                say("The answer contains letters that cannot be read here. Type it again without them.")
                continue
            answer = typed.strip()
            if self.talks and answer.lower() in ("stop", "oops"):
                raise Stop if answer.lower() == "stop" else Oops
            if not UNSEEN.search(answer):
                self.answers.append(answer)
                return answer
            say("The answer contains an invisible character, such as an arrow key makes. Type it again.")

    def agreed(self, question: Remark, *, enter: bool = False) -> bool:
        """Whether the answer is yes; with --yes it is. Enter alone is a yes only where `enter` says so."""
        if self.yes:
            say(f"{question} Yes (--yes).")
            return True
        while True:
            answer = self.line(f"{question} {'(Enter = yes, n)' if enter else '(y/n)'}", "yes").lower()
            if answer in ("y", "yes", "n", "no", ""):
                return answer in ("y", "yes") or (enter and not answer)
            say("Answer y or n.")

    def one_of(self, question: Remark, choices: Mapping[str, str], option: str) -> str:
        """The first letter of the answer, one of those that `choices` begin with; asked again until it is."""
        words = [word if word in ("yes", "no") else f"{key}: {word}" for key, word in choices.items()]
        shown = "/".join(choices) if words == list(choices.values()) else ", ".join(words)
        while True:
            answer = self.line(f"{question} ({shown})", option).lower()[:1]
            if answer and answer in choices:
                return answer
            say(f"Answer {' or '.join(choices)}.")

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
        """A value by option, or by question until it can be read; the usual one if `weighed` or the answer is empty."""
        text = self.given.get(name)
        if text is None and self.weighed and usual:
            text = usual
        if text is not None:
            try:
                return read(text)
            except ValueError as error:
                self.refuse(option or name, str(error))
        while True:
            answer = self.line(f"{label} [{usual}]:" if usual else f"{label}:", option or name) or usual
            try:
                return read(answer)
            except ValueError as error:
                # a reader's sentence would quote the empty answer
                say(
                    str(error) if answer else "Type an answer. Enter takes only a value that the question shows in [ ]."
                )

    def refuse(self, option: str, why: str) -> NoReturn:
        """Give the entry up for the value of an option."""
        raise InputError(f"--{option}: {why}")
