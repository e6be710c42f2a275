"""Advice in plain words: what to do, why, and what is behind it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from predictor.advice.result import Advice
from predictor.domain.arguments import listed as first_of
from predictor.domain.catch import CatchSize, slips
from predictor.domain.result import Remark
from predictor.format import chances, count, figures, in_100, listed, percent, plain
from predictor.text import field
from predictor.text.causes import odd, odd_size, place, weight_at
from predictor.text.drill import length_words

IN_PARTS = "Weigh this catch in four parts, one after each quarter of it: they show how much catches scatter."


# Catches that are left out, by why: so many are named.
MOST_NAMED = 12


def _left_out(remark: Remark) -> str:
    states = {
        "uncharged": "the meters were not charged",
        "nothing": "nothing came, so the box opens above this setting; if not, look for a plugged row or a closed gate",
    }
    alike: dict[str, list[Mapping[str, Any]]] = {}
    for catch in remark["catches"]:
        marked = f"marked unused: {catch['note']}" if catch["note"] else "marked unused"
        alike.setdefault(f"{weight_at(catch)} ({states.get(catch['status'], marked)})", []).append(catch)
    named = [f"{_places(catches)}, {words}" for words, catches in list(alike.items())[:MOST_NAMED]]
    more = sum(len(catches) for catches in list(alike.values())[MOST_NAMED:])
    return f"Left out: {'; '.join(named)}{f'; and {more:,} more' if more else ''}."


def _places(catches: Sequence[Mapping[str, Any]]) -> str:
    """Where several catches are found."""
    *others, last = [place(each).lower() for each in catches]
    if not others:
        return last
    what = "lines" if catches[0]["line"] else "catches"
    return f"{what} {listed(each.split()[-1] for each in others)} and {last.split()[-1]}"


def _standing_left_out(remark: Remark) -> str:
    named = [f"{place(each).lower()}, {weight_at(each)}" for each in remark["catches"]]
    return (
        f"Left out, since the drill stood: {'; '.join(named)}. The others were made while it was towed, and no field "
        "check says how far the two differ."
    )


def _other_seasons(remark: Remark) -> str:
    catches = f"{count(remark['count'], 'catch', 'catches')} of this lot in {', '.join(remark['seasons'])}"
    verb = "is" if remark["count"] == 1 else "are"
    if remark["learned"]:
        return f"{catches} {verb} counted as an earlier lot's, not as this one's."
    return f"{catches} {verb} not counted here."


def _plugged(remark: Remark) -> str:
    rows = remark["rows"]
    after = (
        "The catch was made again since, so this one is not used." if remark["again"] else "Clear it and catch again."
    )
    which = f"{'row' if len(rows) == 1 else 'rows'} {', '.join(map(str, rows))}"
    return f"{place(remark.values)}: {which} gave less than half of what the others gave. {after}"


def _set_aside(remark: Remark) -> str:
    """Which catch is not used, and how far it lies from what the others say."""
    return (
        f"{place(remark.values)}, {weight_at(remark.values)}, {odd_size(remark['ratio'])}, and its repeat agrees with "
        "them, so it is not used. If you know why, write the reason in its note and no in its column use."
    )


def _lock(remark: Remark) -> str:
    times = {1: "once", 2: "twice"}.get(remark["times"], f"{remark['times']} times")
    if remark["back"]:
        return f"{remark['setting']} was caught {times} and is sure enough. Set it back there, lock it and plant."
    return f"This setting was caught {times} and is sure enough. Lock it and plant."


def _length(size: CatchSize) -> str:
    return length_words(size.length, size.counted)


def _more_turns(remark: Remark) -> str:
    return (
        f"Catches scatter by {percent(remark['cv'])} %, so at {_length(remark['size'])} it would take too many. "
        f"Use {_length(remark['next_size'])} a catch from here."
    )


def _more_rows(remark: Remark) -> str:
    return (
        f"Rows differ by {percent(remark['spread'])} %, so catching the same {remark['rows']} again cannot tell the "
        f"rate of the whole drill. Catch {remark['next_rows']} of the {remark['box_rows']} rows."
    )


def _offer(remark: Remark) -> str:
    """What is known after many catches, and the choice."""
    known = f"After {count(remark['catches'], 'catch', 'catches')} it is {in_100(remark['chance'])} in 100."
    if remark["more"] is None:
        because = {
            "noise": "catches scatter too widely for this tolerance",
            "rows": "rows differ too widely",
        }.get(remark["cause"], "the rate is near the edge of tolerance")
        return (
            f"{known} More catches are unlikely to settle it, because {because}. Lock at {remark['setting']} with "
            "that, or ask whether the specification allows more."
        )
    longer = f" of {_length(remark['next_size'])}" if remark["next_size"] else ""
    more = count(remark["more"], "more catch", "more catches")
    return f"{known} Lock at {remark['setting']} with that, or make about {more}{longer} to be surer."


def out_of_reach(remark: Remark, *, name_it: bool = True) -> str:
    """Why no setting will do and what to change; the nearest is named unless it could be taken for one to plant at."""
    off, drives = remark["off"], remark["drives"]
    drive = "chain pair" if remark["chain"] else "drive than these" if drives else "drive (if the drill has one)"
    on = f" on {' or '.join(drives)}" if drives else ""
    why = f"{chances(remark['chance'])} that no setting of this box{on} is within tolerance."
    if remark["between"]:
        mend = (
            f"The target lies between two settings: change the carrier or use another {drive} so that one fits, or ask "
            "whether the specification allows more"
        )
    elif off > 0:
        mend = f"Add carrier (then more must be caught), use a slower {drive}, or close rows"
        mend += _shut_below(remark) if remark["shut"] is not None else ""
    else:
        mend = f"Use a faster {drive}, split the seed between two boxes, or drill twice, each time at half the rate"
    size = f"{100 * abs(off):.0f} %" if abs(off) < 10 else "many times"
    nearest = f"The nearest is {remark['setting']}:" if name_it else "The nearest one is"
    return f"{why} {nearest} {size} {'above' if off > 0 else 'below'} target. {mend}."


def _too_light(remark: Remark) -> str:
    """Why a catch of nothing tells nothing."""
    return (
        f"Nothing came at {remark['setting']}, but the wanted catch is only {figures(remark['grams'])} g in "
        f"{_length(remark['size'])}, and the scale has steps of {plain(remark['step'])} g"
    )


def _other_drive(remark: Remark) -> str:
    """Why to change the drive."""
    return (
        f"No setting on {remark['from']} has more than {chances(remark['chance'])}. This one on "
        f"{remark['drive']} is more likely to be on target. Change the drive and make the next catch there."
    )


def _shut_below(remark: Remark) -> str:
    """Why no lower setting is named, and how to see so little seed."""
    taken = "The lever is shut at {}"
    if remark["assumed"]:
        taken = "The lever is taken as shut at {}, unless a catch there gives seed"
    more = "Make more turns a catch where the scale hardly shows so little seed"
    return f". {taken.format(remark['shut'])}. {more}"


def _falling(remark: Remark) -> str:
    this, other = ("Higher", "lower") if remark["more_is"] == "higher" else ("Lower", "higher")
    return (
        f'{this} readings gave less each time. If that is how this lever works, write more_is = "{other}" for box '
        f"{remark['box']} in drill.toml. If not, check the settings."
    )


def _history(remark: Remark) -> str:
    lots = count(remark["lots"], "earlier lot")
    if remark["other_lots"]:
        own = f"{lots} of this drill and " if remark["lots"] else ""
        whose = "another drill" if remark["other_drills"] == 1 else f"{remark['other_drills']} other drills"
        lots = f"{own}{count(remark['other_lots'], 'lot')} of {whose}"
    text = f"Shape and repeatability ({percent(remark['cv'])} %) were learned from {lots}"
    if remark["lot_spread"] is not None:
        text += f"; lots differ by {percent(remark['lot_spread'])} %"
    if remark["left_out"]:
        text += f"; not used, because too unlike the others: {listed(remark['left_out'])}"
    if remark["unplaced"]:
        text += f"; not used, because the ratio of its drive is not known: {listed(remark['unplaced'])}"
    if remark["scaled"]:
        text += "; catches on other drives count by the ratios of the drives"
    if remark["drifted"]:
        text += "; the meters have drifted, so older seasons count less"
    if remark["same_lot"]:
        text += f". The same lot was caught in {remark['same_lot']}, so it should flow as it did then, within about "
        text += f"{percent(2 * remark['level_known'])} %"
    if remark["reused"]:
        text += ". This name is that of a blend, so its earlier catches count as those of another lot"
    return text + "."


def _model(remark: Remark) -> str:
    earlier = ", shape from earlier lots" if remark["history"] else ""
    return {
        "none": "none",
        "spline": "spline: a bent line leaves a pattern and predicts left-out catches worse",
        "line": f"line with a dead setting and a slight bend, averaged over both{earlier}",
    }[remark["family"]]


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "start": lambda remark: (
        f"{'No catch counts' if remark['left_out'] else 'There is no catch'} yet: start in the middle. {IN_PARTS}"
    ),
    "start-as-earlier": f"Earlier lots say to start here. {IN_PARTS}",
    "nothing-yet": "Nothing came at {setting}. Check gate and seed, then catch further open.",
    "nothing-at-most": (
        "Nothing came at {setting}, the most this box can give. Look for a closed gate, a plugged row or an empty box."
    ),
    "lock": _lock,
    "more-likely": "This setting is more likely to be on target. Make the next catch there.",
    "thin": "This is the best setting so far, but the evidence is thin. Catch there again.",
    "settle-nearest": "No setting looks near enough. This is the nearest, and one catch there settles it.",
    "more-turns": _more_turns,
    "more-rows": _more_rows,
    "offer": _offer,
    "unreachable": out_of_reach,
    "plugged": _plugged,
    "falling": _falling,
    "contradicted": odd,
    "set-aside": _set_aside,
    "left-out": _left_out,
    "other-seasons": _other_seasons,
    "no-such-lot": lambda remark: (
        f"The trials of box {remark['box']} have no catch of lot {remark['lot']}. "
        + (f"Did you mean {remark['near']}? " if remark["near"] else "")
        + f"Lots there: {first_of(remark['known'])}."
    ),
    "no-such-season": lambda remark: (
        f"There is no catch of season {remark['season']} yet. Seasons there: {first_of(remark['known'])}."
    ),
    "old_catches": "The last catch is of {day}. Seed and drill change: catch again before you plant.",
    "not-shut": lambda remark: (
        f"{place(remark.values)}, {weight_at(remark.values)}, gave seed, though drill.toml says that the lever of box "
        f"{remark['box']} is shut at {remark['shut']:g}. Was the setting misread? If not, correct shut."
    ),
    "standing-left-out": _standing_left_out,
    "standing-scaled": lambda remark: (
        f"{count(remark['count'], 'catch', 'catches')} of the standing drill, counted with the field factor of "
        f"{remark['factor']:.2f} that checks measured."
    ),
    "other-drive": _other_drive,
    "longer-to-see": lambda remark: (
        f"{_too_light(remark)}. Use {_length(remark['next_size'])} a catch from here, so that the scale can show it."
    ),
    "too-light": lambda remark: f"{_too_light(remark)}. Use a finer scale, or add carrier (then more must be caught).",
    "untried-drive": (
        "No setting on {from} reaches the target. drill.toml does not give the ratio of {drive}, so nothing is known "
        "of it yet. Change the drive and make the next catch there."
    ),
    "drives": lambda remark: (
        f"{count(remark['count'], 'catch', 'catches')} on {' and '.join(remark['others'])} "
        f"{'counts' if remark['count'] == 1 else 'count'} here as if made on {remark['drive']}, on the assumption that "
        "output is proportional to the speed of the drive."
    ),
    "drive-unknown": lambda remark: (
        f"{count(remark['count'], 'catch', 'catches')} on {' and '.join(remark['others'])} "
        f"{'is' if remark['count'] == 1 else 'are'} not counted with those on {remark['drive']}, because drill.toml "
        "does not give the ratio of both drives."
    ),
    "chaffy-empties": "The output of a chaffy box falls as it empties. Catch with the box half full, and refill early.",
    "history": _history,
    "model": _model,
}


def standing_note(advices: Sequence[Advice]) -> str:
    """That chances are those of the standing drill, and what comes on top in the field; once a page."""
    towed = [each.box for each in advices if each.towed]
    plain_targets = [each for each in advices if each.aim.field_factor == 1 and not each.towed]
    checked = [each.box for each in plain_targets if each.checked]
    unchecked = [each for each in plain_targets if not each.checked]
    motors = [each.box for each in unchecked if each.drill and not slips(each.drill, each.seed_box)]
    wheels = [each.box for each in unchecked if each.box not in motors]
    return field.standing_note(wheels, len(advices), towed, motors, checked)
