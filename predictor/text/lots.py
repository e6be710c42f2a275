"""A comparison of lots in plain words, for the technician."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from predictor.domain.control import Lever, Sprockets
from predictor.domain.result import Remark
from predictor.format import count, figures, listed, percent
from predictor.lots.results import (
    Apart,
    Drift,
    Lot,
    LotComparison,
    Reference,
    SameRepeatability,
    Season,
    SeasonsOfLot,
    Spread,
)
from predictor.text.drill import around

# Two lots this alike, as surely as that, need no other setting (common practice, half the usual tolerance of 10 %).
ALIKE = 0.05
# A ratio from here on is given as a multiple, not as a change.
MULTIPLE = 3.0
# Limits of a drift wider than half to double a season rule nothing out that could happen.
DRIFT_OF_USE = 2.0
# So many lots that were caught in several seasons have a sentence each.
MOST_SENTENCES = 12
CANNOT_TELL = "or another way of catching; these catches cannot tell which."

SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    # why catches are left out
    "unused": "marked not to be used",
    "uncharged": "meters not charged",
    "nothing": "nothing caught",
    "elsewhere": "not caught at {label}",
    "unplaced": "the setting is not a number",
    "towed_and_standing": "Some catches were made while the drill was towed and some while it stood. The field rate is "
    "often 4 to 15 % below the standing one, so compare lots of one kind.",
    "drives": lambda remark: (
        f"{count(remark['count'], 'catch', 'catches')} on other drives "
        f"{'counts' if remark['count'] == 1 else 'count'} here as if made on {remark['drive']}, on the assumption that "
        "output is proportional to the speed of the drive."
    ),
    "drive_unknown": "another drive than {drive}, of unknown ratio",
    # what weakens the figures of a lot
    "one_catch": "It was caught only once.",
    "no_common_setting": "No catch was made at a setting of the reference, so the comparison rests on the fitted line.",
    "slip_between": lambda remark: _slip_between(*remark["shares"]),
    "beyond": "The setting that is needed is beyond the end of the scale that gives {end}.",
    "between_positions": "No chain position gives this output within 10 %; the nearest one is named.",
    # why one curve shape cannot be tested
    "untestable": "A test needs two lots caught at two settings each, and further catches.",
    "shape_unsure": "Because that is in doubt, limits of ratios hold on one shape and on several.",
    # what cannot be given of lots in general
    "spread_unknown": "The difference between lots cannot be separated from the difference between catches, because no "
    "lot has repeated catches that differ.",
    "two_lots": "Two lots are too few to predict a new one.",
    "too_few_shapes": "There are too few lots and catches to estimate how lots of different shape vary.",
    "few_shapes": "Lots differ in shape, so this holds only at the named setting. Fewer than three lots were caught at "
    "two settings, so a new lot has no limits.",
    "at_setting": "Lots differ in shape, so this holds only at the named setting.",
    # what cannot be given of seasons
    "no_repeats_by_season": "Repeatability cannot be compared between seasons, because that needs two or more repeated "
    "catches in two or more of them.",
    "one_season": "There is only one season, so neither a drift nor a change of repeatability can be judged.",
    "many_seasons": "There are more than {most} seasons, so they are not compared one by one.",
    "no_link": "No lot was caught in two seasons, so a drift cannot be separated from a difference between lots.",
    "one_link": "Only one lot links the seasons, so a change of the drill cannot be separated from a change of that "
    "lot's seed.",
    "no_years": "No steady drift is given, because the seasons are not of different years.",
    "thin_drift": "No steady drift is given, because there are too few lots or repeated catches for its limits.",
    "shifts_unknown": "Too few lots were caught in two seasons to say how much a lot shifts from one to another, so "
    "limits hold for the seasons of the catches only.",
    # warnings
    "one_label": "Chain positions have no order without drive ratios in drill.toml, so lots are compared at {label} "
    "only, and no setting to start at can be given.",
    "no_catch": "No catch of this box counts, so there is nothing to compare.",
    "dead_assumed": "The catches do not place the dead setting, so it is assumed near the control's zero, within about "
    "a tenth of the scale. Settings to start at depend on this; ratios at one setting do not.",
    "no_repeats": lambda remark: (
        f"No catch was repeated, so ratios have no limits.{_usually_drawn(remark['lots'])} Catch one lot twice at one "
        "setting."
    ),
    "drift_inside": "Output drifted from season to season, so ratios between lots of different seasons include that "
    "drift.",
}


def _usually_drawn(lots: int) -> str:
    return " Starts are drawn towards the average lot as far as is usual for such a box." if lots > 1 else ""


def _slip_between(own: float, reference: float) -> str:
    """That slip is part of a ratio, by the parts of both lots' catches that were towed."""
    made = "Some of the catches of these two lots were made while the drill was towed"
    if {own, reference} == {0.0, 1.0}:
        towed, stood = ("this lot", "the reference") if own else ("the reference", "this lot")
        made = f"The drill was towed for {towed} and stood for {stood}"
    return f"{made}, so slip is part of this difference."


def lot_sentence(against: Reference, row: Lot) -> str:
    """How one lot flows against the reference lot."""
    name, reference = f"Lot {row.name}", against.name
    where = "" if row.at_setting is None else f" at setting {row.at_setting}"
    much = f"{_change(row.ratio)} {_than(row.ratio)} {reference}{where}"
    if row.lower is None or row.upper is None:
        return f"{name} flowed {much}; no limits can be given without repeated catches."
    span = f"({_limits(row.lower, row.upper)})"
    if row.lower > 1 or row.upper < 1:
        return f"{name} flows {much} {span}."
    if 1 - ALIKE <= row.lower and row.upper <= 1 + ALIKE:
        return f"{name} flows like {reference}{where} {span}."
    return f"{name} flowed {much} {span}, which may be chance."


def _change(ratio: float) -> str:
    """A ratio as a change."""
    if ratio >= MULTIPLE:
        return f"{ratio:.1f} times as fast" if ratio < 10 else f"{ratio:,.0f} times as fast"
    return f"{percent(abs(ratio - 1))} % {'faster' if ratio >= 1 else 'slower'}"


def _than(ratio: float) -> str:
    return "as" if ratio >= MULTIPLE else "than"


def _limits(low: float, high: float) -> str:
    """Limits of a ratio as changes; both in one direction as bare figures."""
    if low > 1 and high < MULTIPLE:
        return f"{percent(low - 1)} to {percent(high - 1)} %"
    if high < 1:
        return f"{percent(1 - high)} to {percent(1 - low)} %"
    return f"{_change(low)} to {_change(high)}"


def adjustment_sentence(found: LotComparison) -> str:
    """What the limits of the ratios promise."""
    sure = f"{100 * found.level:g} % limits"
    if found.adjustment in ("", "none"):
        return f"{sure} for one comparison." if found.adjustment else ""
    wide = "" if found.adjustment == "Dunnett" else ", a little wide"
    return f"Simultaneous {sure} for all comparisons ({found.adjustment}{wide})."


def shape_sentence(found: LotComparison) -> str:
    """Whether the lots share one curve shape."""
    shape = found.shape
    if shape is None or len(found.lots) == 1:
        return ""
    counted = ""
    if shape.limits_at is not None:
        counted = f" Limits of ratios are for setting {shape.limits_at}, and count how far shapes may still differ."
    if shape.test is None:
        return f"One curve shape is assumed and cannot be tested. {shape.reason}{counted}"
    unsure = "" if shape.reason is None else f" {shape.reason}"
    if shape.same:
        share = f"The lots share one curve shape as far as these catches show ({_p(shape.test.p)})"
        return f"{share}, so one ratio holds at every setting.{counted}"
    dead = sorted(row.dead_opening for row in found.lots if row.dead_opening is not None)
    seen = " Dead settings run from {} to {}.".format(*_dead(found, dead[0], dead[-1])) if len(dead) > 1 else ""
    share = f"The lots do not share one curve shape ({_p(shape.test.p)})"
    return f"{share}, so each ratio holds only at the setting named with it.{seen}{unsure}"


def seasons_of_lots_sentences(lots: Sequence[SeasonsOfLot]) -> list[str]:
    """Why each lot caught in several seasons is compared as one lot or season by season."""
    said = [_seasons_of_lot(each) for each in lots[:MOST_SENTENCES]]
    if rest := lots[MOST_SENTENCES:]:
        one = sum(each.pooled for each in rest)
        how = f"{one} as one lot each, {len(rest) - one} season by season"
        said.append(f"{count(len(rest), 'more lot')} caught in several seasons: compared {how}.")
    return said


def _seasons_of_lot(each: SeasonsOfLot) -> str:
    apart = "so each season is compared as a separate lot"
    change, least = each.change, ", the two seasons least alike" if len(each.seasons) > 2 else ""
    if change is None:
        return (
            f"Lot {each.lot} was caught in {listed(each.seasons)}. No limits can be given without repeated catches, "
            f"{apart}."
        )
    where = "" if each.at_setting is None else f" at setting {each.at_setting}"
    much = f"{_change(change.ratio)} in {each.season} {_than(change.ratio)} in {change.since}{where}{least}"
    span = f"({_limits(change.lower, change.upper)})"
    if each.pooled:
        return (
            f"Lot {each.lot} flowed {much} {span}. Those limits lie within 10 %, so all its catches count as one lot."
        )
    if change.lower > 1 or change.upper < 1:
        return f"Lot {each.lot} flowed {much} {span}, {apart}."
    return f"Lot {each.lot} flowed {much} {span}. Those limits do not lie within 10 %, {apart}."


def _p(p: float) -> str:
    return f"p = {p:.2g}" if p >= 1e-4 else "p < 0.0001"


def _dead(found: LotComparison, low: float, high: float) -> tuple[str, str]:
    """Dead settings as the lever shows them, between its readings; of chain positions there is only the drive ratio."""
    control = None if found.curves is None else found.curves.catches.control
    if isinstance(control, Lever):
        least, most = sorted(min(max(control.opening(each), control.lowest), control.highest) for each in (low, high))
        return around(control, least, most)
    unit = "drive ratio " if isinstance(control, Sprockets) else ""
    return f"{unit}{figures(low)}", figures(high)


def spread_sentences(spread: Spread | None) -> list[str]:
    """Lots in general, a new one, and the unusual ones."""
    if spread is None:
        return ["There is only one lot, so nothing can be said about lots in general."]
    said = []
    if spread.cv is not None:
        span = "" if spread.cv_lower is None else f" ({_cv_limits(spread.cv_lower, spread.cv_upper)})"
        if spread.cv == 0:
            said.append(f"Lots differ by no more than repeated catches do{span}.")
        else:
            much = f"about {percent(spread.cv)}" if spread.cv < 10 else "more than 1000"
            said.append(f"Lots differ by {much} %{span} from one to the next.")
    if spread.next_lower is not None and spread.next_upper is not None:
        span = f"{_change(spread.next_lower)} to {_change(spread.next_upper)} {_than(spread.next_upper)}"
        said.append(f"A new lot may flow anywhere from {span} the average lot.")
    if len(spread.unusual) > 1:
        said.append(f"Lots {', '.join(spread.unusual)} differ from the others by more than chance.")
    elif spread.unusual:
        said.append(f"Lot {spread.unusual[0]} differs from the others by more than chance.")
    if spread.several:
        who = (
            "The lot that is compared season by season counts"
            if spread.several == 1
            else (f"Each of the {spread.several} lots that are compared season by season counts")
        )
        said.append(f"{who} once here, with the season it was caught in most.")
    return said + ([str(spread.reason)] if spread.reason else [])


def _cv_limits(low: float, high: float | None) -> str:
    """Limits of how much lots differ; an upper one beyond 200 % is of no use."""
    return f"at least {percent(low)} %" if high is None or high > 2 else f"{percent(low)} to {percent(high)} %"


def season_sentences(found: LotComparison) -> list[str]:
    """Drift and repeatability; causes as possibilities only."""
    if found.seasons is None:
        return []
    said = [] if found.seasons.drift is None else [_drift(found.seasons.drift)]
    said += [_apart(each) for each in found.seasons.apart]
    if found.seasons.same_repeatability is not None:
        said.append(_same_repeatability(found.seasons.table, found.seasons.same_repeatability, found.level))
    return said + [str(reason) for reason in found.seasons.reasons]


def _drift(drift: Drift) -> str:
    many = drift.upper >= MULTIPLE
    by = "different lots"
    if drift.linked_lots:
        by = f"{count(drift.linked_lots, 'lot')} caught in more than one season, and the rest"
    if many:
        span = f"{_change(drift.lower)} to {_change(drift.upper)}"
    else:
        span = f"{100 * (drift.lower - 1):+z.1f} to {100 * (drift.upper - 1):+z.1f} %"
    if drift.shown:
        how = f"{'rises' if drift.ratio > 1 else 'falls'} by {percent(abs(drift.ratio - 1))} % a season"
        causes = f"Possible reasons are wear of the meter, damper or heavier seed, {CANNOT_TELL}"
        return f"Output {how} ({span}), judged by {by}. {causes}"
    if drift.lower < 1 / DRIFT_OF_USE or drift.upper > DRIFT_OF_USE:
        return f"A steady drift cannot be judged: these catches fit anything from {span} a season."
    return f"No steady drift is shown ({span} a season), judged by {by}."


def _apart(each: Apart) -> str:
    """A lot that moved by itself in one season."""
    much = f"{_change(each.ratio)} {_than(each.ratio)} its catches in {listed(each.since)} and the other lots predict"
    span = f"({_limits(each.lower, each.upper)})"
    return f"Lot {each.lot} flowed {much} in {each.season} {span}: that is this lot in that season, not the drill."


def _same_repeatability(table: tuple[Season, ...], test: SameRepeatability, level: float) -> str:
    how = f"{_p(test.p)}, {test.method} test"
    if test.p >= 1 - level:
        return f"Repeatability is the same in all seasons as far as these catches show ({how})."
    rows = [(row.repeatability, row.season or "none") for row in table if row.repeatability.df >= 1]
    known = [(row.cv, season) for row, season in rows if row.cv is not None]
    (best, calm), (worst, wild) = min(known), max(known)
    seen = f"{percent(best)} % in {calm}, {percent(worst)} % in {wild}"
    causes = f"Possible reasons are a worn meter, damp or trashy seed, {CANNOT_TELL}"
    return f"Repeatability differs between seasons ({how}): {seen}. {causes}"
