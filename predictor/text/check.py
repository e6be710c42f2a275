"""A field check that is entered, in sentences: questions about a slip, and what was saved or taken back."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from predictor.domain.result import Remark
from predictor.format import count, listed, percent, plain
from predictor.job.checking import NewCheck
from predictor.units import AREA_UNIT, GRAMS, METRES, SQUARE_METRES, WEIGHT_UNIT, Units


def _amount(value: float, factor: float) -> str:
    """An amount as it was typed, rounding aside."""
    return plain(float(f"{value / factor:.6g}"))


def measured(check: NewCheck, units: Units) -> tuple[str, str]:
    """What was measured: the seed, and the ground or row that it was over."""
    area, weight, length = AREA_UNIT[units], WEIGHT_UNIT[units], "ft" if units == "us" else "m"
    if not math.isnan(check.seeds):
        return count(int(check.seeds), "seed"), f"{_amount(check.row_m, METRES[length])} {length} of row"
    used = check.loaded_g - check.left_g if math.isnan(check.used_g) else check.used_g
    over = f"{_amount(check.area_m2, SQUARE_METRES[area])} {area}"
    if math.isnan(check.area_m2):
        over = f"{_amount(check.distance_m, METRES[length])} {length}"
    return f"{_amount(used, GRAMS[weight])} {weight}", over


def _slip(remark: Remark) -> str:
    check: NewCheck = remark["check"]
    seed, over = measured(check, remark["units"])
    far = f"{percent(remark['ratio'])} % of target" if remark["ratio"] is not None else "far from the standing rate"
    if not math.isnan(check.seeds):
        return f"That is {far}. Were there {seed} in {over}?"
    ground = "area" if math.isnan(check.distance_m) else "distance"
    return f"That is {far}. Was the {ground} {over}, and the seed used {seed}?"


def _other_setting(remark: Remark) -> str:
    usual = " or ".join(remark["usual"])
    return f"Box {remark['box']} should be at {usual}. Was it at {remark['setting']} during this check?"


def _new_lot(remark: Remark) -> str:
    return f"{remark['lot']} is new in box {remark['box']}. Its lots are {listed(remark['known'])}. Was it in the box?"


SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "new_lot": _new_lot,
    "part_of_blend": "{part} is part of {blend}. The check is saved under that name.",
    "other_setting": _other_setting,
    "future_day": "{day} has not come yet. Is it the day of the check?",
    "same_again": "The file has this check already. Is this another one?",
    "slip": _slip,
}


def saved(line: int, check: NewCheck, units: Units) -> str:
    """That a check was saved."""
    boxes = " + ".join(f"{part.box.name}, {part.lot} at {part.setting}" for part in check.parts)
    seed, over = measured(check, units)
    where = f", field {check.field}" if check.field else ""
    what = "box" if len(check.parts) == 1 else "boxes"
    joined = "in" if not math.isnan(check.seeds) else "on"
    return f"Saved as line {line}: {what} {boxes}{where}, {seed} {joined} {over}."


def undone(line: int, cells: Mapping[str, str]) -> str:
    """That a check was taken back."""
    return (
        f"Line {line} is marked unused: check of {cells['date']}, box {cells['box']}, {cells['lot']} at "
        f"{cells['setting']}."
    )
