"""Reads field.csv: what was sown on how much ground, or how many seeds stood in how much row."""

from __future__ import annotations

import os

import numpy as np

from predictor.domain.checks import FieldCheck, FieldChecks, Part
from predictor.domain.control import read_setting
from predictor.domain.drill import Drill
from predictor.errors import InputError, Problem
from predictor.files.cells import Cells, near
from predictor.files.table import read_table
from predictor.numbers import quoted
from predictor.units import GRAMS, METRES, SQUARE_METRES

WORDS = frozenset({"date", "box", "lot", "setting", "note"})
AREAS = {"area_ac": SQUARE_METRES["ac"], "area_ha": SQUARE_METRES["ha"]}
DISTANCES = {"distance_ft": METRES["ft"], "distance_m": METRES["m"]}
USED = {"seed_used_lb": GRAMS["lb"], "seed_used_kg": GRAMS["kg"]}
ROW_LENGTHS = {"row_length_ft": METRES["ft"], "row_length_m": METRES["m"]}
COLUMNS = WORDS | {"seeds_counted", *AREAS, *DISTANCES, *USED, *ROW_LENGTHS}
REQUIRED = ("date", "box", "lot", "setting")
# Larger than any field check; beyond them a unit was slipped. Common practice.
LARGEST_AREA_M2, LARGEST_DISTANCE_M, LARGEST_USED_G = 2e7, 1e6, 5e7
LARGEST_COUNT, LARGEST_ROW_M = 1e6, 1e5


def read_field(path: str | os.PathLike[str], drill: Drill) -> FieldChecks:
    """Read a file of field checks."""
    problems: list[Problem] = []
    table = read_table(path, known=COLUMNS, required=REQUIRED, words=WORDS, problems=problems)
    for group in (USED, ROW_LENGTHS):
        there = [name for name in group if name in table.columns]
        if len(there) > 1:
            problems.append(Problem(f"{' and '.join(there)} say the same thing. Keep one of them.", table.file))
    found = [_check(Cells(table, row, problems), drill, table.decimal) for row in table.rows]
    if problems:
        raise InputError(sorted(problems, key=lambda problem: problem.line or 0))
    return FieldChecks(tuple(each for each in found if each is not None), table.file, table.assumed, table.digest)


def _check(cells: Cells, drill: Drill, decimal: str) -> FieldCheck | None:
    before = len(cells.problems)
    date = cells.date("date")
    parts = _parts(cells, drill, decimal)
    area = _one(cells, AREAS, LARGEST_AREA_M2, "an area")
    distance = _one(cells, DISTANCES, LARGEST_DISTANCE_M, "a distance")
    used = _one(cells, USED, LARGEST_USED_G, "a weight")
    length = _one(cells, ROW_LENGTHS, LARGEST_ROW_M, "a length of row")
    seeds = cells.number("seeds_counted", low=0, high=LARGEST_COUNT, what="a number of seeds")
    if len(cells.problems) > before:
        return None
    if seeds is not None and seeds != int(seeds):
        cells.wrong("seeds_counted", f"{seeds:g} seeds cannot be counted. Write a whole number.")
    if area is not None and distance is not None:
        cells.wrong(None, "Area and distance say the same thing. Keep one of them.")
    if area is None and distance is not None:
        area = distance * drill.rows * drill.row_spacing_m
    weighed, counted = (area, used), (seeds, length)
    if None not in weighed and counted == (None, None):
        seeds = length = np.nan
    elif None not in counted and weighed == (None, None):
        area = used = np.nan
    else:
        cells.wrong(
            None,
            "A check needs an area (or a distance) with the seed used, or the seeds counted with the length of row: "
            "one of the two pairs, whole.",
        )
    if len(cells.problems) > before or parts is None:
        return None
    return FieldCheck(date, parts, area, used, seeds, length, cells.text("note"), cells.row.line)


def _one(cells: Cells, group: dict[str, float], largest: float, what: str) -> float | None:
    """The value of the one column of a group that is filled, in grams or metres; above 0."""
    value = None
    for name, factor in group.items():
        found = cells.number(name, above=0, high=largest / factor, what=what)
        if found is not None and value is not None:
            cells.wrong(name, f"{' and '.join(group)} say the same thing. Fill one of them.")
        value = value if found is None else found * factor
    return value


def _parts(cells: Cells, drill: Drill, decimal: str) -> tuple[Part, ...] | None:
    """The boxes of a row, with lot and setting each; None with problems noted."""
    texts = [cells.text(name) for name in ("box", "lot", "setting")]
    if not all(texts):
        return None
    by_name = {box.name.lower(): box for box in drill.boxes}
    if texts[0].lower() in by_name:  # a box's own name may hold a plus sign
        columns = [[text] for text in texts]
    else:
        columns = [[piece.strip() for piece in text.split("+")] for text in texts]
    names, lots, settings = columns
    if not len(names) == len(lots) == len(settings):
        counts = f"{len(names)} boxes, {len(lots)} lots and {len(settings)} settings"
        cells.wrong("box", f"There are {counts}. Write as many of each, joined by +, in the same order.")
        return None
    parts = []
    for name, lot, setting in zip(names, lots, settings, strict=True):
        box = by_name.get(name.lower())
        if box is None:
            meant = near(name, [each.name for each in drill.boxes])
            hint = f"Did you mean {meant}?" if meant else f"Its boxes are {', '.join(b.name for b in drill.boxes)}."
            cells.wrong("box", f"The drill has no box {quoted(name)}. {hint}")
            continue
        if not lot:
            cells.wrong("lot", "A lot has no name. Write one for each box, joined by +.")
        try:
            parts.append(Part(box, lot, read_setting(setting, box.control, box.name, decimal=decimal)))
        except ValueError as error:
            cells.wrong("setting", str(error))
    if len({part.box.name for part in parts}) < len(parts):
        cells.wrong("box", "A box stands twice in this row. Write each once.")
        return None
    return tuple(parts)
