"""What is asked of one box and lot."""

from __future__ import annotations

from dataclasses import dataclass

from predictor.domain.arguments import POSITIVE, kind, label, maybe_label, number
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
