"""What was planted: a line for each field, box and lot, with the evidence as it was on that day."""

from __future__ import annotations

import datetime
import itertools
from dataclasses import dataclass, field

from predictor.domain.control import Setting
from predictor.domain.drill import SeedBox
from predictor.domain.result import NanEqual, Remark

# Where nothing was planted for so many days a new season begins; judgement.
SEASON_DAYS = 180


@dataclass(frozen=True, eq=False)
class PlantedLot(NanEqual):
    """One lot of what was in the box, from its tag as it was on the day of planting."""

    lot: str
    species: str
    bag: str  # "" where the lot is in a bag of its own
    share: float  # Part of the weight in the box, carrier included, a fraction
    purity: float  # Fraction of the weight of the whole bag; NaN without a tag
    germination: float  # Fractions of the pure seed; NaN where there is a TZ test instead, or no tag
    dormant: float
    hard: float
    tz: float
    pls: float  # Fraction of the bulk weight of this species; NaN without a tag
    viable: str  # The rule that counted it
    seeds_per_g: float  # NaN where unknown
    test_date: str
    other_crop: float  # Fractions of the weight of the whole bag; NaN where not given
    weed: float
    inert: float
    coating: float
    noxious: str  # As the tag has them; "" where not given
    origin: str
    variety: str
    treatment: str
    method: str  # What its rate was meant for; "" where nothing was said


@dataclass(frozen=True, eq=False)
class Evidence(NanEqual):
    """What was known of a box, lot and setting when its line was written. Nothing later changes it.

    Rates are bulk, in grams per square metre in the field; NaN where the plan or the catches did not give them.
    """

    program: str  # Version of the program
    made: str  # Day on which the line was written, as YYYY-MM-DD
    season: str  # Of the catches; "" where there were none
    decision: str  # As of `Advice`; "" where there was no target
    advised: str  # Setting that was advised; "" for none
    chance: float  # That the rate at the planted setting is within tolerance; NaN before any curve
    tolerance: float
    confidence: float
    target: float  # Seed and carrier
    carrier: float
    expected: float
    expected_low: float  # 95 % limits
    expected_high: float
    field_factor: float  # For which the target catch was corrected; 1 where it was not
    target_catch_g: float
    turns: float  # Of the target catch
    rows: float
    towed: bool
    repeatability: float
    model: str
    catches: tuple[tuple[str, str, float, float, float], ...]  # Day, setting, turns, rows and net grams of each used
    left_out: int
    history: str  # What was learned before these catches; "" for nothing
    field_answer: str  # "leave", "move" or "weigh", as of the last field check of this lot; "" without one
    lots: tuple[PlantedLot, ...]
    files: tuple[tuple[str, str], ...]  # Name and SHA-256 of each file it rests on
    slips: tuple[str, ...] = ()  # What looked like a slip in the catches and was not settled, in sentences
    given: str = ""  # What was taken as given of the catches, in a sentence
    confirmed: tuple[int, ...] = ()  # Lines of catches that a person was asked about and stood by


@dataclass(frozen=True, eq=False)
class PlantedLine(NanEqual):
    """One box with one lot in one field, planted at one setting."""

    date: str  # As YYYY-MM-DD
    field: str  # "" where the job has one field without a name
    box: SeedBox
    lot: str
    setting: Setting
    area_m2: float
    loaded_g: float  # In the box at the start and added to it; NaN where it was not weighed
    left_g: float  # In the box at the end; NaN where it was not weighed
    operator: str
    note: str
    use: bool  # False for a line that was taken back
    evidence: Evidence | None  # None in a line written by hand
    line: int

    @property
    def used_g(self) -> float:
        """Bulk weight that went out; NaN where it was not weighed."""
        return self.loaded_g - self.left_g

    @property
    def rate(self) -> float:
        """Bulk rate planted, grams per square metre; NaN where it was not weighed."""
        return self.used_g / self.area_m2

    @property
    def lots_g(self) -> tuple[tuple[PlantedLot, float], ...]:
        """Weight of each of its lots that went out, as they were mixed; carrier is what is left of `used_g`."""
        lots = () if self.evidence is None else self.evidence.lots
        return tuple((each, each.share * self.used_g) for each in lots)


@dataclass(frozen=True)
class Planted:
    """What was planted, in the order of the file."""

    lines: tuple[PlantedLine, ...] = ()
    file: str = ""
    assumed: tuple[Remark, ...] = ()  # What the reader had to assume
    digest: str = field(default="", compare=False)  # SHA-256 of the bytes that were read

    def __len__(self) -> int:
        return len(self.lines)

    def of(self, box: str, lot: str, day: str = "") -> tuple[PlantedLine, ...]:
        """The lines in use of a box and lot, in capitals or not, in order of their days.

        Of all seasons, or of that which a day is in.
        """
        lines = self.season(day) if day else (each for each in self.lines if each.use)
        mine = (each for each in lines if each.box.name == box and each.lot.lower() == lot.lower())
        return tuple(sorted(mine, key=lambda each: each.date))

    def season(self, day: str) -> tuple[PlantedLine, ...]:
        """The lines in use of the season that a day is in, in order of their days."""
        used = sorted((each for each in self.lines if each.use), key=lambda each: each.date)
        days = sorted({day, *(each.date for each in used)})
        gaps = [new for old, new in itertools.pairwise(days) if _days(new) - _days(old) > SEASON_DAYS]
        first = max((each for each in gaps if each <= day), default="")
        after = min((each for each in gaps if each > day), default="")
        return tuple(each for each in used if first <= each.date < (after or "~"))


def is_over(date: str, day: str) -> bool:
    """Whether so long has passed since a date that a day is in another season of planting."""
    return bool(date) and _days(day) - _days(date) > SEASON_DAYS


def _days(date: str) -> int:
    return datetime.date.fromisoformat(date).toordinal()
