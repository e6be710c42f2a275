"""Counting how calibrations end: shares and means with their Monte Carlo errors."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Self

import numpy as np

from predictor.domain.control import Floats
from predictor.study.technician import Ending
from predictor.study.truths import FACTORS

# Bins of the chance that is claimed when a setting is locked.
BINS = (0.5, 0.8, 0.9, 0.95, 0.98, 1.0)
# Of the endings.
MEANS = ("catches", "seed", "offer_claimed")
SHARES = ("finished", "lock_right", "offer_right", "wrongly_unreachable", "unreachable_said", "going")


@dataclass(frozen=True)
class Share:
    """A share of several cases, with its Monte Carlo standard error; None where there is no case."""

    share: float | None
    error: float | None
    of: int

    @classmethod
    def count(cls, hits: Iterable[bool] | Floats) -> Self:
        """The share of hits."""
        held = np.array(list(hits), dtype=float)
        if not len(held):
            return cls(None, None, 0)
        # Half a case more on either side: all right in 600 cases does not mean right for sure.
        near = (held.sum() + 0.5) / (len(held) + 1)
        return cls(float(held.mean()), float(np.sqrt(near * (1 - near) / len(held))), len(held))


@dataclass(frozen=True)
class Mean:
    """A mean over several cases, with its Monte Carlo standard error; None where there is no case."""

    mean: float | None
    error: float | None
    of: int

    @classmethod
    def over(cls, values: Iterable[float]) -> Self:
        """The mean of values."""
        seen = np.array(list(values), dtype=float)
        if not len(seen):
            return cls(None, None, 0)
        return cls(float(seen.mean()), float(seen.std() / np.sqrt(len(seen))), len(seen))


@dataclass(frozen=True)
class Record:
    """One calibration of a made-up box: what the box is like, and how the program and the oracle ended."""

    labels: dict[str, str]
    within: bool  # Whether a setting is within tolerance
    ending: Ending
    right: bool  # Whether the setting it ended at is within tolerance
    oracle: int | None = None  # Catches of the oracle; None where it is not defined, or does not end

    @property
    def locked(self) -> bool:
        """Whether a setting was locked, at full confidence or as an offer."""
        return self.ending.end in ("lock", "offer")


@dataclass(frozen=True)
class Claim:
    """Chances claimed at the lock, between two limits, against how often they were right."""

    low: float
    high: float
    claimed: float | None  # Mean
    right: Share


@dataclass(frozen=True)
class Endings:
    """How calibrations ended."""

    finished: Share  # Locked and right, of boxes that have a setting within tolerance
    lock_right: Share  # Of locks at full confidence
    offer_right: Share  # Of offers below it that were taken
    wrongly_unreachable: Share  # Of boxes that have a setting
    unreachable_said: Share  # Of boxes that have none
    going: Share  # Not ended, of all
    catches: Mean
    seed: Mean  # In ordinary catches
    offer_claimed: Mean  # Chance that was claimed for the offers that were taken
    over_oracle: float | None  # Catches over the oracle's on the same boxes
    claims: tuple[Claim, ...]

    @classmethod
    def of(cls, records: Sequence[Record]) -> Self:
        """Count several records."""
        have = [each for each in records if each.within]
        compared = [each for each in records if each.oracle is not None]
        theirs = sum(each.oracle or 0 for each in compared)
        return cls(
            finished=Share.count(each.locked and each.right for each in have),
            lock_right=Share.count(each.right for each in records if each.ending.end == "lock"),
            offer_right=Share.count(each.right for each in records if each.ending.end == "offer"),
            wrongly_unreachable=Share.count(each.ending.end == "unreachable" for each in have),
            unreachable_said=Share.count(each.ending.end == "unreachable" for each in records if not each.within),
            going=Share.count(each.ending.end == "going" for each in records),
            catches=Mean.over(each.ending.catches for each in records),
            seed=Mean.over(each.ending.seed for each in records),
            offer_claimed=Mean.over(each.ending.chance for each in records if each.ending.end == "offer"),
            over_oracle=sum(each.ending.catches for each in compared) / theirs if theirs else None,
            claims=_claims([each for each in records if each.locked]),
        )

    @classmethod
    def from_dict(cls, plain: dict[str, Any]) -> Self:
        """The endings from the values of their fields."""
        claims = tuple(Claim(**{**each, "right": Share(**each["right"])}) for each in plain["claims"])
        shares: dict[str, Any] = {name: Share(**plain[name]) for name in SHARES}
        means: dict[str, Any] = {name: Mean(**plain[name]) for name in MEANS}
        return cls(**shares, **means, over_oracle=plain["over_oracle"], claims=claims)


def _claims(locked: Sequence[Record]) -> tuple[Claim, ...]:
    """Claimed against true, by bins of the claimed chance."""
    found = []
    for low, high in zip(BINS, (*BINS[1:-1], np.inf), strict=False):
        inside = [each for each in locked if low <= each.ending.chance < high]
        mean = Mean.over(each.ending.chance for each in inside).mean
        found.append(Claim(low, min(high, 1.0), mean, Share.count(each.right for each in inside)))
    return tuple(found)


def by_factor(records: Sequence[Record]) -> dict[tuple[str, str], list[Record]]:
    """Records of each level of each factor that occurs, in order."""
    groups: dict[tuple[str, str], list[Record]] = {}
    for factor, levels in FACTORS.items():
        seen = dict.fromkeys(each.labels[factor] for each in records)
        for level in sorted(seen, key=lambda name: levels.index(name) if name in levels else len(levels)):
            groups[factor, level] = [each for each in records if each.labels[factor] == level]
    return groups
