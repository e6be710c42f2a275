"""Advice in plain words: eight lines or so, and every remark, for a terminal of any width."""

from __future__ import annotations

from collections.abc import Callable

from predictor.advice.recommend import Advice
from predictor.units import RATE_UNIT

MOST_LINES = 8
# What to do, in a few words: the same on the terminal, on pages and cards, and in pictures.
DOING = {
    "lock": "lock at {}",
    "move": "set {}, catch again",
    "repeat": "stay at {}, catch again",
    "lengthen": "stay at {}, longer catches",
    "unreachable": "out of reach, nearest {}",
    "recheck": "repeat the catch at {}",
}
# The same where the control stands elsewhere.
FROM_ELSEWHERE = {"lock": "set {}, lock", "repeat": DOING["move"], "lengthen": "set {}, longer catches"}


def headline(advice: Advice) -> str:
    """What to do, in capitals."""
    return what_to_do(advice.decision, advice.setting, advice.present, capitals=True)


def what_to_do(
    decision: str, setting: float | str | None, present: float | str | None, *, capitals: bool = False
) -> str:
    """A decision in a few words."""
    text = DOING[decision]
    if setting is None:
        text = text.partition(",")[0]
    if present is None:
        text = text.removesuffix(" again")
    elif setting != present:
        text = FROM_ELSEWHERE.get(decision, text)
    return (text.upper() if capitals else text).format(shown(setting))


def shown(setting: float | str | None) -> str:
    """A setting as its control shows it."""
    return setting if isinstance(setting, str) else "" if setting is None else f"{setting:.10g}"


def lines(advice: Advice, units: str | None, wrapped: Callable[..., str]) -> list[str]:
    """The advice in plain words, warnings after the most important."""
    name = f"BOX {advice.box}, lot {advice.lot}: " if advice.lot else f"BOX {advice.box}: "
    result = [wrapped(name + headline(advice), "")]
    result.append(wrapped(advice.reason))
    if advice.chance is not None and advice.decision != "unreachable":
        share = min(int(100 * advice.chance), 99)
        what = "to be" if advice.whole_drill else "that the rows caught are"
        result.append(wrapped(f"Chance {share} in 100 {what} within {100 * advice.tolerance:g} % of target."))
    if advice.expected_output is not None:
        size = advice.turns * advice.rows
        result.append(
            wrapped(
                f"Target {advice.target_catch_g:.1f} g in {advice.turns:g} turns, {advice.rows:g} rows; expected "
                f"{advice.expected_output * size:.1f} g; next catch {advice.next_catch_interval_g[0]:.3g} to "
                f"{advice.next_catch_interval_g[1]:.3g} g."
            )
        )
    else:
        result.append(wrapped(f"Target {advice.target_catch_g:.1f} g in {advice.turns:g} turns, {advice.rows:g} rows."))
    result.append(wrapped(_evidence(advice, units)))
    remarks = [wrapped(warning) for warning in advice.warnings]
    extra = [wrapped(advice.history)] if advice.history else []
    # no more than eight lines a box, as they stand on the screen: what was left out matters more than what was learned
    if _height(result + extra + remarks) > MOST_LINES:
        extra = []
    return result + extra + remarks


def _height(parts: list[str]) -> int:
    return sum(part.count("\n") + 1 for part in parts)


def _ideal(advice: Advice) -> str:
    """Where the ideal setting lies, as far as the control goes."""
    low, high = advice.setting_interval
    if isinstance(low, str) or isinstance(high, str):  # chain positions
        if low is None or high is None:
            return f"ideal setting {'beyond' if high is None else 'before'} {low if high is None else high}"
        return f"ideal setting between {low} and {high}" if low != high else f"ideal setting {low}"
    if low is None and high is None:
        return ""
    control = advice.drill.box(advice.box).control if advice.drill else None
    lowest, highest = (control.lowest, control.highest) if control else (-float("inf"), float("inf"))
    if low is not None and low > highest:
        return f"ideal setting off the scale, beyond {highest:g}"
    if high is not None and high < lowest:
        return f"ideal setting off the scale, beyond {lowest:g}"
    start = f"{lowest:g} or less" if low is None or low < lowest else f"{low:.3g}"
    stop = f"{highest:g} or more" if high is None or high > highest else f"{high:.3g}"
    return f"ideal setting {start} to {stop}" if start != stop else f"ideal setting near {start}"


def _evidence(advice: Advice, units: str | None) -> str:
    """Rate, where the ideal setting lies, and the catches behind it."""
    parts = []
    rate = advice.rate(advice.target_output, units)
    if rate is not None:
        parts.append(f"bulk rate {rate:.2f} {RATE_UNIT[units or advice.drill.units]}")
    ideal = _ideal(advice)
    if ideal:
        parts.append(ideal)
    count = advice.catches_used
    parts.append(f"{count} {'catch' if count == 1 else 'catches'} used, {advice.catches_left_out} left out")
    if advice.catches_expected_more:
        parts.append(f"about {advice.catches_expected_more} more to come")
    text = "; ".join(parts)
    return text[0].upper() + text[1:] + "."
