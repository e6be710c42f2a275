"""The log of catches in sentences: questions about a slip, and what was saved or marked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from predictor.domain.catch import CatchSize
from predictor.domain.result import Remark
from predictor.files.entry import Catch
from predictor.format import count, weights
from predictor.slips.causes import Cause
from predictor.text.causes import causes_words, odd_size
from predictor.text.drill import length_words, size_words

# Findings about the day of a catch: what they call its day, and that of later ones.
OF_THE_DAY = {"season_before": ("day", "latest"), "days_apart": ("before", "after")}


def _far(remark: Remark) -> str:
    grams, size = remark["grams"], size_words(remark["size"])
    expected = f"{weights(remark['low'], remark['high'])} expected at {remark['setting']} in {size}"
    return f"{grams:.5g} g is far from the {expected}.{_hint(remark['causes'])} Keep {grams:.5g} g?"


def _slip(remark: Remark) -> str:
    """A finding about a weight that is being typed, and whether to keep it."""
    slip, grams = remark["slip"], f"{remark['grams']:.5g} g"
    if slip.code == "offset":
        constant = float(f"{slip.values['constant']:.2g}")
        return (
            f"{grams} fits the other catches if about {constant:g} g of it is not seed. Was the "
            f"container weighed along? If so, answer no, and type the weight of the seed alone. Keep {grams}?"
        )
    if slip.code == "odd":
        hint = _hint(slip.values["causes"])
        return f"{grams} at {slip.values['setting']} {odd_size(slip.values['ratio'])}.{hint} Keep {grams}?"
    if slip.code in OF_THE_DAY:
        day, later = (slip.values[name] for name in OF_THE_DAY[slip.code])
        return (
            f"This catch is of {day}, and the log has later ones of this lot, of {later}. If {day} is wrong, answer "
            f"no, and record the catch again with its day. Keep {grams}?"
        )
    return f"{slip} Keep {grams}?"


def _hint(causes: Iterable[Cause]) -> str:
    """What a weight may have been meant as, and what to do if so; "" where nothing fits."""
    words = causes_words(causes)
    return f" {words} If so, answer no, and type it again." if words else ""


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "cut_short": "Line {line} of {file} is incomplete: {text}. Saving it was cut off, or the drive lost a part of it. "
    "Keep it as a comment, and go on?",
    "open_elsewhere": "A spreadsheet seems to have {file} open. Close it there first. If it saves the file later, what "
    "is saved now is lost. If it is closed already, delete the file {lock}.",
    "new_lot": "{lot} is new in box {box}. Is it a new lot?",
    "part_of_blend": "{part} is part of {blend}. The catch is recorded under that name.",
    "near_lot": "{lot} is new in box {box}. Did you mean {near}?",
    "container": "Do you weigh the seed alone, or with the container? If the scale is at zero with the empty "
    "container on it, that is the seed alone.",
    "charged": lambda remark: f"Were the meters charged first, by {remark['charge'].removesuffix(' to charge')}?",
    "size_as_asked": lambda remark: f"Was it made in {size_words(remark['size'])}, as asked for?",
    "right_as_they_stand": "Is that right as it stands?",
    "leave_out": "Leave these rows out, with a note?",
    "slip": _slip,
    "rows_differ": "There are {caught} weights for {rows} rows. Was each of them one row, so that {caught} rows were "
    "caught?",
    "far": _far,
    "nothing": "Did nothing come out? The catch is kept, but left out of every curve. Keep 0 g?",
    "between_steps": "The lever of box {box} has steps of {step:g}. Keep {setting}?",
    "same_again": "The last catch was also {grams:.5g} g at {setting}. Is this another one?",
    "early_day": "{day} is long before the last entries in the files of this job, such as that of {last}. Is {day} "
    "right? If the clock of this computer is wrong, answer no, and pass the day with --on.",
    "future_day": "{day} has not come yet. Is it the day of the catch?",
}


def one_catch(grams: float, setting: str, size: CatchSize) -> str:
    """A catch in a few words: "22.9 g at 14.5 in 28 turns, 3 rows"."""
    return f"{grams:.5g} g at {setting} in {size_words(size)}"


def saved(line: int, catch: Catch) -> str:
    """That a catch was saved."""
    parts, grams = catch.weight.parts_g, f"{catch.weight.grams:.5g} g"
    said = f"{grams} in {size_words(catch.size)}"
    if parts:
        each = length_words(catch.size.length / len(parts), catch.size.counted)
        said = f"{len(parts)} parts of {each}, {grams} in all, {count(catch.rows, 'row')}"
    return f"Saved as line {line}: box {catch.box.name}, {catch.lot} at {catch.setting}, {said}."


def confirmed(line: int, cells: Mapping[str, str]) -> str:
    """That a row was confirmed."""
    return f"Line {line} is confirmed: {row_words(cells)}."


def undone(line: int, cells: Mapping[str, str]) -> str:
    """That a catch was marked unused."""
    return f"Line {line} is marked unused: {row_words(cells)}."


def row_words(cells: Mapping[str, str]) -> str:
    """A row by its cells, with the weight of a catch."""
    column = next((name for name in ("catch_g", "catch_oz", "catch_lb", "catch_kg") if name in cells), "")
    weight = f", {_short(cells[column])} {column.removeprefix('catch_')}" if column else ""
    along = " with the container" if cells.get("tare_g", "").strip("0.,") else ""
    box, lot, setting = (cells.get(name, "") for name in ("box", "lot", "setting"))
    return f"box {box}, {lot} at {setting}{weight}{along}"


def _short(number: str) -> str:
    """A number of the log in five figures; its own text where it is not a number."""
    try:
        return f"{float(number):.5g}"
    except ValueError:
        return number
