"""The job that is served: where it is, its options, and what was read of its log."""

from __future__ import annotations

import datetime
import hashlib
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from predictor.files.kept import KeptLog
from predictor.job.at_drill import AtDrill
from predictor.job.place import Place
from predictor.job.read import Sources
from predictor.units import Units

if TYPE_CHECKING:
    from predictor.errors import Problem
    from predictor.job.job import Job

Made = TypeVar("Made")


@dataclass(frozen=True)
class Book:
    """The job that is served. Whoever reads or writes its files holds the lock: one piece of work at a time."""

    place: Place
    drill: str | None = None  # The drill file, if not the folder's own
    history: tuple[str, ...] = ()  # Earlier logs, beside those of the drill file
    use_history: bool = True
    units: Units | None = None  # The drill file's, where not given
    job_id: str = ""  # Sets what waits in a browser for this job apart from what waits for others
    kept: KeptLog = field(default_factory=KeptLog, compare=False, repr=False)
    lock: threading.RLock = field(default_factory=threading.RLock, compare=False, repr=False)
    made: dict[str, tuple[str, Any]] = field(default_factory=dict, compare=False, repr=False)  # See `once`
    earlier: list[Path] = field(
        default_factory=list, compare=False, repr=False
    )  # Logs that the job was found to rest on

    @property
    def at(self) -> AtDrill:
        """The files of the job, as `record` reads them too."""
        return AtDrill(self.place, self.drill, self.history, self.use_history)

    @property
    def name(self) -> str:
        """What the job is called: its folder, with the log where that has a name of its own."""
        folder = Path(self.place.folder).resolve().name
        return folder if self.place.file is None else f"{folder}/{Path(self.place.file).name}"

    @property
    def log(self) -> Path:
        """The log of catches."""
        return self.at.log

    @property
    def checks(self) -> Path:
        """The file of field checks."""
        return self.place.folder / "field.csv"

    @property
    def planted(self) -> Path:
        """The file of planted lines."""
        return self.place.folder / "planted.csv"

    def sources(self, today: datetime.date | None = None) -> Sources:
        """The files of the job, for reading on some day; today where none is given."""
        return self.at.sources(today, self.kept)

    def best(self) -> tuple[Job, tuple[Problem, ...]]:
        """The job as far as it can be read, and what is wrong with the rest; its fits are kept until a file changes."""
        from predictor.job.read import read_best

        def read() -> tuple[Job, tuple[Problem, ...]]:
            job, problems = read_best(self.sources())
            # those that the drill file names are known only now
            self.earlier[:] = [Path(each.file) for each in job.earlier]
            return job, problems

        return self.once("job", read)

    def version(self) -> str:
        """What changes whenever one of the files changes, or the day."""
        drill = Path(self.at.drill or self.place.folder / "drill.toml")
        own = (drill, self.place.folder / "plan.csv", self.log, self.checks, self.planted)
        files = dict.fromkeys((*own, *map(Path, self.history), *self.earlier))
        seen = [datetime.date.today().isoformat(), *map(_as_it_is, files)]
        return hashlib.sha256("\n".join(seen).encode()).hexdigest()[:20]

    def once(self, name: str, make: Callable[[], Made]) -> Made:
        """What is made of the files, made again only once they have changed."""
        version = self.version()
        if self.made.get(name, ("",))[0] != version:
            self.made[name] = version, make()
        found: Made = self.made[name][1]
        return found


def _as_it_is(path: Path) -> str:
    """The size and time of a file, or that there is none."""
    try:
        found = path.stat()
    except OSError:
        return "none"
    return f"{found.st_mtime_ns} {found.st_size} {found.st_ino}"
