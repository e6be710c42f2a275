"""What the reader of a file had to assume, in sentences."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from predictor.domain.result import Remark
from predictor.format import count, listed, weight
from predictor.numbers import quoted
from predictor.text import examples, plausible

MOST_ASKED = 3
_SEPARATORS = {";": '";"', "\t": "tabs", ",": '","'}


def _other_drill(remark: Remark) -> str:
    catches, names = remark["catches"], ", ".join(map(quoted, remark["names"]))
    verb, was = ("names", "was") if catches == 1 else ("name", "were")
    return (
        f"{count(catches, 'catch', 'catches')} {verb} the drill {names} and {was} read as made with "
        f"{quoted(remark['drill'])}. Keep a separate file for each drill."
    )


def _first(names: Sequence[str], most: int = 5) -> list[str]:
    """The first few names in quotes, and how many more there are."""
    more = [f"{len(names) - most:,} more"] if len(names) > most else []
    return [*map(quoted, names[:most]), *more]


def _drills_apart(remark: Remark) -> str:
    names, many = listed([*map(quoted, remark["names"])]), remark["catches"]
    verb, them = ("is", "it") if many == 1 else ("are", "them")
    return (
        f"{remark['file']}: {count(many, 'catch', 'catches')} {verb} of another drill ({names}). For "
        f"{quoted(remark['drill'])} only the shape of the curve and the repeatability are learned from {them}."
    )


def _taken_for_this(remark: Remark) -> str:
    many = count(remark["catches"], "catch names", "catches name")
    return (
        f"{remark['file']}: {many} the drill {quoted(remark['name'])} and none {quoted(remark['drill'])}, so "
        f"{quoted(remark['name'])} was taken for this drill. Write one name in drill.toml and in the log."
    )


def _not_used(remark: Remark) -> str:
    names, of_file = remark["columns"], f" of {remark['file']}" if remark["file"] else ""
    which = f"Column{of_file} that is" if len(names) == 1 else f"Columns{of_file} that are"
    asked = [f"Is {name} meant to be {meant}?" for name, meant in remark["meant"][:MOST_ASKED]]
    return " ".join([which, f"not used: {listed(names).removesuffix('.')}.", *asked])


def _target_of_trials(remark: Remark) -> str:
    which = "target of {} is" if len(remark["lots"]) == 1 else "targets of {} are"
    return f"The {which.format(listed(remark['lots']))} taken from the trials' column of targets, not from the plan."


def _target_changed(remark: Remark) -> str:
    place = f"line {remark['line']}" if remark["line"] else "the last catch"
    check = ", or a field check corrected the target" if remark["checked"] else ""
    how = f": predictor record --confirm {remark['line']}" if remark["line"] else ", write yes in the column confirmed."
    return (
        f"Box {remark['box']}, {remark['lot']}: when {place} was recorded, a catch on target was to weigh "
        f"{weight(remark['then_g'])} g. Now it is {weight(remark['now_g'])} g. plan.csv or drill.toml has changed "
        f"since (rate, tag, carrier, rows, circumference){check}. The catches stay valid. If the change was meant{how}"
    )


def _row_in_comment(remark: Remark) -> str:
    lines, of_file = remark["lines"], f" of {remark['file']}" if remark["file"] else ""
    if len(lines) == 1:
        said = (
            f"Line {lines[0]}{of_file} starts with # and was skipped as a comment, although it has the cells of a row."
        )
    else:
        said = (
            f"Lines {listed(map(str, lines))}{of_file} start with # and were skipped as comments, although they have "
            "the cells of rows."
        )
    return f"{said} If a name begins with #, put it in quotes."


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "not_used": _not_used,
    "signs": lambda remark: (
        f'Read with {_SEPARATORS[remark["separator"]]} between cells and "{remark["decimal"]}" as decimal sign.'
    ),
    "thousands": "Read 1{sign}234 and the like as thousands: the other numbers show the decimal sign.",
    "month_first": "Read dates with the month first.",
    "day_first": "Read dates with the day first.",
    "row_in_comment": _row_in_comment,
    "other_drill": _other_drill,
    "drills_apart": _drills_apart,
    "taken_for_this": _taken_for_this,
    "target_changed": _target_changed,
    "odd_wheel": plausible.wheel,
    "odd_spacing": plausible.spacing,
    "odd_width": plausible.width,
    "odd_seeds": plausible.seeds,
    "example_drill": examples.drill_read,
    "example_lots": examples.lots_read,
    "target_of_trials": _target_of_trials,
    "part_caught": "Box {box}: the trials have catches of {lot}, which the plan has as part of {filling}. They do not "
    "count as catches of {filling}. If they are, write {filling} as their lot.",
    "similar_lots": lambda remark: (
        f"Box {remark['box']}: {' and '.join(_first(remark['lots']))} were read as different lots. If they are "
        "the same lot, write its name in one way."
    ),
}
