"""The drill and its seed boxes."""

from dataclasses import dataclass, field, replace
from typing import Literal

from predictor.domain.control import Control
from predictor.domain.drives import Controls, on_drive
from predictor.domain.fields import Field
from predictor.units import Units

Holds = Literal["chaffy", "free-flowing", "small"]
Viable = Literal["germination", "hard", "total"]
HOLDS: tuple[Holds, ...] = ("chaffy", "free-flowing", "small")
VIABLE: tuple[Viable, ...] = ("germination", "hard", "total")
# What the length of a catch is counted in. A meter without a ground wheel turns by a crank or a motor, or for a time.
Counted = Literal["wheel turns", "crank turns", "motor turns", "seconds"]
COUNTED: tuple[Counted, ...] = ("wheel turns", "crank turns", "motor turns", "seconds")


@dataclass(frozen=True)
class SeedBox:
    """One seed compartment with its own meters and control.

    Parameters
    ----------
    name : str
    holds : {"chaffy", "free-flowing", "small"}
        Kind of seed it is built for.
    control : Lever, Sprockets or LeverAndDrive
    full_g : float, optional
        Weight of seed in the full box, grams; None where it is not known.
    rows : int, optional
        Rows that it feeds; None for all rows of the drill.
    row_spacing_m : float, optional
        Metres between those rows, where they cover only their own strip; None where they carry the whole rate over the
        full width of the drill.
    catch : CatchDefaults, optional
        How its catches are made, where its meters are driven otherwise than those of the drill's other boxes.
    """

    name: str
    holds: Holds
    control: Controls
    full_g: float | None = None
    rows: int | None = None
    row_spacing_m: float | None = None
    catch: "CatchDefaults | None" = None

    def __post_init__(self) -> None:
        if self.holds not in HOLDS:
            raise ValueError(f"A box holds {', '.join(HOLDS)}; got {self.holds!r}.")

    @property
    def first_control(self) -> Control:
        """Its control; where it has a lever and drives, the lever on the first drive."""
        return on_drive(self.control)


@dataclass(frozen=True)
class CatchDefaults:
    """How a catch is made, unless its row says otherwise.

    Attributes
    ----------
    turns, charge_turns : float
        Length of a catch, > 0, and what is turned before it to fill the meters: turns, or seconds.
    rows : int
        Row units caught, >= 1.
    scale_resolution_g : float
        Smallest step of the scale, grams.
    counted : {"wheel turns", "crank turns", "motor turns", "seconds"}
        What `turns` counts.
    each_covers_m : float or None
        Metres of ground that the drill covers in one of them; None where the drive wheel's circumference says it.
    """

    turns: float = 28.0
    rows: int = 3
    charge_turns: float = 5.0
    scale_resolution_g: float = 0.1
    counted: Counted = "wheel turns"
    each_covers_m: float | None = None


@dataclass(frozen=True)
class Drill:
    """A drill as its owner measured it.

    Attributes
    ----------
    name : str
    rows : int
        Row units across the drill.
    row_spacing_m : float
        Metres between rows.
    rolling_circumference_m : float or None
        Metres of ground covered in one turn of the drive wheel, loaded; None where no catch counts wheel turns.
    boxes : tuple of SeedBox
    catch : CatchDefaults
    viable : {"germination", "hard", "total"}
        The rule for pure live seed where the plan has none: germination alone, with hard seed, or with hard and
        dormant seed.
    units : {"us", "metric"}
        Units its file was written in; results are shown in them.
    fields : tuple of Field
        The fields that it is to plant; empty where none are given.
    digest : str
        SHA-256 of the bytes of its file, as 64 hexadecimal digits; "" where it is from no file.
    history : tuple of str
        Logs of earlier seasons: paths or patterns with *, relative to the folder of its file.
    history_line : int or None
        Line of its file that names them.
    measured : str
        Day on which its figures were measured, as YYYY-MM-DD; "" where its file does not say.
    """

    name: str
    rows: int
    row_spacing_m: float
    rolling_circumference_m: float | None
    boxes: tuple[SeedBox, ...]
    catch: CatchDefaults = field(default_factory=CatchDefaults)
    viable: Viable = "germination"
    units: Units = "us"
    fields: tuple[Field, ...] = ()
    digest: str = field(default="", compare=False)
    history: tuple[str, ...] = ()
    history_line: int | None = field(default=None, compare=False)
    measured: str = ""

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
        Lever(lowest=0.0, highest=40.0, step=0.5, more_is='higher', shut=None)
        """
        boxes = {box.name: box for box in self.boxes}
        if name not in boxes:
            raise KeyError(f"{self.name} has no box {name!r}; its boxes are {', '.join(boxes)}.")
        return boxes[name]

    def rows_of(self, box: SeedBox) -> int:
        """Rows that a box feeds.

        Parameters
        ----------
        box : SeedBox

        Returns
        -------
        int
        """
        return self.rows if box.rows is None else box.rows

    def spacing_of(self, box: SeedBox) -> float:
        """Metres of width that each row of a box stands for.

        A box that feeds fewer rows than the drill has carries its whole rate in them, unless its own row spacing says
        that they cover only their strip.

        Parameters
        ----------
        box : SeedBox

        Returns
        -------
        float

        Examples
        --------
        >>> import predictor
        >>> drill = predictor.read_drill("sample_trials/drill.toml")
        >>> alternate = predictor.SeedBox("legume", "small", predictor.Lever(0, 40, 1), rows=6)
        >>> drill.spacing_of(alternate) / drill.row_spacing_m
        2.0
        """
        if box.row_spacing_m is not None:
            return box.row_spacing_m
        return self.row_spacing_m if box.rows is None else self.row_spacing_m * self.rows / box.rows

    def width_of(self, box: SeedBox) -> float:
        """Metres of width that a box sows in one pass.

        Parameters
        ----------
        box : SeedBox

        Returns
        -------
        float
        """
        return self.rows_of(box) * self.spacing_of(box)

    def catch_of(self, box: SeedBox) -> CatchDefaults:
        """How a catch of a box is made, unless its row says otherwise.

        Parameters
        ----------
        box : SeedBox

        Returns
        -------
        CatchDefaults
            With no more rows than the box feeds.
        """
        usual = self.catch if box.catch is None else box.catch
        return replace(usual, rows=min(usual.rows, self.rows_of(box)))

    def covers_of(self, box: SeedBox) -> float:
        """Metres of ground that the drill covers while the meters of a box make one turn, or run one second.

        Parameters
        ----------
        box : SeedBox

        Returns
        -------
        float

        Raises
        ------
        ValueError
            The box counts wheel turns, and the drill has no circumference.

        Examples
        --------
        >>> import predictor
        >>> drill = predictor.read_drill("sample_trials/drill.toml")
        >>> drill.covers_of(drill.box("small")) == drill.rolling_circumference_m
        True
        """
        covers = self.catch_of(box).each_covers_m
        covers = self.rolling_circumference_m if covers is None else covers
        if covers is None:
            raise ValueError(f"Box {box.name} counts wheel turns, so the drill needs its rolling circumference.")
        return covers
