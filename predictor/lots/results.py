"""What a comparison of lots found: codes and figures, from which text, JSON and pictures are made."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from predictor.domain.arguments import known_name, label
from predictor.domain.control import Setting
from predictor.domain.result import Remark, Shown
from predictor.lots.catches import LeftOut
from predictor.lots.limits import Adjustment, FTest
from predictor.lots.shapes import LotCurves

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Lot:
    """One lot against the reference lot. Settings and figures that cannot be given are None.

    Attributes
    ----------
    lot : str
        As the trials write it.
    season : str or None
        The season of the lot that is compared where its seasons are not pooled; "" for its catches without season.
        None for all of its catches.
    name : str
        The lot, with its season where that is compared: a name that no other row has.
    seasons : tuple of str
        Seasons it was caught in, in the order of time.
    catches : int
        Number of catches that count.
    settings : tuple of Setting
        The settings it was caught at that give least and most.
    ratio : float
        Output as a multiple of the reference lot's.
    lower, upper : float or None
        Its limits, for the lot in any season.
    season_lower, season_upper : float or None
        Limits for that season alone, of a row that is one season of a lot; else None.
    at_setting : Setting or None
        The setting that the ratio holds at; None where it holds at every setting.
    setting, setting_lower, setting_upper : Setting or None
        Where to start for the wanted output, by the lot's predicted flow, which few catches draw towards the average
        lot's, with limits for this lot by itself; None also where that is off the scale.
    against_average : float or None
        Output as a multiple of the average lot's, drawn towards 1 as far as few catches leave it unsure; None also
        for seasons of a lot beside the one with which it counts among lots.
    unusual : bool
        Whether it differs from the other lots by more than chance among so many lots.
    dead_opening : float or None
        Opening at which its own curve reaches zero output, where lots do not share one.
    notes : tuple of Remark
        What weakens the figures of this lot.
    """

    lot: str
    season: str | None
    name: str
    seasons: tuple[str, ...]
    catches: int
    settings: tuple[Setting, Setting]
    ratio: float
    lower: float | None
    upper: float | None
    season_lower: float | None
    season_upper: float | None
    at_setting: Setting | None
    setting: Setting | None
    setting_lower: Setting | None
    setting_upper: Setting | None
    against_average: float | None
    unusual: bool
    dead_opening: float | None
    notes: tuple[Remark, ...] = ()


@dataclass(frozen=True)
class Reference:
    """What the lots of a box are compared with."""

    lot: str
    season: str | None  # And its name, as of `Lot`
    name: str
    setting: Setting | None  # Its own setting for the output; None off the scale
    output: float  # Output, grams per row per turn, that `Lot.setting` gives
    output_given: bool  # Whether that was asked for; else the output at the setting it was caught at most


@dataclass(frozen=True)
class Repeatability:
    """Coefficient of variation of repeated catches, with limits; None where no catch was repeated."""

    cv: float | None
    cv_lower: float | None
    cv_upper: float | None
    df: float  # Degrees of freedom


@dataclass(frozen=True)
class CurveShape:
    """Whether lots share one curve shape, that is one dead setting."""

    same: bool | None  # None where it cannot be tested; one shape is then assumed
    test: FTest | None
    dead_opening: float | None  # Opening at which the shared curve reaches zero output, with limits
    lower: float | None
    upper: float | None
    assumed: bool  # The dead setting was taken from the control, not from the catches
    reason: Remark | None  # Why it cannot be tested, or that limits hold on either shape because it is in doubt
    limits_at: Setting | None = None  # Where limits of ratios count how far lots of one shape may still differ in it


@dataclass(frozen=True)
class Spread:
    """Lots as a sample of all lots that this box may meet."""

    lots: int
    cv: float | None = None  # How much lots differ, with limits
    cv_lower: float | None = None
    cv_upper: float | None = None
    next_lower: float | None = None  # Limits for a new lot's output as a multiple of the average lot's
    next_upper: float | None = None
    average_to_reference: float | None = None  # The average lot's output as a multiple of the reference lot's
    unusual: tuple[str, ...] = ()  # Lots that differ from the others by more than chance
    reason: Remark | None = None  # What cannot be given, and why
    next_setting: Setting | None = None  # Where to start with a lot not yet seen, with limits; None off the scale
    next_setting_lower: Setting | None = None
    next_setting_upper: Setting | None = None
    several: int = 0  # Lots compared season by season, which count once, with their most caught season


@dataclass(frozen=True)
class Change:
    """Output of lots caught in two seasons as a multiple of the earlier season's, with limits."""

    ratio: float
    lower: float
    upper: float
    since: str  # The earlier season


@dataclass(frozen=True)
class Season:
    """One season of a box."""

    season: str  # As recorded; empty where not recorded
    catches: int
    lots: int
    repeatability: Repeatability
    change: Change | None = None


@dataclass(frozen=True)
class SeasonsOfLot:
    """A lot caught in several seasons, and whether its output in them is shown to be alike."""

    lot: str
    seasons: tuple[str, ...]  # In the order of time
    pooled: bool  # Whether its catches are compared as one lot; else each season is
    season: str  # The later one of the two that are the least alike
    change: Change | None  # Its output against the earlier one; None without repeated catches
    at_setting: Setting | None  # Where that holds; None where it holds at every setting


@dataclass(frozen=True)
class SameRepeatability:
    """A test of one repeatability for all seasons."""

    method: Literal["Levene"]
    statistic: float
    p: float
    seasons: int  # Seasons compared


@dataclass(frozen=True)
class Drift:
    """Steady change of output from season to season."""

    ratio: float  # Output as a multiple of the season before, with limits
    lower: float
    upper: float
    linked_lots: int  # Lots caught in more than one season. With none the drift is judged between different lots.
    shown: bool  # Whether the limits leave out "no drift"


@dataclass(frozen=True)
class Apart:
    """A lot that flowed in one season as neither its other seasons nor the other lots let expect."""

    lot: str
    season: str
    since: tuple[str, ...]  # Its other seasons
    ratio: float  # Its output as a multiple of what was to be expected, with limits
    lower: float
    upper: float


@dataclass(frozen=True)
class Seasons:
    """What the seasons of a box tell."""

    table: tuple[Season, ...]  # In the order of time
    same_repeatability: SameRepeatability | None
    drift: Drift | None
    apart: tuple[Apart, ...]  # The 12 or fewer that moved most by themselves in one season
    reasons: tuple[Remark, ...]  # What cannot be given, and why


@dataclass(frozen=True)
class LotComparison(Shown):
    """What a log tells about the lots of one box.

    Two comparisons are equal where everything but the curves is.

    Attributes
    ----------
    box : str
    level : float
        Probability of all limits.
    reference : Reference or None
        The lot that the others are compared with, its setting and its output; None where no catch counts.
    adjustment : {"Dunnett", "Bonferroni", "none", ""}
        Method by which the limits of all ratios hold together; "none" for one ratio, "" without limits.
    repeatability : Repeatability
        Over all lots.
    shape : CurveShape or None
        Whether the lots share one curve shape.
    spread : Spread or None
        Lots as random effects: how much they differ, and what a new lot may do.
    seasons : Seasons or None
        Repeatability by season, and drift.
    lots : tuple of Lot
        By first season, then by name.
    lots_in_seasons : tuple of SeasonsOfLot
        The lots caught in several seasons, by name. Each season of a lot is compared as a lot unless the limits of
        the ratios between its seasons lie within 0.90 and 1.10.
    left_out : tuple of LeftOut
        Catches that do not count, and why.
    warnings : tuple of Remark
    curves : LotCurves or None
        The catches and the curves fitted to them; no part of `to_dict`.

    Examples
    --------
    >>> import pandas as pd
    >>> from predictor import compare_lots
    >>> log = pd.DataFrame({"box": "small", "lot": ["A"] * 4 + ["B"] * 4, "setting": [20, 20, 40, 40] * 2,
    ...                     "catch_g": [60, 62, 121, 119, 72, 74, 143, 145], "turns": 20, "rows": 3})
    >>> found = compare_lots(log, "small", reference="A")
    >>> found.frame().ratio.round(2).to_dict()
    {'A': 1.0, 'B': 1.2}
    """

    box: str
    level: float
    reference: Reference | None = None
    adjustment: Adjustment | Literal[""] = ""
    repeatability: Repeatability = Repeatability(None, None, None, 0)
    shape: CurveShape | None = None
    spread: Spread | None = None
    seasons: Seasons | None = None
    lots: tuple[Lot, ...] = ()
    lots_in_seasons: tuple[SeasonsOfLot, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    warnings: tuple[Remark, ...] = ()
    curves: LotCurves | None = field(default=None, repr=False, compare=False)

    @property
    def catches_used(self) -> int:
        """Number of catches that count."""
        return sum(row.catches for row in self.lots)

    def lot(self, name: str) -> Lot:
        """The row of a lot.

        Parameters
        ----------
        name : str
            As the row is called, or as the trials write the lot: its last season where its seasons are not pooled.

        Returns
        -------
        Lot

        Raises
        ------
        KeyError
            No such lot is among those compared. It is an InputError as well, which lists those that are.
        """
        name = label(name, "name")
        for row in [*(row for row in self.lots if row.name == name), *reversed(self.lots)]:
            if name in (row.name, row.lot):
                return row
        there = [each for row in self.lots for each in (row.name, row.lot)]
        found = known_name(name, "lot with catches that count called", there, f"Box {self.box} has")
        return next(row for row in reversed(self.lots) if found in (row.name, row.lot))

    def to_dict(self) -> dict[str, Any]:
        """All but the curves, as plain values for JSON; what is not a finite number is None."""
        values: dict[str, Any] = _plain(replace(self, curves=None))
        del values["curves"]
        reference = values.pop("reference") or {}
        for part in filter(None, (values["shape"], values["spread"])):
            part["reason"] = part["reason"] or ""
        for row in () if self.seasons is None else values["seasons"]["table"]:
            row |= row.pop("change") or dict.fromkeys(("ratio", "lower", "upper", "since"))
        return values | {
            "reference": reference.get("lot"),
            "reference_season": reference.get("season"),
            "reference_setting": reference.get("setting"),
            "target_output": reference.get("output"),
            "target_given": reference.get("output_given", False),
            "catches_used": self.catches_used,
        }

    def frame(self) -> pd.DataFrame:
        """The lots as a pandas DataFrame, indexed by `lot`: a row for each, or for each season of one.

        Examples
        --------
        >>> import predictor
        >>> trials = predictor.read_trials("sample_trials/trials.csv")
        >>> predictor.compare_lots(trials, "small").frame()["ratio"].round(2).tolist()
        [0.81, 1.0, 0.92]
        """
        import pandas as pd

        return pd.DataFrame(map(_plain, self.lots), columns=[each.name for each in fields(Lot)]).set_index("lot")


def _plain(value: Any) -> Any:
    """Nested plain values: settings as the control shows them, remarks as sentences, numbers not finite as None."""
    if isinstance(value, Setting):
        return value.value
    if isinstance(value, Remark):
        return str(value)
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value
