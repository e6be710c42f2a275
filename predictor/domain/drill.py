"""The drill and its seed boxes."""

from dataclasses import dataclass, field, replace
from typing import Literal, get_args

from predictor.domain.arguments import (
    FROM_ONE,
    NOT_NEGATIVE,
    POSITIVE,
    kind,
    known_name,
    maybe_number,
    name_of,
    number,
    refuse,
    seen,
    text_of,
    tuple_of,
    whole,
    word,
)
from predictor.domain.control import Control, Lever, Sprockets
from predictor.domain.drives import Controls, LeverAndDrive, on_drive
from predictor.domain.fields import Field
from predictor.errors import InputError
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

    Raises
    ------
    InputError
        It has no name, holds another kind of seed, its control is none, or a number is out of its range.
    """

    name: str
    holds: Holds
    control: Controls
    full_g: float | None = None
    rows: int | None = None
    row_spacing_m: float | None = None
    catch: "CatchDefaults | None" = None

    def __post_init__(self) -> None:
        name_of(self.name)
        word(self.holds, "holds", HOLDS)
        kind(self.control, "control", (Lever, Sprockets, LeverAndDrive), "a Lever, Sprockets or LeverAndDrive")
        for name in ("full_g", "row_spacing_m"):
            object.__setattr__(self, name, maybe_number(getattr(self, name), name, POSITIVE))
        if self.rows is not None:
            object.__setattr__(self, "rows", whole(self.rows, "rows", FROM_ONE))
        kind(self.catch, "catch", (CatchDefaults, type(None)), "a CatchDefaults or None")

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

    Raises
    ------
    InputError
        A number is out of its range, or `counted` is another word.
    """

    turns: float = 28.0
    rows: int = 3
    charge_turns: float = 5.0
    scale_resolution_g: float = 0.1
    counted: Counted = "wheel turns"
    each_covers_m: float | None = None

    def __post_init__(self) -> None:
        for name, within in (("turns", POSITIVE), ("charge_turns", NOT_NEGATIVE), ("scale_resolution_g", NOT_NEGATIVE)):
            object.__setattr__(self, name, number(getattr(self, name), name, within))
        object.__setattr__(self, "rows", whole(self.rows, "rows", FROM_ONE))
        word(self.counted, "counted", COUNTED)
        object.__setattr__(self, "each_covers_m", maybe_number(self.each_covers_m, "each_covers_m", POSITIVE))


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

    Raises
    ------
    InputError
        A number is out of its range, two boxes have one name, or a box feeds more rows than there are.
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

    def __post_init__(self) -> None:
        seen(text_of(self.name, "name"), "name")
        object.__setattr__(self, "rows", whole(self.rows, "rows", FROM_ONE))
        object.__setattr__(self, "row_spacing_m", number(self.row_spacing_m, "row_spacing_m", POSITIVE))
        around = maybe_number(self.rolling_circumference_m, "rolling_circumference_m", POSITIVE)
        object.__setattr__(self, "rolling_circumference_m", around)
        for name, of, what in (("boxes", SeedBox, "SeedBox"), ("fields", Field, "Field"), ("history", str, "path")):
            object.__setattr__(self, name, tuple_of(getattr(self, name), name, of, what))
        kind(self.catch, "catch", CatchDefaults, "a CatchDefaults")
        word(self.viable, "viable", VIABLE)
        word(self.units, "units", get_args(Units))
        names = [box.name.lower() for box in self.boxes]
        if len(set(names)) < len(names):
            raise InputError(f"boxes must have names of their own; got {', '.join(box.name for box in self.boxes)}.")
        wide = [box for box in self.boxes if box.rows is not None and box.rows > self.rows]
        if wide:
            refuse("rows", f"at least the {wide[0].rows} rows that box {wide[0].name} feeds", self.rows)

    def box(self, name: str) -> SeedBox:
        """The box of that name.

        Parameters
        ----------
        name : str
            As the drill file writes it, in capitals or not.

        Returns
        -------
        SeedBox

        Raises
        ------
        KeyError
            No such box; the message lists those there are. It is an InputError as well.

        Examples
        --------
        >>> import predictor
        >>> predictor.read_drill("sample_trials/drill.toml").box("small").control
        Lever(lowest=0.0, highest=40.0, step=0.5, more_is='higher', shut=None)
        """
        boxes = {box.name: box for box in self.boxes}
        return boxes[known_name(text_of(name, "name", "the name of a box"), "box", boxes, f"{self.name} has")]

    def rows_of(self, box: SeedBox) -> int:
        """Rows that a box feeds.

        Parameters
        ----------
        box : SeedBox

        Returns
        -------
        int
        """
        own = _seed_box(box).rows
        return self.rows if own is None else own

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
        own = _seed_box(box).row_spacing_m
        if own is not None:
            return own
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
        own = _seed_box(box).catch
        usual = self.catch if own is None else own
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
        InputError
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
            raise InputError(f"Box {box.name} counts wheel turns, so the drill needs its rolling circumference.")
        return covers


def _seed_box(box: SeedBox) -> SeedBox:
    """The box itself."""
    kind(box, "box", SeedBox, "a SeedBox, such as drill.box(name)")
    return box
