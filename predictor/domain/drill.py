"""The drill: its seed boxes and the controls that set their output."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

Holds = Literal["chaffy", "free-flowing", "small"]
HOLDS: tuple[str, ...] = ("chaffy", "free-flowing", "small")


@dataclass(frozen=True)
class Lever:
    """A control on a scale, from its lowest to its highest reading in steps.

    Every control maps its settings to an *opening*, a number that grows with the output; curves are fitted in
    openings, so a lever on which less is more needs no code of its own.

    Parameters
    ----------
    lowest, highest : float
        Ends of the scale, lowest < highest.
    step : float
        Distance between readings the lever really has, > 0.
    more_is : {"higher", "lower"}
        Which way gives more seed.

    Raises
    ------
    ValueError
        Ends, step or direction that make no scale.

    Examples
    --------
    >>> lever = Lever(0, 60, 1, more_is="lower")
    >>> lever.opening(60), lever.opening(0), lever.at(22.0)
    (0.0, 60.0, 38.0)
    """

    lowest: float
    highest: float
    step: float = 1.0
    more_is: Literal["higher", "lower"] = "higher"

    def __post_init__(self) -> None:
        if not (np.isfinite([self.lowest, self.highest, self.step]).all() and self.lowest < self.highest):
            raise ValueError(
                f"A lever runs from its lowest to its highest reading; got {self.lowest} to {self.highest}."
            )
        if not 0 < self.step <= self.highest - self.lowest:
            raise ValueError(
                f"A lever's step lies between 0 and its range {self.highest - self.lowest:g}; got {self.step}."
            )
        if self.more_is not in ("higher", "lower"):
            raise ValueError(f'more_is is "higher" or "lower"; got {self.more_is!r}.')

    @property
    def span(self) -> float:
        """Length of the scale, in openings."""
        return self.highest - self.lowest

    @property
    def lowest_opening(self) -> float:
        """Opening at the end that gives least."""
        return self.opening(self.lowest if self.more_is == "higher" else self.highest)

    @cached_property
    def settings(self) -> tuple[float, ...]:
        """Every reading the lever has, from the one that gives least to the one that gives most."""
        count = int(np.floor((self.highest - self.lowest) / self.step * (1 + 1e-12) + 1e-9)) + 1
        readings = [round(float(self.lowest + k * self.step), 9) for k in range(count)]
        return tuple(readings if self.more_is == "higher" else readings[::-1])

    @cached_property
    def openings(self) -> np.ndarray:
        """Openings of `settings`, ascending, shape (m,)."""
        return np.array([self.opening(reading) for reading in self.settings])

    def opening(self, setting: float) -> float:
        """Opening at a reading: the reading itself, or its mirror image where a lower reading gives more.

        Parameters
        ----------
        setting : float
            Reading; not checked against the scale.

        Returns
        -------
        float
        """
        return float(setting) if self.more_is == "higher" else float(self.lowest + self.highest - setting)

    def at(self, opening: float) -> float:
        """Reading at an opening; not rounded to the lever's steps.

        Parameters
        ----------
        opening : float

        Returns
        -------
        float
        """
        return self.opening(opening)  # its own inverse

    def has(self, setting: float) -> bool:
        """Whether the lever can stand there, between steps included: a hand can set half a step.

        Parameters
        ----------
        setting : float
            Reading.

        Returns
        -------
        bool
        """
        return self.lowest <= setting <= self.highest

    def show(self, setting: float) -> str:
        """The reading as the scale shows it.

        Parameters
        ----------
        setting : float
            Reading.

        Returns
        -------
        str
        """
        return f"{float(setting):.10g}"


@dataclass(frozen=True)
class Sprockets:
    """A control of chain positions, each with its drive ratio (driver teeth over driven teeth).

    Parameters
    ----------
    ratios : mapping of str to float
        Chain position's label to drive ratio, > 0.

    Raises
    ------
    ValueError
        No positions, or a ratio that is not positive.

    Examples
    --------
    >>> chain = Sprockets({"1": 0.40, "2": 0.54})
    >>> chain.opening("2"), chain.at(0.54)
    (0.54, '2')
    """

    ratios: Mapping[str, float]

    def __post_init__(self) -> None:
        if not self.ratios:
            raise ValueError("Sprockets need at least one chain position.")
        for label, ratio in self.ratios.items():
            if not (np.isfinite(ratio) and ratio > 0):
                raise ValueError(f"The drive ratio of chain position {label!r} must be above 0; got {ratio}.")
        # sorted once, so that "next position up" means more seed whatever the order in the file
        ordered = dict(sorted(self.ratios.items(), key=lambda pair: pair[1]))
        object.__setattr__(self, "ratios", {str(label): float(ratio) for label, ratio in ordered.items()})

    def __hash__(self) -> int:
        return hash(tuple(self.ratios.items()))

    @property
    def span(self) -> float:
        """Largest drive ratio: a chain that does not turn gives nothing."""
        return max(self.ratios.values())

    @property
    def lowest_opening(self) -> float:
        """Opening at which nothing turns."""
        return 0.0

    @property
    def settings(self) -> tuple[str, ...]:
        """Labels, from the one that gives least to the one that gives most."""
        return tuple(self.ratios)

    @property
    def openings(self) -> np.ndarray:
        """Drive ratios of `settings`, ascending, shape (m,)."""
        return np.array(list(self.ratios.values()))

    def opening(self, setting: str) -> float:
        """Drive ratio of a chain position.

        Parameters
        ----------
        setting : str
            Label.

        Returns
        -------
        float

        Raises
        ------
        KeyError
            No such chain position.
        """
        return self.ratios[str(setting)]

    def at(self, opening: float) -> str:
        """Label of the chain position whose drive ratio is nearest.

        Parameters
        ----------
        opening : float
            Drive ratio.

        Returns
        -------
        str
        """
        return min(self.ratios, key=lambda label: abs(self.ratios[label] - opening))

    def has(self, setting: str) -> bool:
        """Whether there is such a chain position.

        Parameters
        ----------
        setting : str
            Label, as it is written in the drill file.

        Returns
        -------
        bool
        """
        return str(setting) in self.ratios

    def show(self, setting: str) -> str:
        """The label itself.

        Parameters
        ----------
        setting : str

        Returns
        -------
        str
        """
        return str(setting)


Control = Lever | Sprockets


@dataclass(frozen=True)
class SeedBox:
    """One seed compartment with its own meters and control.

    Parameters
    ----------
    name : str
    holds : {"chaffy", "free-flowing", "small"}
        Kind of seed it is built for.
    control : Lever or Sprockets
    full_g : float, optional
        Weight of seed in the full box, grams; None where it is not known.
    """

    name: str
    holds: Holds
    control: Control
    full_g: float | None = None

    def __post_init__(self) -> None:
        if self.holds not in HOLDS:
            raise ValueError(f"A box holds {', '.join(HOLDS)}; got {self.holds!r}.")


@dataclass(frozen=True)
class CatchDefaults:
    """How a catch is made when its row does not say.

    Attributes
    ----------
    turns : float
        Drive-wheel turns of a catch, > 0.
    rows : int
        Row units caught, >= 1.
    charge_turns : float
        Turns made to fill the meters before the catch counts.
    scale_resolution_g : float
        Smallest step of the scale, grams.
    """

    turns: float = 28.0
    rows: int = 3
    charge_turns: float = 5.0
    scale_resolution_g: float = 0.1


@dataclass(frozen=True)
class Drill:
    """A drill as its owner measured it.

    Attributes
    ----------
    name : str
    rows : int
        Row units across the drill.
    row_spacing_m : float
        Distance between rows, metres.
    rolling_circumference_m : float
        Ground covered in one turn of the drive wheel, loaded, metres.
    boxes : tuple of SeedBox
    catch : CatchDefaults
    viable : {"germination", "total"}
        The rule for pure live seed: germination alone, or with dormant and hard seed.
    units : {"us", "metric"}
        Units its file was written in; results are shown in them.
    """

    name: str
    rows: int
    row_spacing_m: float
    rolling_circumference_m: float
    boxes: tuple[SeedBox, ...]
    catch: CatchDefaults = field(default_factory=CatchDefaults)
    viable: Literal["germination", "total"] = "germination"
    units: Literal["us", "metric"] = "us"

    def box(self, name: str) -> SeedBox:
        """The box of that name.

        Parameters
        ----------
        name : str
            As the drill file writes it, capitals too.

        Returns
        -------
        SeedBox

        Raises
        ------
        KeyError
            No such box; the message lists those there are.
        """
        for box in self.boxes:
            if box.name == name:
                return box
        raise KeyError(f"{self.name} has no box {name!r}; its boxes are {', '.join(b.name for b in self.boxes)}.")
