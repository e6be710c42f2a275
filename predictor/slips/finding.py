"""What all checks for slips give: a finding, with its likely cause and what it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from predictor.domain.result import Remark


@dataclass(frozen=True)
class Finding:
    """Something in the catches that looks like a slip.

    Attributes
    ----------
    code : str
        What was found; `str(finding)` gives the sentences.
    box, lot : str
    lines : tuple of int
        Lines of the catches it is about; rows of a DataFrame, counted from 1; 0 for a catch that is not in a file.
    chance : float
        Probability that it is a slip, given the catches.
    waits : bool
        Whether a lock waits until the rows are corrected or confirmed, since the rate would be out of tolerance if
        this is a slip.
    values : mapping of str to object
        What its sentences need: weights in grams, factors, settings, likely causes.
    """

    code: str
    box: str
    lot: str
    lines: tuple[int, ...]
    chance: float
    waits: bool
    values: Mapping[str, Any] = field(default_factory=dict, hash=False)

    @property
    def remark(self) -> Remark:
        """What was found, its likely cause, and what to do."""
        named = {"box": self.box, "lot": self.lot, "lines": self.lines, "chance": self.chance}
        return Remark(f"slips.{self.code}", {**named, **self.values})

    def __str__(self) -> str:
        return str(self.remark)

    def to_dict(self) -> dict[str, Any]:
        """The finding as plain values for JSON.

        Returns
        -------
        dict
        """
        return {
            "code": self.code,
            "box": self.box,
            "lot": self.lot,
            "lines": list(self.lines),
            "chance": self.chance,
            "waits": self.waits,
            "sentence": str(self),
        }
