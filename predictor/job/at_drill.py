"""A job as it is read at the drill, where catches are added to its log: by `record`, and by the page."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from predictor.job.place import Place, job_file

if TYPE_CHECKING:
    from predictor.advice.other_drills import KeptDrills
    from predictor.files.kept import KeptLog
    from predictor.job.read import Sources


@dataclass(frozen=True)
class AtDrill:
    """Where the job is, its drill file if that has another name, and what is to be learned from."""

    place: Place
    drill: str | None = None
    history: tuple[str, ...] = ()
    use_history: bool = True

    @property
    def log(self) -> Path:
        """The log that catches are added to."""
        return Path(self.place.path("trials.csv"))

    @property
    def drill_file(self) -> Path:
        """The drill file; raises an InputError where there is none."""
        return job_file(self.place.folder, self.drill, "drill.toml")

    def sources(
        self, today: datetime.date | None = None, kept: KeptLog | None = None, drills: KeptDrills | None = None
    ) -> Sources:
        """The files of the job, for reading; a log without a row is none."""
        from predictor.advice.other_drills import KeptDrills
        from predictor.files.kept import KeptLog
        from predictor.files.kinds import TRIALS
        from predictor.files.log import only_begun
        from predictor.job.read import Sources

        begun = self.log.exists() and not only_begun(TRIALS, self.log)
        return Sources(
            self.place.folder,
            drill=self.drill_file,
            trials=self.log if begun else None,
            earlier=self.history,
            with_trials=False,
            use_history=self.use_history,
            today=today,
            read_log=(kept or KeptLog()).trials,
            drills_of=(drills or KeptDrills()).of,
        )
