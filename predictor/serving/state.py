"""What the page shows: where each box is, what to do now, and what the next catch of it would be saved as."""

from __future__ import annotations

import datetime
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from predictor.asking.catch import ToCatch, to_catch, weighed_words
from predictor.asking.rows import waiting_rows
from predictor.domain.catch import catch_size
from predictor.domain.control import Sprockets
from predictor.errors import InputError
from predictor.format import plain, weight
from predictor.job.entry import asked_size, last_container, lot_to_catch, lots_of
from predictor.job.plain import next_dict, staged_dict
from predictor.text import cautions, taps
from predictor.text.answer import answer
from predictor.text.doing import given_line, look_at, on_target
from predictor.text.drill import charge_words, size_words
from predictor.text.particulars import notes, stage_lines

if TYPE_CHECKING:
    from predictor.domain.drill import SeedBox
    from predictor.job.job import Job
    from predictor.job.stage import Stage
    from predictor.serving.book import Book
    from predictor.units import Units


def state(book: Book) -> dict[str, Any]:
    """The job as it is, for the page; what cannot be read is said in its place."""
    return book.once("state", lambda: _state(book))


def _state(book: Book) -> dict[str, Any]:
    today = datetime.date.today().isoformat()
    found = {"schema": 1, "job": book.job_id, "version": book.version(), "day": today, "name": book.name}
    found["towing"] = cautions.TOWED
    try:
        job, problems = book.best()
    except InputError as error:  # without a drill file there is no box to show
        nothing: dict[str, Any] = {
            "messages": [],
            "next": None,
            "results": [],
            "cautions": cautions.short(),
            "boxes": [],
        }
        return {**found, "problems": [str(each) for each in error.problems], **nothing}
    stages = {each.box: each for each in job.stages_in_hand()}
    return {
        **found,
        "problems": [str(each) for each in problems],
        "messages": [taps.on_page(each) for each in dict.fromkeys(job.messages)],
        **_next(job),
        "results": [staged_dict(each, book.units) for each in stages.values()],
        "cautions": cautions.short(each.advice.towed for each in stages.values()),
        "boxes": [_box(job, box, stages.get(box.name), book.units) for box in job.drill.boxes],
    }


def _next(job: Job) -> dict[str, Any]:
    """What to do next, said to somebody who taps."""
    found = next_dict(job, "record")
    if found["next"] is not None:
        found["next"] = {**found["next"], "sentence": taps.on_page(found["next"]["sentence"])}
    return found


def _box(job: Job, box: SeedBox, stage: Stage | None, units: Units | None) -> dict[str, Any]:
    """One box: where it is, and its next catch."""
    lot = lot_to_catch(job, box)
    if stage is not None and stage.reached != "planted":  # after a planted lot the next one of the plan is caught
        lot = stage.lot
    catch = to_catch(job, box, lot)
    waiting = [each for each in waiting_rows(job).items() if stage is not None and each[1] in stage.advice.slips]
    return {
        "box": box.name,
        "lot": lot if stage is None else stage.lot,
        "tab": "" if stage is None else taps.tab(stage),
        "ready": stage is not None and answer(stage).ready,
        "answer": None if stage is None else _answer(stage),
        "catch": next_catch(job, catch),
        "lots": lots_of(job, box),
        "settings": [each.text for each in box.control.settings] if isinstance(box.control, Sprockets) else [],
        "more": [] if stage is None else _more(stage, units),
        "look_at": [] if stage is None else [taps.on_page(each) for each in look_at(stage.advice)],
        "open": [{"text": taps.on_page(str(each)), "lines": ",".join(map(str, lines))} for lines, each in waiting],
        "last": last_catch(job, box),
    }


def _answer(stage: Stage) -> dict[str, Any]:
    """The answer on a box and lot, in its words."""
    found = answer(stage)
    field = stage.verdict is not None and stage.doing != "advised"
    of = "the rate in the field is within tolerance" if field else on_target(stage.advice)
    words = {name: each for name, each in asdict(found).items() if isinstance(each, str)}
    return {
        **words,
        **asdict(found.doing),
        "headline": found.headline,
        "reason": taps.on_page(found.reason),
        "sure": found.sure,
        "of": of if found.chance else "",
        "ready": found.ready,
    }


def _more(stage: Stage, units: Units | None) -> list[str]:
    """Why, on what evidence, what to look at and what was taken as given: as `recommend` says it below its answer."""

    def whole(text: str, indent: str = "", further: str | None = None) -> str:
        return text  # the page folds it

    lines = stage_lines([stage], units, whole, 100)
    said = [*lines[lines.index("") + 1 :], notes([stage]), given_line([stage.advice])]
    return [taps.on_page(each) for each in said if each]


def next_catch(job: Job, known: ToCatch) -> dict[str, Any]:
    """What the next catch of a box is to be, and what it would be saved as."""
    size, advice = asked_size(job, known.box, known.advice), known.advice
    first = "" if known.first is None else str(known.first.source)
    container = last_container(job.trials)
    return {
        "lot": known.lot,
        "setting": known.advised or known.last,
        "source": taps.source(known.advised, known.last, first),
        "turns": plain(size.length),
        "counted": size.counted,
        "towed_in": "ft" if job.drill.units == "us" else "m",
        "rows": str(int(size.rows)),
        "made": size_words(size),
        "charge": charge_words(job.drill.catch_of(known.box), size),
        "target": "" if advice is None else f"{weight(advice.target_catch_g, advice.step_g)} g",
        "weighed": taps.WEIGHED_IS_ASKED if container is None else weighed_words(container),
    }


def last_catch(job: Job, box: SeedBox) -> dict[str, Any] | None:
    """The last catch of a box that is in use."""
    from predictor.text.log import one_catch

    mine = job.trials.of(box=box.name)
    mine = mine.where(mine.use)
    if not len(mine):
        return None
    i = len(mine) - 1
    size = catch_size(float(mine.turns[i]), float(mine.rows[i]), job.drill, box, bool(mine.towed[i]))
    what = one_catch(float(mine.catch_g[i]), str(mine.setting[i]), size)
    return {"line": int(mine.line[i]), "text": f"{mine.lot[i]}: {what}"}
