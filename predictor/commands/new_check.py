"""A field check added to field.csv, or taken back: saved first, then answered with a verdict for each box."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from predictor.asking.check import Told, ask_check
from predictor.commands import options
from predictor.commands.answering import after_saving, tell_unread
from predictor.commands.keeping import mend, saving, warn_if_open
from predictor.commands.output import lead_on, next_step, print_json, say, show, width, wrapped
from predictor.commands.typed import Typed
from predictor.errors import InputError
from predictor.job.plain import next_dict
from predictor.text import cautions
from predictor.units import Units

if TYPE_CHECKING:
    from predictor.domain.drill import Viable
    from predictor.files.form import Kind
    from predictor.job.checking import NewCheck
    from predictor.job.job import Job
    from predictor.job.read import Sources


@dataclass(frozen=True)
class Source:
    """The files of a job, as options name them."""

    place: options.Place
    drill: str | None = None
    plan: str | None = None
    trials: str | None = None
    history: tuple[str, ...] = ()
    use_history: bool = True
    viable: Viable | None = None

    @property
    def path(self) -> Path:
        """The file of field checks."""
        return Path(self.place.path("field.csv"))

    @property
    def drill_file(self) -> Path:
        """The drill file; raises an InputError where there is none."""
        return options.job_file(self.place.folder, self.drill, "drill.toml")

    def sources(self) -> Sources:
        """The files of the job, for reading; a file of field checks that is not there yet is none."""
        from predictor.job.read import Sources

        return Sources(
            self.place.folder,
            drill=self.drill_file,
            plan=self.plan,
            trials=self.trials,
            checks=self.place.file,
            earlier=self.history,
            viable=self.viable,
            use_history=self.use_history,
        )

    def job(self) -> Job:
        """The job, with its field checks where there are any."""
        from predictor.job.read import read_whole

        return read_whole(self.sources())

    def best(self, kind: Kind) -> Job:
        """The job as far as it can be read: a check is kept even where another row or file is broken."""
        from predictor.files.log import check_log, only_begun
        from predictor.job.read import read_best

        sources = self.sources()
        if self.place.file is not None and (not self.path.exists() or only_begun(kind, self.path)):
            sources = replace(sources, checks=None, use_field_factor=False)
        job, problems = read_best(sources)
        if problems:
            try:
                check_log(kind, self.path)
            except InputError:  # a file that takes no check is refused before any question
                say("Nothing was saved. First mend this:")
                raise
            tell_unread(problems, "check", set())
        return job


def add(
    source: Source, given: Mapping[str, str | None], yes: bool, told: Told, units: Units | None, as_json: bool
) -> None:
    """Ask, save, answer."""
    from predictor.files.drill import read_drill
    from predictor.files.kinds import field_checks
    from predictor.files.log import add_row, begin_log
    from predictor.text.check import saved

    if source.place.file == "-":
        raise typer.BadParameter("A check cannot be added to standard input. Name the job.", param_hint="JOB")
    asked = Typed(given, yes, weighed=any(given.get(name) is not None for name in ("left", "used", "counted")))
    path, drill = source.path, read_drill(source.drill_file)
    kind = field_checks(drill)
    warn_if_open(path)
    mend(kind, path, asked)
    new = ask_check(asked, source.best(kind), told)
    with saving(path, " Write the check down on paper.", as_json=as_json):
        begun = begin_log(kind, path)  # not before: an entry given up leaves no empty file
        line = add_row(kind, path, new.cells())
    if begun:
        say(f"A new file of field checks: {path}", whole=True)
    say(saved(line, new, units or drill.units))
    after_saving(
        "check",
        {"line": line},
        lambda: _answer(source, new, line, units or drill.units, as_json),
        {"verdicts": [], "next": None},
        as_json,
    )


def _answer(source: Source, new: NewCheck, line: int, units: Units, as_json: bool) -> dict[str, Any]:
    """The verdict on each box of a check that was saved: printed, or its values for JSON."""
    from predictor.text.field import check_words
    from predictor.text.particulars import checked_lines

    job = source.job()
    verdicts = [each for part in new.parts if (each := job.verdict(part.box.name, part.lot))]
    if as_json:
        return {"verdicts": [each.to_dict() for each in verdicts], **next_dict(job, "check")}
    if verdicts:
        show(checked_lines(verdicts, job.season_stages(), job.field, wrapped, width()))
        if any(each.answer == "move" for each in verdicts):
            print(wrapped(cautions.TOWED, ""))
    elif job.field:
        first, *rest = check_words(next(each for each in job.field.checks if each.line == line), units)
        print("\n".join([wrapped(first, ""), *(wrapped(each) for each in rest)]))
    next_step(job, options.Place(source.place.folder), "check")
    return {}


def undo(source: Source, box: str | None, as_json: bool) -> None:
    """Mark the last check unused."""
    from predictor.files.drill import read_drill
    from predictor.files.kinds import field_checks
    from predictor.files.log import undo_last
    from predictor.text.check import undone

    kind = field_checks(read_drill(source.drill_file))
    warn_if_open(source.path)
    with saving(source.path, as_json=as_json):
        line, cells = undo_last(kind, source.path, box=box)
    if as_json:
        print_json({"schema": 1, "line": line, "saved": True, "unused": cells, "problems": []})
        return
    print(wrapped(undone(line, cells), ""))
    say("To take that back, write yes in its column use.")
    lead_on("What do the other checks say?", "check", source.place)
