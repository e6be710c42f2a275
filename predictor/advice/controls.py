"""What the controls of a box have to do with its catches: where they stand, what is shut, and other drives."""

from __future__ import annotations

import numpy as np

from predictor.advice.evidence import named
from predictor.domain.control import Control, Floats, Lever, Setting
from predictor.domain.drill import SeedBox
from predictor.domain.drives import LeverAndDrive, on_drive
from predictor.domain.result import Remark
from predictor.domain.trials import Trials


def present_setting(catches: Trials, box: SeedBox) -> Setting | None:
    """Where the control stands: at the last catch that counts or at which nothing came."""
    came = np.flatnonzero(catches.counts | (catches.status == "nothing"))
    if not len(came):
        return None
    last = catches.where(np.arange(len(catches)) == came[-1])
    drive = str(last.drives(box.control)[0]) if isinstance(box.control, LeverAndDrive) else ""
    return on_drive(box.control, drive).at(float(last.opening[0]))


def on_other_drives(catches: Trials, box: SeedBox, drive: str) -> list[Remark]:
    """What was made of the catches on other drives of the box."""
    if not isinstance(box.control, LeverAndDrive):
        return []
    counting = catches.where(catches.counts)
    others = [each for each in dict.fromkeys(counting.drives(box.control).tolist()) if each != drive]
    found = []
    for code, known in (("advice.drives", True), ("advice.drive-unknown", False)):
        names = [each for each in others if np.isfinite(box.control.times(each, drive)) == known]
        count = int(np.isin(counting.drives(box.control), names).sum())
        found += [Remark(code, {"count": count, "others": tuple(names), "drive": drive})] if count else []
    return found


def advisable(catches: Trials, control: Control) -> Floats:
    """Openings that may be advised: a lever that reads 0 is taken as shut until a catch there gave something."""
    zero = control.zero_opening if isinstance(control, Lever) else None
    if zero is None or (catches.counts & (catches.opening <= zero)).any():
        return control.openings
    return control.openings[1:]


def not_shut(catches: Trials, box: SeedBox) -> list[Remark]:
    """A remark for each catch that gave seed where the drill file says that the lever is shut."""
    control = on_drive(box.control)
    if not isinstance(control, Lever) or control.shut is None:
        return []
    gave = np.flatnonzero(catches.counts & (catches.opening <= control.lowest_opening)).tolist()
    return [Remark("advice.not-shut", {**named(catches, i), "box": box.name, "shut": control.shut}) for i in gave]
