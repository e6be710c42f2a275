"""Words that only the page at the drill needs: what its keys say, and what it asks beside the questions of `record`."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping

from predictor.domain.result import Remark
from predictor.files import columns
from predictor.job.stage import Stage
from predictor.text.log import row_words
from predictor.text.stage import doing_of

YES, NO = "Yes", "No"
# What a person may have done where a weight looks odd; each key says what becomes of the catch.
KEEP = "It is right: keep it"
MISREAD = "Misread: type it again"
CONTAINER = "The container was on the scale"
ALONE = "The seed was weighed alone"
NOT_CHARGED = "The meters were not charged"
OTHER_SIZE = "Other turns or rows"
BRIDGED = "Bridged or spilled: save it, but do not count it"
# What the row of such a catch has in its note.
BRIDGED_NOTE = "bridged or spilled"

# What is weighed, where no catch of the job says it yet.
WEIGHED_IS_ASKED = "alone or with the container: asked when you save"
LOOK_AGAIN = "Nothing was saved. Look at the page, and enter the catch again."
NO_SIZE = "Nothing was saved. Turns and rows are numbers above 0, and rows are whole."
SETTLED = "This is settled already."
CHANGED = "The log has changed since. Look at the page again."
LATER_ROWS = "This is not the last catch of its box any more. Mark it in the log."


def _as_shown(remark: Remark) -> str:
    setting = f"SET {remark['setting']} for " if remark["setting"] else ""
    shown = f"{setting}{remark['lot']}, {remark['made']}"
    return (
        f"When this was typed, the page showed {shown}. It shows another catch now. Was the catch made as it was shown?"
    )


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "as_shown": _as_shown,
    "typed_on": "This was typed when the page showed the day {day}. Today is {today}. Is it of {day}?",
}


# What a sentence tells somebody to type, and what it says to somebody who taps.
TYPED_AND_TAPPED = (
    (re.compile(r" \(Enter if [^)]*\)"), ""),
    (re.compile(r" If so, answer no, and type [^.]*\."), ""),
    (re.compile(r"answer no, and pass the day with --on\."), "set it right before you save."),
    (re.compile(r"answer no, and record the catch again with its day\."), "give up, and record it on the laptop."),
    (re.compile(r", or: predictor record --confirm [\d,]+"), ", or tap KEEP."),
    (re.compile(r": predictor record --confirm [\d,]+"), ", tap KEEP."),
    (re.compile(r" If all is right, say so with:$"), " If all is right, tap KEEP."),
    (re.compile(r", and look again:$"), "."),
    (re.compile(r" w: seed weighed .*"), ""),
    (re.compile(r"^w or c$"), ""),
    (re.compile(r" --no-field-factor leaves (it|them) out\."), ""),
    (re.compile(r" --undo takes the last check back\."), ""),
)


def on_page(text: str) -> str:
    """A sentence without what can only be typed in a terminal.

    >>> on_page("Seed left in the box, lb (Enter if it was not weighed)")
    'Seed left in the box, lb'
    >>> on_page("Was 31 g meant? If so, answer no, and type it again. Keep 13 g?")
    'Was 31 g meant? Keep 13 g?'
    """
    for typed, tapped in TYPED_AND_TAPPED:
        text = typed.sub(tapped, text)
    return text


def tab(stage: Stage) -> str:
    """Where a box is, in two or three words."""
    found = doing_of(stage)
    return " ".join(filter(None, (found.verb.upper(), found.setting)))


def source(advised: str, last: str, first: str) -> str:
    """Where the setting of the next catch is from: `first` for a lot that has no catch yet."""
    said = [f"advised, {first}" if first else "advised" if advised else ""]
    said += [f"last catch at {last}"] if last and last != advised else []
    return "; ".join(filter(None, said))


def there(line: int, cells: Mapping[str, str]) -> str:
    """What is saved of an entry that was saved before, as one that was sent again is told: the row may be another."""
    unused = " It is marked unused." if cells.get("use", "").lower() in columns.NO else ""
    return f"Saved as line {line}: {row_words(cells)}.{unused}"
