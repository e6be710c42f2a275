"""What pictures show, in words, for those who cannot see them: every value that they give."""

from __future__ import annotations

from predictor.field.budget import Budget
from predictor.field.results import FieldResult
from predictor.format import count
from predictor.lots.results import LotComparison
from predictor.text.budget import TOGETHER, known_to, size, would_be
from predictor.text.field import NO_FACTOR, WHAT_FACTORS_ARE, factor_figures
from predictor.text.lot_rows import (
    NEW_LOT,
    NOTHING,
    START,
    Row,
    limits,
    new_lot,
    new_start,
    not_shown,
    rows_of,
    share,
    wanted,
)

# Of more lots than twice this, so many at either end are described.
ENDS = 6


def lots_compared(found: LotComparison) -> str:
    """The picture of a comparison of lots."""
    rows = rows_of(found)
    if not rows:
        return NOTHING
    reference = next(row.name for row in rows if row.reference)
    starts = any(row.start for row in rows)
    said = [f"Lots of box {found.box}, from the fastest to the slowest, with {100 * found.level:g} % limits."]
    if starts:
        said.append(f"The settings to start near give {wanted(found, reference)}.")
    said.append(f"Output is in per cent of {reference}.")
    kept = [row for k, row in enumerate(rows) if row.lot.unusual or row.reference or min(k, len(rows) - 1 - k) < ENDS]
    said += [f"{row.name}: {_lot(row, starts)}." for row in kept]
    if len(kept) < len(rows):
        said.append(f"{len(rows) - len(kept)} lots between these are in the picture.")
    if more := not_shown(found):
        said.append(f"{more}.")
    among, new = new_lot(found), new_start(found)[0]
    known = [f"{START} {new}"] if starts and new else []
    known += [] if among is None else [f"{share(among[1])} ({limits(among[0], among[2])})"]
    if known:
        said.append(f"{NEW_LOT.capitalize()}: {', '.join(known)}.")
    return " ".join(said)


def _lot(row: Row, starts: bool) -> str:
    start = [f"{START} {row.start}" if row.start else "the setting that it needs is off the scale"] if starts else []
    where = f" at {row.at}" if row.at else ""
    output = [] if row.reference else [f"{row.share}{where} ({row.limits})"]
    return ", ".join([*start, *output, *row.remarks])


def budget(found: Budget) -> str:
    """The picture of an uncertainty budget."""
    parts = [*((str(each.title), each.u) for each in found.sources), (TOGETHER, found.combined)]
    bars = ", ".join(f"{name} {size(u)}" for name, u in parts)
    return (
        f"Uncertainty of box {found.box}, lot {found.lot}. {known_to(found)}. {would_be(found)} "
        f"Standard uncertainty as bars: {bars}."
    )


def factors(found: FieldResult) -> str:
    """The picture of field factors."""
    if not found.boxes:
        return NO_FACTOR
    said = (f"{each.box} {factor_figures(each.factor, (each.lower, each.upper))}" for each in found.boxes)
    each = count(sum(check.factor is not None for check in found.checks), "check")
    return f"Field factors with 95 % limits: {', '.join(said)}, and the {each} that they rest on. {WHAT_FACTORS_ARE}"
