"""The questions that a catch raises when it is typed."""

from __future__ import annotations

import numpy as np

from predictor.domain.control import Lever
from predictor.domain.drives import on_drive
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.files.entry import Catch
from predictor.slips.causes import About, known, likely_causes

# A weight this many times what was expected, or as many times less, is asked about.
SLIP = 2.0


def questions(
    catch: Catch, earlier: Trials, *, rows: int, expected_g: tuple[float, float] | None = None
) -> list[Remark]:
    """What looks like a slip, to be answered with yes or no.

    `earlier` are the catches of the same box, `rows` those that were to be caught, and `expected_g` is what the catch
    should weigh in all.
    """
    grams, setting, caught = catch.weight.grams, catch.setting, catch.weight.rows(rows)
    found = []
    if caught != rows:
        found.append(Remark("log.rows_differ", {"caught": caught, "rows": rows}))
    if expected_g is not None and grams > 0 and _far(grams, expected_g):
        low, high = expected_g
        causes = likely_causes(grams, expected_g, _about(catch, earlier))
        size = {"setting": setting, "size": catch.size}
        found.append(Remark("log.far", {"grams": grams, "low": low, "high": high, "causes": causes, **size}))
    if grams == 0:
        found.append(Remark("log.nothing"))
    control = on_drive(catch.box.control, setting.drive)
    if isinstance(control, Lever) and control.between_steps(setting):
        found.append(Remark("log.between_steps", {"box": catch.box.name, "step": control.step, "setting": setting}))
    used = earlier.where(earlier.use)
    if len(used) and grams > 0 and used.setting[-1] == setting.text and abs(used.catch_g[-1] - grams) < 1e-9:
        found.append(Remark("log.same_again", {"grams": grams, "setting": setting}))
    return found


def _far(grams: float, expected_g: tuple[float, float]) -> bool:
    """Whether a weight is outside the range expected, or many times its middle."""
    low, high = expected_g
    middle = float(np.sqrt(max(low, 1e-9) * high))
    return grams > max(high, middle * SLIP) or grams < min(low, middle / SLIP)


def _about(catch: Catch, earlier: Trials) -> About:
    """What is known of a catch that was typed."""
    weight = catch.weight
    return known(
        catch.box,
        earlier,
        rows=catch.rows,
        turns=catch.length,
        setting=catch.setting,
        counted=catch.counted,
        tare_g=weight.tare_g,
        pieces=weight.rows_g or weight.parts_g or (),
    )
