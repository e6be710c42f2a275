"""What is written into a file is read back as it was meant, and every old row as before; or it is refused before.

An added row leaves the old rows their cells: the separator is that of the header, and it begins where a row has ended.
What it can change is how the file's numbers and dates are understood. So only `Signs` are compared, and old cells only
where these differ: nothing else of a large file is read twice.
"""

import math
import re
from collections.abc import Collection, Iterator, Mapping, Sequence

import numpy as np

from predictor.errors import InputError, Problem, Problems
from predictor.files.form import Form, Value, columns_with_signs, different, form_of, two_readings
from predictor.files.signs import Seen, Signs, seen_in
from predictor.files.split import split
from predictor.files.table import table_of
from predictor.files.text import composed
from predictor.numbers import Range, parse_number

# Between the weights in one cell.
_BETWEEN = re.compile(r"[;+/\s]+")
_ANY = Range()
# Numbers are written with nine digits.
_SAME = 1e-8


def row_of(form: Form, values: Mapping[str, Value], file: str) -> str:
    """The line of a new row; raises an InputError where old rows or this one would be read otherwise than meant."""
    before = form.seen.signs(form.records.separator)
    for decimal in _decimals(form, before):
        cells = form.cells(values, decimal)
        after = (form.seen | _seen_in_row(form, cells)).signs(form.records.separator)
        if after == before or _read_alike(form, before, after):
            row = line_of(form, cells, file)
            _check_values(form, values, cells, after, row, file)
            return row
    raise two_readings(form.kind, file)


def _decimals(form: Form, signs: Signs) -> Iterator[str]:
    """Decimal signs to write with, the likeliest first: what the file shows, else what is usual for its separator."""
    seen = form.seen
    shown = seen.commas or seen.points or any(seen.settings)
    first = "," if not shown and form.records.separator == ";" else signs.decimal
    yield from (first, "." if first == "," else ",")


def _seen_in_row(form: Form, cells: Sequence[str]) -> Seen:
    """What the cells of one row show."""
    numbers, dates = columns_with_signs(form.columns, form.kind)
    places = [[form.columns.index(name) for name in names] for names in (numbers, dates)]
    of_numbers, of_dates = ([[cells[k].strip()] for k in each] for each in places)
    settings = [cells[form.columns.index("setting")].strip()] if "setting" in form.columns else []
    return seen_in(of_numbers, of_dates, settings)


def _read_alike(form: Form, before: Signs, after: Signs) -> bool:
    """Whether all cells of the old rows mean the same with other signs."""
    numbers, dates = columns_with_signs(form.columns, form.kind)
    of = different(form.records, form.columns, form.widths)

    def texts(names: Collection[str]) -> set[str]:
        return {text for name in names for text in of(name)}

    # some cells hold several weights; a plus sign may also belong to an exponent
    weights = {each for text in texts(numbers) for each in (text, *_BETWEEN.split(text))}
    settings = texts(["setting"]) if "setting" in form.columns else set()
    return (
        all(_number(text, before) == _number(text, after) for text in weights)
        and all(_reading(text, before) == _reading(text, after) for text in settings)
        and all(_date(text, before) == _date(text, after) for text in texts(dates))
    )


def _number(text: str, signs: Signs) -> float | None:
    """The number that a cell means; None where it means none."""
    try:
        return signs.number(text, "", _ANY)
    except ValueError:
        return None


def _reading(text: str, signs: Signs) -> float | None:
    """The reading of a lever that a cell means; None where it means none."""
    try:
        return parse_number(text, decimal=signs.decimal)
    except ValueError:
        return None


def _date(text: str, signs: Signs) -> str | None:
    """The date that a cell means; None where it means none."""
    try:
        return signs.date(text)
    except ValueError:
        return None


def _below_header(form: Form, line: str) -> str:
    """A line of the file below its header, as a text of its own."""
    return composed(form.records.header_text()) + form.newline + line


def line_of(form: Form, cells: Sequence[str], file: str) -> str:
    """Cells as a line of the file; raises an InputError where they would not be read back from it."""
    line = form.line(cells)
    problems = Problems(file)
    found = split(_below_header(form, line), form.kind.header.known, problems)
    wanted = [composed(cell).strip() for cell in cells]
    if problems.found or len(found) != 2 or list(map(str.strip, found.cells[1])) != wanted:
        wrong = [each for each in problems.found if each.line != 1]
        said = wrong[0].message if wrong else "The row would not be read back as it was entered. Use plain letters."
        raise InputError([Problem(f"Nothing was saved. {said}", file, None, wrong[0].column if wrong else None)])
    return line


def _check_values(
    form: Form, values: Mapping[str, Value], cells: Sequence[str], signs: Signs, row: str, file: str
) -> None:
    """Refuse a row that the reader of the file would refuse, or read to other values."""
    problems: Sequence[Problem] = ()
    try:
        table = table_of(_below_header(form, row), file, form.kind.header)
        table.signs = signs  # of the whole file
        form.kind.check(table)
    except InputError as error:
        problems = [each for each in error.problems if each.line != 1]  # the header is as it was
    if problems:
        raise InputError(Problem(f"Nothing was saved. {each.message}", file, None, each.column) for each in problems)
    for name, value in values.items():
        place = form.place(name)
        if place is not None and not isinstance(value, str) and not _means(cells[place[0]], value, place[1], signs):
            message = f"Nothing was saved. {cells[place[0]]} would be read as another number. Write it in another way."
            raise InputError([Problem(message, file, None, form.columns[place[0]])])


def _means(cell: str, value: float | tuple[float, ...], unit: float, signs: Signs) -> bool:
    """Whether a cell is read as a value."""
    wanted = value if isinstance(value, tuple) else (value,)
    found = [_number(each, signs) for each in cell.split(";")]
    return len(found) == len(wanted) and all(
        number is not None and math.isclose(number * unit, each, rel_tol=_SAME)
        for number, each in zip(found, wanted, strict=True)
    )


def widened(form: Form, names: list[str], file: str) -> Form:
    """A file's form with more columns; raises an InputError where an old row would be read otherwise then."""
    if not names:
        return form
    text = form.with_columns(names) + ("" if form.ended else form.newline)  # a whole row must not look cut short
    new = form_of(form.encode(text), file, form.kind)
    if not (_same_columns(form, new) or _rows(form) == _rows(new)):
        message = f"Nothing was saved. Add to the header of the file, and to every row: {', '.join(names)}."
        raise InputError([Problem(message, file)])
    return new


def _same_columns(form: Form, new: Form) -> bool:
    """Whether all rows are as wide as the header, and the new file has the same cells and further empty ones."""
    old, more = form.records, new.records
    if old.rows != more.rows or not len(old.cells.others) == len(more.cells.others) == 1:
        return False
    before, after = old.cells.columns(), more.cells.columns()
    return all(
        one.different == other.different and np.array_equal(one.which, other.which)
        for one, other in zip(before, after, strict=False)
    ) and not any(text.strip() for each in after[len(before) :] for text in each.different)


def _rows(form: Form) -> list[tuple[int, bool, list[str]]]:
    """Each record below the header: its row, whether it is read, and its cells without empty ones at the end."""
    found = []
    for row, cells in zip(form.records.rows[1:], form.records.cells[1:], strict=True):
        filled = len(cells)
        while filled and not cells[filled - 1].strip():
            filled -= 1
        found.append((row, len(cells) in form.widths, cells[:filled]))
    return found
