"""Made-up jobs in a folder: a drill of three boxes, a plan, and what is true of one box. Every number is invented.

A job is honest until a slip (`table`) changes what is written of it. What is true stays in the job.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from predictor.domain.control import Control, Lever, Sprockets
from predictor.domain.drill import Holds, SeedBox
from predictor.study.drills import SHAPES, MadeUpLot, random_shape
from predictor.study.truths import KINDS as GENERAL, OWN, general_shape
from predictor.units import GRAMS, METRES, SQUARE_METRES

Row = dict[str, object]

TEETH = ((12, 60), (12, 48), (12, 40), (14, 40), (15, 36), (18, 36), (20, 34), (20, 28), (24, 28), (24, 24), (28, 24))
CONTROLS: dict[str, Control] = {
    "chaffy": Sprockets({str(i + 1): a / b for i, (a, b) in enumerate(TEETH)}),
    "grain": Lever(0, 60, 1),
    "small": Lever(0, 40, 0.5),
}
HOLDS: dict[str, Holds] = {"chaffy": "chaffy", "grain": "free-flowing", "small": "small"}
BOXES = tuple(HOLDS)
# Repeatability, and the range of the wanted output in grams per row per turn.
SCATTERS = {"chaffy": (0.05, 0.08, 0.12), "grain": (0.03, 0.05, 0.08), "small": (0.03, 0.05, 0.08)}
OUTPUTS = {"chaffy": (0.3, 1.2), "grain": (0.25, 1.2), "small": (0.08, 0.4)}
LOT_SPREAD, DAY, LAST_YEAR = 0.2, "2026-11-25", "2025-11-10"
# A part of the blend in the box: species, seeds in a gram, share of the bulk rate, purity, germination.
PARTS = {
    "chaffy": (("little bluestem", 530.0, 0.6, 0.62, 0.71), ("big bluestem", 330.0, 0.4, 0.66, 0.74)),
    "grain": (("Canada wildrye", 250.0, 0.7, 0.94, 0.88), ("Virginia wildrye", 150.0, 0.3, 0.95, 0.82)),
    "small": (("purple prairie clover", 640.0, 0.6, 0.97, 0.70), ("blackeyed Susan", 3400.0, 0.4, 0.92, 0.80)),
}


@dataclass
class MadeUpJob:
    """One box of a made-up drill that is to be calibrated, what is true of it, and what its files say."""

    box: SeedBox
    lot: MadeUpLot
    target: float  # Output that the plan really asks for, grams per row per turn
    units: str
    rng: np.random.Generator
    container_g: float
    drill: dict[str, float]  # What drill.toml says
    plan: list[Row]  # Rows of plan.csv for the box in hand
    earlier: list[Row] = field(default_factory=list)  # Catches of earlier lots
    rows: list[Row] = field(default_factory=list)  # Catches as they are written
    whole: bool = True  # Whether the log states turns, rows and charging
    factor: float = 1.0  # What the drill really drops over what its lot lets expect: a plugged row, rows that differ
    drill_name: str = "Made-up yard drill"
    stood: float | None = None  # The opening of the catch before

    @property
    def name(self) -> str:
        """Under which its catches are recorded: that of the blend."""
        return f"{self.box.name} mix"

    @property
    def control(self) -> Control:
        return self.box.first_control

    def off(self, opening: float) -> float:
        """How far the true rate at an opening is from the one wanted, a fraction."""
        return float(self.lot.mean(opening)) * self.factor / self.target - 1

    def caught(self, opening: float, turns: float, rows: int) -> float:
        """Seed of one catch, grams, as the scale would show it."""
        return round(self.lot.catch(self.rng, opening, turns, rows)[0], 1)

    def write(self, folder: Path) -> None:
        """All of its files."""
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "drill.toml").write_text(self.drill_text(), encoding="utf-8")
        (folder / "plan.csv").write_text(table([*self.plan, *_other_boxes(self)]), encoding="utf-8")
        if self.earlier:
            (folder / "earlier.csv").write_text(table(self.earlier), encoding="utf-8")
        if self.rows:
            left_out = set() if self.whole else {"turns", "rows", "charged"}
            rows = [{k: v for k, v in each.items() if k not in left_out} for each in self.rows]
            (folder / "trials.csv").write_text(table(rows), encoding="utf-8")

    def drill_text(self) -> str:
        """drill.toml."""
        us, said = self.units == "us", self.drill
        length = f"row_spacing_in = {said['spacing_m'] / METRES['in']:.4f}\nrolling_circumference_ft = " if us else (
            f"row_spacing_cm = {100 * said['spacing_m']:.2f}\nrolling_circumference_m = "
        )  # fmt: skip
        wheel = said["wheel_m"] / METRES["ft"] if us else said["wheel_m"]
        history = 'history = ["earlier.csv"]\n' if self.earlier else ""
        positions = ", ".join(f'{{label = "{i + 1}", driver = {a}, driven = {b}}}' for i, (a, b) in enumerate(TEETH))
        boxes = [f'[[box]]\nname = "chaffy"\nholds = "chaffy"\ncontrol = "sprockets"\npositions = [{positions}]\n']
        for name in ("grain", "small"):
            lever = CONTROLS[name]
            assert isinstance(lever, Lever)
            scale = f"lowest = {lever.lowest:g}\nhighest = {lever.highest:g}\nstep = {lever.step:g}\n"
            boxes.append(f'[[box]]\nname = "{name}"\nholds = "{HOLDS[name]}"\ncontrol = "lever"\n{scale}')
        return (
            f'name = "{self.drill_name}"\nrows = {said["rows"]:g}\n{length}{wheel:.4f}\n{history}\n[catch]\n'
            f"turns = {said['turns']:g}\nrows = {said['caught']:g}\ncharge_turns = 5\nscale_resolution_g = 0.1\n\n"
            + "\n".join(boxes)
        )


def made_up_job(box: str, *, history: bool, seed: int, run: int, cv: float | None = None) -> MadeUpJob:
    """The job of a number: half of the curves are ordinary, half are of boxes in general."""
    rng = np.random.default_rng([seed, run, BOXES.index(box), history])
    control = CONTROLS[box]
    kind = SeedBox(box, HOLDS[box], control)
    cv = float(rng.choice(SCATTERS[box])) if cv is None else cv
    while True:
        general = run % 2 == 1
        shape = general_shape(rng, str(rng.choice(list(GENERAL)))) if general else random_shape(rng, SHAPES[run % 4])
        lot = MadeUpLot(kind, shape, 1.0, cv, own=float(rng.choice(OWN)))
        ideal = control.lowest_opening + control.span * rng.uniform(0.25, 0.75)
        ideal = float(control.openings[np.argmin(np.abs(control.openings - ideal))])
        middle = float(lot.relative(ideal)) * float(np.exp(rng.uniform(-0.04, 0.04)))
        if middle > 0.05 and np.any(np.abs(lot.relative(control.openings) / middle - 1) <= 0.06):
            break
    target = float(np.exp(rng.uniform(*np.log(OUTPUTS[box]))))
    lot = replace(lot, level=target / middle)
    drill = {"rows": 12.0, "spacing_m": float(rng.uniform(0.16, 0.24)), "wheel_m": float(rng.uniform(1.9, 2.6)),
             "turns": float(rng.choice([20, 28, 30])), "caught": 3.0}  # fmt: skip
    units = str(rng.choice(["us", "metric"]))
    container = float(np.round(np.exp(rng.uniform(*np.log([5, 30]))), 1))
    job = MadeUpJob(kind, lot, target, units, rng, container, drill, [], whole=bool(rng.random() < 0.5))
    job.plan = planned(job, PARTS[box])
    if history:
        job.earlier = _earlier(job)
    return job


def rate_unit(job: MadeUpJob) -> tuple[str, float]:
    """The unit of rates in the plan, and grams per square metre in it."""
    if job.units == "us":
        return "lb_ac", GRAMS["lb"] / SQUARE_METRES["ac"]
    return "kg_ha", GRAMS["kg"] / SQUARE_METRES["ha"]


def planned(job: MadeUpJob, parts: tuple[tuple[str, float, float, float, float], ...]) -> list[Row]:
    """Rows of plan.csv that ask for the job's target."""
    unit, grams = rate_unit(job)
    bulk = job.target / (job.drill["wheel_m"] * job.drill["spacing_m"]) / grams
    return [
        {"box": job.box.name, "lot": f"{name[:2].upper()}-26{i}", "species": name,
         f"pls_rate_{unit}": f"{bulk * share * purity * germination:.5f}", "purity_pct": 100 * purity,
         "germination_pct": 100 * germination, "seeds_per_lb": round(count * GRAMS["lb"]), "test_date": "2026-08-12",
         "blend": job.name}
        for i, (name, count, share, purity, germination) in enumerate(parts)
    ]  # fmt: skip


def _other_boxes(job: MadeUpJob) -> list[Row]:
    """One lot in each of the other boxes."""
    unit, _ = rate_unit(job)
    return [
        {"box": box, "lot": f"other {box}", "species": PARTS[box][0][0], f"pls_rate_{unit}": 2.0, "purity_pct": 90,
         "germination_pct": 80, "seeds_per_lb": round(PARTS[box][0][1] * GRAMS["lb"]), "test_date": "2026-08-12",
         "blend": ""}
        for box in BOXES
        if box != job.box.name
    ]  # fmt: skip


def _earlier(job: MadeUpJob) -> list[Row]:
    """Four to six lots of last year, of five catches each, about the same place of the scale."""
    openings, found = job.control.openings, []
    ideal = openings[np.argmin(np.abs(job.lot.mean(openings) - job.target))]
    around = openings[np.abs(openings - ideal) <= 0.2 * job.control.span]
    for number in range(int(job.rng.integers(4, 7))):
        lot = replace(job.lot, level=job.lot.level * float(np.exp(LOT_SPREAD * job.rng.standard_normal())))
        places = [float(openings[len(openings) // 2]), *job.rng.choice(around, 4).tolist()]
        for opening in places:
            grams = round(lot.catch(job.rng, opening, job.drill["turns"], 3)[0], 1)
            if grams > 0:
                found.append(row_of(job, opening, grams, lot=f"old {number}", date=LAST_YEAR))
    return found


def row_of(
    job: MadeUpJob, opening: float, grams: float, *, lot: str = "", date: str = DAY, turns: float = 0, rows: int = 3
) -> Row:
    """A row of the log as an honest technician writes it."""
    return {"date": date, "box": job.box.name, "lot": lot or job.name, "setting": job.control.at(opening).text,
            "catch_g": grams, "turns": turns or job.drill["turns"], "rows": rows, "charged": "yes"}  # fmt: skip


def table(rows: list[Row] | list[Mapping[str, object]]) -> str:
    """Rows as CSV, with the columns of all of them."""
    columns = list(dict.fromkeys(name for each in rows for name in each))
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()
