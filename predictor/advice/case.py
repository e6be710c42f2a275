"""One box and lot under calibration: the catches that count, their curve, and the chance of every setting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from predictor.advice.evidence import (
    SURELY_WRONG,
    RowDifferences,
    left_out,
    place,
    plugged_rows,
    row_differences,
    suspicious,
)
from predictor.advice.history import History
from predictor.advice.prospects import Prospect
from predictor.curves.base import Curve
from predictor.curves.fit import fit_curve
from predictor.curves.prior import Prior, cold_prior
from predictor.domain.control import Lever
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.domain.trials import Trials

# Filling from empty to full: gained output and its spread (chaffy: 14 to 16 %, Australian J. Experimental Agriculture
# 39(3), 1999, 317-324, read; author not recorded). Other seed: no source recorded.
FILL_CHAFFY, FILL_OTHER = (0.15, 0.15), (0.0, 0.10)
FILL_DIFFERS = 0.10
# Of a scale with more steps than this some are skipped where only their range matters.
MOST_ASKED = 400


@dataclass(frozen=True)
class Stationary:
    """What a box gives at one opening while the drill stands.

    Attributes
    ----------
    log_output : float
        Log of the mean output, grams per row per turn: the middle of what it may be.
    log_sd : float
        Its standard uncertainty, rows that were not caught included.
    curve_sd, rows_sd : float
        The two parts of it: catches and curve; rows that were not caught.
    dof : float
        Degrees of freedom of the first part.
    fill_effect : float
        Log output of a full box over an empty one, where fillings were recorded; NaN where not.
    """

    log_output: float
    log_sd: float
    curve_sd: float
    rows_sd: float
    dof: float
    fill_effect: float


class Case:
    """One box and lot: its catches, the curve, and the chance of every setting."""

    def __init__(self, box, named, mine, others, drill, target, tolerance, confidence, history, field_factor):
        self.box: SeedBox = box
        self.named: tuple[str, str] = named
        self.mine: Trials = mine
        self.used: Trials = mine.where(mine.counts).in_box(box)
        used = self.used
        self.drill: Drill | None = drill
        self.target: float = target
        self.tolerance, self.confidence = tolerance, confidence
        self.low, self.high = target * (1 - tolerance), target * (1 + tolerance)
        self.history: History | None = history
        self.present = float(used.opening[-1]) if len(used) else np.nan
        self.row_info: RowDifferences | None = None
        self.field_factor = field_factor
        defaults = drill.catch if drill else CatchDefaults()
        self.turns = float(used.turns[-1]) if len(used) else defaults.turns
        self.rows = float(used.rows[-1]) if len(used) else float(defaults.rows)
        self.resolution_g = defaults.scale_resolution_g
        self.warnings: list[str] = [*others, *left_out(mine)]
        self.aside: list[int] = []
        self._leave_plugged()
        self.fill_advice: list[str] = []
        self.openings = box.control.openings
        self.settings = [each.value for each in box.control.settings]

    def _leave_plugged(self) -> None:
        """Take out catches with a plugged row that were made again since: what was wrong with them is known."""
        used = self.used
        plugged = plugged_rows(used)
        last = {x: k for k, x in enumerate(used.opening.tolist()) if k not in plugged}
        again = [i for i in plugged if last.get(float(used.opening[i]), -1) > i]
        for i, rows in plugged.items():
            after = "It was made again since: not used." if i in again else "Clear it and catch again."
            self.warnings.append(f"{place(used, i)}: {rows}. {after}")
        self.aside += [int(used.line[i]) for i in again]
        self.used = used.where(~np.isin(np.arange(len(used)), again))

    def fit(self) -> None:
        """Fit the curve to the catches used."""
        self.prior: Prior = self.history.prior if self.history else cold_prior(self.box.holds)
        self.row_info = row_differences(self.used, self.prior.typical_cv, self.drill.rows if self.drill else None)
        extra = (self.row_info.cv, self.row_info.cv_worth) if self.row_info and self.row_info.cv_worth > 0 else None
        self.fill, self.fill_prior = self._filling()
        self.curve = self._curve_of(np.arange(len(self.used)), extra)
        self.row_variance = self.row_info.mean_variance if self.row_info else 0.0
        self.prospect = Prospect(
            self.curve, self.openings, self.target, self.tolerance, self.confidence, self.row_variance
        )

    def _curve_of(self, index: np.ndarray, extra_noise: tuple[float, float] | None) -> Curve:
        """The curve of some of the catches used."""
        used = self.used.where(np.isin(np.arange(len(self.used)), index))
        # noise is that of a catch as long as the last one: a longer one averages more
        size = used.turns * used.rows
        rounding = self.resolution_g / np.sqrt(12)
        return fit_curve(
            used.opening,
            used.output,
            prior=self.prior,
            lowest=self.box.control.lowest_opening,
            span=self.box.control.span,
            weights=None if len(size) == 0 or np.ptp(size) == 0 else size / (self.turns * self.rows),
            fill=None if self.fill is None else self.fill[index],
            fill_prior=self.fill_prior,
            extra_noise=extra_noise,
            # a catch smaller than the scale's step tells next to nothing, which 100 % says well enough
            noise_floor=min(rounding / float(np.mean(used.catch_g)), 1.0) if len(used) else 0.0,
        )

    def _filling(self):
        """Filling of each catch above half, where it differs enough to tell its effect."""
        pct = self.used.fill_pct
        known = np.isfinite(pct)
        prior = FILL_CHAFFY if self.box.holds == "chaffy" else FILL_OTHER
        if known.sum() < 2 or np.ptp(pct[known]) < 100 * FILL_DIFFERS:
            if self.box.holds == "chaffy" and len(self.used) and not known.any():
                self.fill_advice.append(
                    "A chaffy box gives less as it empties: catch with it half full, and refill early."
                )
            return None, prior
        return np.where(known, (pct - 50) / 100, 0.0), prior

    def set_aside(self) -> None:
        """Take out, in so many words, catches that contradict the rest and whose repeat agrees with the rest."""
        for _ in range(max(len(self.used) // 4, 1)):
            found = [
                i
                for i in suspicious(self.used, self.curve, self.prior, SURELY_WRONG)
                if (self.used.opening[i + 1 :] == self.used.opening[i]).any()
            ]
            if not found or len(self.used) < 3:
                return
            what = self.contradiction(found[0])
            self.warnings.insert(
                0, f"{what}, and its repeat agrees with them: not used. Write use = no and why, if you know."
            )
            self.aside.append(int(self.used.line[found[0]]))
            self.used = self.used.where(np.arange(len(self.used)) != found[0])
            self.fit()

    def contradiction(self, i: int) -> str:
        """Which catch it is, and how far it lies from what the others say."""
        curve = self._curve_of(np.flatnonzero(np.arange(len(self.used)) != i), None)
        # where the others say that nothing comes out, any catch is many times more
        ratio = self.used.output[i] / max(float(curve.mean(float(self.used.opening[i]))), 1e-9 * self.used.output[i])
        if ratio > 10:
            size = "many times more than the others say"
        else:
            size = f"{100 * abs(ratio - 1):.0f} % {'more' if ratio > 1 else 'less'} than the others say"
        return f"{place(self.used, i)}, {self.used.catch_g[i]:.4g} g at {self.used.setting[i]}: {size}"

    def weigh(self) -> None:
        """Chance at every setting of the control, and at every setting caught."""
        self.caught = np.unique(self.used.opening)
        x = np.concatenate([self.caught, self.openings])
        chance = np.zeros(len(x))
        worth = self._worth_asking(x)
        chance[worth] = self.curve.probability(x[worth], self.low, self.high, self.row_variance)
        self.caught_chance, self.real_chance = chance[: len(self.caught)], chance[len(self.caught) :]

    def _worth_asking(self, x: np.ndarray) -> np.ndarray:
        """Settings that may be the one; the chance at the others is nothing, and costs time."""
        if len(x) <= 24:
            return np.ones(len(x), dtype=bool)
        low, high = self.curve.settings_within(self.low, self.high, 0.005)
        if np.isinf([low, high]).any():
            return np.ones(len(x), dtype=bool)
        inside = (x >= low) & (x <= high)
        inside[np.argmin(np.abs(x - (low + high) / 2))] = True
        asked = np.flatnonzero(inside)
        if len(asked) > 60:  # a fine scale: look at every few steps first; the caught settings always
            keep = np.zeros(len(x), dtype=bool)
            keep[asked[:: len(asked) // 40]] = True
            keep[: len(self.caught)] = inside[: len(self.caught)]
            rough = np.where(keep, 0.0, -1.0)
            rough[keep] = self.curve.probability(x[keep], self.low, self.high, self.row_variance)
            best = int(np.argmax(rough))
            near = np.abs(np.arange(len(x)) - best) <= len(asked) // 40
            return (near & inside) | (keep & (np.arange(len(x)) < len(self.caught))) | (np.arange(len(x)) == best)
        return inside

    def best(self) -> int:
        """The setting with the largest chance; of equals the one nearest to where the control stands."""
        top = self.real_chance.max()
        equals = np.flatnonzero(self.real_chance >= top - 1e-9)
        if top <= 0:  # the target is far from every setting: the nearest in output
            return self.nearest()
        if len(equals) == 1 or np.isnan(self.present):
            return int(equals[len(equals) // 2])
        return int(equals[np.argmin(np.abs(self.openings[equals] - self.present))])

    def nearest(self) -> int:
        """The setting whose mean output is nearest to target, by ratio."""
        ideal = self.curve.setting_for(self.target).estimate
        if not np.isfinite(ideal):  # the curve never gets there: an end comes nearest
            mean = np.maximum(np.asarray(self.curve.mean(self.openings[[0, -1]])), 1e-300)
            ideal = self.openings[[0, -1]][np.argmin(np.abs(np.log(mean / self.target)))]
        after = int(np.clip(np.searchsorted(self.openings, ideal), 1, max(len(self.openings) - 1, 1)))
        pair = [after - 1, min(after, len(self.openings) - 1)]
        mean = np.maximum(np.asarray(self.curve.mean(self.openings[pair])), 1e-300)
        return pair[int(np.argmin(np.abs(np.log(mean / self.target))))]

    def nowhere(self) -> float:
        """Probability that no setting the control has is within tolerance."""
        x = np.unique(np.concatenate([self.openings, self.caught]))
        if len(x) > MOST_ASKED:
            # steps far from target say nothing, and of very fine ones a few hundred say the same as all
            ends = self.curve.settings_within(self.low, self.high, 1e-4)
            first, last = np.searchsorted(x, ends[0]) - 1, np.searchsorted(x, ends[1]) + 1
            x = x[max(first, 0) : last + 1]
            x = x[np.unique(np.linspace(0, len(x) - 1, MOST_ASKED).astype(int))] if len(x) > MOST_ASKED else x
        return self.curve.probability_none(x, self.low, self.high, self.row_variance)

    @property
    def has_curve(self) -> bool:
        """Whether there was anything to fit."""
        return hasattr(self, "curve")

    def stationary(self, opening: float) -> Stationary:
        """Mean output at an opening, and how sure it is."""
        self.fit()
        self.set_aside()
        ends = self.curve.quantile(opening, [0.1587, 0.5, 0.8413])
        low, middle, high = np.log(np.maximum(ends, 1e-300)).tolist()
        curve_sd, rows_sd = (high - low) / 2, float(np.sqrt(self.row_variance))
        effect = self.curve.fill_effect
        both = float(np.hypot(curve_sd, rows_sd))
        return Stationary(middle, both, curve_sd, rows_sd, self.curve.df, effect[0] if effect else np.nan)

    def whole_drill(self, opening: float) -> tuple[float, tuple[float, float]]:
        """Mean output at a setting and its 95 % limits for all rows of the drill."""
        lower, middle, upper = self.curve.quantile(opening, [0.025, 0.5, 0.975]).tolist()
        if self.row_variance > 0 and middle > 0:
            wider = np.hypot(np.log([max(lower, 1e-300) / middle, upper / middle]), 1.96 * np.sqrt(self.row_variance))
            lower, upper = middle * np.exp(-wider[0]), middle * np.exp(wider[1])
        return middle, (float(lower), float(upper))

    def setting_interval(self):
        """Where the ideal setting lies, as the control shows it."""
        found = self.curve.setting_for(self.target)
        control = self.box.control
        if isinstance(control, Lever):
            ends = [control.at(end).value if np.isfinite(end) else None for end in (found.lower, found.upper)]
            ends = [None if end is None else round(float(end), 6) for end in ends]
            return tuple(ends) if control.more_is == "higher" else tuple(reversed(ends))
        # labels: from the last position not above the interval to the first not below it
        under = np.flatnonzero(self.openings <= found.lower)
        over = np.flatnonzero(self.openings >= found.upper)
        return (
            self.settings[under[-1]] if len(under) else None,
            self.settings[over[0]] if len(over) else None,
        )

    def model(self) -> str:
        """The curve in words, and why it was taken."""
        if self.curve.family == "spline":
            return "spline: a bent line leaves a pattern and predicts left-out catches worse"
        kind = "line with a dead setting and a slight bend"
        return f"{kind}, averaged over both" + (", shape from earlier lots" if self.history else "")
