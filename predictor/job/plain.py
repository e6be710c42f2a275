"""Where boxes and lots are, and what comes next, as plain values for JSON: the same from every command and page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from predictor.job.job import Job
    from predictor.job.stage import Stage
    from predictor.units import Units


def next_dict(job: Job, done: str) -> dict[str, Any]:
    """The next step of the whole job for JSON."""
    step = job.next_step(done)
    return {"next": None if step is None else step.to_dict()}


def stages_dict(job: Job, done: str) -> dict[str, Any]:
    """Where every box and lot is, and the next step, for JSON."""
    found = [
        {"box": each.box, "lot": each.lot, "target_catch_g": each.advice.target_catch_g, **each.to_dict()}
        for each in job.season_stages()
    ]
    return {"stages": found, **next_dict(job, done)}


def staged_dict(stage: Stage, units: Units | None) -> dict[str, Any]:
    """The advice on a box and lot for JSON, and where it is."""
    return {**stage.advice.to_dict(units), "stage": stage.to_dict()}
