"""Refuses what has the name of a file and is none: devices and pipes may have no end, or never begin."""

import os
import re
import stat
from pathlib import Path

from predictor.errors import InputError, Problem

# Where the system shows what a shell opened for us: `predictor recommend <(...)` names such a pipe
_OPENED = re.compile(r"/dev/fd/[0-9]+|/proc/(?:self|[0-9]+)/fd/[0-9]+|/dev/stdin").fullmatch


def refuse_special(path: Path, name: str | None = None) -> None:
    """Refuse a device, a pipe or a socket; a pipe that the shell opened can be read."""
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return
    if not (stat.S_ISREG(mode) or stat.S_ISDIR(mode) or (stat.S_ISFIFO(mode) and _OPENED(os.fspath(path)))):
        message = "This is a device, a pipe or a socket, not a file. Name a file."
        raise InputError([Problem(message, name or os.fspath(path))])
