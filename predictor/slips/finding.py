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

    Examples
    --------
    The last catch was written without its decimal sign:

    >>> import predictor, pandas as pd
    >>> box = predictor.SeedBox("small", "small", predictor.Lever(0, 60, 1))
    >>> frame = pd.DataFrame({"box": "small", "lot": "A", "setting": [30, 38, 38, 38], "turns": 28, "rows": 3,
    ...                       "catch_g": [48.0, 61.0, 60.9, 610]})
    >>> advice = predictor.recommend(frame, box, target_g=61.0)
    >>> [(each.code, each.lines) for each in advice.slips]
    [('odd', (4,))]
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
