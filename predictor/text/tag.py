"""What a tag says beside its live seed, and what the rates are meant for, in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from predictor.domain.planted import PlantedLot
from predictor.domain.seed import LotPlan, Method, Plan
from predictor.files.analysis import PARTS, says_nothing
from predictor.format import listed

# A lot of the plan, or of what was planted with its tag of that day.
Tagged = LotPlan | PlantedLot
Lot = TypeVar("Lot", LotPlan, PlantedLot)

_METHODS: dict[Method, str] = {
    "": "",
    "drilled": "for drilled seed, as plan.csv says",
    "broadcast": "for broadcasting, as plan.csv says: nothing was doubled or halved",
}


def bag_words(name: str) -> str:
    """A premixed bag by its name, which may say itself that it is one.

    >>> bag_words("FM-26"), bag_words("Bag 1")
    ('bag FM-26', 'Bag 1')
    """
    return name if name.lower().startswith("bag") else f"bag {name}"


def method_words(method: Method) -> str:
    """What rates are meant for; "" where nothing is said."""
    return _METHODS[method]


def methods_note(plan: Plan) -> str:
    """What the rates of each box are meant for; "" where nothing is said."""
    boxes: dict[Method, list[str]] = {}
    for each in plan.boxes:
        boxes.setdefault(each.method, []).append(each.box.name)
    said = (
        f"Rates of {listed(dict.fromkeys(boxes[method]))} are {words}."
        for method, words in _METHODS.items()
        if words and method in boxes
    )
    return " ".join(said)


def treatment(lot: Tagged) -> str:
    """What was done to the seed of a lot: a part of coating on its tag says so too."""
    text = "" if says_nothing(lot.treatment) else lot.treatment
    if not lot.coating > 0 or any(word in text.lower() for word in ("coat", "pellet")):
        return text
    return f"{text}, coated" if text else "coated"


def names(lot: Tagged) -> list[str]:
    """Variety and origin, where the tag has them."""
    pairs = (("variety", lot.variety), ("origin", lot.origin))
    return [f"{name} {value}" for name, value in pairs if value]


def parts(lot: Tagged) -> list[str]:
    """The other parts of the weight and the noxious seed, where the tag has them."""
    said = [f"{name} {text} %" for name, text in zip(PARTS.values(), percents(lot), strict=True) if text]
    return [*said, *([f"noxious seed: {lot.noxious}"] if lot.noxious else [])]


def percents(lot: Tagged) -> list[str]:
    """Other crop, weed, inert and coating in per cent; "" where the tag has none of it."""
    values = (lot.other_crop, lot.weed, lot.inert, lot.coating)
    return [f"{100 * value:.4g}" if value == value else "" for value in values]


def table(lots: Sequence[Lot]) -> list[Lot]:
    """The lots of whose tag there is more to show than live seed."""
    return [lot for lot in lots if names(lot) or parts(lot)]
