"""The lots of a comparison row by row, as a picture and a terminal show them: the fastest first."""

from __future__ import annotations

import math
from dataclasses import dataclass

from predictor.domain.control import Setting
from predictor.format import count, figures, percent
from predictor.lots.results import Lot, LotComparison
from predictor.text.drill import one_word

# Of a longer log a picture and a terminal show this many lots; `compare --json` lists all.
MOST_ROWS = 40
# A ratio beyond this many per cent tells no more by its exact size.
WIDEST = 999
REFERENCE, ONCE = "reference", "one catch"
START, NEW_LOT = "start near", "a new lot"
# Where the setting that a lot needs is beyond the end of the scale, where nothing is known of a new lot, where the
# control has no scale, and where there is no lot.
OFF_SCALE, TOO_FEW = "off scale", "too few lots to say"
# A start is drawn towards the average lot's where its output moves by more than this, as a log ratio.
DRAWN_FAR = 0.02
DRAWN = "A lot with few catches starts nearer to the average lot than its own catches alone would say."
NO_START = "No setting to start at can be given."
NOTHING = "No catch of this box counts, so there is nothing to compare."


@dataclass(frozen=True)
class Row:
    """What is shown of one lot; "" where a figure cannot be given."""

    name: str
    start: str  # Setting to start near, and its limits
    start_limits: str
    share: str  # Output as a share of the reference lot's
    limits: str
    at: str  # Setting at which the ratio holds, where it does not hold at every one
    season: str  # Seasons it was caught in, where its name does not say them
    remarks: tuple[str, ...]  # What sets it apart from the others
    reference: bool
    lot: Lot


def rows_of(found: LotComparison) -> list[Row]:
    """The lots to show, the fastest first; the reference, the unusual and the most caught where not all are shown."""
    reference = "" if found.reference is None else found.reference.name
    first = sorted(found.lots, key=lambda lot: (lot.name != reference, not lot.unusual, -lot.catches, lot.name))
    shown = sorted(first[:MOST_ROWS], key=lambda lot: (-lot.ratio, lot.name != reference, lot.name))
    return [_row(lot, reference) for lot in shown]


def caught(found: LotComparison) -> str:
    """How many lots and catches are compared."""
    lots = count(len({lot.lot for lot in found.lots}), "lot")
    return f"{lots}, {count(found.catches_used, 'catch', 'catches')}"


def _row(lot: Lot, reference: str) -> Row:
    span = "no limits" if lot.lower is None or lot.upper is None else limits(lot.lower, lot.upper)
    itself = lot.name == reference
    apart = ((REFERENCE, itself), ("unusual", lot.unusual), (ONCE, lot.catches == 1))
    return Row(
        name=lot.name,
        start="" if lot.setting is None else str(lot.setting),
        start_limits="" if lot.setting is None or itself else start_limits(lot.setting_lower, lot.setting_upper),
        share=share(lot.ratio),
        limits="" if itself else span,
        at="" if lot.at_setting is None or itself else str(lot.at_setting),
        season="" if lot.season is not None else seasons(lot.seasons),
        remarks=tuple(word for word, true in apart if true),
        reference=itself,
        lot=lot,
    )


def share(ratio: float) -> str:
    """A ratio in per cent.

    >>> share(0.814), share(1.0), share(31.0)
    ('81 %', '100 %', 'over 999 %')
    """
    return f"{_bare(ratio)} %"


def limits(low: float, high: float) -> str:
    """Limits of a ratio in per cent.

    >>> limits(0.77, 0.858), limits(0.12, 44.0)
    ('77 to 86 %', '12 to over 999 %')
    """
    return f"{_bare(low)} to {_bare(high)} %"


def _bare(ratio: float) -> str:
    return percent(ratio) if 100 * ratio < WIDEST + 0.5 else f"over {WIDEST}"


def start_limits(low: Setting | None, high: Setting | None) -> str:
    """Limits of a setting to start near; one that is not known, or off the scale, is left out.

    >>> start_limits(Setting(14.5, 14.5, "14.5"), Setting(16.0, 16.0, "16")), start_limits(None, Setting(5, 0.7, "5"))
    ('(14.5 to 16)', '(up to 5)')
    """
    if low is not None and high is not None:
        return f"({low} to {high})" if low != high else ""
    return f"(from {low})" if low is not None else f"(up to {high})" if high is not None else ""


def seasons(caught_in: tuple[str, ...]) -> str:
    """The seasons of a lot: the one, or the first and the last.

    >>> seasons(("2025",)), seasons(("2024", "2025", "2026")), seasons(("",))
    ('2025', '2024 to 2026', '')
    """
    known = [each for each in caught_in if each]
    return "" if not known else known[0] if len(known) == 1 else f"{known[0]} to {known[-1]}"


def new_lot(found: LotComparison) -> tuple[float, float, float] | None:
    """Limits of a new lot's output against the reference lot's, with the average lot's between; None without limits."""
    spread = found.spread
    if spread is None or spread.next_lower is None or spread.next_upper is None or spread.average_to_reference is None:
        return None
    average = spread.average_to_reference
    return spread.next_lower * average, average, spread.next_upper * average


def new_start(found: LotComparison) -> tuple[str, str]:
    """Where to start with a new lot, and the limits of that; "" where that cannot be given."""
    spread = found.spread
    if spread is None or spread.next_setting is None:
        return "", ""
    return str(spread.next_setting), start_limits(spread.next_setting_lower, spread.next_setting_upper)


def drawn(found: LotComparison) -> bool:
    """Whether the start of a lot lies nearer to the average lot's than its own catches alone would have it."""
    average = None if found.spread is None else found.spread.average_to_reference
    if average is None:
        return False
    known = [row for row in found.lots if row.against_average is not None and row.at_setting is None]
    return any(abs(math.log(row.ratio / average / (row.against_average or 1.0))) > DRAWN_FAR for row in known)


def not_shown(found: LotComparison) -> str:
    """How many lots there is no room for; "" where all are shown."""
    more = len(found.lots) - MOST_ROWS
    return "" if more <= 0 else f"{count(more, 'more lot')} not shown"


def wanted(found: LotComparison, name: str) -> str:
    """The output that the settings to start near give; `name` is the reference lot's as it is shown."""
    against = found.reference
    if against is None or found.curves is None:
        return ""
    if against.output_given:
        return f"the target, {figures(against.output)} g per row per {one_word(found.curves.catches.counted)}"
    return f"what {name} gives" + ("" if against.setting is None else f" at {against.setting}")
