"""The drill and its seed boxes."""

from dataclasses import dataclass, field
from typing import Literal

from predictor.domain.control import Control
from predictor.units import Units

Holds = Literal["chaffy", "free-flowing", "small"]
Viable = Literal["germination", "total"]
HOLDS: tuple[Holds, ...] = ("chaffy", "free-flowing", "small")
VIABLE: tuple[Viable, ...] = ("germination", "total")


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
    """How a catch is made, unless its row says otherwise.

    Attributes
    ----------
    turns, charge_turns : float
        Drive-wheel turns of a catch, > 0, and those made before it to fill the meters.
    rows : int
        Row units caught, >= 1.
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
    row_spacing_m, rolling_circumference_m : float
        Metres between rows, and metres of ground covered in one turn of the drive wheel, loaded.
    boxes : tuple of SeedBox
    catch : CatchDefaults
    viable : {"germination", "total"}
        The rule for pure live seed: germination alone, or with dormant and hard seed.
    units : {"us", "metric"}
        Units its file was written in; results are shown in them.
    digest : str
        SHA-256 of the bytes of its file, as 64 hexadecimal digits; "" where it is from no file.
    """

    name: str
    rows: int
    row_spacing_m: float
    rolling_circumference_m: float
    boxes: tuple[SeedBox, ...]
    catch: CatchDefaults = field(default_factory=CatchDefaults)
    viable: Viable = "germination"
    units: Units = "us"
    digest: str = field(default="", compare=False)

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

        Examples
        --------
        >>> import predictor
        >>> predictor.read_drill("sample_trials/drill.toml").box("small").control
        Lever(lowest=0.0, highest=40.0, step=0.5, more_is='higher')
        """
        boxes = {box.name: box for box in self.boxes}
        if name not in boxes:
            raise KeyError(f"{self.name} has no box {name!r}; its boxes are {', '.join(boxes)}.")
        return boxes[name]
