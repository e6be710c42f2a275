"""What is asked of one box and lot."""

from __future__ import annotations

from dataclasses import dataclass

from predictor.domain.drill import SeedBox


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
    """

    box: SeedBox
    lot: str
    season: str | None
    target_output: float
    field_factor: float = 1.0
