"""A person at the page, without a browser: sends entries as the page does, and taps an answer to each question."""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any

from predictor.job.place import Place
from predictor.serving.book import Book
from predictor.serving.saves import save
from predictor.serving.state import state
from tests.running import that_day

JOB = "5e7a"
MOST_QUESTIONS = 40


class Person:
    """Taps on the page of a job.

    Parameters
    ----------
    folder : Path
    answers : callable
        Gives the choice of a question, its text, or nothing where the person gives up.
    """

    def __init__(self, folder: Path, answers: Callable[[dict], Any] | None = None, **options: Any):
        self.book = Book(Place(folder), job_id=JOB, **options)
        self.answers = answers or self.first
        self.asked: list[dict] = []
        self.sent: list[dict] = []

    @staticmethod
    def first(question: dict) -> Any:
        """The first choice, which is the one expected, or the usual answer."""
        return question["choices"][0] if question["choices"] else question["usual"]

    def state(self) -> dict:
        with that_day():
            return json.loads(json.dumps(state(self.book), allow_nan=False))

    def box(self, name: str) -> dict:
        return next(each for each in self.state()["boxes"] if each["box"] == name)

    def catch(self, box: str, weight: str, shown: dict | None = None, **values: str) -> dict:
        """Enter a weight for a box, as it is asked for."""
        shown = shown or self.box(box)["catch"]
        return self.enter("catch", {"box": box, "lot": shown["lot"], "catch": weight, **values}, shown)

    def enter(self, kind: str, values: dict, shown: dict | None = None, **more: Any) -> dict:
        """Enter something, answer what is asked, and return the last answer of the program."""
        names = ("lot", "setting", "turns", "rows", "counted", "made", "weighed")
        shown = {} if shown is None else {name: shown[name] for name in names}
        with that_day():
            entry = {"job": JOB, "id": secrets.token_hex(16), "kind": kind, "day": "2026-11-25", "shown": shown}
            entry |= {"values": dict(values), "answers": {}, **more}
            return self.send(entry)

    def post(self, entry: dict) -> dict:
        """Send an entry once, as it is."""
        with that_day():
            return json.loads(json.dumps(save(self.book, json.loads(json.dumps(entry))), allow_nan=False))

    def send(self, entry: dict) -> dict:
        """Send an entry until nothing more is asked."""
        self.sent.append(entry)
        for _ in range(MOST_QUESTIONS):
            found = self.post(entry)
            if found["result"] != "ask":
                return found
            question = found["question"]
            self.asked.append(question)
            tapped = self.answers(question)
            if tapped is None:
                return found
            tapped = tapped if isinstance(tapped, dict) else {"answer": tapped}
            entry["values"].update(tapped.get("set", {}))
            if "answer" in tapped:
                entry["answers"][question["key"]] = tapped["answer"]
        raise AssertionError(f"no end of questions: {[each['text'] for each in self.asked[-4:]]}")
