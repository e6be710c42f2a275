"""Reads what a tag says beside its live seed: the other parts of its weight, noxious seed, origin and variety.

It also reads what a bag weighs, and how the seed is to be sown.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from predictor.domain.result import Remark
from predictor.domain.seed import LotPlan, Method
from predictor.files.columns import Columns, Measure
from predictor.files.rates import Bag, rounding
from predictor.files.tag import Analysis, Row
from predictor.numbers import Range, quoted
from predictor.units import GRAMS

# Parts of the weight of a tag beside its pure seed, with their names in sentences.
PARTS = {
    "other_crop_pct": "other crop",
    "weed_pct": "weed",
    "inert_pct": "inert",
    "coating_pct": "coating",
}
TEXTS = ("noxious", "origin", "variety")
# The largest sacks that are lifted by a machine hold about a ton; common practice.
BAG_WEIGHTS = {
    "bag_weight_lb": Measure(GRAMS["lb"], Range(0, 3_000, above=True)),
    "bag_weight_kg": Measure(GRAMS["kg"], Range(0, 1_400, above=True)),
}
_NOTHING = frozenset({"", "-", "0", "n/a", "nil", "no", "none", "none found"})
# Two weights of one bag agree within this: one in pounds and one in kilograms were rounded.
SAME_WEIGHT = 0.01


def says_nothing(text: str) -> bool:
    """Whether a text is only a word for nothing."""
    return text.lower().rstrip(".") in _NOTHING


def read(columns: Columns) -> list[Analysis]:
    """What the tag of every row says; numbers are NaN where a cell is empty or wrong."""
    parts = [(columns.numbers(name, "a percentage", Range(0, 100)) / 100).tolist() for name in PARTS]
    texts = [columns.texts(name) for name in TEXTS]
    methods, weights = columns.each("method", _method, ""), columns.measures(BAG_WEIGHTS, "a weight").tolist()
    return [Analysis(*each) for each in zip(*parts, *texts, methods, weights, strict=True)]


def check_bag(columns: Columns, bag: Bag) -> None:
    """Give the parts of a tag to all lots of its bag, and note those that do not add up."""
    texts = [text for row in bag.rows if (text := columns.cell(row.i, "purity_pct"))]
    parts: dict[str, float] = {}
    where = ""
    for column, name in PARTS.items():
        found = [row for row in bag.rows if columns.cell(row.i, column)]
        if not found:
            continue
        values = [getattr(row.analysis, column.removesuffix("_pct")) for row in found]
        for row, value in zip(found, values, strict=True):
            if value == value and values[0] == values[0] and value != values[0]:
                _two_values(columns, bag, (found[0], row), column)
                return
        parts[name], where = 100 * values[0], where or column
        texts.append(columns.cell(found[0].i, column))
        bag.lots[:] = [replace(lot, **{column.removesuffix("_pct"): values[0]}) for lot in bag.lots]
    _share_weight(columns, bag)
    said = list(dict.fromkeys(row.analysis.noxious for row in bag.rows if row.analysis.noxious))
    noxious = "; ".join([each for each in said if not says_nothing(each)] or said[:1])
    bag.lots[:] = [replace(lot, noxious=noxious) for lot in bag.lots]
    if where and not any(row.i in columns.wrong_rows for row in bag.rows):
        _check_sum(columns, bag, parts, where, rounding(texts))


def _share_weight(columns: Columns, bag: Bag) -> None:
    """Give the weight of a bag to all of its lots, and note two weights."""
    found = [row for row in bag.rows if row.analysis.bag_weight == row.analysis.bag_weight]
    for row in found:
        if abs(row.analysis.bag_weight / found[0].analysis.bag_weight - 1) > SAME_WEIGHT:
            column, weight = _weight_written(columns, row)
            columns.wrong(
                row.i,
                column,
                f"The bag weighs {weight} here, and {_weight_written(columns, found[0])[1]} in line "
                f"{columns.table.lines[found[0].i]}. Bag {bag.name} has one weight: write it in one row, or the same "
                "in all.",
            )
            return
    if found:
        bag.lots[:] = [replace(lot, bag_weight=found[0].analysis.bag_weight) for lot in bag.lots]


def _weight_written(columns: Columns, row: Row) -> tuple[str, str]:
    """The column of a row that has the weight of its bag, and that weight with its unit."""
    column = next(name for name in BAG_WEIGHTS if columns.cell(row.i, name))
    return column, f"{columns.cell(row.i, column)} {column.removeprefix('bag_weight_')}"


def _check_sum(columns: Columns, bag: Bag, parts: dict[str, float], where: str, room: float) -> None:
    """Note parts of a tag that are more than 100 per cent together, or the whole analysis where it is less.

    Pure seed, other crop, weed and inert matter add to 100 (Texas DOT, read). Some tags of coated seed count the coat
    within the inert matter, and others beside it (from memory), so both are taken.
    """
    purities = [row.purity for row in bag.rows if row.purity == row.purity]
    total = sum(purities) + sum(parts.values())
    coating = parts.get("coating", 0.0)
    totals = [total, total - coating] if coating <= parts.get("inert", -1.0) else [total]
    whole = len(purities) == len(bag.rows) and {"other crop", "weed", "inert"} <= parts.keys()
    if (min(totals) <= 100 + room and not whole) or any(abs(each - 100) <= room for each in totals):
        return
    pure = {"pure seed": sum(purities)} if purities else {}
    listed = ", ".join(f"{name} {value:.6g}" for name, value in (pure | parts).items())
    tag = f"the tag of bag {bag.name}" if bag.rows[0].bag else "this tag"
    wrong = ", not to 100" if whole else ", more than 100"
    hint = " On coated seed each is per cent of the weight with its coat." if coating else ""
    row = next(row for row in bag.rows if columns.cell(row.i, where))
    if total < 100 and not row.bag and columns.table.cells["box"].count(columns.cell(row.i, "box")) > 1:
        hint += (
            " If this row is one species of a premixed bag with one tag, write one name for the bag in the column bag "
            "of all its rows."
        )
    message = f"The parts of {tag} add to {total:.6g} %{wrong}: {listed}. Read the tag again.{hint}"
    columns.wrong(row.i, where, message)


def _two_values(columns: Columns, bag: Bag, rows: tuple[Row, Row], column: str) -> None:
    """Note two values of what one tag has once."""
    first, other = rows
    columns.wrong(
        other.i,
        column,
        f"{columns.cell(other.i, column)} here, and {columns.cell(first.i, column)} in line "
        f"{columns.table.lines[first.i]}. Bag {bag.name} has one tag: write it in one row, or the same in all.",
    )


def check_method(columns: Columns, bags: Sequence[Bag]) -> None:
    """Give the way in which a blend is sown to all its lots, and note two ways."""
    rows = [row for bag in bags for row in bag.rows if row.analysis.method]
    for row in rows:
        first = rows[0].analysis.method
        if row.analysis.method != first:
            columns.wrong(
                row.i,
                "method",
                f"{row.analysis.method} here, and {first} in line {columns.table.lines[rows[0].i]}. They go in "
                "together, so they are sown in one way. Write it in one row, or the same in all.",
            )
            return
    for bag in bags if rows else ():
        bag.lots[:] = [replace(lot, method=rows[0].analysis.method) for lot in bag.lots]


def remarks_on(lots: Sequence[LotPlan]) -> Iterator[Remark]:
    """A remark on the noxious seed that a tag names."""
    if not says_nothing(lots[0].noxious):
        yield Remark("plan.noxious", {"lot": lots[0].bag or lots[0].lot, "noxious": lots[0].noxious})


def _method(text: str) -> Method:
    """How a row is sown; raises a ValueError with a sentence."""
    words: tuple[Method, Method] = ("drilled", "broadcast")
    for word in words:
        if text.lower() == word:
            return word
    raise ValueError(
        f"{quoted(text)} is neither drilled nor broadcast. Write the one that the rates are meant for, or leave "
        "the cell empty."
    )
