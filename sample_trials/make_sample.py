"""Makes trials.csv of the sample job by simulation. It holds an invented season and a half.

Run `python sample_trials/make_sample.py` in the project's folder. The same seed gives the same file.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np

from predictor.files.drill import read_drill
from predictor.files.plan import read_plan
from predictor.study.drills import MadeUpLot, Shape

FOLDER = Path(__file__).parent
SEED = 2026

HEADER = [
    "date",
    "season",
    "box",
    "lot",
    "setting",
    "turns",
    "rows",
    "catch_g",
    "rows_g",
    "charged",
    "fill_pct",
    "use",
    "operator",
    "note",
]

# The true shape and the repeatability of each box.
SHAPES = {
    "chaffy": (Shape("line", -0.03), 0.07),
    "grain": (Shape("line", 0.05), 0.035),
    "small": (Shape("power", 1.12), 0.045),
}
# The lots of each box: season, name, flow over that of the planned lot, and the settings in the order caught.
LOTS = {
    "chaffy": [
        ("2025", "old tall mix", 0.84, ["3", "4", "5", "4", "4"]),
        ("2025", "burned-unit mix", 1.10, ["4", "3", "3", "4", "3"]),
        ("2026", "tall mix", 1.00, ["4", "3", "4", "4", "3", "4"]),
    ],
    "grain": [
        ("2025", "CW-24 awned", 0.55, ["30", "40", "44"]),
        ("2025", "CW-24", 0.92, ["30", "36", "34", "34"]),
        ("2025", "VW-25", 1.15, ["30", "27", "28", "28", "28"]),
        ("2026", "CW-26", 1.00, ["30", "33", "33"]),
    ],
    "small": [
        ("2025", "KS-25", 0.90, ["20", "17", "16", "16"]),
        ("2025", "forb mix 25", 1.12, ["20", "14", "13.5", "13.5", "14"]),
        ("2026", "forb mix", 1.00, ["20", "15"]),
    ],
}
# Where the target of the planned lot lies on each control, as a share of its range.
TARGET_AT = {"chaffy": 0.71, "grain": 0.55, "small": 0.38}
DAYS = {"2025": "2025-11-0", "2026": "2026-11-1"}


def rows() -> list[dict[str, str]]:
    """Every catch of the sample as cells of text."""
    drill = read_drill(FOLDER / "drill.toml")
    plan = read_plan(FOLDER / "plan.csv", drill)
    rng = np.random.default_rng(SEED)
    result = []
    for box in drill.boxes:
        shape, cv = SHAPES[box.name]
        target = next(each.target_output for each in plan.boxes if each.box == box)
        level = target / float(shape(TARGET_AT[box.name]))
        for number, (season, name, flow, settings) in enumerate(LOTS[box.name]):
            lot = MadeUpLot(box, shape, level * flow, cv)
            for k, setting in enumerate(settings):
                opening = box.control.opening(setting if box.name == "chaffy" else float(setting))
                grams, _ = lot.catch(rng, opening, 28, 3)
                singles = grams / 3 * (1 + 0.02 * rng.standard_normal(3))
                singles *= grams / singles.sum()
                cells = dict.fromkeys(HEADER, "")
                cells.update(
                    date=f"{DAYS[season]}{number + 3}",
                    season=season,
                    box=box.name,
                    lot=name,
                    setting=setting,
                    turns="28",
                    rows="3",
                    charged="yes",
                    use="yes",
                    operator="R.",
                )
                _mishap(cells, name, season, k, grams, singles)
                result.append(cells)
    return result


def _mishap(cells: dict[str, str], lot: str, season: str, k: int, grams: float, singles: np.ndarray) -> None:
    """Spoils two catches and a whole lot, as happens in sheds, and writes the weights."""
    if (lot, k) == ("tall mix", 0):
        grams, singles = grams * 0.55, singles * 0.55
        cells.update(charged="no", note="forgot the charge turns")
    elif (lot, k) == ("tall mix", 2):
        grams, singles = grams * 0.61, singles * 0.61
        cells.update(use="no", note="bridged over row 2")
    elif lot == "CW-24 awned":
        cells.update(use="no", note="sent back to be debearded")
    cells["catch_g"] = f"{grams:.1f}"
    if season == "2026":
        singles = np.round(singles, 1)
        cells["rows_g"] = ";".join(f"{value:.1f}" for value in singles)
        cells["catch_g"] = f"{singles.sum():.1f}"
    if cells["box"] == "chaffy":
        cells["fill_pct"] = "50"


def text() -> str:
    """The content of trials.csv."""
    out = io.StringIO()
    out.write("# Invented catches of an invented drill, made by make_sample.py with a seed.\n")
    writer = csv.DictWriter(out, HEADER, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows())
    return out.getvalue()


if __name__ == "__main__":
    (FOLDER / "trials.csv").write_text(text(), encoding="utf-8")
