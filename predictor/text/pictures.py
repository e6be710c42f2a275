"""What pictures show, in words, for those who cannot see them: every value that they give."""

from __future__ import annotations

from predictor.lots.results import LotComparison
from predictor.text.lot_rows import NEW_LOT, NOTHING, Row, limits, new_lot, not_shown, rows_of, share, wanted

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
    if (among := new_lot(found)) is not None:
        said.append(f"{NEW_LOT.capitalize()}: {share(among[1])} ({limits(among[0], among[2])}).")
    return " ".join(said)


def _lot(row: Row, starts: bool) -> str:
    start = [f"start near {row.start}" if row.start else "the setting that it needs is off the scale"] if starts else []
    where = f" at {row.at}" if row.at else ""
    output = [] if row.reference else [f"{row.share}{where} ({row.limits})"]
    return ", ".join([*start, *output, *row.remarks])
