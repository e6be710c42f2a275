"""What an odd weight may have been meant as, as questions."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from predictor.domain.result import Remark
from predictor.format import grams, plain
from predictor.slips.causes import Cause
from predictor.text.drill import length_words

# So many causes are named at once.
MOST_NAMED = 2


def _turns(remark: Remark) -> str:
    meant = length_words(remark["meant"], remark["counted"])
    return f"Were {meant} made and {plain(remark['turns'])} written?"


def _number(remark: Remark) -> str:
    return f"Was {plain(remark['meant'])} {remark['unit']} meant?"


def _few(remark: Remark) -> str:
    few = "Was 1 row" if remark["few"] == 1 else f"Were {plain(remark['few'])} rows"
    return f"{few} caught and {plain(remark['rows'])} written?"


CAUSES: dict[str, str | Callable[[Remark], str]] = {
    "cause-all_rows": "Were all {box_rows} rows caught and {rows:g} written?",
    "cause-few_rows": _few,
    "cause-turns": _turns,
    "cause-decimal": _number,
    "cause-digits": _number,
    "cause-container": lambda remark: f"Was a container of {grams(remark['tare_g'])} g weighed along?",
    "cause-container_twice": lambda remark: f"Was the container of {grams(remark['tare_g'])} g taken off twice?",
    "cause-unit": lambda remark: f"Was the weight {plain(remark['number'])} {remark['unit']}?",
    "cause-uncharged": "Were the meters not charged?",
    "cause-plugged": "Did one of the {rows:g} rows give nothing?",
    "cause-setting": "Was the setting {meant}?",
    "cause-swapped": "Are setting and weight in each other's place?",
}


def causes_words(causes: Iterable[Cause]) -> str:
    """The likeliest causes as questions; "" for none."""
    return " ".join(map(str, list(causes)[:MOST_NAMED]))
