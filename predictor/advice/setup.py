"""What all curves of one lot are fitted with: prior, scale, fillings, and what lies within single catches."""

from __future__ import annotations

from dataclasses import dataclass, field
from hashlib import sha256

import numpy as np

from predictor.advice import evidence
from predictor.advice.evidence import Contradiction
from predictor.curves.base import Curve
from predictor.curves.catches import Inside
from predictor.curves.fit import Family, fit_curve
from predictor.curves.prior import Prior
from predictor.domain.control import Control, Floats
from predictor.domain.drill import SeedBox
from predictor.domain.drives import OnDrive
from predictor.domain.trials import Flags, Trials

# Filling from empty to full: gained output and its spread (chaffy: 14 to 16 %, Australian J. Experimental Agriculture
# 39(3), 1999, 317-324, read; author not recorded). Other seed: no source recorded.
FILL_CHAFFY, FILL_OTHER = (0.15, 0.15), (0.0, 0.10)
FILL_DIFFERS = 0.10
# How far output may be from proportional to the speed of a drive. `LeverAndDrive` names a source for a straight line;
# how far single drives lie off it is not published, and a twentieth is a guess.
DRIVE_SPREAD = 0.05

# Settings, outputs, lengths, fillings and uncertainties of reading; then the prior of fillings, rows and parts.
Arrays = tuple[Floats, Floats, Floats, Floats | None, Floats]
Insides = tuple[tuple[float, float], Inside | None, Inside | None]


@dataclass(frozen=True)
class Setup:
    """What all curves of one lot are fitted with."""

    box: SeedBox
    control: Control
    prior: Prior
    step: float  # Smallest step of the scale, grams
    near: float | None
    closed: float | None  # Highest opening at which nothing came
    spline: bool | None = None  # Whether the curve of all catches is a spline; None where that is found out
    # Curves made so far, by what they were fitted to: several checks ask for the same ones
    made: dict[tuple[object, ...], Curve] = field(default_factory=dict, compare=False, repr=False)

    def curve(self, used: Trials, keep: Flags | None = None) -> Curve:
        """The curve of the catches used, or the line of some of them."""
        fill, fill_prior = self.filling(used)
        if keep is not None:
            fill = None if fill is None else fill[keep]
            used = used.where(keep)
        arrays = used.opening, used.output, evidence.lengths(used), fill, self.reading(used)
        inside = fill_prior, evidence.rows_inside(used, self.step), evidence.parts_inside(used, self.step)
        data = inside, *(None if each is None else sha256(each.tobytes()).digest() for each in arrays)
        family: Family = "line" if keep is not None or self.spline is False else "spline" if self.spline else "auto"
        if (family, data) not in self.made:
            self.made[family, data] = curve = self._fit(arrays, inside, family)
            self.made[curve.family, data] = curve
        return self.made[family, data]

    def _fit(self, arrays: Arrays, inside: Insides, family: Family) -> Curve:
        settings, outputs, weights, fill, reading = arrays
        fill_prior, rows, parts = inside
        return fit_curve(
            settings,
            outputs,
            family=family,
            prior=self.prior,
            lowest=self.control.lowest_opening,
            span=self.control.span,
            weights=weights,
            fill=fill,
            fill_prior=fill_prior,
            near=None if family == "spline" else self.near,
            closed=None if family == "spline" else self.closed,
            reading=reading,
            rows=rows,
            parts=parts,
        )

    def reading(self, used: Trials) -> Floats:
        """Standard uncertainty of each output, as a fraction: of reading the scale, and of catches on other drives."""
        # a catch smaller than the scale's step tells next to nothing, which 100 % says well enough
        scale = np.minimum(self.step / np.sqrt(12) / used.catch_g, 1.0)
        if not isinstance(self.control, OnDrive):
            return np.asarray(scale)
        elsewhere = used.drives(self.box.control) != self.control.drive
        return np.asarray(np.hypot(scale, DRIVE_SPREAD * elsewhere))

    def filling(self, used: Trials) -> tuple[Floats | None, tuple[float, float]]:
        """Filling of each catch above half, where it differs enough to tell its effect; and the effect's prior."""
        pct, prior = used.fill_pct, FILL_CHAFFY if self.box.holds == "chaffy" else FILL_OTHER
        known = np.isfinite(pct)
        if known.sum() < 2 or np.ptp(pct[known]) < 100 * FILL_DIFFERS:
            return None, prior
        return np.where(known, (pct - 50) / 100, 0.0), prior

    def suspects(self, used: Trials, curve: Curve) -> list[Contradiction]:
        """Catches that differ from what the others expect, worst first."""
        return evidence.suspicious(used, curve, lambda i: self.curve(used, but(used, i)))


def but(used: Trials, i: int) -> Flags:
    """All catches but one."""
    others: Flags = np.arange(len(used)) != i
    return others
