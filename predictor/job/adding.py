"""What a job would show if one more catch stood in its log."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from predictor.advice.lot_fit import fit_lot
from predictor.advice.recommend import advise
from predictor.domain.one_catch import one_catch
from predictor.domain.trials import Trials, joined
from predictor.files.entry import Catch, season_of
from predictor.job.elsewhere import with_other_places
from predictor.job.entry import as_caught, turns_of
from predictor.job.job import Job
from predictor.slips.finding import Finding
from predictor.units import METRES


def slips_with(job: Job, catch: Catch) -> list[Finding]:
    """What looks like a slip in a catch that is to be added, by the checks of the log. Its line is 0.

    What is about other rows too is left to the advice that follows: an answer about this catch says nothing of them.
    """
    advice = as_caught(job, catch.box, catch.lot)
    if advice is None or catch.weight.grams <= 0:
        return []
    row, aim = _row(job, catch), advice.aim
    fit = fit_lot(
        joined([job.trials, row]),
        catch.box,
        lot=catch.lot,
        season=str(row.season[0]),
        history=aim.history,
        drill=job.drill,
        near=aim.near,
        slip=aim.slip,
    )
    found = with_other_places(advise(fit, aim), job.trials, job._fit_on)
    return [each for each in found.slips if each.lines == (0,)]


def _row(job: Job, catch: Catch) -> Trials:
    """The catch as a row of the log."""
    mine = job.trials.of(box=catch.box.name, lot=catch.lot)
    row = one_catch(
        job.drill,
        catch.box,
        lot=catch.lot,
        season=season_of(mine, job.today),
        setting=catch.setting,
        catch_g=catch.weight.grams,
        turns=turns_of(job, catch),
        rows=catch.rows,
        parts_g=catch.weight.parts_g,
        towed=catch.counted in METRES,
    )
    stated = ["turns", "rows", *(["charged"] if catch.charged else []), *(["tare"] if catch.tare_known else [])]
    return replace(
        row,
        rows_g=(catch.weight.rows_g,),
        charged=np.array([catch.charged is not False]),
        tare_g=np.array([catch.weight.tare_g if catch.tare_known else np.nan]),
        date=np.array([job.today.isoformat()]),
        stated=np.array([" ".join(stated)]),
    )
