"""Finds and reads the logs of earlier seasons, in one way for every command, and tells the drills in them apart."""

from __future__ import annotations

import glob
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

import numpy as np
import numpy.typing as npt

from predictor.domain.codes import as_they_appear, codes_of
from predictor.domain.drill import Drill
from predictor.domain.made import rows_of
from predictor.domain.result import Remark
from predictor.domain.trials import APART, KINDS, Trials, joined
from predictor.domain.whose import plain_name, this_drill
from predictor.errors import InputError, Problem
from predictor.files.cells import indexed
from predictor.files.drill import read_drill
from predictor.files.kinds import TRIALS
from predictor.files.log import only_begun
from predictor.files.trials import read_trials
from predictor.format import count
from predictor.numbers import quoted

# More logs than a drill has seasons: the pattern meant other files. No command waits for thousands to be read.
MOST_LOGS = 200

Name = str | os.PathLike[str]


@dataclass(frozen=True)
class Logs:
    """The catches of this drill in the job's own log, those in earlier logs, and those of other drills.

    Attributes
    ----------
    own : Trials
    earlier : tuple of Trials
        Of this drill.
    others : tuple of Trials
        Each of one other drill, whose controls its settings were read by where its file was found.
    messages : tuple of str
    """

    own: Trials
    earlier: tuple[Trials, ...]
    others: tuple[Trials, ...]
    messages: tuple[str, ...]


def find_logs(
    drill: Drill | None,
    file: Name,
    given: Sequence[Name],
    own: Sequence[Name],
    wrong: list[Problem] | None = None,
) -> tuple[list[str], list[str]]:
    """The earlier logs that the drill's file and options name, each once, without the job's own; and what to say.

    Raises an InputError for a path or a pattern that does not lead to a log, or to too many; with `wrong` these
    problems are added there, and the other logs are given.
    """
    found: dict[str, str] = {}
    messages, problems = list[str](), list[Problem]()
    skipped = {os.path.realpath(each) for each in own if str(each) != "-"}
    folder = Path(file).parent if str(file) != "-" else Path()
    patterns = () if drill is None else drill.history
    line = None if drill is None else drill.history_line
    for text in patterns:
        paths = list(islice(_matches(folder, text), MOST_LOGS + 1))
        place = os.fspath(file), line, None, "history"
        if len(paths) > MOST_LOGS:
            problems.append(Problem(f"{quoted(text)} matches more than {MOST_LOGS} files. Name fewer.", *place))
        elif not paths and glob.has_magic(text):
            messages.append(f"{Problem(f'No file matches {quoted(text)}.', *place)}")
        elif not paths:
            what = f"There is no file {quoted(text)} as seen from the folder of this file. Correct the path."
            problems.append(Problem(what, *place))
        for path in paths:
            found.setdefault(os.path.realpath(path), path)
    for each in given:
        path = os.fspath(each)
        path = os.path.join(path, "trials.csv") if os.path.isdir(path) else path
        found.setdefault(os.path.realpath(path), path)
    if problems and wrong is None:
        raise InputError(problems)
    if wrong is not None:
        wrong.extend(problems)
    # a log that was begun and holds no catch yet is no mistake
    named = [path for real, path in found.items() if real not in skipped]
    return [path for path in named if not (os.path.exists(path) and only_begun(TRIALS, path))], messages


def _matches(folder: Path, text: str) -> Iterator[str]:
    """The files that a path or pattern leads to; a folder stands for the log in it."""
    whole = os.path.join(folder, text)
    paths = [whole] if os.path.exists(whole) or not glob.has_magic(text) else sorted(_bounded(whole))
    for path in paths:
        log = os.path.join(path, "trials.csv") if os.path.isdir(path) else path
        if os.path.isfile(log):
            yield os.path.normpath(log)


def _bounded(pattern: str) -> list[str]:
    """What a pattern matches, one more than the limit at most, so that no folder of thousands is sorted."""
    return list(islice(glob.iglob(pattern), MOST_LOGS + 1))


def sort_logs(
    own: Trials,
    drill: Drill | None,
    files: Sequence[str],
    read_log: Callable[[Name, Drill | None], Trials] = read_trials,
) -> Logs:
    """Read earlier logs, and give each catch to its drill, once.

    Raises an InputError with all problems of all files.
    """
    problems, messages = list[Problem](), list[str]()
    mine, apart = _mine_and_others(own, drill, drill, messages)
    earlier, others = list[Trials](), list(apart)
    for path in files:
        try:
            machine = _machine(path, drill)
            log = read_log(path, machine)
            messages += [str(each) for each in log.assumed if each.code != "files.other_drill"]
            new = _without_copies(log, joined([own, *earlier, *others]))
            if len(new) < len(log):
                copies = count(len(log) - len(new), "catch is", "catches are")
                messages.append(f"{path}: {copies} in another file too and counted once.")
            here, apart = _mine_and_others(new, drill, machine, messages)
        except InputError as error:
            problems.extend(error.problems)
            continue
        earlier += [here] if len(here) else []
        others += apart
    if problems:
        raise InputError(problems)
    return Logs(mine, tuple(earlier), tuple(others), tuple(messages))


def _machine(path: str, drill: Drill | None) -> Drill | None:
    """The drill by whose controls a log is read: that of the file beside it, unless that is this drill."""
    beside = Path(path).parent / "drill.toml"
    if drill is None or path == "-" or not beside.exists():
        return drill
    found = read_drill(beside)
    return drill if plain_name(found.name) == plain_name(drill.name) else found


def _mine_and_others(
    log: Trials, drill: Drill | None, machine: Drill | None, messages: list[str]
) -> tuple[Trials, list[Trials]]:
    """The catches of this drill in a log, and those of each other drill; what was found is said."""
    if drill is None or machine is None or not len(log):
        return log, []
    own, taken = this_drill(log, drill.name, "" if machine is drill else machine.name)
    where = {"file": log.file, "drill": drill.name}
    if taken:
        messages.append(str(Remark("files.taken_for_this", {**where, "name": taken, "catches": int(own.sum())})))
    mine, others = log.where(own), np.flatnonzero(~own)
    if machine is not drill and len(mine):
        boxes = [box for box in drill.boxes if box.name in mine.box]
        mine = joined([replace(mine, drill=None).in_box(box) for box in boxes]) if boxes else mine.where(mine.line < 0)
        mine = replace(mine, drill=drill)
    if not len(others):
        return mine, []
    written, code = codes_of(log, "drill_name")
    first, row = as_they_appear(code[others])
    there = [written[k] for k in code[others[first]].tolist()]
    names = {plain_name(name): name for name in [*reversed(there), machine.name] if name.strip()}
    # one drill may be spelled in several ways
    kinds, kind = indexed(plain_name(name if name.strip() else machine.name) for name in there)
    place, called = kind[row], tuple(names[each] for each in kinds)
    messages.append(str(Remark("files.drills_apart", {**where, "names": called, "catches": len(others)})))
    # drill by drill, so that the catches of each are a slice
    apart, ends = rows_of(log, others[np.argsort(place, kind="stable")], KINDS, APART), np.cumsum(np.bincount(place))
    slices = map(slice, [0, *ends], ends)
    parts = [(name, rows_of(apart, each, KINDS, APART)) for name, each in zip(called, slices, strict=False)]
    return mine, [
        part if (part.drill_name == name).all() else replace(part, drill_name=np.full(len(part), name, object))
        for name, part in parts
    ]


def _without_copies(earlier: Trials, trials: Trials) -> Trials:
    """The catches of an earlier log that do not stand in `trials` as well; repeats inside one log are kept."""

    def keys(each: Trials, rows: npt.NDArray[np.int_]) -> list[tuple[object, ...]]:
        names = ("box", "lot", "season", "setting", "catch_g", "turns", "rows", "date")
        return list(zip(*(getattr(each, name)[rows].tolist() for name in names), strict=True))

    # most weights stand in one of the logs only, which is quick to see
    here = np.flatnonzero(np.isin(earlier.catch_g, trials.catch_g))
    there = set(keys(trials, np.flatnonzero(np.isin(trials.catch_g, earlier.catch_g[here]))))
    new = np.ones(len(earlier), dtype=bool)
    new[here] = [key not in there for key in keys(earlier, here)]
    return earlier.where(new)
