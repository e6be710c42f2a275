"""Where the uncertainty of the planted live-seed rate comes from, and what would reduce it most."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from scipy.special import stdtrit

from predictor.advice.evidence import ROW_SPREAD
from predictor.advice.lot_fit import Stationary
from predictor.domain.arguments import refuse
from predictor.domain.catch import slips
from predictor.domain.drill import Drill
from predictor.domain.result import Remark, Shown
from predictor.domain.seed import BoxPlan
from predictor.errors import WrongKind
from predictor.field.filling import fill_effect
from predictor.field.results import FieldResult
from predictor.field.seeds import NORMAL_95
from predictor.field.usual import CHECK_SPREAD, CHECK_SPREAD_WORTH, FIELD_CENTRE, OWN_SPREAD, SHARED_SPREAD

# Points by which two germination tests of one lot may differ, by the lower end of its band in per cent: 7 CFR 201.63.
GERMINATION_TOLERANCE = ((96, 5), (90, 6), (80, 7), (70, 8), (60, 9), (0, 10))
# Points by which a purity analysis may differ: 0.6 and a fifth of pure times impure (after 7 CFR 201.60, from memory).
PURITY_TOLERANCE = (0.6, 0.2)
# A loaded wheel's rolling circumference measured over ten turns is known to about 2 %; common practice. The ground that
# stands for a turn of a crank or a motor, or for a second, is taken to be as well known.
CIRCUMFERENCE_HALF_WIDTH = 0.02
ROOT_3, ROOT_12 = math.sqrt(3), math.sqrt(12)
# What twice as much evidence of one kind leaves of its uncertainty.
TWICE = math.sqrt(0.5)


def _finite(dof: float) -> float | None:
    return None if math.isinf(dof) else dof


SourceName = Literal[
    "germination",
    "purity",
    "field_checks",
    "catches",
    "rows",
    "scale",
    "field_factor",
    "circumference",
    "covered",
    "filling",
]


@dataclass(frozen=True)
class Source:
    """One source of uncertainty.

    Attributes
    ----------
    name : str
        One of "germination", "purity", "field_checks", "catches", "rows", "scale", "field_factor", "circumference",
        "covered" and "filling".
    basis : Remark
        Where its size is from.
    u : float
        Standard uncertainty, a fraction of the rate.
    dof : float
        Degrees of freedom; infinite where the size is taken as known.
    left : float
        Part of `u` that its remedy would leave.
    """

    name: SourceName
    basis: Remark
    u: float
    dof: float = math.inf
    left: float = TWICE

    @property
    def title(self) -> Remark:
        """Its name as people read it."""
        return Remark(f"budget.{self.name}")

    @property
    def remedy(self) -> Remark:
        """What would reduce it."""
        unchecked = self.basis.code.startswith("budget.no_check")
        return Remark("budget.check_box" if unchecked else f"budget.mend_{self.name}")

    def to_dict(self) -> dict[str, Any]:
        """Fields by name, codes as words; None in place of what is infinite."""
        words = {"name": str(self.title), "basis": str(self.basis), "remedy": str(self.remedy)}
        return {**vars(self), **words, "dof": _finite(self.dof)}


@dataclass(frozen=True)
class Budget(Shown):
    """Uncertainty budget of the planted live-seed rate of one box.

    Attributes
    ----------
    box, lot : str
    sources : tuple of Source
        Largest first.
    combined : float
        Combined standard uncertainty, a fraction of the rate.
    dof, k : float
        Effective degrees of freedom, and the factor for 95 %.
    """

    box: str
    lot: str
    sources: tuple[Source, ...]
    combined: float
    dof: float
    k: float

    @property
    def expanded(self) -> float:
        """Half width of the 95 % limits, k times `combined`."""
        return self.k * self.combined

    def share(self, source: Source) -> float:
        """Part of a source in the combined variance.

        Parameters
        ----------
        source : Source

        Returns
        -------
        float
            0 to 1.

        References
        ----------
        JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1.2.

        Examples
        --------
        >>> import predictor
        >>> budget = predictor.read_job("sample_trials").budgets()[0]
        >>> round(sum(map(budget.share, budget.sources)), 9)
        1.0
        """
        self._check(source)
        return (source.u / self.combined) ** 2

    def after(self, source: Source) -> float:
        """What would be left of `expanded` if the remedy of a source were applied.

        Parameters
        ----------
        source : Source

        Returns
        -------
        float

        References
        ----------
        JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1.2 and 6.2.1.

        Examples
        --------
        >>> import predictor
        >>> budget = predictor.read_job("sample_trials").budgets()[0]
        >>> budget.after(budget.sources[0]) < budget.expanded
        True
        """
        self._check(source)
        return self.k * math.sqrt(self.combined**2 - source.u**2 * (1 - source.left**2))

    def _check(self, source: Source) -> None:
        """Refuse a source of another budget."""
        if source not in self.sources:
            refuse("source", "one of the sources of this budget", source, WrongKind)

    @property
    def best(self) -> Remark:
        """What would reduce it most."""
        source = min(self.sources, key=self.after)
        values = {"source": source.name, "remedy": source.remedy, "before": self.expanded, "after": self.after(source)}
        return Remark("budget.best", values)

    @property
    def left_out(self) -> Remark | None:
        """The usual sources that are not in it, because field checks hold them already; None where all are."""
        there = {each.name for each in self.sources}
        if "catches" not in there:
            return Remark("budget.without_catches")
        if "field_factor" not in there:
            return Remark("budget.without_slip")
        return None if there & {"circumference", "covered"} else Remark("budget.without_circumference")

    def to_dict(self) -> dict[str, Any]:
        """Fields by name, codes as sentences; None in place of what is infinite."""
        sources = [{**each.to_dict(), "share": self.share(each)} for each in self.sources]
        words = {"best": str(self.best), "left_out": str(self.left_out or "")}
        return {**vars(self), "sources": sources, "dof": _finite(self.dof), "expanded": self.expanded, **words}


def combined_uncertainty(parts: Sequence[tuple[float, float]], level: float = 0.95) -> tuple[float, float, float]:
    """Combined standard uncertainty, effective degrees of freedom and coverage factor.

    Source: JCGM 100:2008, 5.1.2 and G.4.1 (Welch-Satterthwaite; the degrees of freedom are cut to the next lower
    integer, and taken as 1 at least).
    """
    square = sum(u**2 for u, _ in parts)
    quartic = sum(u**4 / dof for u, dof in parts)
    dof = square**2 / quartic if quartic > 0 else math.inf
    t = float(stdtrit(max(math.floor(dof), 1), (1 + level) / 2)) if dof < 1e6 else NORMAL_95
    return math.sqrt(square), dof, t


def germination_tolerance(percent: float) -> float:
    """Points by which two germination tests of one lot may differ (7 CFR 201.63)."""
    return next(points for lowest, points in GERMINATION_TOLERANCE if percent >= lowest)


def purity_tolerance(percent: float) -> float:
    """Points by which two purity analyses of one lot may differ (after 7 CFR 201.60, from memory)."""
    fixed, part = PURITY_TOLERANCE
    return fixed + part * percent * (100 - percent) / 100


def live_seed_budget(
    plan: BoxPlan,
    standing: Stationary,
    drill: Drill,
    *,
    field: FieldResult | None = None,
    turns: float | None = None,
    rows: float | None = None,
    towed: bool = False,
    season: str | None = None,
) -> Budget:
    """Uncertainty budget of one box: rate = output x field factor x purity x viable / area, as relative parts.

    The rate is a product of independent factors, so relative variances add (JCGM 100:2008, 5.1.6). A tolerance is taken
    as the half width of a uniform distribution (4.3.7), a scale's step as its whole width (F.2.2.1). Field checks that
    weighed this very lot (in its `season`, where one is given) and are no likely slips measure its rate, so what the
    catches leave open is no longer part of it. A factor learned from other lots holds the error of the rolling
    circumference. Catches of a towed drill (`towed`) have slip and the ground in them. Before any check of a standing
    drill the field rate is expected 8 % below the standing one, and the target is not corrected for it. The budget is
    about the planned rate, so the mean square of that offset adds to the variance (JCGM 100:2008, F.2.4.5, from
    memory).
    """
    fill, seen = fill_effect(plan.box, standing)
    # half of what changes while the box empties, either way
    filling = Source("filling", Remark(f"budget.fill_{seen}"), abs(fill) / 2 / ROOT_3, left=0.5)
    sources = [*_tag(plan), filling]
    own = (plan.box.name,), (plan.lot.lower(),)
    weighed = [each for each in field.checks if each.kind == "weighed" and each.finding != "slip"] if field else []
    weighed = [each for each in weighed if season is None or each.seasons == (season,)]
    checks = sum((each.boxes, tuple(map(str.lower, each.lots))) == own for each in weighed)
    if checks:
        basis = Remark("budget.checked", {"checks": checks})
        u, dof = CHECK_SPREAD / math.sqrt(checks), CHECK_SPREAD_WORTH + checks
        sources.append(Source("field_checks", basis, u, dof))
    else:
        catch = drill.catch_of(plan.box)
        sources += _standing(plan, standing, drill, turns or catch.turns, rows or catch.rows)
        if not towed:
            sources += _field_factor(plan, field, drill)
    sources.sort(key=lambda each: -each.u)
    sums = combined_uncertainty([(each.u, each.dof) for each in sources])
    return Budget(plan.box.name, plan.lot, tuple(sources), *sums)


def _tag(plan: BoxPlan) -> list[Source]:
    """Germination and purity of the box's lots, each by its part of the live seed; nothing of lots without a tag."""
    alive_lots = [lot for lot in plan.lots if lot.pls_rate > 0]
    if not alive_lots:
        return []
    total = sum(lot.pls_rate for lot in alive_lots)
    germination, purity = [], []
    for lot in alive_lots:
        alive, part = lot.pls / lot.purity, lot.pls_rate / total / ROOT_3 / 100
        germination.append(part * germination_tolerance(100 * alive) / alive)
        purity.append(part * purity_tolerance(100 * lot.purity) / lot.purity)
    return [
        Source("germination", Remark("budget.two_tests"), math.hypot(*germination)),
        Source("purity", Remark("budget.two_analyses"), math.hypot(*purity)),
    ]


def _standing(plan: BoxPlan, standing: Stationary, drill: Drill, turns: float, rows: float) -> list[Source]:
    """What the catches leave open."""
    rows_sd, basis = standing.rows_sd, Remark("budget.rows_weighed")
    if rows_sd <= 0:
        rows_sd = ROW_SPREAD * math.sqrt(max(1 / rows - 1 / drill.rows_of(plan.box), 0.0))
        basis = Remark("budget.rows_assumed", {"spread": ROW_SPREAD})
    step = drill.catch.scale_resolution_g
    scale = step / ROOT_12 / plan.target_catch_g(turns, rows)
    return [
        Source("catches", Remark("budget.curve"), standing.curve_sd, standing.dof),
        Source("rows", basis, rows_sd, left=0.0),
        Source("scale", Remark("budget.step", {"step": step}), scale, left=0.1),
    ]


def _field_factor(plan: BoxPlan, field: FieldResult | None, drill: Drill) -> list[Source]:
    """How the field differs from the standing drill: as other lots showed it, or as far as is known before a check."""
    found = field.of(plan.box.name) if field else None
    if found is not None:
        basis = Remark("budget.checked_elsewhere", {"checks": found.alone + found.together})
        left = CHECK_SPREAD / math.hypot(CHECK_SPREAD, found.log_sd)
        return [Source("field_factor", basis, found.log_sd, found.dof, left)]
    centre, code = (FIELD_CENTRE, "budget.no_check") if slips(drill, plan.box) else (1.0, "budget.no_check_of_motor")
    u = math.hypot(1 - centre, SHARED_SPREAD, OWN_SPREAD)
    around = CIRCUMFERENCE_HALF_WIDTH / ROOT_3
    return [
        Source("field_factor", Remark(code), u, left=CHECK_SPREAD / u),
        Source("circumference", Remark("budget.ten_turns"), around, left=0.5)
        if drill.catch_of(plan.box).counted == "wheel turns"
        else Source("covered", Remark("budget.assumed_ground"), around, left=0.5),
    ]
