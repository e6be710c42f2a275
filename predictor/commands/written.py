"""Where a command may write a file: where nothing is, or over one that this program wrote, known by its mark."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable
from pathlib import Path

from predictor.errors import InputError, Problem
from predictor.job.place import JOB_FILES
from predictor.units import RATE_UNIT, Units

Name = str | os.PathLike[str]

# Marks stand in the first or last bytes of a file.
_SEARCHED = 100_000
_WRITABLE = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH
_OTHER = "Choose another name for the new file."
# How the pages of all versions begin; later ones name what made them too.
_PAGE = (
    b'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<meta name="viewport" content="width=device-'
    b'width,initial-scale=1">\n<meta http-equiv="Content-Security-Policy" content="default-src \'none\'; style-src '
    b"'unsafe-inline'; img-src data:\">\n"
)
# The table of version 1.0, without its rates.
_FIRST_TABLE = (
    "box,blend,lot,species,purity_pct,germination_pct,dormant_pct,test_date,pls_pct,setting,decision,chance,"
    "field_factor,target_catch_g,expected_catch_g"
)


def check_place(path: Path, read: Iterable[Name | None] = ()) -> None:
    """Raise an InputError unless a file may be written here; `read` are the files that the command read."""
    wrong = _why_not(path, [each for each in read if each is not None])
    if wrong:
        raise InputError([Problem(f"{wrong} {_OTHER}", str(path))])


def _why_not(path: Path, read: list[Name]) -> str:
    """What is here that must not be written over; "" where nothing is."""
    real = Path(os.path.realpath(path))
    if real.suffix.lower() != path.suffix.lower():
        return f"This is a link to {real.name}, another kind of file."
    if real.name.lower() in JOB_FILES or any(_same(path, each) for each in read):
        return "This file belongs to a job, or was read by this command."
    if not os.path.lexists(path):
        return ""
    try:
        there = os.stat(path)
        if stat.S_ISDIR(there.st_mode):
            return "There is a folder of this name."
        if not stat.S_ISREG(there.st_mode):
            return "This is not an ordinary file."
        # the folder alone decides whether a file can be replaced, so its owner would not be asked
        if not there.st_mode & _WRITABLE or not os.access(path, os.W_OK):
            return "There is a file here that is protected from writing."
        with path.open("rb") as stream:
            data = stream.read(_SEARCHED)
            if there.st_size > _SEARCHED:
                stream.seek(max(_SEARCHED, there.st_size - _SEARCHED))
                data += stream.read()
    except FileNotFoundError:
        return "This is a link to a file that is not there."
    except OSError as error:
        return f"There is a file here that cannot be read ({error.strerror})."
    own = not data or _is_own(data, path.suffix.lower())
    return "" if own else "There is a file here that this program did not write."


def _same(path: Path, other: Name) -> bool:
    """Whether two names are of one file: through links, and in other spellings."""
    try:
        return os.path.samefile(path, other)
    except (OSError, ValueError):
        return os.path.realpath(path) == os.path.realpath(other)


def _is_own(data: bytes, ending: str) -> bool:
    """Whether a file of this ending was written by this program, by its first and last bytes."""
    if ending == ".html":
        return data.startswith(_PAGE)
    if ending == ".pdf":
        return data.startswith(b"%PDF-") and b"/Producer (predictor)" in data
    if ending == ".png":
        return data.startswith(b"\x89PNG") and b"tEXtSoftware\x00predictor" in data
    if ending == ".svg":
        return data.startswith(b"<?xml ") and b"<dc:title>predictor</dc:title>" in data
    return data.partition(b"\n")[0].rstrip(b"\r") in _tables()


def _tables() -> set[bytes]:
    """The headers of all tables that `report` writes; what makes them is slow to import."""
    from predictor.pages.table import RATES, header

    systems: tuple[Units, ...] = ("us", "metric")
    found = [",".join(header(units)) for units in systems]
    for unit in RATE_UNIT.values():
        found.append(",".join([_FIRST_TABLE, *(f"{name}_{unit.replace('/', '_')}" for name in RATES)]))
    return {each.encode() for each in found}
