"""Lines that are plainly rows are read many at once: what comes of it is what the rules of CSV give line by line."""

import random

import numpy as np

from predictor.errors import Problems
from predictor.files import plain_lines, split as module
from predictor.files.split import Records, leave_out_controls, lines_of, split
from predictor.files.text import holds_controls
from predictor.files.trials import HEADER

ODD = (
    "",
    " ",
    "  x",
    "x ",
    "#",
    "#c",
    "\t",
    ";",
    ",",
    "\x0b",
    "\x1c",
    "\x85",
    "\u3000",
    "\u200b",
    "é",
    '"a"',
    '"a',
    "'",
    '"a ""b"" c"',
    '5" wide',
    "a note that is longer than two words of eight bytes",
)


def _text(rng: random.Random) -> str:
    """A small table with anything that a line may have: odd cells, blank rows, comments, other line ends."""
    sign, end, width = rng.choice(",;\t"), rng.choice(["\n", "\r\n", "\r"]), rng.randint(1, 4)
    lines = [sign.join(["box", "lot", "setting", "catch_g"][:width])]
    for _ in range(rng.randint(0, 14)):
        cells = [rng.choice(["a", "b1", "2.5", "c d", '"c, d"', "Shed drill 12"]) for _ in range(width)]
        if rng.random() < 0.15:
            cells[rng.randrange(width)] = rng.choice(ODD)
        if rng.random() < 0.05:
            cells.append(rng.choice(ODD))
        lines.append(sign.join(cells) if rng.random() < 0.95 else "")
    if rng.random() < 0.3:
        lines.insert(rng.randrange(2), rng.choice(["# c,d", "", f"sep={sign}", "  #"]))
    text = "".join(line + (end if rng.random() < 0.97 else rng.choice(["\r", "\n", "\r\n"])) for line in lines)
    return text.rstrip("\r\n") if rng.random() < 0.3 else text


def _line_by_line(text: str) -> tuple[Records, Problems]:
    """The records as the reader of CSV gives them from the whole text."""
    found, problems = Records(text, module._separator(text, HEADER.known)), Problems("a")
    module._read(lines_of(text), found, problems)
    if holds_controls(text):
        leave_out_controls(found, problems)
    return found, problems


def test_many_lines_at_once_give_what_the_rules_of_csv_give(monkeypatch):
    monkeypatch.setattr(module, "_AT_ONCE", 6)
    monkeypatch.setattr(module, "_FEW", 2)
    monkeypatch.setattr(plain_lines, "_MOST_BYTES", 16)
    at_once, real = [], module.columns_of

    def seen(*lines):
        at_once.append(real(*lines))
        return at_once[-1]

    monkeypatch.setattr(module, "columns_of", seen)
    rng = random.Random(7)
    for _ in range(4000):
        text, problems = _text(rng), Problems("a")
        found, (right, noted) = split(text, HEADER.known, problems), _line_by_line(text)
        assert list(found.cells) == list(right.cells), text
        assert found.cells.others == right.cells.others, text
        for name in ("separator", "rows", "ends", "remarks", "unclosed"):
            assert getattr(found, name) == getattr(right, name), text
        assert problems.found == noted.found, text
    taken = sum(each is not None for each in at_once)
    assert 0.2 < taken / len(at_once) < 0.8  # both ways were tried


def test_a_cell_longer_than_the_reader_of_csv_takes_is_refused_among_many_lines():
    text = "box,lot\n" + "a,b\n" * 2500 + "a," + "c" * 200_000 + "\n" + "a,b\n" * 10
    problems = Problems("a")
    split(text, HEADER.known, problems)
    assert [each.line for each in problems.found] == [2502]


def test_a_text_ends_whole_where_the_rules_of_csv_say_so(monkeypatch):
    rng, asked, real = random.Random(11), [], module.plainly_closed

    def seen(*lines):
        asked.append(real(*lines))
        return asked[-1]

    monkeypatch.setattr(module, "plainly_closed", seen)
    for _ in range(4000):
        cells = rng.choices(
            ["a", '"a"', '""', '"a ""b"""', '"a\n"', '"', ' "a"', '5" wide', "#a"], [9, 9, 9, 9, 1, 1, 1, 1, 1], k=9
        )
        text = "".join(cell + rng.choice([",", "\n"]) for cell in cells)
        by_rules = module._closed(lines_of(text), module._separator(text, HEADER.known))
        assert module.ends_whole(text, HEADER.known) is (by_rules and text.endswith("\n")), text
    assert 0.1 < sum(asked) / len(asked) < 0.9  # both ways were tried
    for end in ("", '"b"\n'):
        text = "a,b\n" * 50_000 + "a," + "c" * 200_000 + "\n" + end
        assert not module.ends_whole(text, HEADER.known)
        assert module.ends_whole(text.replace("ccc", "c\nc"), HEADER.known)


def test_what_is_no_plain_row_leaves_the_others_to_be_read_at_once(monkeypatch):
    monkeypatch.setattr(module, "_AT_ONCE", 4)
    monkeypatch.setattr(module, "_FEW", 1)
    read, seen = module._read, []
    monkeypatch.setattr(
        module, "_read", lambda lines, *rest: seen.append(lines := list(lines)) or read(iter(lines), *rest)
    )
    text = "box,lot\n" + "a,b\n" * 6 + "# a remark\n" + "a,b\n" * 5
    assert len(split(text, HEADER.known, Problems("a"))) == 12
    assert seen == [["box,lot\n"], ["# a remark\n"]]
    seen.clear()
    assert len(split(text + 'a,"b\n\n\n\nc"\na,b\n', HEADER.known, Problems("a"))) == 14
    assert seen[2:] == [['a,"b\n', "\n", "\n", "\n", 'c"\n', "a,b\n"]]


def test_cells_in_quotes_are_read_at_once(monkeypatch):
    """The program puts the last cell of a row in quotes."""
    monkeypatch.setattr(module, "_FEW", 1)
    text = 'lot,note\n"a, b","5"" wide"\na,""\n"c",c\n'
    found = split(text, HEADER.known, Problems("a"))
    assert list(found.cells)[1:] == [["a, b", '5" wide'], ["a", ""], ["c", "c"]]
    assert plain_lines.columns_of(b'a,5" wide\nb,6" wide\n', ",", 2) is None
    assert plain_lines.columns_of(b'a,"b"c\n', ",", 2) is None


def test_rows_that_fall_into_one_slot_are_told_apart():
    rng = np.random.default_rng(3)
    for count, different in ((1, 1), (40, 3), (3000, 2000), (20_000, 20_000)):
        words = [rng.integers(0, 2**63, different).astype(np.uint64)[rng.integers(0, different, count)] for _ in "ab"]
        pairs = list(zip(*(each.tolist() for each in words), strict=True))
        rows, place = plain_lines._indexed(words)
        assert [pairs[row] for row in rows.tolist()] == list(dict.fromkeys(pairs))
        assert [pairs[rows[each]] for each in place.tolist()] == pairs
