"""What to do in a few words, how sure it is, and what has to be looked at first: the same wherever it is shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from predictor.advice.result import Advice
from predictor.domain.control import Setting
from predictor.format import chances, plain
from predictor.slips.finding import Finding
from predictor.text.given import together

# What to do with the setting, in a few words, and what goes on: the same on the terminal, on pages and in pictures.
DOING = {
    "lock": ("lock at", ""),
    "move": ("set", "catch again"),
    "repeat": ("stay at", "catch again"),
    "lengthen": ("stay at", "larger catches"),
    "unreachable": ("out of reach", "nearest"),
    "recheck": ("repeat the catch at", ""),
    "offer": ("lock at", "or catch again"),
    "check_log": ("check the log first", ""),
    "check_drill": ("check drill.toml first", ""),
    "check_plan": ("check plan.csv first", ""),
}
# Those that name no setting to use.
NO_SETTING = ("unreachable", "check_log", "check_drill", "check_plan")
# Where to look first, by what waits; what is not named is in the log.
WAITS_FOR = {"slips.example_drill": "check_drill", "slips.example_lots": "check_plan"}
# The same where the control stands elsewhere.
FROM_ELSEWHERE = {"lock": ("set", "lock"), "repeat": DOING["move"], "lengthen": ("set", "larger catches")}


@dataclass(frozen=True)
class Doing:
    """What to do or what was done, in the pieces that a screen, card or picture arranges.

    >>> Doing("set", "14", then="catch again").text(), Doing("out of reach", then="nearest", other="5").text()
    ('SET 14, CATCH AGAIN', 'OUT OF REACH, NEAREST 5')
    >>> Doing("planted at", "4", where="(north, 18 Nov)", then="leave it").text()
    'PLANTED AT 4 (north, 18 Nov), LEAVE IT'
    """

    verb: str
    setting: str = ""  # As the control shows it; "" where none is to be used
    where: str = ""
    then: str = ""
    other: str = ""  # A setting that is named but is not to be used

    def text(self, *, capitals: bool = True) -> str:
        """All in one phrase; settings and places keep their letters."""
        verb, then = (each.upper() if capitals else each for each in (self.verb, self.then))
        said = " ".join(filter(None, (verb, self.setting, self.where)))
        more = " ".join(filter(None, (then, self.other)))
        return f"{said}{self.joint} {more}" if more else said

    @property
    def joint(self) -> str:
        """The comma before what goes on, where one stands there."""
        return "" if self.then.startswith(("or ", "for ")) else ","


def headline(advice: Advice, *, capitals: bool = True) -> str:
    """What to do, all but the setting in capitals if wanted."""
    return doing(advice).text(capitals=capitals)


def doing(advice: Advice) -> Doing:
    """What to do, in pieces."""
    decision = look_first(advice.why.code) or ("offer" if advice.offers_lock else advice.decision)
    return do(decision, advice.advised, advice.present)


def look_first(code: str) -> str:
    """Which file to look at first where a likely slip is why; "" where none is.

    >>> look_first("slips.example_drill"), look_first("slips.run"), look_first("advice.lock")
    ('check_drill', 'check_log', '')
    """
    return WAITS_FOR.get(code, "check_log") if code.startswith("slips.") else ""


def do(decision: str, setting: Setting | None, present: Setting | None) -> Doing:
    """A decision in pieces, for a control that stands at `present`, or was not caught at yet.

    >>> do("lock", Setting(15.0, 15.0, "15"), Setting(14.5, 14.5, "14.5")).text()
    'SET 15, LOCK'
    >>> do("move", Setting("3", 0.5, "3"), None).text(), do("unreachable", None, None).text()
    ('SET 3, CATCH', 'OUT OF REACH')
    """
    verb, then = DOING["repeat" if decision == "move" and setting == present else decision]
    if present is not None and setting is not None and setting != present:
        verb, then = FROM_ELSEWHERE.get(decision, (verb, then))
    if present is None:
        then = then.removesuffix(" again")
    return _arranged(decision, verb, then, "" if setting is None else setting.text)


def done(decision: str, setting: str) -> Doing:
    """A decision of before, in pieces, as it was written down.

    >>> done("unreachable", "5").text(capitals=False), done("move", "14").text(capitals=False)
    ('out of reach, nearest 5', 'set 14, catch again')
    """
    return _arranged(decision, *DOING[decision], setting)


def _arranged(decision: str, verb: str, then: str, setting: str) -> Doing:
    if not setting:
        return Doing(verb)
    if decision in NO_SETTING:
        return Doing(verb, then=then, other=setting if then else "")
    return Doing(verb, setting, then=then)


def what_to_do(decision: str, setting: Setting | None, present: Setting | None, *, capitals: bool = False) -> str:
    """A decision in a few words, all but the setting in capitals where asked for."""
    return do(decision, setting, present).text(capitals=capitals)


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
