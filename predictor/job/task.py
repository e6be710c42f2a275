"""What is asked of one box and lot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from predictor.advice.lot_fit import is_towed
from predictor.domain.arguments import POSITIVE, kind, label, maybe_label, number
from predictor.domain.codes import Codes, codes_of
from predictor.domain.drill import SeedBox
from predictor.domain.trials import Flags, Trials


@dataclass(frozen=True)
class Task:
    """A box and lot with a target.

    Attributes
    ----------
    box : SeedBox
    lot : str
    season : str or None
        Of its last dated catch, "" where none is dated; None where there is no catch yet.
    target_output : float
        Grams per row per turn.
    field_factor : float
        Field rate over stationary rate for which the target is corrected; 1 for a lot that was towed.

    Raises
    ------
    InputError
        The box is no SeedBox, or a number is not above 0.
    """

    box: SeedBox
    lot: str
    season: str | None
    target_output: float
    field_factor: float = 1.0

    def __post_init__(self) -> None:
        kind(self.box, "box", SeedBox, "a SeedBox, such as job.drill.box(name)")
        object.__setattr__(self, "lot", label(self.lot, "lot"))
        object.__setattr__(self, "season", maybe_label(self.season, "season"))
        for name in ("target_output", "field_factor"):
            object.__setattr__(self, name, number(getattr(self, name), name, POSITIVE))


def last_caught(trials: Trials, box: SeedBox) -> dict[str, tuple[str | None, float, float | None]]:
    """Of each lot of a box its last season, turns times rows of its last catch, and the output that one wanted last.

    Of a lot that was towed in its last season only the towed catches tell what was wanted, and how much was caught.
    """
    lots, lot = codes_of(trials, "lot")

    def last(which: Flags) -> Codes:
        found, rows = np.full(len(lots), -1), np.flatnonzero(which)
        found[lot[rows]] = rows  # the last that is written stays
        return found

    seasons = [str(trials.season[k]) if k >= 0 else "" for k in last(trials.season != "").tolist()]
    said = np.ones(len(trials), dtype=bool)
    for k in np.unique(lot[trials.towed]).tolist():
        if is_towed(trials, box, lots[k], seasons[k]):
            said &= (lot != k) | trials.towed
    sizes, wanted = trials.turns * trials.rows, last(said & np.isfinite(trials.target_g)).tolist()
    outputs = [float(trials.target_g[k] / sizes[k]) if k >= 0 else None for k in wanted]
    return dict(zip(lots, zip(seasons, sizes[last(said)].tolist(), outputs, strict=True), strict=True))
