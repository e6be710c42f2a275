"""Jobs in every state, and the pages that the program makes of them. All lots and weights are invented."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.running import ROOT, Done, run

SAMPLE = ROOT / "sample_trials"
FILES = ("drill.toml", "plan.csv", "trials.csv", "field.csv")
LOG, CHECKS = "trials.csv", "field.csv"
# two more catches lock the small box
LOCKS = [f"2026-11-17,2026,small,forb mix,14,28,3,{weight},,yes,,yes,R.," for weight in (23.6, 23.9)]
SCATTERED = (25.3, 20.4, 26.9, 21.0, 22.3, 25.8)
BOXES = ("chaffy", "grain", "small")


def _sample(folder: Path) -> None:
    """Three boxes: one locked, one left where a check found it right, one in the middle of its catches."""
    folder.mkdir()
    for name in FILES:
        shutil.copy(SAMPLE / name, folder)


def _before(folder: Path) -> None:
    """Three boxes before their first catch."""
    _sample(folder)
    (folder / LOG).unlink()
    (folder / CHECKS).unlink()


def _locked(folder: Path) -> None:
    """Three boxes, all ready."""
    _sample(folder)
    _add(folder / LOG, *LOCKS)


def _planted(folder: Path) -> None:
    """Three boxes: one planted, one planted in part, one left where a check found it right."""
    _locked(folder)
    for words in (
        ["--box", "chaffy", "--area-ac", "14", "--loaded", "190", "--left", "15.5"],
        ["--box", "small", "--area-ac", "6", "--operator", "Made-up Name", "--note", "dry soil", "--yes"],
    ):
        _done(run("plant", folder, *words))


def _longer(folder: Path) -> None:
    """Three boxes, of which one scatters so much that longer catches are asked for."""
    _sample(folder)
    rows = [f"2026-11-16,2026,small,forb mix,14,28,3,{each},,yes,,yes,R.," for each in SCATTERED]
    kept = [row for row in (folder / LOG).read_text(encoding="utf-8").splitlines() if ",small," not in row]
    (folder / LOG).write_text("\n".join([*kept, *rows, ""]), encoding="utf-8")


def _one(folder: Path) -> None:
    """One box with a lever and a drive, after its first catch."""
    from tests.commands.test_two_controls import KNOWN, LOG as log, PLAN

    folder.mkdir()
    for name, text in (("drill.toml", KNOWN), (LOG, log), ("plan.csv", PLAN)):
        (folder / name).write_text(text, encoding="utf-8")


def _six(folder: Path) -> None:
    """Six boxes: those of the sample, and the same again with other lots: before a catch, after three and after one."""
    _sample(folder)
    path = folder / "drill.toml"
    head, *boxes = path.read_text(encoding="utf-8").split("[[box]]")
    more = [box.replace('name = "', 'name = "right ', 1) for box in boxes]
    path.write_text("[[box]]".join([head, *boxes, *more]), encoding="utf-8")
    _add(folder / "plan.csv", *(_other(row) for row in _rows(folder / "plan.csv")))
    rows = [row for row in _rows(folder / LOG) if ",2026,grain" in row or ",2026,small" in row]
    _add(folder / LOG, *(_other(row) for row in rows[:-1]))


def _rows(path: Path) -> list[str]:
    """The rows of a file, without remarks and header."""
    return [row for row in path.read_text(encoding="utf-8").splitlines() if not row.startswith("#")][1:]


def _other(row: str) -> str:
    """A row of plan or log for the box of the same kind on the right, with a lot of its own."""
    cells = row.split(",")
    box = next(k for k, cell in enumerate(cells) if cell in BOXES)
    cells[box : box + 2] = [f"right {cells[box]}", f"{cells[box + 1]} R"]
    return ",".join(f"{cell} R" if cell in ("tall mix", "forb mix", "FM-26") else cell for cell in cells)


def _add(path: Path, *rows: str) -> None:
    with path.open("a", encoding="utf-8") as stream:
        stream.write("".join(f"{row}\n" for row in rows))


JOBS = {
    "three": _sample,
    "before": _before,
    "locked": _locked,
    "planted": _planted,
    "longer": _longer,
    "one": _one,
    "six": _six,
}
COMMANDS = {
    "setting": ["card"],
    "decision": ["card", "--decision"],
    "report": ["report", "--for", "nobody: this job is invented"],
    "load": ["load", "--area-ac", "14"],
    "audit": ["audit"],
}
# A kind of page, of which job, and options of the command. The first is looked at by `make test`, the others are slow.
CASES = [
    ("setting", "three"),
    ("setting", "before"),
    ("setting", "locked", "--units", "metric"),
    ("setting", "planted"),
    ("setting", "longer"),
    ("setting", "one"),
    ("setting", "six", "--units", "metric"),
    ("setting", "three", "--paper", "letter"),
    ("decision", "three"),
    ("decision", "before", "--units", "metric"),
    ("decision", "one"),
    ("decision", "six"),
    ("report", "three"),
    ("report", "before"),
    ("report", "planted", "--units", "metric"),
    ("report", "six"),
    ("load", "three"),
    ("load", "six", "--units", "metric"),
    ("audit", "three"),
]


def cases(*kinds: str) -> list:
    """The cases of these kinds of page, or all, for a test that takes the fixture `made`."""
    named = [
        pytest.param(
            case,
            marks=pytest.mark.slow if case != CASES[0] else (),
            id="-".join(each for each in case if not each.startswith("--")),
        )
        for case in CASES
    ]
    return [each for each in named if not kinds or each.values[0][0] in kinds]


def of(*kinds: str):
    """Mark a test that is of these kinds of page only."""
    return pytest.mark.parametrize("made", cases(*kinds), indirect=True, scope="session")


@dataclass(frozen=True)
class Made:
    """A page that was made, as HTML and as PDF, and what the program says of the same job in JSON."""

    kind: str
    job: str
    html: Path
    pdf: Path
    folder: Path
    paper: str

    def results(self) -> list[Result]:
        """What the program says in JSON of each box and lot: `recommend`, or `plan` before the first catch."""
        done = run("recommend", self.folder, "--json")
        if done.returncode == 0:
            return [_advised(each) for each in json.loads(done.stdout)["results"]]
        return [_first(each) for each in json.loads(_done(run("plan", self.folder, "--json")).stdout)["boxes"]]


@dataclass(frozen=True)
class Result:
    """The answer on a box and lot, as JSON has it."""

    box: str
    lot: str
    setting: str
    target_g: float
    turns: float
    rows: float
    ready: bool
    caught: bool

    @property
    def figure(self) -> str:
        """The setting without its drive."""
        return self.setting.split()[0]

    def shows(self, text: str) -> bool:
        """Whether a text has this weight in grams, rounded to the digits that it has there, and at least two."""
        found = re.findall(r"(?<![\d.,])(\d[\d,]*(?:\.\d+)?)\s*g\b", text)
        shown = [(float(each.replace(",", "")), len(each.partition(".")[2])) for each in found if len(each) > 1]
        return any(abs(value - self.target_g) <= 0.5 * 10.0**-places + 1e-9 for value, places in shown)


def _advised(each: dict) -> Result:
    setting, stage, asked = each["stage"]["setting"] or each["setting"], each["stage"], each["next_catch"]
    ready = stage["reached"] != "testing" and stage["doing"] != "weigh"
    names = each["box"], each["lot"], setting if isinstance(setting, str) else f"{setting:g}"
    return Result(*names, each["target"]["catch_g"], asked["turns"], asked["rows"], ready, each["catches_used"] > 0)


def _first(each: dict) -> Result:
    setting = each["first_setting"]
    names = each["box"], each["lot"], setting if isinstance(setting, str) else f"{setting:g}"
    return Result(*names, each["target_catch_g"], each["turns"], each["rows"], False, False)


def make(kind: str, job: str, folder: Path, *options: str) -> Made:
    """Make one page of a job in a new folder; options go to the command."""
    place = folder / "job"
    if not place.exists():
        JOBS[job](place)
    html, pdf = folder / f"{kind}.html", folder / f"{kind}.pdf"
    command, *words = COMMANDS[kind]
    _done(run(command, place, *words, *options, "--out", html, "--pdf", pdf))
    paper = options[-1] if "--paper" in options else "a5" if "metric" in options else "half-letter"
    return Made(kind, job, html, pdf, place, paper)


def _done(done: Done) -> Done:
    assert done.returncode == 0, done.stderr
    return done
