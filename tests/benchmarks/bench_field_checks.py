"""How often verdicts of field checks are right: `python -m tests.benchmarks.bench_field_checks [--boxes 200]`.

Boxes are calibrated by a made-up technician until they are locked, on fine levers, coarse ones and chains, at the plain
target and at one that is corrected by 8 %. Each is then checked in the field. All figures come with their Monte Carlo
errors.
"""

import argparse

import numpy as np

from predictor.field import slips, verdict
from tests.field.made_up_checks import CONTROLS, ERRORS, FACTORS, SLIPS, Counts, calibrated, play


def boxes(rng, count):
    """Locked boxes with their curves, by turns of each control and target."""
    kinds = [(control, corrected) for control in CONTROLS for corrected in (1.0, 0.918)]
    made = [calibrated(rng, *kinds[i % len(kinds)]) for i in range(count)]
    return [(each, each.fit()) for each in made]


def counted(made, factor, error, *, each=3, checks=1, slip=None, seed=7):
    """The endings of so many jobs a box."""
    rng, counts = np.random.default_rng(seed), Counts()
    for box, fit in made:
        for _ in range(each):
            play(rng, box, fit, counts, FACTORS[factor], ERRORS[error], checks=checks, slip=slip)
    return counts


def shown(counts):
    """One line of figures, per cent with Monte Carlo errors."""

    def share(what, of):
        p, error = counts.share(what, of)
        return f"{100 * p:5.1f} +-{100 * error:3.1f}"

    total = counts.answers["all"]
    return (
        f"out before {100 * counts.was_out / total:4.1f}, after {100 * counts.ended_out / total:4.1f} | "
        f"leave {100 * counts.answers['leave'] / total:4.1f}: out {share('left though out', 'leave')}, "
        f"by more than 15 % {share('left though 15 % out', 'leave')} | "
        f"move {100 * counts.answers['move'] / total:4.1f}: was within {share('moved though within', 'move')}, "
        f"ends out {share('moved and out', 'move')} | weigh {share('weighed', 'all')} | "
        f"limits hold {100 * counts.covered / total:4.1f}"
    )


def main():
    """Print all tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--boxes", type=int, default=200)
    count = parser.parse_args().boxes
    made, usual = boxes(np.random.default_rng(1), count), slips.LIKELY
    for checks in (1, 2):
        for factor in FACTORS:
            for error in ERRORS:
                found = counted(made, factor, error, checks=checks)
                print(f"{checks} check(s), factors {factor}, errors {error}: {shown(found)}", flush=True)
    for slip in SLIPS:
        found = counted(made, "as published", "4 %", slip=slip)
        print(f"slip, {slip}: {shown(found)}", flush=True)
    for likely in (0.1, 0.2, 0.5):
        slips.LIKELY = likely
        for factor, error in (("as published", "8 %"), ("wider", "8 %"), ("wider", "4 %, heavy tails")):
            print(
                f"slip from {likely} on, honest, {factor}, {error}: {shown(counted(made, factor, error))}", flush=True
            )
        for slip in ("ounces", "left not weighed back", "added, not written down"):
            found = counted(made, "as published", "4 %", slip=slip)
            print(f"slip from {likely} on, {slip}: {shown(found)}", flush=True)
    slips.LIKELY = usual
    for least in (0.3, 0.5, 0.7):
        for worth in (0.05, 0.1, 0.3):
            verdict.LEAST_CHANCE, verdict.WORTH_MOVING = least, worth
            for factor in ("as published", "wider"):
                print(f"chance {least}, worth {worth}, {factor}: {shown(counted(made, factor, '4 %'))}", flush=True)


if __name__ == "__main__":
    main()
