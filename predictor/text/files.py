"""What the reader of a file had to assume, in sentences."""

from __future__ import annotations

from collections.abc import Callable

from predictor.domain.result import Remark
from predictor.format import count
from predictor.numbers import quoted

_SEPARATORS = {";": '";"', "\t": "tabs", ",": '","'}


def _other_drill(remark: Remark) -> str:
    catches, names = remark["catches"], ", ".join(map(quoted, remark["names"]))
    verb, was = ("names", "was") if catches == 1 else ("name", "were")
    return (
        f"{count(catches, 'catch', 'catches')} {verb} the drill {names} and {was} read as made with "
        f"{quoted(remark['drill'])}. Keep a separate file for each drill."
    )


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "own_column": 'Column "{column}" was taken as your own and not used. If {meant} was meant, rename it.',
    "signs": lambda remark: (
        f'Read with {_SEPARATORS[remark["separator"]]} between cells and "{remark["decimal"]}" as decimal sign.'
    ),
    "thousands": "Read 1{sign}234 and the like as thousands: the other numbers show the decimal sign.",
    "month_first": "Read dates with the month first.",
    "day_first": "Read dates with the day first.",
    "row_in_comment": "Line {line} starts with # and was skipped as a comment, although it has the cells of a row.",
    "other_drill": _other_drill,
    "similar_lots": lambda remark: (
        f"Box {remark['box']}: {' and '.join(map(quoted, remark['lots']))} were read as different lots. If they are "
        "the same lot, write its name in one way."
    ),
}
