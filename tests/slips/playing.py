"""A made-up technician who calibrates a made-up job with a slip in it, and what became of the slip.

By file he keeps the log in a spreadsheet and reads the advice; by typing he answers what `predictor record` asks.
He does what the program says, and answers honestly where he is asked.
"""

from __future__ import annotations

import copy
import json
import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from predictor.advice.result import Advice
from predictor.domain.result import Remark
from predictor.errors import InputError
from predictor.job.first import first_setting
from predictor.job.job import Job
from predictor.job.read import read_job
from predictor.study.technician import PATIENCE
from tests import running
from tests.slips.asked import Technician
from tests.slips.jobs import MadeUpJob, Row, row_of
from tests.slips.table import Slip, Way

MOST_CATCHES = 14
TOLERANCE = 0.10
# The honest rows say as much where their chance is no smaller by more than this.
AS_SURE = 0.05


@dataclass
class Outcome:
    """What became of one job."""

    result: str = "silent"  # "found", "asked", "said" or "silent"; "none" where the slip never came
    code: str = ""  # Of what found or asked
    end: str = "going"
    off: float | None = None  # Of the true rate at the locked setting
    by_scatter: bool = False  # Whether the honest rows would have locked there as surely
    catches: int = 0
    late: int = 0  # Catches made after the first spoilt one, when it was found
    alarms: list[str] = field(default_factory=list)  # Codes of what was raised with no slip about, one each catch
    lost: str = ""  # A question that the made-up technician does not know

    @property
    def wrong(self) -> bool:
        """Whether a setting was locked whose true rate is out of tolerance, and not by scatter alone."""
        return self.off is not None and abs(self.off) > TOLERANCE and not self.by_scatter


@dataclass
class Play:
    """One job while it is played."""

    job: MadeUpJob
    slip: Slip | None
    first: int  # Number of the first spoilt catch, from 0
    way: Way
    folder: Path
    outcome: Outcome = field(default_factory=Outcome)
    before: set[str] = field(default_factory=set)  # What was raised before the slip came
    honest: list[Row] = field(default_factory=list)  # The rows as they should have been written
    twin: MadeUpJob = field(init=False)  # The job without the slip

    def __post_init__(self) -> None:
        self.twin = copy.deepcopy(self.job)

    def spoilt(self, k: int) -> bool:
        """Whether the slip is in a catch."""
        if self.slip is None or self.slip.which == "job":
            return False
        return self.slip.which == "all" or (k >= self.first if self.slip.which == "from" else k == self.first)

    @property
    def came(self) -> bool:
        """Whether the slip is in what was written so far."""
        if self.slip is None:
            return False
        return self.slip.which == "job" or (self.slip.which == "all" and self.outcome.catches > 0) or (
            self.slip.which in ("one", "from") and self.outcome.catches > self.first)  # fmt: skip


def play(job: MadeUpJob, slip: Slip | None, way: Way, folder: Path, first: int = 0) -> Outcome:
    """Calibrate until the slip is found or asked about, or the job ends."""
    now = Play(job, slip, first, way, folder)
    if slip is not None and slip.prepare is not None and slip.which != "from":
        slip.prepare(job)
    job.write(folder)
    try:
        _calibrate(now)
    except InputError as error:
        _found(now, f"error {error.problems[0].column or ''}")
    if not now.came and slip is not None:
        now.outcome.result = "none"
    elif now.outcome.result == "silent" and slip is not None:
        now.outcome.result = "said" if _said(now) else "silent"
    return now.outcome


def _calibrate(now: Play) -> None:
    job, turns, rows, opening = now.job, now.job.drill["turns"], 3, None
    read = _read(now)
    first = first_setting(read, job.box, job.name)
    opening = first.setting.opening if first else float(job.control.openings[len(job.control.openings) // 2])
    for k in range(MOST_CATCHES):
        answer = _catch(now, k, opening, turns, rows)
        if answer is None or now.outcome.result in ("found", "asked"):
            return
        if _raised(now, answer, k):
            return
        end = _end(answer)
        where = job.control.find(str(answer["setting"])) if answer["setting"] is not None else None
        opening = opening if where is None else where.opening
        if end:
            now.outcome.end = end
            if end != "unreachable":
                _locked(now, opening, float(answer["chance"]))
            return
        turns, rows = answer["next_catch"]["turns"], int(answer["next_catch"]["rows"])


def _locked(now: Play, opening: float, chance: float) -> None:
    """Note how far off the true rate is, and whether the honest rows would have said the same."""
    slip = now.slip
    always = slip is not None and slip.hand is not None and slip.which == "all"
    now.outcome.off = now.job.off(slip.hand(now.job, opening) if always else opening)
    if not now.outcome.wrong or slip is None:
        return
    _, advice = _honest(now)
    if advice is not None and advice.curve is not None:
        low, high = (advice.target_output * (1 + side * TOLERANCE) for side in (-1, 1))
        now.outcome.by_scatter = float(advice.curve.probability(opening, low, high)) > chance - AS_SURE


def _honest(now: Play) -> tuple[Job, Advice | None]:
    """The job as it would be without the slip, and its advice."""
    now.twin.rows = now.honest
    now.twin.write(now.folder / "honest")
    job = read_job(now.folder / "honest", today=running.TODAY)
    return job, next((job.advice(each) for each in job.tasks(now.job.box.name, now.job.name)), None)


def _catch(now: Play, k: int, opening: float, turns: float, rows: int) -> dict[str, Any] | None:
    """Make a catch, write it down, and read the advice."""
    job, slip, spoilt = now.job, now.slip, now.spoilt(k)
    if slip is not None and slip.which == "from" and k == now.first and slip.prepare is not None:
        slip.prepare(job)
        if now.way == "typed":
            (now.folder / "plan.csv").unlink()
            log = job.rows
            job.rows = []
            job.write(now.folder)
            job.rows = log
    stands = slip.hand(job, opening) if slip is not None and slip.hand is not None and spoilt else opening
    weight = job.caught(stands, turns, rows)
    job.stood = stands
    row = row_of(job, opening, weight, turns=turns, rows=rows)
    # the same scatter where the control should have stood
    right = weight * float(job.lot.mean(opening)) / max(float(job.lot.mean(stands)), 1e-9)
    now.honest.append(row | {"catch_g": weight if stands == opening else round(right, 1)})
    written = slip.write(job, row) if slip is not None and slip.write is not None and spoilt else row
    new = written if isinstance(written, list) else [written]
    now.outcome.catches = k + 1
    if now.way == "typed":
        for each in new:
            answer = _typed(now, each, row, spoilt)
            if answer is None:
                return None
        job.rows += new
        return answer
    job.rows += new
    job.write(now.folder)
    return _advice(now)


def _read(now: Play) -> Job:
    return read_job(now.folder, today=running.TODAY)


def _advice(now: Play) -> dict[str, Any]:
    job = _read(now)
    stage = next((each for each in job.stages(now.job.box.name, now.job.name)), None)
    if stage is None:
        raise AssertionError("the lot has no target")
    return stage.advice.to_dict()


def _typed(now: Play, row: Row, honest: Row, spoilt: bool) -> dict[str, Any] | None:
    """Type a row into `predictor record`; None where it was not saved."""
    options = []
    if row["turns"] != honest["turns"]:
        options += ["--turns", row["turns"]]
    if row["rows"] != honest["rows"]:
        options += ["--rows", row["rows"]]
    if row.get("tare_g"):  # typed with the weight on the scale taken for that with the container
        options += ["--tare", row["tare_g"]]
    if row["date"] != honest["date"]:
        options += ["--on", row["date"]]
    person = Technician(row, now.slip if spoilt else None)
    done = running.run("record", now.folder, "--json", *options, stdin=person)
    now.outcome.lost = person.lost or now.outcome.lost
    if person.gave_away:
        now.outcome.result, now.outcome.code = "asked", person.gave_away
        return None
    if person.alarms and now.came:  # the honest row after the spoilt one does not go with it
        now.outcome.result, now.outcome.code = "asked", "after it"
        return None
    now.outcome.alarms += [f"asked: {each}" for each in person.alarms]
    if done.returncode:
        _found(now, "refused" if spoilt or now.came else f"refused an honest row: {done.stderr[-300:]}")
        return None
    if row["lot"] != honest["lot"] and str(row["lot"]) in done.stderr:  # it took the blend for it, and said so
        now.outcome.result, now.outcome.code = "said", "part of a blend"
    found = json.loads(done.stdout)
    results = found.get("results") or []
    return results[0] if results else _advice(now)


def _raised(now: Play, answer: dict[str, Any], k: int) -> bool:
    """Whether something was raised that concerns the slip; what else is raised is stood by."""
    raised = {f"{each['code']} {min(each['lines'], default=0)}": each for each in answer["slips"]}
    code = answer["reason_code"]
    names = set(raised)
    if answer["decision"] == "recheck" and not any(code == each["code"] for each in answer["slips"]):
        names.add(f"{code} {k}")
    new = names - now.before
    now.before |= names
    if not new:
        return False
    waits = answer["decision"] != "lock"
    if now.came and waits:
        _found(now, sorted(new)[0].split()[0])
        now.outcome.late = k - (0 if now.slip and now.slip.which in ("all", "job") else now.first)
        return True
    if now.came:
        now.outcome.code = sorted(new)[0].split()[0]
        now.outcome.result = "said"
        return False
    now.outcome.alarms.append(sorted(new)[0].split()[0])
    lines = {line for each in raised.values() if each["waits"] for line in each["lines"]}
    _stand_by(now, lines)
    return False


def _stand_by(now: Play, lines: set[int]) -> None:
    """Confirm rows that are honest."""
    if now.way == "file":
        for line in lines:
            if 2 <= line < 2 + len(now.job.rows):
                now.job.rows[line - 2]["confirmed"] = "yes"
    elif lines:
        running.run("record", now.folder, "--confirm", ",".join(map(str, sorted(lines))))


def _found(now: Play, code: str) -> None:
    if now.came:
        now.outcome.result, now.outcome.code = "found", code
    else:
        now.outcome.alarms.append(code)


def _end(answer: dict[str, Any]) -> str:
    if answer["decision"] in ("lock", "unreachable"):
        return str(answer["decision"])
    more = answer["catches_expected_more"]
    return "offer" if answer["offers_lock"] and (more is None or more > PATIENCE) else ""


def given_names(given: Remark | None) -> set[str]:
    """What a line of things taken as given names."""
    if given is None:
        return set()
    values = given.values
    measured = {"covers_m": "wheel", "spacing_m": "spacing"}
    names = {name for key, name in measured.items() if math.isfinite(values[key])}
    names |= {name for name in ("alike", "carrier", "equal") if values[name]}
    names |= {"undated"} if values["undated"] is not None else set()
    return names | set(values["facts"])


def _said(now: Play) -> bool:
    """Whether the slip is in the line of what was taken as given, or in a remark that an honest job does not have."""
    assert now.slip is not None
    try:
        here = _read(now)
        task = next(iter(here.tasks(now.job.box.name, now.job.name)), None)
        advice = here.advice(task) if task else None
        kinds = _kinds(here, advice)
    except InputError:
        return True
    if advice is not None and given_names(advice.given) & {*now.slip.given, *now.slip.tells}:
        now.outcome.code = now.outcome.code or "given"
        return True
    new = sorted(kinds - _kinds(*_honest(now)))
    now.outcome.code = now.outcome.code or (new[0][:60] if new else "")
    return bool(new)


def _kinds(job: Job, advice: Advice | None) -> set[str]:
    """Kinds of sentences about a job, without their figures."""
    said = {re.sub(r"[\d.,:]+", "#", each) for each in job.messages}
    plan = {each.code for each in job.plan.remarks} if job.plan else set()
    return said | plan | ({each.code for each in advice.remarks} if advice else set())
