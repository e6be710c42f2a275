"""What to do in a few words, how sure it is, and what has to be looked at first: the same wherever it is shown."""

from __future__ import annotations

from collections.abc import Sequence

from predictor.advice.result import Advice
from predictor.domain.control import Setting
from predictor.format import chances, plain
from predictor.slips.finding import Finding
from predictor.text.given import together

# What to do, in a few words: the same on the terminal, on pages and cards, and in pictures.
DOING = {
    "lock": "lock at {}",
    "move": "set {}, catch again",
    "repeat": "stay at {}, catch again",
    "lengthen": "stay at {}, larger catches",
    "unreachable": "out of reach, nearest {}",
    "recheck": "repeat the catch at {}",
    "offer": "lock at {} or catch again",
    "check_log": "check the log first",
    "check_drill": "check drill.toml first",
    "check_plan": "check plan.csv first",
}
# Where to look first, by what waits; what is not named is in the log.
WAITS_FOR = {"slips.example_drill": "check_drill", "slips.example_lots": "check_plan"}
# The same where the control stands elsewhere.
FROM_ELSEWHERE = {"lock": "set {}, lock", "repeat": DOING["move"], "lengthen": "set {}, larger catches"}


def headline(advice: Advice, *, capitals: bool = True) -> str:
    """What to do, all but the setting in capitals if wanted."""
    decision = look_first(advice.why.code) or ("offer" if advice.offers_lock else advice.decision)
    return what_to_do(decision, advice.advised, advice.present, capitals=capitals)


def look_first(code: str) -> str:
    """Which file to look at first where a likely slip is why; "" where none is.

    >>> look_first("slips.example_drill"), look_first("slips.run"), look_first("advice.lock")
    ('check_drill', 'check_log', '')
    """
    return WAITS_FOR.get(code, "check_log") if code.startswith("slips.") else ""


def what_to_do(decision: str, setting: Setting | None, present: Setting | None, *, capitals: bool = False) -> str:
    """A decision in a few words, all but the setting in capitals where asked for.

    >>> what_to_do("lock", Setting(15.0, 15.0, "15"), Setting(14.5, 14.5, "14.5"))
    'set 15, lock'
    >>> what_to_do("move", Setting("3", 0.5, "3"), None), what_to_do("unreachable", None, None)
    ('set 3, catch', 'out of reach')
    """
    text = DOING[decision]
    if setting is None:
        text = text.partition(",")[0]
    if present is None:
        text = text.removesuffix(" again")
    elif setting != present:
        text = FROM_ELSEWHERE.get(decision, text)
    return (text.upper() if capitals else text).format(setting or "")


def without_slip(advice: Advice) -> str:
    """What the catches would say if no slip had to be looked at first; "" where none has to be."""
    if advice.otherwise is None:
        return ""
    said = f"If all is right: {what_to_do(advice.otherwise, advice.advised, advice.present)}"
    if advice.chance is None or advice.otherwise == "unreachable":
        return f"{said}."
    return f"{said}, {chances(advice.chance)} that {on_target(advice)}."


def look_at(advice: Advice) -> list[str]:
    """What else looks like a slip, besides what the reason says already."""
    return [f"Look at: {each}" for each in other_slips(advice)]


def other_slips(advice: Advice) -> list[Finding]:
    """The findings that the reason of the advice does not say already."""
    return [
        each for each in advice.slips if each is not advice.waiting and dict(advice.why.values) != dict(each.values)
    ]


def on_target(advice: Advice) -> str:
    """What the chance is of, the same wherever it is shown."""
    drill = "towed" if advice.towed else "standing"
    what = f"the {drill} drill is" if advice.whole_drill else f"the caught rows of the {drill} drill are"
    return f"{what} within {plain(100 * advice.tolerance)} % of target"


def given_line(advices: Sequence[Advice], *, short: bool = False) -> str:
    """What was taken as given of the catches of some boxes; "" before the first."""
    found = [each.given for each in advices if each.given is not None]
    return together(found, short=short) if found else ""
