"""An honest technician who answers what `predictor record` asks about one catch, and gives a slip away where asked."""

from __future__ import annotations

import io
import re
import sys

from tests.slips.jobs import Row
from tests.slips.table import Slip

# What a question is about: the one that begins last on the screen. One of the last kind is about the row itself.
PROMPTS = {"box": r"^Box \(", "lot": r"^Lot\b", "setting": r"^Setting\b", "weight": r"^Weight\b", "fill": r"^How full"}
FACTS = {
    "tare": r"seed alone, or with",
    "charged": r"Were the meters charged",
    "size": r"Was it made in",
    "row": r"\((y/n|[a-z]/[a-z])\)|\?",
}
MOST_ANSWERS = 30


class Technician(io.TextIOBase):
    """Types one row; input ends where he sees that something is wrong."""

    def __init__(self, row: Row, slip: Slip | None):
        self.row, self.slip = row, slip
        self.seen, self.gave_away, self.lost, self.answers = 0, "", "", 0
        self.alarms: list[str] = []
        self.asked: list[str] = []

    def isatty(self) -> bool:
        return True

    def readline(self, size: int | None = -1, /) -> str:  # type: ignore[override]
        """The answer to what was asked last; nothing where the catch is given up."""
        sys.stderr.flush()
        text = sys.stderr.buffer.getvalue().decode()
        shown, self.seen = text[self.seen :], len(text)
        question = shown.strip()
        answer = self.answer(question)
        self.answers += 1
        if answer is None or self.answers > MOST_ANSWERS:
            self.lost = self.lost or ("" if self.gave_away else question)
            return ""
        return f"{answer}\n"

    def answer(self, question: str) -> object | None:
        """What he says; None where he stops."""
        about = self.about(question)
        tells = self.slip.tells if self.slip else ()
        again = about in PROMPTS and about in self.asked
        self.asked.append(about)
        told = {"tare", "charged"} & set(tells) | ({"size"} if {"turns", "rows"} & set(tells) else set())
        if "tare" in tells and about == "weight" and "container" in question:
            about = "tare"  # the question says which weight is meant
        if self.slip is not None and (again or about in told or about == "row"):
            self.gave_away = "refused" if again else f"{about}: {' '.join(question.split())[-60:]}"
            return None
        if about in ("box", "lot", "setting"):
            return self.row[about]
        if about == "weight":
            return float(str(self.row["catch_g"])) + float(str(self.row.get("tare_g") or 0))
        if about == "fill":
            return ""
        if about == "tare":
            return "s"
        if about in ("charged", "size"):
            return "y"
        if about == "row":
            if "(Enter = yes" not in question:  # Enter alone is no burden
                self.alarms.append(" ".join(question.split())[-60:])
            return "y"
        self.lost = question
        return None

    def about(self, question: str) -> str:
        """What a question is about; "" where he does not know."""
        prompts = {
            name: max((found.start() for found in re.finditer(words, question, re.MULTILINE)), default=-1)
            for name, words in PROMPTS.items()
        }
        last = max(prompts, key=lambda name: prompts[name])
        if prompts[last] >= 0 and question.endswith(":"):
            return last
        words = " ".join(question.split())
        return next((name for name, pattern in FACTS.items() if re.search(pattern, words)), "")
