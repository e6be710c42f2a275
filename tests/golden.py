"""The wording of what people read, kept in tests/golden/NAME.txt and compared word for word.

Other tests assert codes, values and places; only these files hold sentences. After a change of words run
`python -m tests.golden`, or with the tests to rewrite: `python -m tests.golden tests/commands`. Then read the
difference that git shows, as a user would.
"""

from __future__ import annotations

import difflib
import html.parser
import math
import os
import re
import sys
from pathlib import Path

FOLDER = Path(__file__).parent / "golden"
REWRITE = "PREDICTOR_REWRITE_GOLDEN"
# A figure that is no part of a date, a version or a name.
_NUMBER = re.compile(r"((?<![\w.,:-])\d+(?:\.\d+)?(?![\w:-]|\.\d))")
MOST_TURNED = 3


def check(name: str, text: str) -> None:
    """Compare a text with tests/golden/NAME.txt, or write it there while the files are rewritten."""
    path = FOLDER / f"{name}.txt"
    text = text.rstrip("\n") + "\n"
    if os.environ.get(REWRITE):
        path.write_text(text, encoding="utf-8", newline="")
        return
    assert path.exists(), f"tests/golden/{path.name} is missing. `python -m tests.golden` writes it."
    kept = path.read_text(encoding="utf-8")
    if not alike(text, kept):
        lines = difflib.unified_diff(kept.splitlines(), text.splitlines(), "kept", "found", n=1, lineterm="")
        how = "If the new words are meant, `python -m tests.golden` rewrites the file."
        raise AssertionError("\n".join([f"tests/golden/{path.name} has other words.", how, *lines]))


def alike(found: str, kept: str) -> bool:
    """Whether two texts have the same words and signs, and the same figures but for the edge of rounding.

    On another machine the last digit of a figure may turn where the figure lies at such an edge. So a few figures may
    differ by one in their last digit, and any by a millionth.
    """
    one, other = _NUMBER.split(found), _NUMBER.split(kept)
    if one[::2] != other[::2]:
        return False
    differ = [(a, b) for a, b in zip(one[1::2], other[1::2], strict=True) if a != b]
    differ = [(a, b) for a, b in differ if not math.isclose(float(a), float(b), rel_tol=1e-6)]
    return len(differ) <= MOST_TURNED and all(
        len(a.partition(".")[2]) == len(b.partition(".")[2])
        and abs(float(a) - float(b)) <= 1.001 * 10 ** -len(a.partition(".")[2])
        for a, b in differ
    )


def session_text(done, *arguments) -> str:
    """A run as a page: the command, its output, its messages, and its exit code where that is not 0."""
    parts = ["$ predictor " + " ".join(map(str, arguments)), done.stdout.rstrip("\n")]
    if done.stderr:
        parts += ["--- messages", done.stderr.rstrip("\n")]
    if done.returncode:
        parts += [f"--- exit code {done.returncode}"]
    return "\n".join(filter(None, parts)) + "\n"


def words(page: str) -> str:
    """What a reader of an HTML page sees, one line a block or a cell row; no drawings and no style."""
    reader = _Words()
    reader.feed(page)
    return "\n".join(filter(None, (re.sub(r"[ \n]+", " ", line).strip(" |") for line in reader.lines)))


class _Words(html.parser.HTMLParser):
    """Collects the visible text of a page."""

    HIDDEN = ("style", "svg", "script")
    INSIDE = ("strong", "em", "b", "i", "span", "a", "code", "sub", "sup")

    def __init__(self) -> None:
        super().__init__()
        self.lines, self.hidden = [""], 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.hidden += tag in self.HIDDEN
        if tag in ("td", "th", "dd"):
            self.lines[-1] += " | "
        elif tag == "figure":
            self.lines.append(f"[{dict(attrs)['aria-label']}]")
        elif tag not in self.INSIDE and not self.hidden:
            self.lines.append("")

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag in self.HIDDEN

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.lines[-1] += data


def main(chosen: list[str]) -> int:
    """Run the tests that check a golden file, so that each writes its own; files nobody wrote are removed."""
    import pytest

    os.environ[REWRITE] = "1"
    tests = [path for path in FOLDER.parent.rglob("test_*.py") if "golden" in path.read_text(encoding="utf-8")]
    if not chosen:
        for path in FOLDER.glob("*.txt"):
            path.unlink()
    return int(pytest.main(["-q", "-o", "addopts=", "-p", "no:cacheprovider", *(chosen or map(str, tests))]))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
