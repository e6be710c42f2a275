"""Field checks: seed weighed over an area, or seeds counted in a length of row."""

import math
from dataclasses import dataclass, field

from predictor.domain.control import Setting
from predictor.domain.drill import SeedBox
from predictor.domain.result import NanEqual, Remark

MOST_CHECKS = 100  # Of one lot in one box: more are rows that were copied, or a log of another kind


@dataclass(frozen=True)
class Part:
    """One box of a field check."""

    box: SeedBox
    lot: str
    setting: Setting


@dataclass(frozen=True, eq=False)
class FieldCheck(NanEqual):
    """One field check: seed weighed, or seeds counted."""

    date: str  # As YYYY-MM-DD
    parts: tuple[Part, ...]  # The boxes that ran; more than one where only their total was weighed
    area_m2: float  # Sown by the widest of its boxes; NaN where seeds were counted
    used_g: float
    seeds: float  # NaN where seed was weighed
    row_m: float  # Length of a row that all its boxes feed, in which the seeds were counted
    note: str
    line: int
    loaded_g: float = math.nan  # In the box before, refills included; NaN where the seed used was weighed in one
    left_g: float = math.nan  # In the box afterwards
    field: str = ""
    operator: str = ""
    use: bool = True  # False for a check that was taken back

    @property
    def counted(self) -> bool:
        """Whether seeds were counted, not weighed."""
        return not math.isnan(self.seeds)

    @property
    def rate(self) -> float:
        """Bulk rate achieved, grams per square metre; NaN where seeds were counted."""
        return self.used_g / self.area_m2

    def seeds_per_m2(self, spacing_m: float) -> float:
        """Seeds counted per square metre, for rows this far apart; NaN where seed was weighed."""
        return self.seeds / (self.row_m * spacing_m)


@dataclass(frozen=True)
class FieldChecks:
    """Field checks in the order of the file."""

    checks: tuple[FieldCheck, ...]  # Those in use
    file: str = ""
    assumed: tuple[Remark, ...] = ()  # What the reader had to assume
    digest: str = field(default="", compare=False)  # SHA-256 of the bytes that were read
    taken_back: tuple[FieldCheck, ...] = ()  # They stay in the file, and judge nothing

    def __len__(self) -> int:
        return len(self.checks)
