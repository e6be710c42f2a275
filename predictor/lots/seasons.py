"""Seasons of one box: how repeatable catches were in each, and whether the flow drifted."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import special

from predictor.lots.mixed import one_way
from predictor.lots.parallel import parallel_lines
from predictor.lots.ratios import t_critical

# Beyond this the square table of seasons against seasons would grow faster than the log does.
MOST_SEASONS = 100
# Whether lots agree on the drift is tested first, and only a clear agreement is pooled with the catches' own scatter.
# Level after Bancroft (1964), Biometrics 20, 427-442 (from memory).
POOL_ABOVE = 0.25
# Variance of logs at a coefficient of variation of 1000 per cent.
LARGEST = math.log1p(100.0)


@dataclass(frozen=True)
class Season:
    """One season of a box."""

    season: str  # As recorded; empty where not recorded
    catches: int
    lots: int
    cv: float | None
    cv_lower: float | None
    cv_upper: float | None
    df: float  # Degrees of freedom of `cv`
    ratio: float | None = None
    lower: float | None = None
    upper: float | None = None
    since: str | None = None


@dataclass(frozen=True)
class Repeatability:
    """Test of one repeatability for all seasons."""

    method: str
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
class Seasons:
    """What the seasons of a box say."""

    table: tuple[Season, ...]  # By name
    repeatability: Repeatability | None
    drift: Drift | None
    reasons: tuple[str, ...]  # What could not be said, and why, in sentences


def compare_seasons(z, x, lot, group, season, *, floor=0.0, level=0.95) -> Seasons:
    """Repeatability by season and drift, from responses that are linear in a known covariate.

    Source: Bartlett (1937), Proc. R. Soc. A 160, 268-282; for two seasons the exact F test.
    """
    labels, code = np.unique(season, return_inverse=True)
    cell_key, cell = np.unique(lot.astype(np.int64) * len(labels) + code, return_inverse=True)
    cell_lot, cell_season = cell_key // len(labels), cell_key % len(labels)
    lines = parallel_lines(z, x, cell, group)
    table = _repeatability_table(labels, code, cell, cell_season, x, group, lines, floor, level)
    reasons: list[str] = []
    same_cv = _same_cv([row for row in table if row.df >= 1])
    if same_cv is None:
        reasons.append("Repeatability cannot be compared between seasons: that needs repeated catches in two or more.")
    if len(labels) < 2:
        reasons.append("One season only: nothing can be said about drift.")
        return Seasons(tuple(table), same_cv, None, tuple(reasons))
    if len(labels) > MOST_SEASONS:
        reasons.append(f"More than {MOST_SEASONS} seasons: they are not compared one by one.")
    elif lines.df >= 1:
        table, more = _linked(table, labels, cell_lot, cell_season, lines, floor, level)
        reasons += more
    drift, more = _steady_drift(z, x, lot, group, code, labels, lines, level)
    return Seasons(tuple(table), same_cv, drift, tuple(reasons + more))


def cv_of(variance: float) -> float:
    """Coefficient of variation of a lognormal quantity from the variance of its log."""
    return math.sqrt(math.expm1(min(variance, 700.0)))


def cv_limits(variance: float, df: float, level: float) -> tuple[float | None, float | None]:
    """Limits of a coefficient of variation, by the chi-square limits of the variance of logs.

    A limit beyond 1000 per cent is None: the catches do not bound it.
    """
    ends = [df / (2 * special.gammaincinv(df / 2, tail)) for tail in (0.5 + level / 2, 0.5 - level / 2)]
    low, high = (cv_of(variance * end) if variance * end < LARGEST else None for end in ends)
    return low, high


def _repeatability_table(labels, code, cell, cell_season, x, group, lines, floor, level) -> list[Season]:
    inside = x - lines.centre[cell]
    with np.errstate(invalid="ignore", divide="ignore"):
        leverage = np.where(np.isnan(lines.slope), 0.0, 1 / lines.spread)[group] * inside**2
    free = 1 - 1 / lines.count[cell] - leverage
    ss = np.bincount(code, weights=lines.residual**2, minlength=len(labels))
    df = np.bincount(code, weights=free, minlength=len(labels))
    catches = np.bincount(code, minlength=len(labels))
    lots = np.bincount(cell_season, minlength=len(labels))
    rows = []
    for k, label in enumerate(labels):
        cv = low = high = None
        if df[k] >= 0.5:
            variance = max(ss[k] / df[k], floor)
            cv = cv_of(variance)
            low, high = cv_limits(variance, df[k], level)
        rows.append(Season(str(label), int(catches[k]), int(lots[k]), cv, low, high, float(max(df[k], 0.0))))
    return rows


def _same_cv(rows: list[Season]) -> Repeatability | None:
    """F test for two seasons, Bartlett's for more. Both trust the normal shape of log outputs."""
    df = np.array([row.df for row in rows])
    variance = np.array([math.log1p(row.cv**2) for row in rows])
    if len(rows) < 2 or (variance <= 0).any():
        return None
    if len(rows) == 2:
        value = variance[0] / variance[1]
        upper = float(special.fdtrc(df[0], df[1], value))
        return Repeatability("F", float(value), min(2 * min(upper, 1 - upper), 1.0), 2)
    return bartlett(variance, df)


def bartlett(variance, df) -> Repeatability:
    """Bartlett's test that several variances are one.

    Source: Bartlett (1937), Proc. R. Soc. A 160, 268-282.
    """
    variance, df = np.asarray(variance, dtype=float), np.asarray(df, dtype=float)
    pooled = df @ variance / df.sum()
    spread = df.sum() * math.log(pooled) - df @ np.log(variance)
    correction = 1 + (np.sum(1 / df) - 1 / df.sum()) / (3 * (len(df) - 1))
    value = float(max(spread, 0.0) / correction)
    return Repeatability("Bartlett", value, float(special.chdtrc(len(df) - 1, value)), len(df))


def _linked(table, labels, cell_lot, cell_season, lines, floor, level):
    """Seasons against the first one that shared lots link them to, by least squares on lots and seasons."""
    k = len(labels)
    often = np.bincount(cell_lot) > 1
    keep = often[cell_lot]
    if not keep.any():
        return table, ["No lot was caught in two seasons: a drift cannot be told from a difference of lots."]
    lot = np.unique(cell_lot[keep], return_inverse=True)[1]
    season, weight, value = cell_season[keep], lines.count[keep].astype(float), lines.level[keep]
    total = np.bincount(lot, weights=weight)
    presence = _season_table(lot, season, weight, k)
    info = np.diag(np.bincount(season, weights=weight, minlength=k)) - presence(1 / total)
    value = value - value.mean()
    gap = value - (np.bincount(lot, weights=weight * value) / total)[lot]
    right = np.bincount(season, weights=weight * gap, minlength=k)
    inverse = np.linalg.pinv(info, hermitian=True, rcond=1e-10)
    effect = inverse @ right
    rest = gap - effect[season]
    rest = rest - (np.bincount(lot, weights=weight * rest) / total)[lot]
    part = _components(info)
    df = len(lot) - len(total) - (len(set(season.tolist())) - len({part[s] for s in season}))
    variance, freedom, reasons = max(lines.ss / lines.df, floor), lines.df, []
    if df >= 1:
        agreement = float(weight @ rest**2) / df
        if special.fdtrc(df, lines.df, agreement / max(variance, 1e-300)) < POOL_ABOVE and agreement > variance:
            variance, freedom = agreement, df
            reasons.append("Lots do not agree on the change between seasons; its limits are widened for that.")
    else:
        reasons.append(
            "One lot links the seasons: a change of the drill cannot be told from a change of that lot's seed."
        )
    critical = t_critical(freedom, level)
    done = list(table)
    for s in sorted(set(season.tolist())):
        first = min(t for t in set(season.tolist()) if part[t] == part[s])
        if first == s:
            continue
        contrast = inverse[s, s] + inverse[first, first] - 2 * inverse[s, first]
        middle, half = effect[s] - effect[first], critical * math.sqrt(variance * contrast)
        row = table[s]
        done[s] = Season(
            row.season, row.catches, row.lots, row.cv, row.cv_lower, row.cv_upper, row.df,
            _exp(middle), _exp(middle - half), _exp(middle + half), str(labels[first]),
        )  # fmt: skip
    return done, reasons


def _season_table(lot, season, weight, k):
    """A function that sums weight_s weight_t scale_lot over the lots' pairs of seasons, shape (k, k)."""
    order = np.argsort(lot, kind="stable")
    lots, seasons, weights = lot[order], season[order], weight[order]
    size = np.bincount(lots)
    start = np.concatenate([[0], np.cumsum(size)[:-1]])

    def table(scale):
        out = np.zeros((k, k))
        for shift in range(int(size.max())):  # every cell with the shift-th cell of its own lot
            other = start[lots] + (np.arange(len(lots)) - start[lots] + shift) % size[lots]
            once = shift < size[lots]
            np.add.at(
                out,
                (seasons[once], seasons[other][once]),
                (weights * weights[other] * scale[lots])[once],
            )
        return out

    return table


def _components(info) -> list[int]:
    """Which seasons hang together through shared lots: the smallest season of each one's part."""
    part = np.arange(len(info))
    joined = (np.abs(info) > 0) | np.eye(len(info), dtype=bool)
    while True:
        lowest = np.where(joined, part[None, :], len(info)).min(axis=1)
        if (lowest == part).all():
            return [int(p) for p in part]
        part = lowest


def _exp(value: float) -> float:
    return math.exp(min(max(value, -700.0), 700.0))


def season_numbers(labels) -> np.ndarray | None:
    """Seasons as numbers (the year they start with), shape (k,); None where a label starts with no number."""
    numbers = []
    for label in labels:
        digits = str(label).split(" ")[0].split("-")[0].split("/")[0]
        if not (digits.isascii() and digits.isdigit() and len(digits) <= 6):
            return None
        numbers.append(float(digits))
    return np.array(numbers)


def _steady_drift(z, x, lot, group, code, labels, lines, level):
    """The drift from season to season, lots taken as random so that lots of one season count too."""
    numbers = season_numbers(labels)
    if numbers is None or len(set(numbers.tolist())) < 2:
        return None, ["Seasons that are not named by different years have no order: no steady drift is given."]
    year = numbers[code]
    # the bend is taken as found within lots: settings go with how lots flow, so between lots it would mislead
    rest = z - np.where(np.isnan(lines.slope), 0.0, lines.slope)[group] * x
    try:
        fit = one_way(rest, lot, year, level=level)
        more = _bend_part(fit, rest, x, lot, year, lines)
    except (ValueError, np.linalg.LinAlgError):
        return None, ["Too few lots or repeated catches for limits of a drift: none is given."]
    count = np.bincount(lot)
    within = year - (np.bincount(lot, weights=year) / count)[lot]
    # how much of what is known about the drift comes from lots caught in several seasons
    share = min(float(within @ within) / fit.within * float(fit.se[1]) ** 2, 1.0)
    df = 1 / (share**2 / fit.df_within + (1 - share) ** 2 / fit.df_between)
    half = t_critical(df, level) * math.hypot(float(fit.se[1]), more)
    slope = float(fit.beta[1])
    linked = int((np.bincount(lot, weights=np.abs(within)) > 1e-9).sum())
    shown = bool(abs(slope) > half)
    return Drift(_exp(slope), _exp(slope - half), _exp(slope + half), linked, shown), []


def _bend_part(fit, rest, x, lot, year, lines) -> float:
    """How far one standard deviation of the common bend moves the drift; 0 where lots have bends of their own."""
    if len(lines.slope) > 1 or np.isnan(lines.slope).any():
        return 0.0
    step = math.sqrt(lines.ss / max(lines.df, 1) / float(lines.spread[0]))
    return abs(float(one_way(rest + step * x, lot, year).beta[1] - fit.beta[1]))
