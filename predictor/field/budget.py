"""Where the uncertainty of the planted live-seed rate comes from, and what would tighten it most."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from scipy.special import stdtrit

from predictor.advice.case import FILL_CHAFFY, Stationary
from predictor.advice.evidence import ROW_SPREAD
from predictor.domain.drill import Drill
from predictor.domain.seed import BoxPlan, Viable
from predictor.field.factors import CHECK_SPREAD, CHECK_SPREAD_WORTH, OWN_SPREAD, SHARED_SPREAD, FieldResult

# Points by which two germination tests of one lot may differ, by the lower end of its band in per cent: 7 CFR 201.63.
GERMINATION_TOLERANCE = ((96, 5), (90, 6), (80, 7), (70, 8), (60, 9), (0, 10))
# Points by which a purity analysis may differ: 0.6 and a fifth of pure times impure (after 7 CFR 201.60, from memory).
PURITY_TOLERANCE = (0.6, 0.2)
# A loaded wheel's rolling circumference measured over ten turns is known to about 2 %; common practice.
CIRCUMFERENCE_HALF_WIDTH = 0.02
# Change of output with the filling of a box (1/4, 1/2, 2/3) allowed to drills: 10 %, Indian teaching notes, Performance
# requirements for a seed drill (read; wording of IS 6813, inferred). From full to nearly empty is our reading of it.
FILL_OTHER_RANGE = 0.10
ROOT_3, ROOT_12 = math.sqrt(3), math.sqrt(12)


@dataclass(frozen=True)
class Source:
    """One source of uncertainty."""

    name: str
    basis: str  # Where its size is from, a few words
    u: float  # Standard uncertainty, a fraction of the rate
    dof: float  # Degrees of freedom; infinite where the size is taken as known
    share: float  # Part of the combined variance, 0 to 1
    remedy: str  # What would reduce it, as the subject of a sentence; "" where nothing in reach would
    left: float  # Part of `u` that the remedy would leave


@dataclass(frozen=True)
class Budget:
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
    expanded : float
        k times `combined`.
    best : str
        What would tighten it most, a sentence.
    left_out : str
        What of the usual sources is not in it, and why; "" for nothing.
    """

    box: str
    lot: str
    sources: tuple[Source, ...]
    combined: float
    dof: float
    k: float
    expanded: float
    best: str
    left_out: str

    def to_dict(self) -> dict[str, Any]:
        """Fields by name; None in place of what is infinite."""

        def finite(record: dict) -> dict:
            return {name: None if isinstance(v, float) and math.isinf(v) else v for name, v in record.items()}

        return {**finite(asdict(self)), "sources": [finite(asdict(each)) for each in self.sources]}


def combined_uncertainty(parts: Sequence[tuple[float, float]], level: float = 0.95) -> tuple[float, float, float]:
    """Combined standard uncertainty, effective degrees of freedom and coverage factor.

    Source: JCGM 100:2008, 5.1.2 and G.4.1 (Welch-Satterthwaite; the degrees of freedom are cut to the next lower
    integer, and taken as 1 at least).
    """
    square = sum(u**2 for u, _ in parts)
    quartic = sum(u**4 / dof for u, dof in parts)
    dof = square**2 / quartic if quartic > 0 else math.inf
    t = float(stdtrit(max(math.floor(dof), 1), (1 + level) / 2)) if dof < 1e6 else 1.959963984540054
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
    viable: Viable = "germination",
    field: FieldResult | None = None,
    turns: float | None = None,
    rows: float | None = None,
) -> Budget:
    """Uncertainty budget of one box: rate = output x field factor x purity x viable / area, as relative parts.

    A product of independent factors: relative variances add (JCGM 100:2008, 5.1.6). A tolerance is taken as the half
    width of a uniform distribution (4.3.7), a scale's step as its whole width (F.2.2.1). Where field checks weighed
    this very lot, they measure its rate, and what the catches leave open is no longer part of it; a factor learned
    from other lots holds the error of the rolling circumference.
    """
    turns, rows = turns or drill.catch.turns, rows or drill.catch.rows
    parts = _tag(plan, viable)
    checks, left_out = _checks_of(plan, field), ""
    factor = None if field is None else field.of(plan.box.name)
    if checks:
        u = CHECK_SPREAD / math.sqrt(checks)
        each = "good" if checks == 1 else "each good"
        basis = f"{checks} weighed {'check' if checks == 1 else 'checks'} of this lot, {each} to about 4 %"
        dof = CHECK_SPREAD_WORTH + checks
        parts.append(("field checks", basis, u, dof, "As many field checks again", math.sqrt(0.5)))
        left_out = "catches, rows, scale and rolling circumference: field checks of this lot measured its rate"
    else:
        parts += _standing(plan, standing, drill, turns, rows)
        if factor is None:
            u, left = math.hypot(SHARED_SPREAD, OWN_SPREAD), CHECK_SPREAD / math.hypot(SHARED_SPREAD, OWN_SPREAD)
            basis = "no field check; field rates were 4 to 15 % below stationary ones in one study"
            parts.append(("field factor", basis, u, math.inf, "A field check of this box", left))
            parts.append(
                (
                    *("rolling circumference", "2 % either way, ten turns in the field"),
                    *(CIRCUMFERENCE_HALF_WIDTH / ROOT_3, math.inf),
                    *("Rolling the drill ten turns again", 0.5),
                )
            )
        else:
            count = factor.alone + factor.together
            basis = f"{count} field {'check' if count == 1 else 'checks'} of this box, with other lots or boxes"
            parts.append(
                ("field factor", basis, factor.log_sd, factor.dof, "A field check of this lot", CHECK_SPREAD / 0.1)
            )
            left_out = "rolling circumference: its error is in the field factor"
    parts.append(_filling(plan, standing))
    return _sum_up(plan, parts, left_out)


def _tag(plan: BoxPlan, viable: Viable) -> list[tuple]:
    """Purity and viable seed of the box's lots, each with its part of the live seed."""
    total = sum(lot.pls_rate for lot in plan.lots)
    squares = [0.0, 0.0]
    for lot in plan.lots:
        alive = lot.germination + (lot.dormant if viable == "total" else 0.0)
        part = lot.pls_rate / total
        tolerances = (
            germination_tolerance(100 * alive) / 100 / alive,
            purity_tolerance(100 * lot.purity) / 100 / lot.purity,
        )
        squares = [square + (part * each / ROOT_3) ** 2 for square, each in zip(squares, tolerances, strict=True)]
    germination, purity = map(math.sqrt, squares)
    return [
        (
            *("germination on the tag", "tolerance between two tests, 7 CFR 201.63", germination, math.inf),
            *("A second germination test", math.sqrt(0.5)),
        ),
        (
            *("purity on the tag", "tolerance between two analyses, from memory", purity, math.inf),
            *("A second purity analysis", math.sqrt(0.5)),
        ),
    ]


def _checks_of(plan: BoxPlan, field: FieldResult | None) -> int:
    """How many checks weighed this very lot alone."""
    if field is None:
        return 0
    own = ((plan.box.name,), (plan.lot.lower(),))
    return sum(
        each.kind == "weighed" and (each.boxes, tuple(lot.lower() for lot in each.lots)) == own for each in field.checks
    )


def _standing(plan: BoxPlan, standing: Stationary, drill: Drill, turns: float, rows: float) -> list[tuple]:
    """What the catches leave open."""
    if standing.rows_sd > 0:
        rows_u, basis = standing.rows_sd, "single rows were weighed"
    else:
        rows_u = ROW_SPREAD * math.sqrt(max(1 / rows - 1 / drill.rows, 0.0))
        basis = f"rows not weighed singly; {100 * ROW_SPREAD:g} % between rows, within published figures"
    step = drill.catch.scale_resolution_g
    scale = step / ROOT_12 / plan.target_catch_g(turns, rows)
    return [
        (
            "catches",
            "repeatability and curve",
            standing.curve_sd,
            standing.dof,
            "As many catches again",
            math.sqrt(0.5),
        ),
        ("rows not caught", basis, rows_u, math.inf, "Catching every row", 0.0),
        ("scale", f"step of {step:g} g", scale, math.inf, "A finer scale", 0.1),
    ]


def _filling(plan: BoxPlan, standing: Stationary) -> tuple:
    """Change of output while the box empties, half of it either way."""
    if standing.fill_effect == standing.fill_effect:
        width, basis = abs(standing.fill_effect), "from catches at several fillings"
    elif plan.box.holds == "chaffy":
        width, basis = FILL_CHAFFY[0], "15 % from full to nearly empty, Australian J. Exp. Agric. 39, 1999"
    else:
        width, basis = FILL_OTHER_RANGE, "10 % from full to nearly empty, assumed"
    return ("box filling", basis, width / 2 / ROOT_3, math.inf, "Keeping the box more than half full", 0.5)


def _sum_up(plan: BoxPlan, parts: list[tuple], left_out: str) -> Budget:
    combined, dof, k = combined_uncertainty([(each[2], each[3]) for each in parts])
    sources = tuple(
        Source(name, basis, u, free, u**2 / combined**2, remedy, min(left, 1.0))
        for name, basis, u, free, remedy, left in sorted(parts, key=lambda each: -each[2])
    )
    # what each remedy would leave of the whole
    after = [math.sqrt(combined**2 - each.u**2 * (1 - each.left**2)) for each in sources]
    least = min(range(len(after)), key=after.__getitem__)
    best = (
        f"{sources[least].remedy} would tighten it most: from {100 * k * combined:.0f} to about "
        f"{100 * k * after[least]:.0f} % either way."
    )
    return Budget(plan.box.name, plan.lot, sources, combined, dof, k, k * combined, best, left_out)
