"""A comparison of lots in plain words, for the technician."""

from __future__ import annotations

from predictor.domain.control import Sprockets
from predictor.lots.results import Lot, LotComparison
from predictor.lots.seasons import Season
from predictor.lots.spread import Spread

# Two lots this alike, as surely as that, need no other setting (common practice, half the usual tolerance of 10 %).
ALIKE = 0.05
# Limits of a drift wider than half to double a season rule nothing out that could happen.
DRIFT_OF_USE = 2.0


def lot_sentence(found: LotComparison, row: Lot, *, start: bool = True) -> str:
    """How one lot flows against the reference, and where to start with it."""
    name, reference = f"Lot {row.lot}", found.reference
    where = "" if row.at_setting is None else f" at setting {show(row.at_setting)}"
    where_to = _start(found, row) if start else ""
    if row.ratio is None:
        return f"{name} cannot be compared with {reference}{where}: its fitted line gives no output there."
    much = f"{change(row.ratio)} {'as' if row.ratio >= 3 else 'than'} {reference}{where}"
    if row.lower is None or row.upper is None:
        return f"{name} flowed {much}, how surely cannot be said{where_to}."
    span = f"({limits(row.lower, row.upper)})"
    if row.lower > 1 or row.upper < 1:
        return f"{name} flows {much} {span}{where_to}."
    if 1 - ALIKE <= row.lower and row.upper <= 1 + ALIKE:
        return f"{name} flows like {reference}{where} {span}{where_to}."
    return f"{name} cannot be told from {reference} yet{where} {span}{where_to}."


def _start(found: LotComparison, row: Lot) -> str:
    if row.setting is None:
        beyond = next((note for note in row.notes if "beyond" in note), None)
        return f": {beyond}" if beyond else ""
    if found.reference_setting is None:
        return f": start near {show(row.setting)}"
    if row.setting == found.reference_setting:
        return f": start at {show(row.setting)} too"
    return f": start near {show(row.setting)} instead of {show(found.reference_setting)}"


def change(ratio: float) -> str:
    """A ratio as a change."""
    if ratio >= 3:
        return f"{ratio:.2g} times as fast"
    return f"{percent(abs(ratio - 1))} {'faster' if ratio >= 1 else 'slower'}"


def limits(low: float, high: float) -> str:
    """Limits of a ratio as changes; both in one direction as bare figures."""
    if low > 1 and high < 3:
        return f"{_figure(low - 1)} to {percent(high - 1)}"
    if high < 1:
        return f"{_figure(1 - high)} to {percent(1 - low)}"
    return f"{change(low)} to {change(high)}"


def percent(fraction: float) -> str:
    """A fraction in per cent: whole, or with one decimal below 1 %."""
    return f"{_figure(fraction)} %"


def _figure(fraction: float) -> str:
    value = 100 * fraction
    return f"{value:.0f}" if value >= 0.95 or value < 0.05 else f"{value:.1f}"


def show(setting: float | str | None) -> str:
    """A setting as the control shows it."""
    return "-" if setting is None else setting if isinstance(setting, str) else f"{setting:.10g}"


def shape_sentence(found: LotComparison) -> str:
    """Whether the lots share one curve shape."""
    shape = found.shape
    if shape is None:
        return ""
    if shape.same is None:
        return f"One curve shape is assumed; it cannot be tested. {shape.reason}"
    p = f"p = {shape.test.p:.2g}" if shape.test.p >= 1e-4 else "p < 0.0001"
    if shape.same:
        return f"The lots share one curve shape as far as these catches show ({p}): one ratio holds at every setting."
    dead = [row.dead_opening for row in found.lots if row.dead_opening is not None]
    seen = f" Dead settings run from {_dead(found, min(dead))} to {_dead(found, max(dead))}." if len(dead) > 1 else ""
    return f"The lots do not share one curve shape ({p}): a ratio holds at the setting named with it only.{seen}"


def _dead(found: LotComparison, opening: float) -> str:
    """A dead setting as the lever shows it; between chain positions there is only the drive ratio."""
    control = found.curves.control if found.curves is not None else None
    if isinstance(control, Sprockets):
        return f"drive ratio {opening:.2g}"
    return f"{control.opening(opening) if control is not None else opening:.3g}"


def adjustment_sentence(found: LotComparison) -> str:
    """What the limits of the ratios promise."""
    sure = f"{100 * found.level:g} in 100"
    names = {
        "Dunnett": "all of them together (Dunnett's many-to-one limits)",
        "Sidak": "all of them together (Sidak's limits, a little wide)",
        "Bonferroni": "all of them together (Bonferroni's limits, a little wide)",
        "none": "this one comparison",
    }
    return "" if found.adjustment not in names else f"The limits hold with {sure} for {names[found.adjustment]}."


def spread_sentences(spread: Spread | None) -> list[str]:
    """Lots in general, the next one, and those that stand apart."""
    if spread is None:
        return ["One lot only: nothing can be said about lots in general."]
    said = []
    if spread.cv is not None:
        span = "" if spread.cv_lower is None else f" ({_cv_limits(spread.cv_lower, spread.cv_upper)})"
        if spread.cv == 0:
            said.append(f"Lots differ by no more than repeated catches do{span}.")
        else:
            said.append(f"Lots differ by about {percent(spread.cv)}{span} from one to the next.")
    if spread.next_lower is not None and spread.next_upper is not None:
        span = limits(spread.next_lower, spread.next_upper)
        said.append(f"A lot not yet seen may flow {span}, against the average lot.")
    if spread.unusual:
        plural = len(spread.unusual) > 1
        said.append(
            f"{'Lots' if plural else 'Lot'} {', '.join(spread.unusual)} "
            f"{'stand' if plural else 'stands'} apart from the others by more than chance."
        )
    return said + ([spread.reason] if spread.reason else [])


def _cv_limits(low: float, high: float | None) -> str:
    """Limits of how much lots differ; an upper one beyond 200 % is of no use."""
    return f"at least {percent(low)}" if high is None or high > 2 else f"{_figure(low)} to {percent(high)}"


def season_sentences(found: LotComparison) -> list[str]:
    """Drift and repeatability; causes as possibilities only."""
    seasons = found.seasons
    if seasons is None:
        return []
    said = []
    drift, same_cv = seasons.drift, seasons.repeatability
    if drift is not None:
        by = (
            "different lots"
            if drift.linked_lots == 0
            else f"{drift.linked_lots} lot{'s' * (drift.linked_lots > 1)} caught in more than one season, and the rest"
        )
        word = "rises" if drift.ratio > 1 else "falls"
        span = _drift_limits(drift.lower, drift.upper)
        if drift.shown:
            said.append(
                f"Output {word} by {percent(abs(drift.ratio - 1))} a season ({span}), judged by {by}. Wear of the "
                "meter, damper or heavier seed, or another way of catching are possible reasons; these catches "
                "cannot tell which."
            )
        elif drift.lower < 1 / DRIFT_OF_USE or drift.upper > DRIFT_OF_USE:
            said.append(f"A steady drift cannot be judged: anything from {span} a season would fit these catches.")
        else:
            said.append(f"No steady drift is shown: {span} a season, judged by {by}.")
    if same_cv is not None:
        said.append(_repeatability(seasons.table, same_cv, found.level))
    return said + list(seasons.reasons)


def _drift_limits(low: float, high: float) -> str:
    if high >= 3:
        return f"{change(low)} to {change(high)}"
    return f"{100 * (low - 1):+.1f} to {100 * (high - 1):+.1f} %"


def _repeatability(table: tuple[Season, ...], test, level: float) -> str:
    shown = sorted((row for row in table if row.cv is not None and row.df >= 1), key=lambda row: row.cv)
    best, worst = shown[0], shown[-1]
    p = f"p = {test.p:.2g}" if test.p >= 1e-4 else "p < 0.0001"
    if test.p >= 1 - level:
        return f"Repeatability is alike in the seasons as far as these catches show ({p}, {test.method})."
    return (
        f"Repeatability differs between seasons ({p}, {test.method}): {percent(best.cv)} in {best.season or 'none'}, "
        f"{percent(worst.cv)} in {worst.season or 'none'}. A worn meter, damp or trashy seed, or another way of "
        "catching are possible reasons; these catches cannot tell which."
    )
