"""Notes rows of a plan that look like one premixed bag, and are not written as one: it would be planted twice."""

import itertools
import math
import re
from collections.abc import Hashable, Iterable, Sequence

from predictor.domain import species as species_table
from predictor.files.columns import Columns
from predictor.files.rates import rounding
from predictor.files.tag import Row

_SIGNS = re.compile(r"[\W_]+")


def check(columns: Columns, rows: Sequence[Row]) -> None:
    """Note what looks like one bag, over the boxes and in each blend."""
    _check_names(columns, rows)
    _check_boxes(columns, [row for row in rows if row.box])
    for members in _by(rows, [(row.box, row.blend.lower()) if row.box and row.blend else None for row in rows]):
        _check_blend(columns, members)


def kind_of(row: Row) -> Hashable:
    """The species of a row, whichever of its names is written."""
    return species_table.find(row.species) or row.species.lower()


def _check_names(columns: Columns, rows: Sequence[Row]) -> None:
    """Note names of bags that differ only in spaces or hyphens."""
    first: dict[str, Row] = {}
    for row in rows:
        known = first.setdefault(_SIGNS.sub("", row.bag.lower()), row)
        if row.bag.lower() != known.bag.lower():
            message = (
                f"The bags {row.bag} here and {known.bag} in line {columns.table.lines[known.i]} have nearly the same "
                "name. Write the name of one bag the same way in all of its rows, and give two bags clearly different "
                "names."
            )
            columns.wrong(row.i, "bag", message)


def _check_boxes(columns: Columns, rows: Sequence[Row]) -> None:
    """Note one bag or lot of which several boxes hold different species."""
    for members in _by(rows, [("bag", row.bag.lower()) if row.bag else ("lot", row.lot.lower()) for row in rows]):
        first = members[0]
        other = next((row for row in members if row.box != first.box), None)
        if other is None or len(set(_held(members).values())) == 1:
            continue
        if first.bag:
            message = (
                f"Bag {other.bag} is in box {first.box} too, with other species. A premixed bag goes into a box as it "
                "is. Write one box in all of its rows. If it goes into two boxes, write all of its species for each."
            )
            columns.wrong(other.i, "box", message)
        elif _one_tag(columns, members):
            message = (
                f"Lot {other.lot} is {other.species} here and {first.species} in box {first.box}, and the purities add "
                f"to {_total(members):g} %, as on the one tag of a premixed bag. If it is one bag, write one box and "
                "one name in the column bag of all its rows. Otherwise give each lot its own name."
            )
            columns.wrong(other.i, "lot", message)


def _check_blend(columns: Columns, rows: Sequence[Row]) -> None:
    """Note a row, or bag, beside a bag whose tag has room for it."""
    if any(row.i in columns.wrong_rows for row in rows):
        return
    pieces = _by(rows, [row.bag.lower() or row.i for row in rows])
    for one, other in itertools.combinations(pieces, 2):
        bag, beside = (one, other) if one[0].bag else (other, one)
        if not bag[0].bag or not _one_tag(columns, [*bag, *beside]):
            continue
        name, total = bag[0].bag, f"{_total([*bag, *beside]):g} %"
        if not beside[0].bag:
            message = (
                f"With this row the purities of bag {name} add to {total}. If the row is part of that bag, write "
                f"{name} in the column bag. If the lot is in a bag of its own, write a name of its own there."
            )
            columns.wrong(beside[0].i, "bag", message)
        elif _lots(bag) & _lots(beside) and not _kinds(bag) & _kinds(beside):
            message = (
                f"Bags {name} and {beside[0].bag} have the same lot, and their purities add to {total}, as on one tag. "
                "If they are one bag, write one name in all of its rows. Otherwise give their lots names of their own."
            )
            columns.wrong(beside[0].i, "bag", message)


def _by(rows: Iterable[Row], keys: Iterable[Hashable]) -> list[list[Row]]:
    """Rows with the same key together; None is no key."""
    groups: dict[Hashable, list[Row]] = {}
    for row, key in zip(rows, keys, strict=True):
        if key is not None:
            groups.setdefault(key, []).append(row)
    return list(groups.values())


def _held(rows: Sequence[Row]) -> dict[str, frozenset[Hashable]]:
    """The species that each box holds of some rows."""
    return {members[0].box: _kinds(members) for members in _by(rows, [row.box for row in rows])}


def _kinds(rows: Sequence[Row]) -> frozenset[Hashable]:
    return frozenset(map(kind_of, rows))


def _lots(rows: Sequence[Row]) -> frozenset[str]:
    return frozenset(row.lot.lower() for row in rows)


def _total(rows: Sequence[Row]) -> float:
    return sum(row.purity for row in rows)


def _one_tag(columns: Columns, rows: Sequence[Row]) -> bool:
    """Whether the purities of some rows may be those of one tag: they add to at most 100 but for rounding."""
    total = _total(rows)
    if math.isnan(total):
        return False
    return total <= 100 + rounding(columns.cell(row.i, "purity_pct") for row in rows)
