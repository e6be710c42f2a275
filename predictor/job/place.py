"""Where a job is: what a person names of it, its folder or a file in it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from predictor.errors import InputError, Problem

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


def job_file(folder: str | Path, given: str | None, name: str) -> Path:
    """A file named by an option, or the one of the job's folder; an InputError that says what to do without it."""
    path = Path(given) if given else Path(folder) / name
    if given == "-" or path.exists():
        return path
    word = name.partition(".")[0]
    if given:
        advice = f"There is no such {word} file. Check the name and the folder."
    elif Path(folder).is_dir():
        advice = f"There is no {word} file in this folder. Name the folder of the job, or pass the file with --{word}."
    else:
        advice = f"There is no folder {folder}. Name the folder of the job."
    raise InputError([Problem(advice, os.fspath(path))])
