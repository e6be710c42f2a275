"""Holds the usual turns and rows, by which catches were read, against those of the drill that they are used with."""

import numpy as np

from predictor.domain.drill import CatchDefaults, Drill
from predictor.domain.trials import Trials
from predictor.errors import InputError


def check_usual(trials: Trials, drill: Drill | None) -> None:
    """Refuse trials whose rows without turns or rows took what is usual of another drill, or of none."""
    before = trials.drill
    if drill is None or drill is before:
        return
    for box in drill.boxes:
        mine = trials.of(box=box.name)
        theirs = [] if before is None else [before.catch_of(each) for each in before.boxes if each.name == box.name]
        old, new = next(iter(theirs), CatchDefaults()), drill.catch_of(box)
        for name, values in (("turns", mine.turns), ("rows", mine.rows)):
            taken, usual = getattr(old, name), getattr(new, name)
            silent = np.array([name not in text.split() for text in mine.stated.tolist()], dtype=bool)
            if taken != usual and (silent & (values == taken)).any():
                raise InputError(
                    f"Catches of box {box.name} that do not say their {name} were read as of {taken:g} {name}, but of "
                    f"this drill they are of {usual:g}. Read them with it: read_trials(path, drill)."
                )
