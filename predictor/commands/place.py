"""Where a job is: what a person names of it, its folder or a file in it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

# Names of the files a job has: no page, table or picture is written over them.
JOB_FILES = ("drill.toml", "plan.csv", "trials.csv", "field.csv", "planted.csv")


@dataclass(frozen=True)
class Place:
    """Where a job is: its folder, and a file that is read in place of the folder's own; "-" is standard input."""

    folder: Path
    file: str | None = None

    def path(self, name: str) -> str:
        """The file that a command reads: the one that was named, else the folder's own of this name."""
        return self.file or os.fspath(self.folder / name)

    def __str__(self) -> str:
        return self.file or os.fspath(self.folder)


def place_of(text: str) -> Place:
    """The job that is meant by its folder or by a file in it."""
    path = Path(text)
    if text == "-":
        return Place(HERE.folder, text)
    if path.is_dir():
        return Place(path)
    if path.name in JOB_FILES:
        return Place(path.parent)
    # a name without an ending is a folder that is not there
    return Place(path.parent, text) if path.suffix or path.exists() else Place(path)


HERE = Place(Path("."))
