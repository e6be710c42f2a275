"""Who is let in: a key that works once becomes the token of a device, which is kept as its SHA-256 beside the job."""

from __future__ import annotations

import contextlib
import hmac
import json
import os
import re
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any

from predictor.errors import InputError, Problem
from predictor.files.replace import BINARY
from predictor.files.write import update

FILE = ".predictor-serve.json"
LOG = "trials.csv"
KEY_BYTES, TOKEN_BYTES = 16, 32
# More devices than a crew has. The one that was let in first is forgotten for one more.
MOST_DEVICES = 50
# Wrong keys from one address before it has to wait. A key has 128 bits: nobody guesses one, however fast.
MOST_WRONG, WAIT_S = 5, 60.0
# Addresses whose wrong keys are counted at a time.
MOST_SENDERS = 200
_IS_ID = re.compile(f"[0-9a-f]{{{2 * KEY_BYTES}}}").fullmatch


class Devices:
    """The random id of a job, and the devices that were let in. The file is the truth: another run may change it."""

    def __init__(self, folder: Path):
        self.path = folder / FILE
        self.job, self._lock = "", threading.Lock()
        known = _content(self.path)
        if known is None or known.get("folder") != os.fspath(folder.resolve()):  # the job was moved, or is new here
            known = self._change(self._of_this_folder)
        self.job = known["job"]

    def job_of(self, log: Path) -> str:
        """The id of the job with one of its logs: what waits for one log never goes into another."""
        return self.job if log.name == LOG else _digest(f"{self.job} {log.name}")[: 2 * KEY_BYTES]

    def knows(self, token: str) -> bool:
        """Whether a device was let in."""
        with self._lock:  # Windows does not replace a file while it is read
            known, mine = _content(self.path), _digest(token)
        if known is None:
            os.stat(self.path.parent)  # where the folder is gone, nobody is told to come in again
            return False
        found = [hmac.compare_digest(each, mine) for each in known["devices"]]  # each is compared, whichever it is
        return any(found)

    def let_in(self) -> str:
        """The token of one more device."""
        token = secrets.token_urlsafe(TOKEN_BYTES)
        self._change(lambda known: {"devices": [*known["devices"], _digest(token)][-MOST_DEVICES:]})
        return token

    def forget(self) -> int:
        """Let in no device any more that was let in before; how many there were."""
        gone = 0

        def none(known: dict[str, Any]) -> dict[str, Any]:
            nonlocal gone
            gone = len(known["devices"])
            return {"devices": []}

        self._change(none)
        return gone

    def _of_this_folder(self, known: dict[str, Any]) -> dict[str, Any]:
        """What is to change where the file is new here; a copy of a job is another job."""
        folder = self.path.parent
        other = {"job": secrets.token_hex(KEY_BYTES), "devices": []} if _is_copy(known, folder, self.path) else {}
        return other | {"folder": os.fspath(folder.resolve())}

    def _change(self, changes: Callable[[dict[str, Any]], dict[str, Any]]) -> dict[str, Any]:
        """Change the file, which another run may do at the same time; what it says then."""
        found: dict[str, Any] = {}

        def change(data: bytes) -> bytes:
            nonlocal found
            there = _read(data)
            if there is None:  # it is new, cannot be read, or was deleted meanwhile
                job = self.job or secrets.token_hex(KEY_BYTES)
                there = {"job": job, "folder": os.fspath(self.path.parent.resolve()), "devices": []}
            found = there | changes(there)
            return _as_bytes(found)

        if self.path.is_symlink():  # whoever put it there would have us write over another file
            raise InputError([Problem("This is a link to another file. Delete the link.", os.fspath(self.path))])
        with self._lock:
            with contextlib.suppress(FileExistsError):  # for nobody else to read from the first moment on
                os.close(os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o600))
            update(self.path, change)
            with contextlib.suppress(OSError):
                os.chmod(self.path, 0o600)
        return found


def _as_bytes(known: dict[str, Any]) -> bytes:
    return json.dumps({"schema": 1} | known, indent=1).encode("ascii") + b"\n"


def _content(path: Path) -> dict[str, Any] | None:
    """What the file of the devices says; None where there is none that can be read."""
    try:
        return _read(path.read_bytes())
    except FileNotFoundError:
        return None


def _read(data: bytes) -> dict[str, Any] | None:
    """What the bytes of the file say; None where they cannot be read."""
    try:
        known = json.loads(data)
        whole = bool(_IS_ID(known["job"])) and all(map(bytes.fromhex, known["devices"]))
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    return dict(known) if whole else None


def _is_copy(known: dict[str, Any], folder: Path, path: Path) -> bool:
    """Whether the file came here in a copy of the job: its first folder is still there, with the same id."""
    first = Path(str(known.get("folder", folder)))
    if first == folder.resolve():
        return False
    try:
        there = _content(first / FILE) if first.is_dir() and not _same(first / FILE, path) else None
    except OSError:  # a folder that is nobody's business here, or no name of one
        return False
    return there is not None and there["job"] == known["job"]


def _same(one: Path, other: Path) -> bool:
    """Whether two names are of one file."""
    with contextlib.suppress(OSError):
        return os.path.samefile(one, other)
    return False


def _digest(token: str) -> str:
    return sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


@dataclass
class Keys:
    """One key for each place where an address is shown; used up by the first device, and then replaced."""

    places: tuple[str, ...]  # Such as http://192.168.1.20:8421
    now: Callable[[], float] = time.monotonic
    _keys: dict[str, str] = field(default_factory=dict)
    _wrong: dict[str, list[float]] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self._keys = {each: _new_key() for each in self.places}

    def address(self, place: str) -> str:
        """The address that lets one device in."""
        return f"{place}/in/{self._keys[place]}"

    def use(self, key: str, sender: str) -> str | None:
        """The place of a key, which is used up by this; None for a wrong key."""
        with self._lock:
            given = key.encode("utf-8", "surrogatepass")
            # each is compared, and takes the same time whichever letters are right
            right = [place for place, each in self._keys.items() if hmac.compare_digest(each.encode("ascii"), given)]
            if not right:
                self._note_wrong(sender)
                return None
            self._keys[right[0]] = _new_key()
            self._wrong.pop(sender, None)
            return right[0]

    def waits(self, sender: str) -> float:
        """Seconds until an address may try a key again."""
        with self._lock:
            tries = self._wrong.get(sender, [])
            return max(0.0, tries[-MOST_WRONG] + WAIT_S - self.now()) if len(tries) >= MOST_WRONG else 0.0

    def _note_wrong(self, sender: str) -> None:
        tries = self._wrong.pop(sender, [])
        self._wrong[sender] = [*tries, self.now()][-MOST_WRONG:]  # now the newest
        if len(self._wrong) > MOST_SENDERS:
            del self._wrong[next(iter(self._wrong))]


def _new_key() -> str:
    return secrets.token_urlsafe(KEY_BYTES)
