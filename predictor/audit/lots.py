"""The lots of a box beside statsmodels' mixed model and least squares with a column for each lot."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import fdtrc

from predictor.audit.likelihood import Restricted
from predictor.audit.results import BoxAudit, Check, Figure, Opinion
from predictor.domain.codes import Codes
from predictor.domain.control import Floats
from predictor.domain.drill import SeedBox
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.lots.compare import compare_lots
from predictor.lots.random_levels import OneWay, one_way
from predictor.lots.shapes import LotCurves, fit_common

LEVEL = 0.95
# More lots, or more catches, than this take the mixed model longer than a reader waits.
MOST_LOTS, MOST_CATCHES = 30, 2000
# A curve that comes this near to nothing at a catch is bent as far as catches allow: its sum of squares is not least
# there, but at an end.
EDGE = 1e-6
# Steps of so few standard errors lead nowhere: the sum of squares is least where they begin.
LEAST = 1e-6
# Two criteria that differ by less are equal but for rounding.
SAME_CRITERION = 1e-9


def audit_box(trials: Trials, box: SeedBox) -> BoxAudit:
    """A second opinion on the lots of a box: how they differ, and the ratio of each to the most caught one."""
    mine = trials.of(box=box.name)
    mine = mine.where(mine.counts)
    names = list(dict.fromkeys(mine.lot.tolist()))
    kept = names[-MOST_LOTS:]
    some = mine if len(kept) == len(names) else mine.where(np.isin(mine.lot.astype(str), kept))
    found = BoxAudit(box.name, len(kept), len(names), len(some))
    if len(kept) < 2:
        return _with(found, Remark("audit.one_lot", {"lots": len(kept)}))
    if len(some) > MOST_CATCHES:
        return _with(found, Remark("audit.too_many", {"catches": len(some), "most": MOST_CATCHES}))
    compared = compare_lots(some, box, level=LEVEL)
    if compared.curves is None or compared.reference is None:
        return _with(found, Remark("audit.nothing_to_compare"))
    curves = compared.curves
    common = curves if curves.shared else fit_common(curves.catches, LEVEL)
    remarks = [] if curves.shared else [Remark("audit.own_shapes")]
    opinions = []
    ratios, said = _ratios(common, curves.catches.names.index(compared.reference.name))
    opinions += [ratios] if ratios is not None else []
    mixed, more = _mixed(common)
    opinions += [mixed] if mixed is not None else []
    remarks += [*said, *more]
    season, by_season = _season(common)
    counts = found.box, found.lots, found.all_lots, found.catches
    return BoxAudit(*counts, tuple(opinions), season, tuple(remarks), by_season)


def _with(found: BoxAudit, remark: Remark) -> BoxAudit:
    return BoxAudit(found.box, found.lots, found.all_lots, found.catches, remarks=(remark,))


def _ratios(common: LotCurves, reference: int) -> tuple[Opinion | None, list[Remark]]:
    """Ratios of lots from least squares with a column for each, on the outputs made linear about our curves."""
    from statsmodels.regression.linear_model import OLS

    lot, lots = common.catches.lot, len(common.catches.called)
    columns = (lot[:, None] == np.arange(lots)).astype(float)
    size = float(np.abs(common.x).max()) or 1.0  # so that no column outweighs the others
    design = columns if common.assumed else np.column_stack([columns, common.x / size])
    if common.lines.df < 1 or np.linalg.matrix_rank(design) < design.shape[1] or not common.lines.ss > 0:
        return None, [Remark("audit.no_repeats")]
    if not common.assumed and float(_rise(common).min()) < EDGE:
        return None, [Remark("audit.edge")]
    fit = OLS(common.z, design).fit()
    level = fit.params[:lots]
    ours = np.exp(common.lines.level - common.lines.level[reference])
    theirs = np.exp(level - level[reference])
    names = common.catches.names
    figures = [Figure("ratio", float(ours[k]), float(theirs[k]), of=names[k]) for k in range(lots) if k != reference]
    if not common.assumed:
        figures.append(Figure("bend", float(common.bend[0]), float(fit.params[-1]) / size))
    figures.append(Figure("within", float(common.lines.ss / common.lines.df), float(fit.scale)))
    coefs = np.append(common.lines.level, [] if common.assumed else [common.bend[0] * size])
    with np.errstate(divide="ignore", invalid="ignore"):
        far = [
            float(np.max(np.abs(np.linalg.lstsq(design, common.z - design @ each, rcond=None)[0]) / fit.bse))
            for each in (coefs, fit.params)
        ]
    why = Remark("audit.levels" if far[0] < LEAST else "audit.levels_off", {"ours": far[0], "theirs": far[1]})
    return Opinion("ols", tuple(figures), far[0], far[1], why), []


def _rise(common: LotCurves) -> Floats:
    """The height of the common curve at each catch, as a share of that at the middle."""
    return np.asarray(1 + common.bend[0] * (common.catches.opening - common.middle[0]))


@dataclass(frozen=True)
class _Answer:
    """Variances by statsmodels, with the mean and its standard error."""

    mean: float
    se: float
    between: float
    within: float


def _mixed(common: LotCurves) -> tuple[Opinion | None, list[Remark]]:
    """The variances between lots and within, by restricted maximum likelihood."""
    rows = common.catches.once
    which = np.isin(common.catches.lot, rows)
    lot = np.searchsorted(rows, common.catches.lot[which])
    return mixed_opinion((common.z - common.bend[0] * common.x)[which], lot)


def mixed_opinion(y: Floats, lot: Codes) -> tuple[Opinion | None, list[Remark]]:
    """Our restricted maximum likelihood beside statsmodels' MixedLM, both held against the likelihood itself."""
    try:
        ours = one_way(y, lot, level=LEVEL)
    except ValueError:
        return None, [Remark("audit.no_repeats")]
    theirs = _statsmodels(y, lot)
    if theirs is None:
        return None, [Remark("audit.no_mixed")]
    likelihood = Restricted.of(y, lot)
    criteria = [likelihood.criterion(each.between, each.within) for each in (ours, theirs)]
    figures = (
        Figure("mean", float(ours.beta[0]), theirs.mean),
        Figure("mean_se", float(ours.se[0]), theirs.se),
        Figure("between", ours.between, theirs.between),
        Figure("within", ours.within, theirs.within),
        Figure("criterion", criteria[0], criteria[1]),
    )
    far = [likelihood.far(each.between, each.within) for each in (ours, theirs)]
    return Opinion("mixed", figures, far[0], far[1], _why_mixed(ours, criteria, far)), []


def _why_mixed(ours: OneWay, criteria: list[float], far: list[float]) -> Remark:
    """Who is right: whose likelihood is higher, or where that cannot tell, whose equations hold better."""
    gap = criteria[1] - criteria[0]
    values: dict[str, Any] = {"gap": abs(gap), "ours": far[0], "theirs": far[1], "none": ours.between == 0}
    if abs(gap) > SAME_CRITERION:
        return Remark("audit.mixed_higher" if gap > 0 else "audit.mixed_lower", values)
    return Remark("audit.mixed_nearer" if far[0] <= far[1] else "audit.mixed_farther", values)


def _statsmodels(y: Floats, lot: Codes) -> _Answer | None:
    from statsmodels.regression.mixed_linear_model import MixedLM

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # how far it got is worked out below
        try:
            fit = MixedLM(y, np.ones((len(y), 1)), groups=lot).fit(reml=True)
            found = _Answer(float(fit.fe_params[0]), float(fit.bse_fe[0]), float(fit.cov_re[0, 0]), float(fit.scale))
        except (ValueError, np.linalg.LinAlgError, ZeroDivisionError):
            return None
    values = (found.mean, found.se, found.between, found.within)
    return found if all(map(math.isfinite, values)) and found.within > 0 else None


def _season(common: LotCurves) -> tuple[Check, tuple[tuple[str, Floats], ...]]:
    """Whether all lots move together from season to season, by more than each lot moves by itself.

    Seasons are held against lots in their seasons, not against catches: where single lots shift, they would seem
    to have changed together by the scatter of catches alone.
    """
    catches = common.catches
    whole, season, n = catches.whole, catches.season, len(catches)
    base = np.empty((n, 0)) if common.assumed else common.x[:, None]
    lots, seasons = _columns(whole), _columns(season)
    cells = _columns(whole * (int(season.max()) + 1) + season)
    left, ranks = zip(
        *(_left(common.z, np.column_stack([base, *more])) for more in ((lots,), (lots, seasons), (cells,))), strict=True
    )
    df1, df2 = ranks[1] - ranks[0], ranks[2] - ranks[1]
    if df1 < 1 or df2 < 1:
        return Check("seasons", n, reason=Remark("audit.no_link")), ()
    of_lots, of_seasons, of_cells = (float(each @ each) for each in left)
    value = (of_lots - of_seasons) / df1 / ((of_seasons - of_cells) / df2)
    found = Check("seasons", n, value, df1, df2, float(fdtrc(df1, df2, value)), method="one-way")
    standard = left[0] / math.sqrt(of_lots / (n - ranks[0]))
    names = list(catches.seasons)
    return found, tuple((names[k] or "no season", standard[season == k]) for k in np.unique(season).tolist())


def _left(z: Floats, columns: Floats) -> tuple[Floats, int]:
    """What columns leave of responses by least squares, and their rank."""
    solution, _, rank, _ = np.linalg.lstsq(columns, z, rcond=1e-10)
    return z - columns @ solution, int(rank)


def _columns(code: Codes) -> Floats:
    """A column of zeros and ones for each value of a code."""
    return np.asarray(code[:, None] == np.unique(code), dtype=float)
