"""Typed readers of the keys of a TOML file; problems are collected, each with its line and key."""

import math
import os
import re
import tomllib
from collections import Counter
from collections.abc import Collection
from dataclasses import InitVar, dataclass
from hashlib import sha256
from typing import Any, Self, TypeGuard, TypeVar

from predictor.errors import InputError, Problem, Problems, meant
from predictor.files.text import decode, read_bytes
from predictor.numbers import Range, clipped, quoted
from predictor.unseen import UNSEEN

# The sample is 1 kB. A drill of 20 boxes and 500 fields has about 30 kB.
LARGEST_BYTES = 200_000
MOST_DEPTH = 8  # Of tables and lists inside each other; a drill needs three
LONGEST_WORD = 1000  # Longest key or number outside of quotes, with the blanks around it
MOST_HINTS = 50  # Unknown keys that are compared with the known ones, which takes its time

# What stands in quotes, and comments. Every pattern here takes what it has read for good ("++", "*+"), so that a long
# text is read once, from start to end.
_QUOTED = re.compile(
    r'"""(?:[^"\\]++|\\.|"(?!""))*+"{0,5}'
    r"|'''(?:[^']++|'(?!''))*+'{0,5}"
    r'|"(?:[^"\\\n]++|\\[^\n])*+"?'
    r"|'[^'\n]*+'?|#[^\n]*+",
    re.DOTALL,
)
_ENDS = str.maketrans(dict.fromkeys("=,[]{}:+", "\0"))
_BARE = re.compile(r"[A-Za-z0-9_-]+").fullmatch
_ANY = Range(-1e9, 1e9)

Choice = TypeVar("Choice", bound=str)


@dataclass
class Keys:
    """One table of a file, read key by key; what is wrong is collected."""

    data: dict[str, Any]
    known: InitVar[Collection[str]]
    problems: Problems
    lines: dict[str, int]
    where: str = ""
    path: str = ""

    def __post_init__(self, known: Collection[str]) -> None:
        names = f"The keys here are {', '.join(sorted(known))}."
        for k, key in enumerate(key for key in self.data if key not in known):
            self.wrong(key, f"This key is unknown. {meant(key, known, names) if k < MOST_HINTS else names}")

    def inner(self, data: dict[str, Any], known: Collection[str], where: str, path: str) -> Self:
        """A table inside this one."""
        return type(self)(data, known, self.problems, self.lines, clipped(where, 100), path)

    def wrong(self, key: str, message: str) -> None:
        """Note a problem with a key of this table."""
        tried = (self.path + key, f"{self.path}{key}.", self.path)
        line = next((self.lines[each] for each in tried if each in self.lines), None)
        self.problems.add(message, line, key=f"{self.where}{clipped(key)}")

    def number(self, key: str, allowed: Range = _ANY, default: float | None = None, hint: str = "") -> float:
        """A number; NaN with a problem noted if it is not a number, or not allowed."""
        value = self.data.get(key, default)
        if value is None:
            self.wrong(key, "The key is missing. Write its number.")
        elif not is_number(value):
            self.wrong(key, f"{shown(value)} is not a number. Write the number alone, without quotes or unit.")
        elif not allowed.has(value):
            self.wrong(key, f"{shown(value)} is out of range: {key} must be {allowed}. {hint}".rstrip())
        else:
            return float(value)
        return math.nan

    def whole(self, key: str, most: int, default: int | None = None) -> int:
        """A whole number from 1 to `most`; `most` with a problem noted if it is not."""
        value = self.number(key, Range(1, most), default)
        if value == value and value != int(value):
            self.wrong(key, f"{value:g} is not a whole number.")
        return int(value) if value == value else most

    def text(self, key: str, or_whole: bool = False) -> str:
        """A name, or a whole number as a name; "" with a problem noted if it is missing or something else."""
        value = self.data.get(key)
        if or_whole and type(value) is int and abs(value) < 1e9:
            return str(value)
        if value is None:
            self.wrong(key, f'The key is missing. Write it in quotes: {key} = "...".')
        elif not isinstance(value, str) or not value.strip() or UNSEEN.search(value):
            self.wrong(key, f'{shown(value)} is not a name. Write it in quotes: {key} = "...".')
        else:
            return " ".join(value.split())
        return ""

    def choice(self, key: str, choices: tuple[Choice, ...], default: Choice | None = None) -> Choice | None:
        """One of a few words; None with a problem noted if it is another one."""
        value = self.data.get(key, default)
        for each in choices:
            if value == each:
                return each
        found = "The key is missing." if value is None else f"{shown(value)} is none of these words."
        self.wrong(key, f"{found} Write one of: " + ", ".join(f'"{choice}"' for choice in choices) + ".")
        return None


def is_number(value: object) -> TypeGuard[int | float]:
    """Whether a value is a number as people mean it: finite, and neither true nor false."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < math.inf


def read_toml(source: str | os.PathLike[str], known: Collection[str]) -> tuple[Keys, str]:
    """The keys of a file, and the SHA-256 of its bytes."""
    file, data = read_bytes(source, LARGEST_BYTES, "a file of a drill")
    text = decode(data, file)
    if found := _too_deep(text):
        raise InputError([Problem(found[0], file, found[1])])
    try:
        content = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError([_syntax(str(error), text, file)]) from None
    return Keys(content, known, Problems(file, most=LARGEST_BYTES), _key_lines(text)), sha256(data).hexdigest()


def _too_deep(text: str) -> tuple[str, int] | None:
    """What nests deeper than any drill needs, and its line: the TOML reader would take memory without end for it."""
    bare = _QUOTED.sub(lambda found: '"' + "\n" * found[0].count("\n"), text)
    depth = 0
    for number, line in enumerate(bare.split("\n"), 1):
        # between these signs stands one key, one number or one word
        for piece in line.translate(_ENDS).split("\0"):
            if len(piece) > LONGEST_WORD:
                return f"{quoted(piece.strip())} is too long for a key or a number. Delete it.", number
            if piece.count(".") >= MOST_DEPTH:
                return f"{quoted(piece.strip())} has too many points. Write each key as one word.", number
        for sign in filter("[]{}".__contains__, line):
            depth += 1 if sign in "[{" else -1
            if depth > MOST_DEPTH:
                return "Too many brackets are open here. Close those that are not needed, or delete them.", number
    return None


def _key_lines(text: str) -> dict[str, int]:
    """Lines of tables and keys, as "catch.turns" or "box.2.highest"; the TOML reader does not keep them.

    A key written in an unusual way may be missing: its problem then has the line of its table.
    """
    lines: dict[str, int] = {}
    counts: Counter[str] = Counter()
    here = ""
    for number, line in enumerate(map(str.strip, text.split("\n")), 1):
        header = line.lstrip("[").partition("]")
        if line.startswith("[") and header[0].strip() and header[1] and header[0].count(".") < MOST_DEPTH:
            *outer, last = (part.strip(" \t\"'")[:LONGEST_WORD] for part in header[0].split("."))
            here = ""
            for part in outer:
                here += f"{part}."
                here += f"{counts[here]}." if counts[here] else ""
            here += f"{last}."
            if line.startswith("[["):
                counts[here] += 1
                here += f"{counts[here]}."
            lines[here] = number
        elif _BARE(key := line.partition("=")[0].strip(" \t\"'")):
            lines.setdefault(here + key, number)
    return lines


def _syntax(error: str, text: str, file: str) -> Problem:
    """A sentence for what the TOML reader could not read."""
    what, _, place = error.partition(" (at ")
    found = re.match(r"line ([0-9]+)", place)
    lines = text.split("\n")
    number = int(found[1]) if found and int(found[1]) <= len(lines) else None
    if number is None:
        return Problem("The file ends too early. Look for a quote or bracket that is never closed.", file)
    line = lines[number - 1].strip()
    shown = f"{quoted(line)} cannot be read" if line else "This line cannot be read"
    if any(word in what for word in ("overwrite", "twice", "uplicate", "mutate")):
        return Problem(f"{quoted(line)} appears a second time in its table. Keep one.", file, number)
    return Problem(f"{shown}. {_syntax_hint(line[:LONGEST_WORD])}", file, number)


def _syntax_hint(line: str) -> str:
    """What is probably wrong with a line that is not TOML."""
    key, sign, value = (part.strip() for part in line.partition("="))
    if re.search("[“”„«»‘’]", line):
        return 'Type straight quotes: ".'
    if not sign:
        return "Write a key, an = sign and its value, or a table in brackets."
    if " " in key:
        return f"Write the key in one word: {clipped('_'.join(key.split()))}."
    if not value or value.startswith("#"):
        return "There is nothing after the = sign. Write the value there, or delete the line."
    if any(letter.isdigit() and letter > "9" for letter in value.partition("#")[0]):
        return "Write numbers with the digits 0 to 9."
    if number := re.match(r"-?[0-9]++,[0-9]++", value):
        return f"Write a decimal point: {clipped(number[0].replace(',', '.'))}."
    if number := re.match(r"(-?[0-9]++(?:\.[0-9]++)?)\s*+[A-Za-z\"'%]", value):
        return f"Write the number alone, without its unit: {clipped(number[1])}."
    if re.match(r"\.[0-9]", value):
        return f"Write a zero before the point: 0{clipped(value)}."
    if re.match(r"[^\W\d]", value):
        return f'Put words in quotes: {clipped(key)} = "{clipped(value)}".'
    return "Check its quotes, brackets and commas."


def shown(value: Any) -> str:
    """A value as a message shows it: numbers bare, everything else in quotes."""
    if isinstance(value, float):
        return f"{value:g}"
    try:
        return str(value) if type(value) is int and abs(value) < 1e15 else quoted(str(value))
    except ValueError:  # Python refuses to write out a whole number of thousands of digits
        return "This number"
