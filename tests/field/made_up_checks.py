"""Made-up field checks after made-up calibrations, and how often each verdict on them is right. All numbers invented.

The truths are not those of the model: curves of five kinds, field factors about another centre or wider, errors of a
check from 2 to 8 % and with heavy tails, and slips of the kinds that people make.
"""

from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from predictor import Drill, Lever, SeedBox, Sprockets
from predictor.advice.aim import Aim
from predictor.advice.lot_fit import fit_lot
from predictor.domain.catch import rate_for_output
from predictor.domain.checks import FieldCheck, Part
from predictor.field.comparing import Known
from predictor.field.factors import compare_checks
from predictor.field.verdict import judge
from predictor.study.drills import Log, MadeUpLot, Shape, random_shape
from predictor.study.technician import follow

CONTROLS = {
    "fine lever": Lever(0, 100, 0.5),
    "lever": Lever(0, 60, 1),
    "coarse lever": Lever(0, 20, 1),
    "chains": Sprockets({str(i): 0.30 * 1.16**i for i in range(9)}),
}
KINDS = ("line", "power", "saturating", "s-shaped", "kink")
TOLERANCE, AREA_M2 = 0.10, 16_000.0
# Centre and spread of the log of the true field factor.
FACTORS = {
    "as published": (np.log(0.918), 0.055),
    "wider": (np.log(0.918), 0.09),
    "no slip": (0.0, 0.055),
}
# Errors of a check: standard deviation of the log, and degrees of freedom of the t that has it (None: normal).
ERRORS = {"2 %": (0.02, None), "4 %": (0.04, None), "8 %": (0.08, None), "4 %, heavy tails": (0.04, 3)}
SLIPS = {
    "half the area or turns": (2.0, 0.5),
    "pounds and kilograms": (2.2046, 1 / 2.2046),
    "ounces": (28.35 / 16, 16 / 28.35),
    "decimal point": (10.0, 0.1),
    "rows of the catch": (4.0, 0.25),
    "left not weighed back": (1.25, 1.6, 2.2),
    "added, not written down": (0.8, 0.6, 0.4),
}


@dataclass(frozen=True)
class Calibrated:
    """A box that was calibrated until it was locked."""

    lot: MadeUpLot
    log: Log
    opening: float
    target: float  # Grams per row per turn, in the field

    @property
    def drill(self):
        """A drill with this box alone."""
        return Drill("made up", 12, 0.19, 2.2, (self.lot.box,))

    def fit(self):
        """The curve of its catches."""
        return fit_lot(self.log.trials(), self.lot.box, lot="new", season="2", drill=self.drill, near=self.target)


def calibrated(rng, control, corrected):
    """A box locked at a target that was corrected for a factor, or at the plain one."""
    while True:
        kind = str(rng.choice(KINDS))
        shape = Shape("kink", float(rng.uniform(0.5, 1.6)), 0.45) if kind == "kink" else random_shape(rng, kind)
        box = SeedBox("grain", "free-flowing", CONTROLS[control])
        lot = MadeUpLot(box, shape, float(rng.uniform(0.5, 3.0)), float(rng.uniform(0.03, 0.08)))
        span = box.control.span
        target = float(lot.mean(box.control.lowest_opening + span * rng.uniform(0.3, 0.7)))
        log = Log(lot)
        ending = follow(log, rng, Aim(target / corrected, field_factor=corrected))
        if ending.end == "lock":
            return Calibrated(lot, log, ending.opening, target)


@dataclass
class Counts:
    """How the verdicts of one condition went."""

    answers: Counter = field(default_factory=Counter)
    wrong: Counter = field(default_factory=Counter)
    covered: int = 0
    ended_out: int = 0
    was_out: int = 0

    def share(self, what, of):
        """Share of a count and its Monte Carlo error."""
        n = self.answers[of]
        p = self.wrong[what] / n if n else np.nan
        return p, (np.sqrt(p * (1 - p) / n) if n else np.nan)


def error(rng, sd, dof):
    """The log error of one check."""
    if dof is None:
        return sd * rng.standard_normal()
    return sd * rng.standard_t(dof) / np.sqrt(dof / (dof - 2))


def verdict_on(made, fit, ratios, settings, area=AREA_M2):
    """The verdict on checks that found so much of the target, at these settings."""
    drill, box = made.drill, made.lot.box
    target = rate_for_output(made.target, drill, box)
    checks = [
        FieldCheck(
            f"2026-11-{10 + i:02d}",
            (Part(box, "new", setting),),
            area * (1 + 0.1 * i),
            ratio * target * area * (1 + 0.1 * i),
            np.nan,
            np.nan,
            "",
            2 + i,
        )
        for i, (ratio, setting) in enumerate(zip(ratios, settings, strict=True))
    ]

    def known(part, date):
        return Known("2", fit.standing(part.setting.opening), False, target, np.nan, np.nan)

    compared = compare_checks(checks, drill, known)
    return judge(compared, ("grain", "new", "2"), fit, drill, TOLERANCE), compared


def play(rng, made, fit, counts, factor, check_error, *, checks=1, slip=None):
    """One job: checks at the locked setting, the verdict, and what is true."""
    f = float(np.exp(rng.normal(*factor)))
    setting = made.lot.box.control.at(made.opening)
    true = f * float(made.lot.mean(made.opening)) / made.target
    seen = [true * np.exp(error(rng, *check_error)) for _ in range(checks)]
    if slip is not None:
        seen[-1] *= float(rng.choice(SLIPS[slip]))
    verdict, _ = verdict_on(made, fit, seen, [setting] * checks)
    out = abs(true - 1) > TOLERANCE
    counts.answers["all"] += 1
    counts.answers[verdict.answer] += 1
    counts.answers["within"] += not out
    counts.answers["out"] += out
    counts.was_out += out
    counts.wrong["weighed"] += verdict.answer == "weigh"
    counts.wrong["passed"] += verdict.answer != "weigh"
    counts.covered += verdict.ratio_lower <= true <= verdict.ratio_upper
    end = true
    if verdict.answer == "move":
        end = f * float(made.lot.mean(verdict.move_to.opening)) / made.target
        counts.wrong["moved though within"] += not out
        counts.wrong["moved from within out"] += not out and abs(end - 1) > TOLERANCE
        counts.wrong["moved and out"] += abs(end - 1) > TOLERANCE
        counts.wrong["found"] += out
    if verdict.answer == "leave":
        counts.wrong["left though out"] += out
        counts.wrong["left though 15 % out"] += abs(true - 1) > 1.5 * TOLERANCE
    counts.ended_out += abs(end - 1) > TOLERANCE
    return verdict
