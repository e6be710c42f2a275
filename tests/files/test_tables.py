"""Tables as people and spreadsheets save them. All contents are invented."""

import contextlib
import csv
import io
import sys
import time
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from predictor.errors import InputError
from predictor.files import table as tables, text as csv_text, trials as trials_file
from predictor.files.cells import MOST_PROBLEMS, Cells, Table, near, yes_no
from predictor.files.table import frame_table, read_table
from predictor.files.text import composed

KNOWN = ("lot", "weight_g", "weight_oz", "turns", "test_date", "use", "note")
REQUIRED = ("lot", ("weight_g", "weight_oz"))
WORDS = ("lot", "test_date", "use", "note")


@pytest.fixture
def table(tmp_path):
    """Reads a table from the text or bytes of a file."""

    def read(content, **options):
        path = tmp_path / "table.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_table(path, **{"known": KNOWN, "required": REQUIRED, "words": WORDS, **options})

    return read


def problems_of(read, content):
    with pytest.raises(InputError) as caught:
        read(content)
    return [str(problem).split("table.csv", 1)[1].strip() for problem in caught.value.problems]


def numbers_of(read, content, column="weight_g"):
    """The numbers of a column, or the messages if there are any."""
    found = read(content)
    problems = []
    values = [Cells(found, row, problems).number(column) for row in found.rows]
    return [problem.message for problem in problems] or values


# Shape


def test_rows_carry_the_number_the_spreadsheet_gives_them(table):
    found = table('# about\n\nlot,weight_g,note\nA,1,"two\nlines"\n# half way\nB,2,\n,,\n"C",3,\n"","",""\n')
    assert [row.line for row in found.rows] == [4, 6, 8]
    assert found.rows[0].cells == {"lot": "A", "weight_g": "1", "note": "two\nlines"}


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_rows_are_numbered_alike_for_any_line_end(table, end):
    found = table(f'# about{end}lot,weight_g,note{end}A,1,"x{end}y"{end}{end}B,2,{end}')
    assert [row.line for row in found.rows] == [3, 5]


def test_headers_in_other_capitals_and_with_blanks_are_the_same_columns(table):
    assert table(" LOT , Weight G,Test-Date\nA,1,\n").columns == ("lot", "weight_g", "test_date")


def test_own_columns_are_kept_and_named(table):
    found = table("lot,weight_g,colour of bag\nA,1,red\n")
    assert found.own_columns == ("colour_of_bag",)
    assert found.rows[0].cells["colour_of_bag"] == "red"


def test_own_column_that_may_be_a_slip_is_said(table):
    assert table("lot,weight_g,turn\nA,1,28\n").assumed == (
        'Column "turn" was kept as your own, unused. If turns was meant, rename it.',
    )


def test_empty_columns_beyond_the_table_are_dropped(table):
    assert table("lot,weight_g,,\nA,1,,\nB,2\nC,3,,\n").columns == ("lot", "weight_g")


def test_comment_that_a_spreadsheet_put_in_quotes_is_a_comment(table):
    found = table('"# made, on a wet day",\nlot,weight_g\nA,1\n')
    assert [row.line for row in found.rows] == [3]
    assert found.assumed == ()


def test_comment_that_looks_like_a_row_is_said(table):
    assert table("lot,weight_g\nA,1\n#B,2\n").assumed == (
        "Line 3 starts with # and was passed over as a comment, though it has a row's cells.",
    )


def test_comments_may_hold_quotes_and_be_long(table):
    assert len(table(f'# 12" wide\n#{"x" * 200_000}\nlot,weight_g\nA,1\n').rows) == 1


def test_quoted_cells_behind_a_blank_are_read(table):
    assert table('lot, weight_g, note\nA, 1, "b, c"\n').rows[0].cells["note"] == "b, c"


def test_accents_are_the_same_however_they_were_typed(table):
    found = table("lot,weight_g\ncafe\u0301,1\n")
    assert found.rows[0].cells["lot"] == "caf\u00e9"
    frame = frame_table(
        pd.DataFrame({"lot": ["cafe\u0301"], "weight_g": [1]}), known=KNOWN, required=REQUIRED, problems=[]
    )
    assert frame.rows[0].cells["lot"] == "caf\u00e9"


def test_blanks_that_do_not_break_are_blanks(table):
    found = table("lot,weight_g\n\u00a0tall\u00a0mix ,1\n")
    assert Cells(found, found.rows[0], []).text("lot") == "tall mix"


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (
            "lot,weight_g\nA,1,2\nB\nC,3\n",
            [
                "line 2: There are 3 cells in this row and 2 in the header. If 1,2 is a number with a decimal comma, "
                'write 1.2, or "1,2" in quotes in every row.',
                "line 3: There is 1 cell in this row and 2 in the header. Write every cell, empty ones too.",
            ],
        ),
        (
            "lot,weight_g\nA,1,\n",
            [
                "line 2: There are 3 cells in this row and 2 in the header: separators at the end. Delete them, or "
                "the values would stand in wrong columns."
            ],
        ),
        (
            "lot;weight_g\nA;1;x\n",
            ['line 2: There are 3 cells in this row and 2 in the header. Put text that holds ";" in quotes.'],
        ),
        ("lot,lot,weight_g\nA,B,1\n", ["line 1, column lot: The column stands 2 times. Keep one."]),
        ("lot,,weight_g\nA,B,1\n", ["line 1: A column has no name. Name it, or delete it."]),
        (
            "weight_g,weight_oz\n1,2\n",
            [
                "line 1: The column lot is missing. Columns found: weight_g, weight_oz.",
                "line 1: weight_g and weight_oz say the same thing. Keep one of them.",
            ],
        ),
        (
            "lots,weight\nA,1\n",
            [
                'line 1: The column lot is missing. Is "lots" meant to be lot? Columns found: lots, weight.',
                'line 1: The column weight_g or weight_oz is missing. Is "weight" meant to be weight_g? '
                "Columns found: lots, weight.",
            ],
        ),
        (
            "lot,weight_g\nA,1\nLot , WEIGHT_G\nB,2\n",
            ["line 3: The header stands a second time here. Delete this row."],
        ),
        (
            'lot,weight_g\n"A"x,1\n"B"y,2\nC\n',
            [
                'line 2: Text or a blank stands right behind a closing quote in this row. Check the " signs.',
                'line 3: Text or a blank stands right behind a closing quote in this row. Check the " signs.',
                "line 4: There is 1 cell in this row and 2 in the header. Write every cell, empty ones too.",
            ],
        ),
        (
            'lot,weight_g\nA,1\n"B,2\nC,3\n',
            ['line 3: A quote is opened in this row and never closed. Check the " signs.'],
        ),
        (
            f"lot,weight_g\nA,{'x' * 200_000}\n",
            [
                "line 2: A cell of this row is far too long: a quote is opened in it and closed much later, or never. "
                'Check the " signs.'
            ],
        ),
        (
            "lot,weight_g\nA\u200b,1\n",
            [
                "line 2, column lot: The cell holds a control character, which cannot be seen. "
                "Clear the cell and retype it."
            ],
        ),
        (
            "lot,weight_g\n",
            [": There is a header but no row below it. Write a row for each entry."],
        ),
    ],
)
def test_shapes_that_could_be_misread_are_refused(table, content, expected):
    assert sorted(problems_of(table, content)) == sorted(expected)


def test_the_decimal_comma_is_looked_for_where_fractions_are(table):
    message = problems_of(table, "lot,weight_g,turns,note\nA,61,2,28,3\n")[0]
    assert "If 61,2 is a number" in message


def test_a_missing_column_of_a_wide_table_is_answered_briefly(table):
    names = ",".join(f"column_{i}_{'x' * 100}" for i in range(500))
    assert all(len(message) < 1000 for message in problems_of(table, names + "\n" + "," * 499 + "1\n"))


# Encodings


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ("lot,weight_g\nA,1\nÄ,2\n".encode("latin-1"), "line 3: This line holds letters that are not in UTF-8."),
        ("lot,weight_g\rA,1\rÄ,2\r".encode("latin-1"), "line 3: This line holds letters that are not in UTF-8."),
        ("lot,weight_g\nA,1\n".encode("utf-16-le"), "line 1: The file holds zero bytes: UTF-16 text without its mark."),
        ("lot,weight_g\nA,1\n".encode("utf-16-be"), "line 1: The file holds zero bytes: UTF-16 text without its mark."),
        ("lot,weight_g\nA,1\n".encode("utf-32"), ": The file holds zero characters: it is damaged."),
        (b"lot,weight_g\nA,1\n\x00\x00\x00\x00", "line 3: The file holds zero bytes: it is damaged, or not text."),
        (b"\xff\xfel\x00o\x00t\x00,", ": The file says it is UTF-16 text and is not."),
        (bytes(range(256)), "line 1: The file holds zero bytes: it is damaged, or not text."),
    ],
)  # fmt: skip
def test_other_encodings_are_refused_in_words(table, data, expected):
    assert problems_of(table, data) == [f'{expected} Save it again as text in the encoding "UTF-8".']


def test_standard_input_is_read_and_named(monkeypatch):
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(b"lot,weight_g\nA,1\n")))
    found = read_table("-", known=KNOWN, required=REQUIRED)
    assert (found.file, len(found.rows)) == ("standard input", 1)


def test_a_file_larger_than_any_table_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr("predictor.files.text.LARGEST_FILE", 10)
    path = tmp_path / "big.csv"
    path.write_text("lot,weight_g\nA,1\n")
    with pytest.raises(InputError, match="larger than"):
        read_table(path, known=KNOWN, required=REQUIRED)
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(path.read_bytes())))
    with pytest.raises(InputError, match="standard input: The file is larger than"):
        read_table("-", known=KNOWN, required=REQUIRED)


@pytest.mark.parametrize("name", ["a\x00b.csv", "x" * 5000, "\x1b[31m.csv"])
def test_names_no_file_can_have_are_refused_in_printable_words(tmp_path, name):
    with pytest.raises(InputError) as caught:
        read_table(f"{tmp_path}/{name}", known=KNOWN, required=REQUIRED)
    assert str(caught.value).isprintable()


def test_a_file_that_may_not_be_read_is_said(tmp_path, monkeypatch):
    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    path = tmp_path / "locked.csv"
    path.write_text("lot,weight_g\nA,1\n")
    monkeypatch.setattr("pathlib.Path.open", refuse)
    with pytest.raises(InputError, match="You may not read this file"):
        read_table(path, known=KNOWN, required=REQUIRED)
    with pytest.raises(InputError, match="This is a folder"):
        read_table(tmp_path, known=KNOWN, required=REQUIRED)


# Signs of numbers


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ("lot;weight_g\nA;12,4\nB;3\n", [12.4, 3.0]),
        ("lot;weight_g\nA;12.4\nB;3\n", [12.4, 3.0]),
        ("lot\tweight_g\nA\t12,4\nB\t3\n", [12.4, 3.0]),
        ("lot;weight_g\nA;1.234,5\nB;1.234\n", [1234.5, 1234.0]),
        ("lot;weight_g\nA;0,125\nB;1,250\n", [0.125, 1.25]),
        ("lot;weight_g\nA;12.5\nB;1.234\n", [12.5, 1.234]),
        ('lot,weight_g\nA,"1,234.5"\nB,"1,234"\n', [1234.5, 1234.0]),
        ('lot,weight_g\nA,12.5\nB,"1,234"\n', [12.5, 1234.0]),
        ('lot,weight_g\nA,"12,345,678"\nB,1.234\n', [12345678.0, 1.234]),
        ('lot,weight_g\nA,"12,4"\nB,"3,25"\n', [12.4, 3.25]),
        ("lot,weight_g\nA,1.234\nB,2.345\n", [1.234, 2.345]),
    ],
)
def test_signs_of_numbers_are_found_where_the_file_shows_them(table, content, expected):
    assert numbers_of(table, content) == expected


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ('lot,weight_g\nA,"1,234"\nB,200\n', "two ways. Write 1234 or 1.234."),
        ("lot;weight_g\nA;1.234\nB;200\n", "Write 1234 or 1.2340."),
        ("lot;weight_g\nA;1,234\nB;200\n", "Write 1234 or 1.2340."),
        ("lot\tweight_g\nA\t1.234\nB\t200\n", "Write 1234 or 1.2340."),
        ("lot;weight_g\nA;12,4\nB;12.4\n", 'the decimal sign is ".". Write 12.4.'),
        ('lot,weight_g\nA,"1,234"\nB,12.5\nC,"12,5"\n', "can be read in two ways"),
    ],
)
def test_numbers_that_can_be_two_things_are_refused(table, content, words):
    messages = numbers_of(table, content)
    assert any(words in message for message in messages if isinstance(message, str)), messages


def test_what_a_refusal_says_to_write_is_then_read(table):
    assert numbers_of(table, "lot;weight_g\nA;1.2340\nB;200\n") == [1.234, 200.0]


def test_the_decimal_sign_is_seen_in_the_single_weights_of_a_cell(table):
    assert table('lot;weight_g\nA;"20,4;20,2"\n').decimal == ","


def test_own_columns_and_words_do_not_tell_the_decimal_sign(table):
    assert table("lot;weight_g;note;mine\n1,5;2;3,5;4,5\n").decimal == "."


def test_what_was_assumed_of_signs_is_said(table):
    assert table("lot;weight_g\nA;1.234,5\nB;1.234\n").assumed == (
        'Read with ";" between cells and "," as decimal sign.',
        "Read numbers such as 1.234 as thousands: the other numbers show which sign is the decimal one.",
    )
    assert table("lot,weight_g\nA,1.5\n").assumed == ()


# Dates


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (["2026-04-18", "2026-4-8"], ["2026-04-18", "2026-04-08"]),
        (["2026-04-18 00:00:00", "2026-04-18T13:05"], ["2026-04-18", "2026-04-18"]),
        (["4/18/2026", "3/4/2026"], ["2026-04-18", "2026-03-04"]),
        (["18/4/2026", "3/4/2026"], ["2026-04-18", "2026-04-03"]),
        (["3.4.2026", ""], ["2026-04-03", ""]),
        (["3/3/2026", "2026-03-04"], ["2026-03-03", "2026-03-04"]),
    ],
)
def test_dates_are_read_where_they_can_be_one_thing_only(table, written, expected):
    found = table("lot,weight_g,test_date\n" + "".join(f"A,1,{text}\n" for text in written))
    problems = []
    assert [Cells(found, row, problems).date("test_date") for row in found.rows] == expected
    assert not problems


@pytest.mark.parametrize(
    ("written", "words"),
    [
        (["3/4/2026"], "two ways"),
        (["18/4/2026", "4/18/2026", "3/4/2026"], "two ways"),
        (["2026-02-30"], "no day of the calendar"),
        (["31.4.2026"], "no day of the calendar"),
        (["0226-04-18"], "lies in the year 226"),
        (["4/18/26"], "is not a date"),
        (["yesterday"], "is not a date"),
        (["46130"], "is not a date"),
        (["2026-04"], "is not a date"),
        (["٢٠٢٦-04-18"], "is not a date"),
    ],
)
def test_dates_that_are_none_or_two_are_refused(table, written, words):
    found = table("lot,weight_g,test_date\n" + "".join(f"A,1,{text}\n" for text in written))
    problems = []
    values = [Cells(found, row, problems).date("test_date") for row in found.rows]
    assert any(words in problem.message for problem in problems)
    assert "" in values
    assert {problem.column for problem in problems} == {"test_date"}


def test_dates_of_own_columns_do_not_tell_the_order(table):
    assert table("lot,weight_g,test_date,my_date\nA,1,3/4/2026,18/4/2026\n").date_order == ""


# Cells


def cells_of(table, problems, **texts):
    found = table(",".join(["lot", "weight_g", *texts]) + "\nA,1," + ",".join(texts.values()) + "\n")
    return Cells(found, found.rows[0], problems)


@pytest.mark.parametrize("word", ["yes", "Y", "TRUE", "1", "on"])
def test_words_for_yes(word):
    assert yes_no(word) is True


@pytest.mark.parametrize("word", ["no", "N", "FALSE", "0", "off"])
def test_words_for_no(word):
    assert yes_no(word) is False


def test_neither_yes_nor_no_is_said():
    with pytest.raises(ValueError, match=r'^"maybe" is neither yes nor no\. Write yes or no\.$'):
        yes_no("maybe")


@pytest.mark.parametrize(
    ("limits", "words"),
    [
        ({"low": 2}, "it must be at least 2."),
        ({"high": 0}, "it must be at most 0."),
        ({"above": 1}, "it must be above 1."),
        ({"above": 1, "high": 5}, "it must be above 1 and at most 5."),
        ({"low": 2, "high": 5}, "it must lie between 2 and 5."),
    ],
)
def test_limits_of_a_number_are_said(table, limits, words):
    problems = []
    assert cells_of(table, problems, turns="1").number("turns", what="a number of turns", **limits) is None
    assert problems[0].message == f'"1" is not a number of turns: {words}'


def test_empty_cells_give_the_default_or_a_problem(table):
    problems = []
    cells = cells_of(table, problems, turns="")
    assert cells.number("turns", default=28.0) == 28.0
    assert cells.number("nowhere") is None
    assert cells.text("note", "none") == "none"
    assert not problems
    found = table("lot,weight_g,turns\n,,1\n")
    cells = Cells(found, found.rows[0], problems)
    assert (cells.text("lot"), cells.number("weight_g")) == ("", None)
    assert [problem.column for problem in problems] == ["lot", "weight_g"]
    assert {problem.message for problem in problems} == {"The cell is empty. Every row needs one."}


# Frames


def test_a_frame_gives_the_texts_of_a_file():
    frame = pd.DataFrame(
        {
            "Lot": ["A", 7, np.float32(1.5)],
            "weight_g": [1.0, 2, 12.25],
            "turns": [np.nan, None, 28],
            "use": [True, np.False_, pd.NA],
            "test_date": [pd.Timestamp("2026-04-18 13:00"), pd.NaT, None],
            "note": [("a", "b"), np.array([1.5, 2.0]), 10**400],
            "mine": [object, 1e300, 10**17],
        }
    )
    problems = []
    found = frame_table(frame, known=KNOWN, required=REQUIRED, problems=problems)
    assert [row.line for row in found.rows] == [1, 2, 3]
    assert [list(row.cells.values()) for row in found.rows] == [
        ["A", "1", "", "yes", "2026-04-18", "a;b", "<class 'object'>"],
        ["7", "2", "", "no", "", "1.5;2", "1e+300"],
        ["1.5", "12.25", "28", "", "", str(10**400), "1e+17"],
    ]
    assert not problems


def test_problems_of_a_frame_are_those_of_a_file():
    problems = []
    frame_table(pd.DataFrame({"lots": ["A\x1b"]}), known=KNOWN, required=REQUIRED, problems=problems)
    assert [str(problem) for problem in problems] == [
        'The column lot is missing. Is "lots" meant to be lot? Columns found: lots.',
        "The column weight_g or weight_oz is missing. Columns found: lots.",
        'line 1, column lots: "A\\x1b" holds a character that cannot be seen. Retype it.',
    ]
    with pytest.raises(InputError, match="stands 2 times"):
        frame_table(
            pd.DataFrame([[1, 2, 3]], columns=["lot", "Lot", "weight_g"]), known=KNOWN, required=REQUIRED, problems=[]
        )


# All of them


def test_after_a_thousand_problems_the_rest_is_announced_not_listed(table):
    for rows in ("A\n" * 5000, "A,1\n" + "A\x1b,1\n" * 5000, '"A"x,1\n' * 5000, "A\x1b,1\n" * 999 + "A\n" * 5000):
        messages = problems_of(table, "lot,weight_g\n" + rows)
        assert len(messages) == MOST_PROBLEMS + 1
        assert "more problems" in messages[-1]
    assert len(problems_of(table, "lot,weight_g\n" + "A\n" * (MOST_PROBLEMS - 1))) == MOST_PROBLEMS - 1


@pytest.mark.parametrize(
    "content",
    [
        "lot" + "," * 300_000 + "\nA" + "," * 300_000 + "\n",
        ",".join(f"column{i}" for i in range(50_000)) + "\n",
        "lot,weight_g\n" + 'A,"' + 'x","1"x\n' * 100_000,
        "lot,weight_g\n" + '"' * 1_000_000,
        "lot,weight_g\n" + "\u0301\u0323" * 60_000 + ",1\n",
        "#\n" * 100_000,
    ],
    ids=["separators", "columns", "broken quotes", "quotes", "accents", "comments"],
)
def test_no_file_keeps_the_reader_busy(table, content):
    """Contents made to be slow: anything that takes the square of their length would need minutes."""
    start = time.perf_counter()
    with contextlib.suppress(InputError):
        numbers_of(table, content)
    assert time.perf_counter() - start < 10


letters = st.characters(codec="utf-8", categories=["L", "N", "P", "S"])
cell = st.text(alphabet=st.one_of(st.sampled_from(',;\t"#\n\r.- 01'), letters), max_size=12)


@given(
    rows=st.lists(st.tuples(cell, cell, cell), min_size=1, max_size=6),
    separator=st.sampled_from(",;\t"),
    end=st.sampled_from(["\n", "\r\n", "\r"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
@settings(max_examples=200, deadline=None)
def test_what_a_csv_writer_writes_is_read_back_to_the_letter(tmp_path_factory, rows, separator, end, encoding):
    rows = [[text.strip() for text in row] for row in rows]
    rows = [row for row in rows if any(row) and row[0][:1] != "#"]
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=separator, lineterminator=end, quoting=csv.QUOTE_ALL)
    writer.writerows([["lot", "weight_g", "note"], *rows])
    path = tmp_path_factory.mktemp("any") / "table.csv"
    path.write_bytes(stream.getvalue().encode(encoding))
    try:
        found = read_table(path, known=KNOWN, required=REQUIRED)
    except InputError as error:
        unseen = any(tables.CONTROL.search(text) for row in rows for text in row)
        assert unseen or not rows, error
        return
    assert [list(row.cells.values()) for row in found.rows] == [list(map(composed, row)) for row in rows]


@given(st.binary(max_size=200))
@settings(max_examples=300, deadline=None)
def test_any_bytes_are_a_table_or_a_sentence(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("any") / "table.csv"
    path.write_bytes(data)
    try:
        read_table(path, known=KNOWN, required=REQUIRED)
    except InputError as error:
        assert all(problem.message.endswith((".", "?")) for problem in error.problems)


def test_near_names_are_found_whatever_the_capitals():
    assert near("CACH_G", ["catch_g", "turns"]) == "catch_g"
    assert near("zzz", ["catch_g", "turns"]) is None


# Two ways to read the same text: at once, and line by line where a comment or a broken row asks for it


PIECES = st.sampled_from(
    [
        *("lot,weight_g\n", "A,1\n", '"A, x",2\n', '"two\nlines",3\r\n', "# remark\n", '# "remark\n', '"# quoted",x\n'),
        *("\n", ",,\n", " , \n", 'B,"4"\n', 'C,5" wide\n', '"D"x,6\n', '"open,7\n', "E;8\r", "\tF,9\n", "#,1\n"),
    ]
)


@settings(max_examples=300, deadline=None)
@given(st.lists(PIECES, max_size=8).map("".join))
def test_read_at_once_or_line_by_line_a_text_is_the_same(text):
    quick = csv_text._at_once(text, ",")
    if quick is None:
        return
    problems = []
    slow = csv_text._line_by_line(text, ",", "table.csv", problems)
    assert not problems
    assert quick[0] == slow[0]
    assert [line for line, _ in quick[1]] == [line for line, _ in slow[1]]


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.sampled_from(["1", "2.5", "0", "007", "1.234", "1e3", "1,234.5", "-1", "", "3\n4", "x", "9" * 16]),
        min_size=1,
    )
)
def test_numbers_read_at_once_or_one_by_one_are_the_same(texts):
    def read(pattern):
        table = Table("t.csv", ("turns",), range(2, 2 + len(texts)), {"turns": list(texts)})
        reader = trials_file._Reader(table, None, problems := [])
        reader.readable_at_once = lambda *_: pattern and trials_file._Reader.readable_at_once(reader, *_)
        return reader.numbers("turns", default=28.0, above=0, high=1e5, what="a number"), problems

    quick, slow = read(True), read(False)
    np.testing.assert_array_equal(quick[0], slow[0])
    assert quick[1] == slow[1]


def test_a_table_of_thousands_of_columns_is_refused(table):
    with pytest.raises(InputError, match="not a table kept by hand"):
        table(",".join(f"c{i}" for i in range(20_000)) + "\n1\n")


def test_a_row_of_empty_quotes_is_blank_where_a_comment_holds_a_quote(table):
    assert table('# 12" wide\nlot,weight_g\n"",""\nA,1\n').cells["lot"] == ["A"]
