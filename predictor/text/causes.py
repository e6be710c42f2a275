"""What an odd weight may have been meant as, as questions."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from predictor.domain.result import Remark
from predictor.format import listed, plain, weight
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
    "cause-container": lambda remark: f"Was a container of {weight(remark['tare_g'])} g weighed along?",
    "cause-container_twice": lambda remark: f"Was the container of {weight(remark['tare_g'])} g taken off twice?",
    "cause-unit": lambda remark: f"Was the weight {plain(remark['number'])} {remark['unit']}?",
    "cause-uncharged": "Were the meters not charged?",
    "cause-plugged": "Did one of the {rows:g} rows give nothing?",
    "cause-setting": "Was the setting {meant}?",
    "cause-chain": "Was the chain moved on one end only? {driver} driving {driven} would give this.",
    "cause-other_box": "It fits box {box} with lot {lot}: was that the box?",
    "cause-other_lot": "It fits lot {lot}: was that the lot?",
    "cause-swapped": "Are setting and weight in each other's place?",
}


def causes_words(causes: Iterable[Cause]) -> str:
    """The likeliest causes as questions; "" for none."""
    return " ".join(map(str, list(causes)[:MOST_NAMED]))


def place(catch: Mapping[str, Any]) -> str:
    """Where a catch is found: its line of the file, or its number where it came from none."""
    return f"Line {catch['line']}" if catch["line"] else f"Catch {catch['number']}"


def weight_at(catch: Mapping[str, Any]) -> str:
    return f"{catch['grams']:.4g} g at {catch['setting']}"


def odd_size(ratio: float) -> str:
    """How far a weight lies from what the other catches say."""
    if ratio >= 1.8:
        return f"weighs {f'about {ratio:.2g} times' if ratio <= 1000 else 'many times'} what the other catches say"
    return f"weighs {100 * abs(ratio - 1):.0f} % {'more' if ratio > 1 else 'less'} than the other catches say"


def odd(remark: Remark) -> str:
    """A catch that contradicts the rest: what was seen, its likely cause, and what to do."""
    ratio, causes = remark["ratio"], causes_words(remark["causes"])
    seen = f"{place(remark.values)}, {weight_at(remark.values)}, {odd_size(ratio)}."
    again = "Repeat it before anything else."
    if remark["again"]:
        why = f"{causes} If so, correct the row. If not" if causes else "If you know what went wrong"
        return f"{seen} It was repeated since. {why}, write no in its column use."
    if remark["confirmed"]:
        return f"{seen} You stand by it, so the seed may have {'bridged' if ratio < 1 else 'surged'}. {again}"
    if causes:
        instead = ", or write no in its column use and catch again" if _chain(remark) else ""
        return f"{seen} {causes} If so, correct the row{instead}. If not, repeat it before anything else."
    less = "Did it bridge, was it not charged, is a row plugged, was the scale misread?"
    more = "Was the scale or the setting misread?"
    return f"{seen} {less if ratio < 1 else more} {again}"


def run(remark: Remark) -> str:
    """Catches that are off together: which, by how much, the likely cause, and what to do."""
    lines, factor = remark["lines"], remark["factor"]
    each = f"line {lines[0]}" if lines[0] else f"catch {remark['number']}"
    where = {
        "from": f"From {each} on, each catch gives",
        "to": f"Up to line {remark['last']}, each catch gives" if remark["last"] else "Each of the first catches gives",
        "date": f"Each catch of {remark['name']} gives",
        "operator": f"Each catch of {remark['name']} gives",
        "some": f"Each of lines {listed(map(str, lines))} gives" if lines[0] else f"Each of {len(lines)} catches gives",
    }[remark["how"]]
    causes = causes_words(remark["causes"])
    if not causes:
        causes = "Another lot, another season, or did something change at the drill?"
    instead = ", or write no in their column use and catch again" if _chain(remark) else ""
    return f"{where} {_times(factor)} what the others say. {causes} Correct the rows{instead}."


def _chain(remark: Remark) -> bool:
    """Whether a catch may have been made with a chain on no position, which no number corrects."""
    return any(each.code == "chain" for each in list(remark["causes"])[:MOST_NAMED])


def _times(factor: float) -> str:
    """A factor in words."""
    if factor >= 1.8:
        return f"about {factor:.3g} times"
    if factor <= 0.6:
        return f"about 1/{1 / factor:.2g} of"
    return f"{100 * abs(factor - 1):.0f} % {'more than' if factor > 1 else 'less than'}"


def level(remark: Remark) -> str:
    """All catches of a lot off by a factor: against what, the likely cause, and what to do."""
    than = (
        "earlier lots of this box gave" if remark["history"] else "the middle of the scale should give for this target"
    )
    causes = list(remark["causes"])[:MOST_NAMED]
    units = {each.values["unit"] for each in causes if each.code == "unit" and each.values["column"] == "g"}
    column = "".join(f" If all weights are in {each}, name the column catch_{each}." for each in sorted(units))
    asked = causes_words(causes) or "Did something change at the drill, or is the target wrong?"
    return (
        f"Box {remark['box']}, {remark['lot']}: all catches say {_times(remark['factor'])} what {than}. {asked}{column}"
    )
