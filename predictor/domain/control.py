"""Controls, what sets a box's output, and the one form of a setting."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt

from predictor.domain import arguments
from predictor.domain.arguments import ANY, POSITIVE, kind, number, number_or_text, refuse, text_of, word
from predictor.errors import InputError, WrongKind
from predictor.numbers import parse_number, quoted

Floats = npt.NDArray[np.float64]

DECIMALS = (".", ",")
_PLAIN = re.compile(r"[0-9]+(?:\.[0-9]*)?").fullmatch


@dataclass(frozen=True, slots=True)
class Setting:
    """Where a control stands: a lever reading or a chain position.

    Attributes
    ----------
    value : float or str
        The lever's reading, or the label of the chain position.
    opening : float
        The same on a scale that grows with the output: the reading (or its mirror image where a lower reading gives
        more), or the drive ratio. NaN for a label without a drill that explains it.
    text : str
        As the control shows it.
    drive : str
        Of a lever with a second control, the drive that turns the meters; "" where there is none.

    Examples
    --------
    >>> print(Lever(0, 60, more_is="lower").at(22.0))
    38
    """

    value: float | str
    opening: float
    text: str
    drive: str = ""

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Lever:
    """A control on a scale, from its lowest to its highest reading in steps.

    Every control maps its settings to an *opening*, a number that grows with the output. Curves are fitted in
    openings, so a lever on which a lower reading gives more needs no code of its own.

    Parameters
    ----------
    lowest, highest : float
        Ends of the scale, lowest < highest.
    step : float
        Distance between the readings that the lever has, > 0.
    more_is : {"higher", "lower"}
        Which way gives more seed.
    shut : float, optional
        The reading at which the lever gives nothing, and beyond it; None where nobody said.

    Raises
    ------
    InputError
        The ends, the step or the direction do not describe a scale, or nothing of it is open.

    Examples
    --------
    >>> lever = Lever(0, 60, 1, more_is="lower")
    >>> lever.opening(60), lever.opening(0), lever.at(22.0).value
    (0.0, 60.0, 38.0)
    >>> [each.text for each in Lever(0, 60, 10, shut=20).settings]
    ['30', '40', '50', '60']
    """

    lowest: float
    highest: float
    step: float = 1.0
    more_is: Literal["higher", "lower"] = "higher"
    shut: float | None = None

    def __post_init__(self) -> None:
        for name, within in (("lowest", ANY), ("highest", ANY), ("step", POSITIVE)):
            object.__setattr__(self, name, number(getattr(self, name), f"{name} of a lever", within))
        object.__setattr__(self, "shut", arguments.maybe_number(self.shut, "shut"))
        word(self.more_is, "more_is", ("higher", "lower"))
        if not self.lowest < self.highest:
            refuse("lowest of a lever", f"below highest, which is {self.highest:g}", self.lowest)
        if self.step > self.highest - self.lowest:
            refuse("step of a lever", f"above 0 and at most its range, {self.highest - self.lowest:g}", self.step)
        if self.shut is not None and not (self.has(self.shut) and len(self.openings)):
            refuse("shut", "a reading with some of the scale open beyond it", self.shut)

    @property
    def span(self) -> float:
        """Length of the scale, or of its open part, in openings."""
        return self.highest - self.lowest_opening

    @property
    def lowest_opening(self) -> float:
        """Opening at the end that gives least, or up to which the lever is shut."""
        return self.lowest if self.shut is None else self.opening(self.shut)

    @property
    def ends(self) -> tuple[float, float]:
        """Lowest and highest reading of the open part."""
        if self.shut is None:
            return self.lowest, self.highest
        return (self.shut, self.highest) if self.more_is == "higher" else (self.lowest, self.shut)

    @property
    def zero_opening(self) -> float | None:
        """Opening of the reading 0 where that is the end that gives least and nobody said where the lever is shut."""
        return self.lowest if self.shut is None and self.opening(self.lowest) == 0 else None

    @cached_property
    def openings(self) -> Floats:
        """Openings of the readings that the lever has and that are not shut, ascending, shape (m,)."""
        steps = self._steps
        return steps if self.shut is None else steps[steps > self.lowest_opening]

    @cached_property
    def _steps(self) -> Floats:
        """Openings of all readings that the lever has, ascending."""
        count = int(np.floor((self.highest - self.lowest) / self.step * (1 + 1e-12) + 1e-9)) + 1
        readings = np.round(self.lowest + np.arange(count) * self.step, 9)
        return readings if self.more_is == "higher" else (self.lowest + self.highest - readings)[::-1]

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Every reading that is not shut, from the one that gives least to the one that gives most."""
        return tuple(self.at(opening) for opening in self.openings.tolist())

    def opening(self, reading: float | str) -> float:
        """Opening at a reading: the reading itself, or its mirror image where a lower reading gives more.

        Parameters
        ----------
        reading : float or str
            A number, or one written as text; not checked against the scale.

        Returns
        -------
        float

        Raises
        ------
        InputError
            It is no number.
        """
        return self._mirrored(number_or_text(reading, "reading"))

    def _mirrored(self, value: float) -> float:
        """A reading from an opening, and the other way round: the map is its own inverse."""
        return value if self.more_is == "higher" else self.lowest + self.highest - value

    def at(self, opening: float) -> Setting:
        """The setting at an opening, not rounded to the lever's steps.

        Parameters
        ----------
        opening : float

        Returns
        -------
        Setting
        """
        opening = number(opening, "opening")
        value = round(self._mirrored(opening), 9)
        return Setting(value, opening, f"{value:.10g}")

    def nearest(self, opening: float) -> Setting:
        """The nearest of the readings that the lever has and that are not shut.

        Parameters
        ----------
        opening : float

        Returns
        -------
        Setting

        Examples
        --------
        >>> print(Lever(0, 60, 1).nearest(37.6))
        38
        """
        away = np.abs(self.openings - number(opening, "opening"))
        return self.at(float(self.openings[np.argmin(away)]))

    def has(self, reading: float | str) -> bool:
        """Whether a reading is on the scale, between steps included: a hand can set half a step.

        Parameters
        ----------
        reading : float or str

        Returns
        -------
        bool
        """
        return self.lowest <= number_or_text(reading, "reading") <= self.highest

    def between_steps(self, setting: Setting) -> bool:
        """Whether a setting lies between two readings that the lever has.

        Parameters
        ----------
        setting : Setting

        Returns
        -------
        bool
        """
        kind(setting, "setting", Setting, "a Setting, such as `find` gives")
        return setting.opening not in self._steps

    def find(self, text: str, decimal: str = ".") -> Setting | None:
        """The setting that a text names.

        Parameters
        ----------
        text : str
        decimal : {".", ","}

        Returns
        -------
        Setting or None
            None where the text is not a reading on the scale.

        Examples
        --------
        >>> Lever(0, 60, 0.5).find("14,5", decimal=",").value
        14.5
        """
        word(decimal, "decimal", DECIMALS)
        text = text_of(text, "text")
        try:
            value = parse_number(text, decimal=decimal)
        except ValueError:
            return None
        return self.at(self.opening(value)) if self.has(value) else None


@dataclass(frozen=True)
class Sprockets:
    """A control of chain positions, each with its drive ratio (driver teeth over driven teeth).

    Parameters
    ----------
    ratios : mapping of str to float
        Chain position's label to drive ratio, > 0.
    teeth : mapping of str to (int, int)
        Driver and driven teeth of the positions where they are known and one chain drives; they set no ratio.

    Raises
    ------
    InputError
        There are no positions, one is there twice, or a ratio is not above 0.

    Examples
    --------
    >>> chain = Sprockets({"1": 0.40, "2": 0.54})
    >>> chain.opening("2"), chain.at(0.54).value
    (0.54, '2')
    """

    ratios: Mapping[str, float]
    teeth: Mapping[str, tuple[int, int]] = field(default_factory=dict, compare=False)

    def __post_init__(self) -> None:
        kind(self.ratios, "ratios", Mapping, "a mapping of chain positions to drive ratios")
        kind(self.teeth, "teeth", Mapping, "a mapping of chain positions to their teeth")
        if not self.ratios:
            raise InputError("ratios must have at least one chain position; got none.")
        found: dict[str, float] = {}
        for label, ratio in self.ratios.items():
            if not isinstance(label, str | int) or not str(label).strip():
                refuse("a label of ratios", "a text or a whole number", label, WrongKind)
            arguments.seen(str(label), "a label of ratios")
            if str(label) in found:
                raise InputError(f"ratios must have each chain position once; got {quoted(str(label))} twice.")
            found[str(label)] = number(ratio, f"the drive ratio of chain position {quoted(str(label))}", POSITIVE)
        # sorted once, so that the next position up means more seed, whatever the order in the file
        object.__setattr__(self, "ratios", dict(sorted(found.items(), key=lambda pair: pair[1])))

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

    @cached_property
    def openings(self) -> Floats:
        """Drive ratios, ascending, shape (m,)."""
        return np.array(list(self.ratios.values()))

    @property
    def settings(self) -> tuple[Setting, ...]:
        """Every chain position, from the one that gives least to the one that gives most."""
        return tuple(Setting(label, ratio, label) for label, ratio in self.ratios.items())

    def opening(self, label: float | str) -> float:
        """Drive ratio of a chain position.

        Parameters
        ----------
        label : str

        Returns
        -------
        float

        Raises
        ------
        KeyError
            There is no such chain position; an InputError as well, which lists those there are.
        """
        return self.ratios[arguments.known_name(str(label), "chain position", self.ratios, "There is")]

    def at(self, opening: float) -> Setting:
        """The chain position whose drive ratio is nearest.

        Parameters
        ----------
        opening : float
            Drive ratio.

        Returns
        -------
        Setting

        Examples
        --------
        >>> print(Sprockets({"1": 0.40, "2": 0.54}).at(0.5))
        2
        """
        wanted = number(opening, "opening")
        label = min(self.ratios, key=lambda each: abs(self.ratios[each] - wanted))
        return Setting(label, self.ratios[label], label)

    nearest = at  # There is nothing between chain positions

    def has(self, label: float | str) -> bool:
        """Whether there is such a chain position.

        Parameters
        ----------
        label : str

        Returns
        -------
        bool
        """
        return str(label) in self.ratios

    def find(self, text: str, decimal: str = ".") -> Setting | None:
        """The chain position that a text names; "1.0" and "01" mean 1 where no other position can be meant.

        Parameters
        ----------
        text : str
        decimal : {".", ","}
            Not used: a label is text.

        Returns
        -------
        Setting or None
            None where there is no such position, or where several could be meant.
        """
        wanted = {text_of(text, "text").lower(), _as_number(text)}
        like = [each for each in self.ratios if wanted & {each.lower(), _as_number(each)}]
        same = [text] if text in self.ratios else like
        return Setting(same[0], self.ratios[same[0]], same[0]) if len(same) == 1 else None


Control = Lever | Sprockets


def _as_number(text: str) -> float | str:
    return float(text) if _PLAIN(text) else text
