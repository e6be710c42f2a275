"""A comparison of lots as lines for the terminal: where to start with each lot first."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from predictor.format import count, listed, percent
from predictor.lots.catches import LeftOut
from predictor.lots.results import LotComparison, Seasons, SeasonsOfLot
from predictor.text.fold import Fold, fold
from predictor.text.lot_rows import (
    DRAWN,
    MOST_ROWS,
    NEW_LOT,
    NO_START,
    OFF_SCALE,
    ONCE,
    REFERENCE,
    START,
    TOO_FEW,
    Row,
    caught,
    drawn,
    limits,
    new_lot,
    new_start,
    not_shown,
    rows_of,
    share,
    wanted,
)
from predictor.text.lots import (
    MOST_SENTENCES,
    adjustment_sentence,
    season_sentences,
    seasons_of_lots_sentences,
    shape_sentence,
    spread_sentences,
)
from predictor.text.table import Table, on_point


def comparison_words(found: LotComparison) -> str:
    """One box in plain words, all that can be said."""
    return "\n".join(comparison_lines(found, 80, details=True))


def comparison_lines(found: LotComparison, width: int, *, details: bool = False) -> list[str]:
    """One box: the lots with the settings to start near, then what these rest on, in lines no wider than `width`.

    `details` adds how much lots and seasons differ, and the tests.
    """
    wrapped: Fold = partial(fold, width=width)
    rows = rows_of(found)
    said = [*_what_it_shows(found, rows), *map(str, found.warnings), *map(_left_out, found.left_out)]
    lines = [wrapped(f"BOX {found.box}: {caught(found)}", ""), *_table(found, rows, width), *map(wrapped, said)]
    if details and rows:
        lines += [line for title, part in _details(found) if part for line in (f"  {title}", *map(wrapped, part))]
    return lines


def _left_out(each: LeftOut) -> str:
    where = f"line{'s' * (len(each.lines) > 1)} {listed(map(str, each.lines))}" if each.lines else ""
    where = " of ".join(filter(None, (where, Path(each.file).name)))
    where = where and f" ({where})"
    return f"Left out: {count(each.catches, 'catch', 'catches')}, {each.reason}{where}."


def _table(found: LotComparison, rows: Sequence[Row], width: int) -> list[str]:
    """A row a lot, the fastest first, and a new lot last."""
    if not rows:
        return []
    apart, (new, new_limits) = len({row.at for row in rows if row.at}) > 1, new_start(found)
    starts = [""] * (len(rows) + 1)
    if any(row.start for row in rows):
        known = on_point([*(row.start for row in rows), new])
        starts = [f"{START.upper()} {each}" if each.strip() else OFF_SCALE.upper() for each in known]
    digits = len(str(max(row.lot.catches for row in rows)))
    cells = [
        [
            *(row.name, start, row.start_limits, row.share, REFERENCE if row.reference else row.limits),
            f"at {row.at}" if apart and row.at else "",
            f"{row.lot.catches:{digits}} catch{'es' * (row.lot.catches != 1)}",
            # cells before say it of the reference and of one catch
            ", ".join(each for each in row.remarks if each not in (REFERENCE, ONCE)),
        ]
        for row, start in zip(rows, starts, strict=False)
    ]
    if found.spread is not None:
        among = new_lot(found)
        much = ["", TOO_FEW] if among is None else [share(among[1]), limits(among[0], among[2])]
        cells.append([NEW_LOT, starts[-1] if new else "", new_limits, *much, "", "", ""])
    return Table(width, right=frozenset({3}), strong=frozenset({1})).lines(cells)


def _what_it_shows(found: LotComparison, rows: Sequence[Row]) -> list[str]:
    """What the figures of the table are, and what a person has to know who starts by them."""
    against = found.reference
    if against is None:
        return []
    starts = any(row.start for row in rows)
    said = [f"These settings give {wanted(found, against.name)}."] if starts else []
    if starts and drawn(found):
        said.append(DRAWN)
    if not starts and not any(each.code == "lots.one_label" for each in found.warnings):  # which says it
        said.append(NO_START)
    if len(found.lots) == 1:
        said.append("There is only one lot, so there is nothing to compare it with.")
    else:
        at = {row.at for row in rows if row.at}
        where = f" at {next(iter(at))}" if len(at) == 1 else ""
        how = f". All limits are {100 * found.level:g} %." if found.adjustment else ", without limits."
        said.append(f"Outputs{where} are in per cent of {against.name}'s{how}")
    if found.shape is not None and found.shape.same is False:
        said.append("The lots do not share one curve shape, so each ratio holds only at the setting named with it.")
    if found.spread is not None and found.spread.unusual:
        said.append("An unusual lot differs from the others by more than chance.")
    if more := not_shown(found):
        said.append(f"{more}; --json lists all.")
    said += _notes(rows)
    said += seasons_of_lots_sentences([each for each in found.lots_in_seasons if _changed(each)])
    return said


def _notes(rows: Sequence[Row]) -> list[str]:
    """What weakens the figures of some lots, each with the lots that it is true of."""
    lots: dict[str, list[str]] = {}
    for row in rows:
        for note in row.lot.notes:
            if note.code != "lots.one_catch":  # the table counts the catches
                lots.setdefault(str(note), []).append(row.name)
    return [f"{listed(names)}: {note}" for note, names in lots.items()]


def _changed(each: SeasonsOfLot) -> bool:
    """Whether a lot is shown to have changed from one season to another."""
    return not each.pooled and each.change is not None and (each.change.lower > 1 or each.change.upper < 1)


def _details(found: LotComparison) -> list[tuple[str, list[str]]]:
    """What only a statistician reads, under its titles."""
    cv, told = found.repeatability.cv, len(found.lots) > 1
    figures = [adjustment_sentence(found), shape_sentence(found)] if told else []
    figures += [] if cv is None else [f"Repeatability in these catches is {percent(cv)} %."]
    figures += seasons_of_lots_sentences([each for each in found.lots_in_seasons if not _changed(each)])
    figures += _within_seasons(found)
    return [
        ("LIMITS AND CURVES", [each for each in figures if each]),
        ("LOTS IN GENERAL", spread_sentences(found.spread)),
        ("SEASONS", [*_season_table(found.seasons), *season_sentences(found)]),
    ]


def _within_seasons(found: LotComparison) -> list[str]:
    """Limits of lots in one season alone, beside those that count that a lot may shift."""
    known = [
        f"{row.name} {limits(row.season_lower, row.season_upper)}"
        for row in found.lots
        if row.season_lower is not None and row.season_upper is not None
    ]
    if not known:
        return []
    more = "" if len(known) <= MOST_SENTENCES else " (--json lists the rest)"
    return [f"For that season alone, as if a lot never shifted, limits are: {'; '.join(known[:MOST_SENTENCES])}{more}."]


def _season_table(seasons: Seasons | None) -> list[str]:
    if seasons is None or len(seasons.table) < 2:
        return []
    said = []
    for row in seasons.table[-MOST_ROWS:]:
        cv, low, high = row.repeatability.cv, row.repeatability.cv_lower, row.repeatability.cv_upper
        spread = "none repeated"
        if cv is not None:
            start = "from 0" if low is None else percent(low)
            end = ", no upper limit" if high is None or high >= 1 else f" to {percent(high)}"
            spread = f"{percent(cv)} % ({start}{end})"
        text = f"{row.season or 'no season'}: {count(row.catches, 'catch', 'catches')}, repeatability {spread}"
        if (change := row.change) is not None:
            ratio, lower, upper = (f"{100 * (each - 1):+z.0f}" for each in (change.ratio, change.lower, change.upper))
            since = change.since or "catches without season"
            text += f"; same lots against {since} {ratio} % ({lower} to {upper} %)"
        said.append(text)
    return said
