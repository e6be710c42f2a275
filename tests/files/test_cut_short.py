"""A last row that was cut short is found and made a comment; a sound file never is. All values are invented."""

import pytest

from predictor import InputError, read_trials
from predictor.files.cut import comment_out_last, cut_short
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row, begin_log, check_log, only_begun
from tests.refused import places_of

CATCH = {"box": "small", "lot": "A", "setting": "14", "catch_g": 61.2}
HEAD = "box,lot,setting,catch_g,note\n"


def log(tmp_path, data):
    path = tmp_path / "trials.csv"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


SOUND = {
    "a note in two lines": HEAD + 'small,A,14,60.5,"windy,\nsecond pass"',
    "a note in three lines, one like a row": HEAD + 'small,A,14,60.5,"windy,\nsmall,A,15,61.0,dry\nend"',
    "a note that ends with a line end": HEAD + 'small,A,14,60.5,"windy\n"',
    "carriage returns": (HEAD + 'small,A,14,60.5,"windy,\nsecond pass"').replace("\n", "\r"),
    "both line ends": (HEAD + 'small,A,14,60.5,"windy,\nsecond pass"').replace("\n", "\r\n"),
    "UTF-16": (HEAD + 'small,A,14,60.5,"windy,\nsecond pass"').encode("utf-16"),
    "UTF-16, big endian": b"\xfe\xff" + (HEAD + "small,A,14,60.5,\u010a").encode("utf-16-be"),
    "UTF-8 with its mark": (HEAD + "small,A,14,60.5,\u00e9").encode("utf-8-sig"),
    "all cells in quotes": HEAD + '"small","A","14","60.5","dry"',
    "a quoted last cell": HEAD + 'small,A,14,60.5,"5"" wide"',
    "a quote within a cell": HEAD + 'small,A,14,60.5,5" wide',
    "columns without a name": "box,lot,setting,catch_g,,\nsmall,A,14,60.5",
    "columns without a name, and their cells": "box,lot,setting,catch_g,,\nsmall,A,14,60.5,,",
    "a comment": HEAD + 'small,A,14,60.5,x\n# the "en',
    "blanks": HEAD + "small,A,14,60.5,x\n  ",
    "empty cells": HEAD + "small,A,14,60.5,x\n,,,,",
    "a header alone": HEAD[:-1],
    "semicolons": 'box;lot;setting;catch_g;note\nsmall;A;17,5;60;"windy;\nsecond pass"',
    "tabs": "box\tlot\tsetting\tcatch_g\tnote\nsmall\tA\t14\t60.5\t",
    "a quoted sign": HEAD + '"#2",A,14,60.5,"windy,\nsecond pass"',
    "nothing": "",
}


@pytest.mark.parametrize("data", SOUND.values(), ids=SOUND)
def test_a_sound_file_is_never_taken_for_one_cut_short(tmp_path, data):
    path = log(tmp_path, data)
    before = path.read_bytes()
    assert cut_short(TRIALS, path) is None
    comment_out_last(TRIALS, path)
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    ("broken", "places"),
    {
        "a quote opened in an earlier row": (HEAD + 'small,A,14,60.5,"windy\nsmall,A,15,61.0,dry\n', "line 2"),
        "one opened there and a last row cut": (HEAD + 'small,A,14,60.5,"windy\nsmall,A,15,61.0', "line 2"),
        "text behind a quote": (HEAD + 'small,A,14,60.5,"windy" today', "line 2"),
        "text behind an earlier quote": (HEAD + 'small,A,14,60.5,"a"b\nsmall,A,15', "line 2; line 3"),
        "other letters": ((HEAD + "small,A,14,60.5,caf\u00e9").encode("latin-1"), "line 2"),
        "other letters above": ((HEAD + "small,A,14,60.5,caf\u00e9\nsmall,A").encode("latin-1"), "line 2"),
        "zeros above": (HEAD.encode() + b"small,A,14,60.5,\0\0x\nsmall,A,15,61.0,dry\n", "line 2"),
    }.values(),
)
def test_what_a_person_must_mend_is_left_to_them(tmp_path, broken, places):
    """To make it a comment would hide rows that are whole, or letters that someone typed."""
    path = log(tmp_path, broken)
    assert cut_short(TRIALS, path) is None
    assert places_of(lambda: add_row(TRIALS, path, CATCH)) == places


CUT = {
    "too few cells": ("small,A,15", "# cut short: small,A,15"),
    "a quote": ('small,A,15,6,"o', "# cut short: small,A,15,6,'o"),
    "a quote in two lines": ('small,A,15,6,"a,\nb', "# cut short: small,A,15,6,'a,\n# b"),
    "a quote and a line end": ('small,A,15,6,"a\n', "# cut short: small,A,15,6,'a"),
    "half of a letter": ('small,A,15,6,"caf\u00e9'.encode()[:-1], "# cut short: small,A,15,6,'caf\ufffd"),
    "zeros": (b"small,A,15,6\0\0\0", "# cut short: small,A,15,6\ufffd"),
    "nothing but zeros": (b"\0\0\0", "# cut short: \ufffd"),
    "zeros within": (b"small,A,1\0\0\0.5,x\n", "# cut short: small,A,1\ufffd.5,x"),
    "zeros before the rest": (b'\0\0\0\0,6,"a,\nb"\n', "# cut short: \ufffd,6,'a,\n# b'"),
    "a whole row and zeros": (b'small,A,15,6,"x"\0\0', "# cut short: small,A,15,6,'x'\ufffd"),
}


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(("last", "comment"), CUT.values(), ids=CUT)
def test_every_line_of_a_row_cut_short_becomes_a_comment(tmp_path, last, comment, end):
    whole = (HEAD + 'small,A,14,60.5,"windy,\nsecond pass"\n').replace("\n", end)
    cut = last.replace("\n", end).encode() if isinstance(last, str) else last
    path = log(tmp_path, whole.encode() + cut)
    row, text = cut_short(TRIALS, path)
    assert row == 3
    assert text.startswith(cut.partition(b"\0")[0].decode(errors="replace")[:9])
    comment_out_last(TRIALS, path)
    assert path.read_bytes().decode() == whole + f"{comment}\n".replace("\n", end)
    assert cut_short(TRIALS, path) is None
    assert read_trials(path).catch_g.tolist() == [60.5]
    assert read_trials(path).assumed == ()  # nobody is told to put our own comment in quotes
    assert add_row(TRIALS, path, CATCH) == 4 + comment.count("\n")
    assert read_trials(path).catch_g.tolist() == [60.5, 61.2]


HEADERS = {
    "usual": "box,lot,setting,catch_g,note",
    "a weight last": "note,box,lot,setting,catch_g",
    "columns without a name": "box,lot,setting,note,catch_g,,",
    "own columns": "box,lot,setting,catch_g,mine,note,also mine",
}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("separator", "encoding"), [(",", "utf-8"), (";", "utf-16-le"), ("\t", "utf-16-be"), (";", "utf-8-sig")]
)
@pytest.mark.parametrize("header", HEADERS.values(), ids=HEADERS)
def test_a_row_of_ours_cut_at_any_byte_is_mended_and_never_misread(tmp_path, header, separator, encoding):
    """A power failure leaves any part of the last row, or zeros instead of the rest."""
    mark = {"utf-16-le": "\ufeff", "utf-16-be": "\ufeff"}.get(encoding, "")
    newline = "\r\n" if separator == ";" else "\n"
    path = log(tmp_path, (mark + header.replace(",", separator) + newline).encode(encoding))
    add_row(TRIALS, path, {**CATCH, "lot": "#1", "note": 'first, "dry";\n# not a comment'})
    whole = path.read_bytes()
    add_row(TRIALS, path, {**CATCH, "lot": "#\u00e92", "catch_g": 123.4, "note": '5" \u20ac\U0001f33e,\nlast; of all'})
    data = path.read_bytes()
    found = read_trials(path)
    assert found.lot.tolist() == ["#1", "#\u00e92"]
    mended = 0
    for end in range(len(whole), len(data)):
        blocks = data[end + 6 :].rjust(len(data) - end, b"\0")  # not written in order
        for rest in (b"", b"\0" * (len(data) - end), blocks):
            path.write_bytes(data[:end] + rest)
            cut = cut_short(TRIALS, path)
            if cut is not None:
                assert cut[0] in (3, 4)  # where half a line end is one, too, the row is whole
                comment_out_last(TRIALS, path)
                mended += 1
            left = read_trials(path)
            assert left.catch_g.tolist() == found.catch_g.tolist()[: len(left)]
            assert len(left) == (cut[0] - 2 if cut else len(left))
            assert left.lot[0] == "#1"
            assert left.note[0] == found.note[0]
            add_row(TRIALS, path, {**CATCH, "catch_g": 50.0})
            assert read_trials(path).catch_g.tolist() == [*left.catch_g.tolist(), 50.0]
    assert mended > (len(data) - len(whole)) / 2


@pytest.mark.parametrize("last", ["small,A,15,", "small,A,15,,,", "small,A,15,61.5,", "small,,"])
def test_a_row_that_ends_between_its_signs_was_cut_short(tmp_path, last):
    """Where columns have no name, a row may end at the last one that has: so its signs do not show that it is whole."""
    path = log(tmp_path, f"box,lot,setting,catch_g,,\nsmall,A,14,60.5,,\n{last}")
    assert cut_short(TRIALS, path) == (3, last)
    comment_out_last(TRIALS, path)
    assert read_trials(path).catch_g.tolist() == [60.5]


def test_a_file_of_another_kind_is_not_mended(tmp_path):
    assert cut_short(TRIALS, log(tmp_path, "a,b\n1,2")) is None


def test_what_was_mended_meanwhile_is_left_alone(tmp_path):
    path = log(tmp_path, HEAD + "small,A,14")
    assert cut_short(TRIALS, path) is not None
    path.write_text(HEAD + "small,A,14,60.5,by hand")
    comment_out_last(TRIALS, path)
    assert path.read_text() == HEAD + "small,A,14,60.5,by hand"


OURS = TRIALS.new_header.encode() + b"\n"
BEGUN = {
    "a letter": OURS[:1],
    "a part": OURS[:40],
    "no line end": OURS[:-1],
    "zeros": b"\0" * len(OURS),
    "fewer zeros": b"\0\0",
    "a part and zeros": OURS[:40].ljust(len(OURS), b"\0"),
    "zeros within": OURS[:30] + b"\0" * 20 + OURS[50:],
}


@pytest.mark.parametrize("data", BEGUN.values(), ids=BEGUN)
def test_a_header_of_ours_cut_short_is_begun_again(tmp_path, data):
    """Where the power failed with the first catch, nothing but a part of our own header is lost."""
    path = log(tmp_path, data)
    assert cut_short(TRIALS, path) is None
    assert only_begun(TRIALS, path)
    check_log(TRIALS, path)
    begin_log(TRIALS, path)
    assert path.read_text() == TRIALS.new_header + "\n"


def test_a_header_of_another_hand_is_not_begun_again(tmp_path):
    path = log(tmp_path, "date,box\n")
    assert not only_begun(TRIALS, path)
    begin_log(TRIALS, path)
    assert path.read_text() == "date,box\n"
    with pytest.raises(InputError):
        check_log(TRIALS, path)
