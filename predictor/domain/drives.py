"""Two controls on one box: a lever, and a drive that turns the meters faster or slower."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from predictor.domain.arguments import POSITIVE, kind, known_name, maybe_number, refuse, seen, text_of, word
from predictor.domain.control import DECIMALS, Control, Lever, Setting
from predictor.errors import InputError
from predictor.numbers import quoted

# "24 on high"; people also write 24/high and 24@high.
_BETWEEN = re.compile(r"[/@]|\bon\b", re.IGNORECASE).search


@dataclass(frozen=True)
class OnDrive(Lever):
    """The lever of a box while one drive turns its meters; `LeverAndDrive.on` makes it.

    Its scale is that of a `Lever`.

    Parameters
    ----------
    drive : str
        Label of the drive. Settings name it, as "24 on high".

    Examples
    --------
    >>> print(OnDrive(0, 60, 1, drive="high").nearest(24.2))
    24 on high
    """

    drive: str = ""

    def at(self, opening: float) -> Setting:
        """The setting at an opening, not rounded to the lever's steps.

        Parameters
        ----------
        opening : float

        Returns
        -------
        Setting
        """
        reading = super().at(opening)
        text = f"{reading.text} on {self.drive}"
        return Setting(text, reading.opening, text, self.drive)


@dataclass(frozen=True)
class LeverAndDrive:
    """A lever, and a second control in series with it: the drives that can turn the meters of the box.

    A setting names both, as "24 on high". Catches on drives whose ratios are known count together, since the output
    is taken to be proportional to the speed of the drive. Catches on other drives are kept apart.

    Parameters
    ----------
    lever : Lever
    drives : mapping of str to float or None
        Label of each drive to its ratio, > 0, or None where it is not known. The first one is where a new lot starts.

    Raises
    ------
    InputError
        There are no drives, a ratio is not above 0, two labels differ in capitals only, or a label is empty or has
        one of the signs + / @ in it.

    References
    ----------
    Output of a fluted roller is linear in the speed of its drive: Pantnagar J. Research 20(1), 2022 (abstract read),
    R2 0.98 for a linear model of seed rate in exposed length, speed and hopper depth.

    Examples
    --------
    >>> both = LeverAndDrive(Lever(0, 60, 1), {"high": 20 / 12, "low": 10 / 12})
    >>> print(both.find("24/High"), both.on("low").nearest(36.2), both.times("high", "low"))
    24 on high 36 on low 2.0
    """

    lever: Lever
    drives: Mapping[str, float | None]

    def __post_init__(self) -> None:
        kind(self.lever, "lever", Lever, "a Lever")
        kind(self.drives, "drives", Mapping, "a mapping of drives to their ratios")
        if not self.drives:
            raise InputError("drives must have at least one drive; got none.")
        ratios: dict[str, float | None] = {}
        for label, ratio in self.drives.items():
            if not isinstance(label, str) or not label.strip() or set("+/@") & set(label):
                refuse("a label of drives", "a name without the signs + / @", label)
            ratios[seen(label, "a label of drives")] = maybe_number(
                ratio, f"the ratio of drive {quoted(label)}", POSITIVE
            )
        if len({label.lower() for label in self.drives}) < len(self.drives):
            raise InputError(f"Two drives have the same label: {', '.join(self.drives)}.")
        object.__setattr__(self, "drives", ratios)

    def __hash__(self) -> int:
        return hash((self.lever, tuple(self.drives.items())))

    def on(self, drive: str = "") -> OnDrive:
        """The lever while one drive turns the meters.

        Parameters
        ----------
        drive : str
            Its label; "" for the first one.

        Returns
        -------
        OnDrive

        Raises
        ------
        KeyError
            There is no such drive; an InputError as well, which lists those there are.
        """
        label = self._known(drive, "drive") if text_of(drive, "drive") else next(iter(self.drives))
        lever = self.lever
        return OnDrive(lever.lowest, lever.highest, lever.step, lever.more_is, lever.shut, label)

    def times(self, drive: str, other: str) -> float:
        """How many times as fast one drive turns the meters as another; NaN where a ratio is not known.

        Parameters
        ----------
        drive, other : str

        Returns
        -------
        float

        Raises
        ------
        KeyError
            There is no such drive; an InputError as well.
        """
        drive, other = self._known(drive, "drive"), self._known(other, "other")
        if drive == other:
            return 1.0
        first, second = self.drives[drive], self.drives[other]
        return np.nan if first is None or second is None else first / second

    def find(self, text: str, decimal: str = ".") -> Setting | None:
        """The setting that a text names: "24 on high", "24/high" or "24@High".

        Parameters
        ----------
        text : str
        decimal : {".", ","}

        Returns
        -------
        Setting or None
            None where the text does not name a reading on the scale and one of the drives.
        """
        word(decimal, "decimal", DECIMALS)
        text = text_of(text, "text")
        sign = _BETWEEN(text, 1)
        if sign is None:
            return None
        wanted = " ".join(text[sign.end() :].lower().split())
        drive = next((label for label in self.drives if label.lower() == wanted), None)
        reading = self.lever.find(text[: sign.start()], decimal)
        return None if drive is None or reading is None else self.on(drive).at(reading.opening)

    def _known(self, drive: str, name: str) -> str:
        """The label of a drive that is there."""
        return known_name(text_of(drive, name, "the label of a drive"), "drive", self.drives, "The box has")


Controls = Control | LeverAndDrive


def on_drive(control: Controls, drive: str = "") -> Control:
    """The control of a box; of two controls the lever on one drive, the first one where none is named."""
    return control.on(drive) if isinstance(control, LeverAndDrive) else control
