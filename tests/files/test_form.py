"""Columns are added to all rows of a file at once as they are to one row after another. All values are invented."""

import contextlib
import random

from predictor.errors import InputError
from predictor.files.form import Form, form_of
from predictor.files.kinds import TRIALS

NOTES = ["", '"a"', '"a,;\tb"', "x y", "c", "#", '"5"" wide"']


def _text(rng: random.Random) -> str:
    """A small log, seldom with a comment, a note of two lines, another line end or a row that is too short."""
    sign, end = rng.choice(",;\t"), rng.choice(["\n", "\r\n"])
    lines = [sign.join(["box", "lot", "setting", "catch_g", "note"])]
    for _ in range(rng.randint(0, 6)):
        note = '"a\nb"' if rng.random() < 0.05 else rng.choice(NOTES)
        lines.append(sign.join(["small", rng.choice("AB"), "14", "60", note][: 5 if rng.random() < 0.95 else 4]))
    if rng.random() < 0.2:
        lines.insert(rng.randrange(2), rng.choice(["# c", "", f"sep={sign}"]))
    return "".join(line + (end if rng.random() < 0.9 else rng.choice(["\n", "\r\n", "\r"])) for line in lines)


def test_columns_are_added_at_once_as_row_by_row(monkeypatch):
    rng, forms, at_once = random.Random(3), list[Form](), []
    for _ in range(2000):
        with contextlib.suppress(InputError):
            forms.append(form_of(_text(rng).encode(), "", TRIALS))
    for names in (["wanted_g"], ["wanted_g", "entry"]):
        at_once.append([form.with_columns(names) for form in forms])
    taken = sum(form._all_alike() for form in forms)
    monkeypatch.setattr(Form, "_all_alike", lambda _: False)
    for names, found in zip((["wanted_g"], ["wanted_g", "entry"]), at_once, strict=True):
        assert [form.with_columns(names) for form in forms] == found
    assert 0.2 < taken / len(forms) < 0.8  # both ways were tried
