"""Catches in plain words: how many of which box, lot and season, and which do not count."""

from __future__ import annotations

from predictor.domain.trials import Trials
from predictor.format import count
from predictor.text.fold import Fold

STATES = {"unused": "marked unused", "uncharged": "not charged", "nothing": "of weight nothing"}


def lines(trials: Trials, wrapped: Fold) -> list[str]:
    """A line for each box and lot, and what the reader assumed."""
    found = [wrapped(count(len(trials), "catch", "catches") + (f" in {trials.file}" if trials.file else ""), "")]
    lots = dict.fromkeys(zip(trials.box.tolist(), trials.lot.tolist(), trials.season.tolist(), strict=True))
    for box, lot, season in lots:
        mine = trials.of(box=box, lot=lot, season=season)
        states = mine.status.tolist()
        name = f"Box {box}, lot {lot}{f' ({season})' if season else ''}"
        grams = f"{mine.catch_g.min():.4g} to {mine.catch_g.max():.4g} g"
        left_out = [f", {states.count(code)} {words}" for code, words in STATES.items() if code in states]
        found.append(wrapped(f"{name}: {count(len(mine), 'catch', 'catches')}, {grams}{''.join(left_out)}"))
    return found + [wrapped(str(each)) for each in trials.assumed]


def nothing_to_do(trials: Trials, box: str | None = None, lot: str | None = None) -> str:
    """Why there is no advice on a box and lot, or on any."""
    pairs = zip(trials.box.tolist(), trials.lot.tolist(), strict=True)
    there = ", ".join(sorted({f"{name} {lot_name}" for name, lot_name in pairs})) or "none"
    if box or lot:
        wanted = " ".join(filter(None, (box, lot)))
        return f"There are no catches and no target for {wanted}. Boxes and lots in the trials: {there}."
    return (
        f"No box has a target. Boxes and lots in the trials: {there}. Write them into plan.csv beside the trials, "
        "add a column target_g, or pass --box and --target-g."
    )
