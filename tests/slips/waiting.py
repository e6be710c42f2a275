"""A check for slips of the tests' own, so that what is shown does not depend on the checks of the program."""

import contextlib

import pytest

from predictor.slips import find
from predictor.slips.finding import Finding
from predictor.text import slips

SENTENCE = "Line {line}, {grams:g} g: about twice what the others say. Were the turns counted right? Correct the row."


@contextlib.contextmanager
def found(box, line, *, waits=True):
    """A finding about a line of a box, for as long as no person stands by the line."""

    def look(seen):
        if seen.box.name != box or line not in seen.used.line:
            return ()
        values = {"line": line, "grams": float(seen.used.catch_g[seen.used.line == line][0])}
        return (Finding("made-up", seen.box.name, seen.lot, (line,), 0.6, waits, values),)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(find, "CHECKS", (look,))
        patch.setitem(slips.SENTENCES, "made-up", SENTENCE)
        yield
