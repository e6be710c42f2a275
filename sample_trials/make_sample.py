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
from predictor.study.drills import MadeUpLot, Shape, row_effects

FOLDER = Path(__file__).parent
SEED = 2049

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
        ("2025", "CW-24 awned", 0.55, ["30", "26", "28"]),
        ("2025", "CW-24", 0.92, ["30", "19", "18", "18"]),
        ("2025", "VW-25", 1.15, ["20", "15", "15", "14", "15"]),
        ("2026", "CW-26", 1.00, ["20", "17", "17"]),
    ],
    "small": [
        ("2025", "KS-25", 0.90, ["20", "17", "16", "16"]),
        ("2025", "forb mix 25", 1.12, ["20", "14", "13.5", "13.5", "14"]),
        ("2026", "forb mix", 1.00, ["20", "15"]),
    ],
}
# Where the target of the planned lot lies on each control, as a share of its range.
TARGET_AT = {"chaffy": 0.68, "grain": 0.27, "small": 0.345}
# How much the rows of a box differ lastingly: the median of published drills is 6.9 %. Every fourth row is caught.
ROWS_DIFFER = {"chaffy": 0.07, "grain": 0.05, "small": 0.06}
CAUGHT = (1, 5, 9)
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
        every = row_effects(rng, ROWS_DIFFER[box.name], drill.rows)
        effects = tuple(every[row] for row in CAUGHT)
        for number, (season, name, flow, settings) in enumerate(LOTS[box.name]):
            lot = MadeUpLot(box, shape, level * flow, cv, effects)
            for k, setting in enumerate(settings):
                opening = box.control.opening(setting if box.name == "chaffy" else float(setting))
                grams, by_row = lot.catch(rng, opening, 28, len(CAUGHT))
                # a single row scatters a little on top of what it lastingly gives
                singles = np.array(by_row) * (1 + 0.01 * rng.standard_normal(len(CAUGHT)))
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
