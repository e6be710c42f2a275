"""Tables as people and spreadsheets save them. All contents are invented."""

# One case on each line reads better than wrapped cases.

import contextlib
import csv
import io
import sys
import time
from functools import partial
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings, strategies as st

from predictor.domain.result import Remark
from predictor.errors import MOST_PROBLEMS, InputError, Problems, near
from predictor.files.cells import Cells
from predictor.files.columns import Columns, yes_no
from predictor.files.split import split
from predictor.files.table import Header, Table, frame_table, read_table
from predictor.files.text import composed
from predictor.numbers import Range
from predictor.unseen import UNSEEN
from tests.refused import places_of, refusals

HEADER = Header(
    words=frozenset({"lot", "test_date", "use", "note"}),
    numbers=frozenset({"weight_g", "weight_oz", "turns", "fill_pct"}),
    required=(("lot",), ("weight_g", "weight_oz")),
)
ANY = Range()


@pytest.fixture
def table(tmp_path):
    """Reads a table from the text or bytes of a file."""

    def read(content):
        path = tmp_path / "table.csv"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        found = read_table(path, HEADER)
        found.problems.check()
        return found

    return read


def rows_of(table):
    """The cells of each row."""
    return [list(row) for row in zip(*table.cells.values(), strict=True)]


def problems_of(read, content):
    with pytest.raises(InputError) as caught:
        read(content)
    return [str(problem).split("table.csv", 1)[1].strip() for problem in caught.value.problems]


def numbers_of(read, content, column="weight_g"):
    """The numbers of a column, or the messages if there are any."""
    found = read(content)
    values = Columns(found).numbers(column, "a number", ANY).tolist()
    return [problem.message for problem in found.problems.found] or values


# Shape


def test_rows_carry_the_number_the_spreadsheet_gives_them(table):
    found = table('# about\n\nlot,weight_g,note\nA,1,"two\nlines"\n# half way\nB,2,\n,,\n"C",3,\n"","",""\n')
    assert found.lines == [4, 6, 8]
    assert rows_of(found)[0] == ["A", "1", "two\nlines"]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_rows_are_numbered_alike_for_any_line_end(table, end):
    found = table(f'# about{end}lot,weight_g,note{end}A,1,"x{end}y"{end}{end}B,2,{end}')
    assert found.lines == [3, 5]


def test_headers_in_other_capitals_and_with_blanks_are_the_same_columns(table):
    assert table(" LOT , Weight G,Test-Date\nA,1,\n").columns == ("lot", "weight_g", "test_date")


def test_own_columns_are_kept_and_named(table):
    found = table("lot,weight_g,colour of bag,field id\nA,1,red,7\n")
    assert found.columns == ("lot", "weight_g", "colour_of_bag", "field_id")
    assert found.cells["colour_of_bag"] == ["red"]
    assert not_used(found) == (("colour_of_bag", "field_id"), ())


@pytest.mark.parametrize(("own", "meant"), [("turn", "turns"), ("weight", None), ("fill", "fill_pct"), ("x", None)])
def test_own_column_that_may_be_a_slip_is_asked_about(table, own, meant):
    found = table(f"lot,weight_g,{own}\nA,1,28\n")
    assert not_used(found) == ((own,), ((own, meant),) if meant else ())


def test_a_column_that_is_there_is_never_what_another_one_was_meant_to_be(table):
    assert not_used(table("lot,weight_g,turns,turn\nA,1,28,28\n")) == (("turn",), ())


def not_used(found):
    """Columns that are not used, and what they may mean."""
    (remark,) = found.assumed
    assert remark.code == "files.not_used"
    return remark["columns"], remark["meant"]


def test_empty_columns_beyond_the_table_are_dropped(table):
    assert table("lot,weight_g,,\nA,1,,\nB,2\nC,3,,\n").columns == ("lot", "weight_g")


def test_comment_that_a_spreadsheet_put_in_quotes_is_a_comment(table):
    found = table('"# made, on a wet day",\nlot,weight_g\nA,1\n')
    assert found.lines == [3]
    assert found.assumed == ()


@pytest.mark.parametrize(
    "content",
    [
        "lot,weight_g\nA,1\n#B,2\n",
        "lot,weight_g\nA,1\n # B , 2\n",
        "lot,weight_g\nA,1\n#,2\n",
        "lot\tweight_g\tnote\nA\t1\t\n#B\t2\t\n",
        "lot,weight_g,,\nA,1,,\n#B,2,,\n",
        "lot,weight_g,,\nA,1,,\n#B,2\n",
        'lot,weight_g,note\nA,1,\n#"B",2,"wet, windy"\n',
        'lot;weight_g;note\nA;1;\n# "B";2;"wet; windy"\n',
        "lot,weight_g,note\nA,1,\n#B,2\n",
        "lot,weight_g\nA,1\n#B,2,5\n",
    ],
)
def test_comment_that_looks_like_a_row_is_said(table, content):
    assert table(content).assumed[-1] == Remark("files.row_in_comment", {"file": "table.csv", "lines": (3,)})


def test_a_table_whose_only_row_reads_as_a_comment_says_so(table):
    with pytest.raises(InputError, match=r"no row below it.*Line 2 of table.csv starts with #"):
        table("lot,weight_g\n#2,14\n")


def test_rows_in_comments_are_said_in_one_remark(table):
    assert table("lot,weight_g\nA,1\n#B,2\n# dry, windy, cold\n#C,3\n").assumed == (
        Remark("files.row_in_comment", {"file": "table.csv", "lines": (3, 5)}),
    )


@pytest.mark.parametrize(
    "comment", ["# dry, windy, cold, wet", "# made by hand,,", "# at 14:30, 2 of them", "#", "# B;2;", "# cut"]
)
def test_a_remark_with_commas_is_no_row(table, comment):
    assert table(f"lot,weight_g,note\nA,1,\n{comment}\n").assumed == ()


@pytest.mark.parametrize(
    "content",
    [
        'lot,weight_g,note\nA,1,\n"#2",2,x\n',
        'lot,weight_g,note\nA,1,\n "#2",2,x\n',
        'lot,weight_g,note\n# of "two" kinds\n"#2",2,x\n',
        'lot;weight_g;note\nA;1;\n"#2";2;x\n',
        'lot\tweight_g\tnote\nA\t1\t\n"#2"\t2\tx\n',
        'lot,weight_g,note\n"#1",1,"a\nb"\n"#2",2,x\n',
    ],
)
def test_a_name_in_quotes_may_begin_with_the_sign_of_a_comment(table, content):
    found = table(content)
    assert rows_of(found)[-1] == ["#2", "2", "x"]
    assert [each for each in found.assumed if each.code == "files.row_in_comment"] == []


def test_a_first_cell_that_is_empty_begins_no_comment(table):
    assert rows_of(table("note\tlot\tweight_g\n\t#2\t1\n")) == [["", "#2", "1"]]


def test_comments_may_hold_quotes_and_be_long(table):
    assert len(table(f'# 12" wide\n#{"x" * 200_000}\nlot,weight_g\nA,1\n')) == 1


def test_quoted_cells_behind_a_blank_are_read(table):
    assert table('lot, weight_g, note\nA, 1, "b, c"\n').cells["note"] == ["b, c"]


def test_accents_are_the_same_however_they_were_typed(table):
    found = table("lot,weight_g\ncafe\u0301,1\n")
    assert found.cells["lot"] == ["caf\u00e9"]
    frame = frame_table(pd.DataFrame({"lot": ["cafe\u0301"], "weight_g": [1]}), HEADER)
    assert frame.cells["lot"] == ["caf\u00e9"]


def test_blanks_that_do_not_break_are_blanks(table):
    found = table("lot,weight_g\n\u00a0tall\u00a0mix ,1\n")
    assert Columns(found).texts("lot") == ["tall mix"]


REFUSED = {
    "cells too many and too few": ("lot,weight_g\nA,1,2\nB\nC,3\n", "line 2; line 3"),
    "a separator at the end of a row": ("lot,weight_g\nA,1,\n", "line 2"),
    "a sign between cells that is none": ("lot;weight_g\nA;1;x\n", "line 2"),
    "a column twice": ("lot,lot,weight_g\nA,B,1\n", "line 1, column lot"),
    "a column without a name": ("lot,,weight_g\nA,B,1\n", "line 1"),
    "two columns for one thing": ("weight_g,weight_oz\n1,2\n", "line 1; line 1"),
    "columns under other names": ("lots,weight\nA,1\n", "line 1; line 1"),
    "the header again": ("lot,weight_g\nA,1\nLot , WEIGHT_G\nB,2\n", "line 3"),
    "text behind a quote": ('lot,weight_g\n"A"x,1\n"B"y,2\nC\n', "line 2; line 3; line 4"),
    "a quote that is not closed": ('lot,weight_g\nA,1\n"B,2\nC,3\n', "line 3"),
    "a cell without end": (f"lot,weight_g\nA,{'x' * 200_000}\n", "line 2"),
    "an invisible letter": ("lot,weight_g\nA\u200b,1\n", "line 2, column lot"),
    "no rows": ("lot,weight_g\n", ""),
    "letters of Latin-1": ("lot,weight_g\nA,1\nÄ,2\n".encode("latin-1"), "line 3"),
    "letters of Latin-1 after old line ends": ("lot,weight_g\rA,1\rÄ,2\r".encode("latin-1"), "line 3"),
    "UTF-16 without a mark": ("lot,weight_g\nA,1\n".encode("utf-16-le"), "line 1"),
    "UTF-16 without a mark, the other way round": ("lot,weight_g\nA,1\n".encode("utf-16-be"), "line 1"),
    "UTF-32": ("lot,weight_g\nA,1\n".encode("utf-32"), ""),
    "zero bytes": (b"lot,weight_g\nA,1\n\x00\x00\x00\x00", "line 3"),
    "a mark of UTF-16 alone": (b"\xff\xfel\x00o\x00t\x00,", ""),
    "every byte": (bytes(range(256)), "line 1"),
}  # fmt: skip


@pytest.mark.parametrize(("content", "places"), REFUSED.values(), ids=REFUSED)
def test_files_that_could_be_misread_are_refused_at_the_right_place(table, content, places):
    assert places_of(lambda: table(content)) == places


def test_the_words_of_each_refusal(table):
    refusals("refused-tables", {name: partial(table, content) for name, (content, _) in REFUSED.items()})


def test_the_decimal_comma_is_looked_for_where_fractions_are(table):
    message = problems_of(table, "lot,weight_g,turns,note\nA,61,2,28,3\n")[0]
    assert "If 61,2 is a number" in message


def test_a_missing_column_of_a_wide_table_is_answered_briefly(table):
    names = ",".join(f"column_{i}_{'x' * 100}" for i in range(500))
    assert all(len(message) < 1000 for message in problems_of(table, names + "\n" + "," * 499 + "1\n"))


# Encodings


def test_standard_input_is_read_and_named(monkeypatch):
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(b"lot,weight_g\nA,1\n")))
    found = read_table("-", HEADER)
    assert (found.problems.file, len(found)) == ("standard input", 1)


def test_a_file_larger_than_any_table_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr("predictor.files.text.LARGEST_FILE", 10)
    path = tmp_path / "big.csv"
    path.write_text("lot,weight_g\nA,1\n")
    with pytest.raises(InputError, match="larger than"):
        read_table(path, HEADER)
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(path.read_bytes())))
    with pytest.raises(InputError, match="standard input: The file is larger than"):
        read_table("-", HEADER)


@pytest.mark.parametrize("name", ["a\x00b.csv", "x" * 5000, "\x1b[31m.csv"])
def test_names_no_file_can_have_are_refused_in_printable_words(tmp_path, name):
    with pytest.raises(InputError) as caught:
        read_table(f"{tmp_path}/{name}", HEADER)
    assert str(caught.value).isprintable()


def test_a_file_that_may_not_be_read_is_said(tmp_path, monkeypatch):
    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    path = tmp_path / "locked.csv"
    path.write_text("lot,weight_g\nA,1\n")
    monkeypatch.setattr("pathlib.Path.open", refuse)
    with pytest.raises(InputError, match="You may not read this file"):
        read_table(path, HEADER)
    with pytest.raises(InputError, match="This is a folder"):
        read_table(tmp_path, HEADER)


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


TWO_WAYS = {
    "a group among commas": ('lot,weight_g\nA,"1,234"\nB,200\n', "line 2, column weight_g"),
    "a point among semicolons": ("lot;weight_g\nA;1.234\nB;200\n", "line 2, column weight_g"),
    "a comma among semicolons": ("lot;weight_g\nA;1,234\nB;200\n", "line 2, column weight_g"),
    "a point among tabs": ("lot\tweight_g\nA\t1.234\nB\t200\n", "line 2, column weight_g"),
    "both signs among semicolons": ("lot;weight_g\nA;12,4\nB;12.4\n", "line 2, column weight_g"),
    "both signs": (
        'lot,weight_g\nA,"1,234"\nB,12.5\nC,"12,5"\n',
        "line 2, column weight_g; line 4, column weight_g",
    ),
}
DATES = {
    "day or month": (["3/4/2026"], "line 2, column test_date"),
    "days and months": (
        ["18/4/2026", "4/18/2026"],
        "line 2, column test_date; line 3, column test_date",
    ),
    "no such day": (["2026-02-30"], "line 2, column test_date"),
    "no such day with points": (["31.4.2026"], "line 2, column test_date"),
    "a year of long ago": (["0226-04-18"], "line 2, column test_date"),
    "two digits of a year": (["4/18/26"], "line 2, column test_date"),
    "a word": (["yesterday"], "line 2, column test_date"),
    "the number of a day": (["46130"], "line 2, column test_date"),
    "a month": (["2026-04"], "line 2, column test_date"),
    "digits of another script": (["٢٠٢٦-04-18"], "line 2, column test_date"),
}  # fmt: skip


def read_numbers(table, content):
    found = table(content)
    Columns(found).numbers("weight_g", "a number", ANY)
    found.problems.check()


def read_dates(table, written):
    found = table("lot,weight_g,test_date\n" + "".join(f"A,1,{text}\n" for text in written))
    Columns(found).dates("test_date")
    found.problems.check()


@pytest.mark.parametrize(("content", "places"), TWO_WAYS.values(), ids=TWO_WAYS)
def test_numbers_that_can_be_two_things_are_refused(table, content, places):
    assert places_of(lambda: read_numbers(table, content)) == places


@pytest.mark.parametrize(("written", "places"), DATES.values(), ids=DATES)
def test_dates_that_are_none_or_two_are_refused(table, written, places):
    assert places_of(lambda: read_dates(table, written)) == places


def test_the_words_of_refused_numbers_and_dates(table):
    numbers = {name: partial(read_numbers, table, content) for name, (content, _) in TWO_WAYS.items()}
    dates = {name: partial(read_dates, table, written) for name, (written, _) in DATES.items()}
    refusals("refused-signs", numbers | dates)


def test_what_a_refusal_says_to_write_is_then_read(table):
    assert numbers_of(table, "lot;weight_g\nA;1.2340\nB;200\n") == [1.234, 200.0]


def test_the_decimal_sign_is_seen_in_the_single_weights_of_a_cell(table):
    assert table('lot;weight_g\nA;"20,4;20,2"\n').signs.decimal == ","


def test_own_columns_and_words_do_not_tell_the_decimal_sign(table):
    assert table("lot;weight_g;note;mine\n1,5;2;3,5;4,5\n").signs.decimal == "."


def test_what_was_assumed_of_signs_is_said(table):
    assert table("lot;weight_g\nA;1.234,5\nB;1.234\n").assumed == (
        Remark("files.signs", {"separator": ";", "decimal": ","}),
        Remark("files.thousands", {"sign": "."}),
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
    assert Columns(found).dates("test_date") == expected
    assert not found.problems.found


def test_dates_of_own_columns_do_not_tell_the_order(table):
    assert table("lot,weight_g,test_date,my_date\nA,1,3/4/2026,18/4/2026\n").signs.date_order == ""


# Cells


@pytest.mark.parametrize("word", ["yes", "Y", "TRUE", "1", "on"])
def test_words_for_yes(word):
    assert yes_no(word) is True


@pytest.mark.parametrize("word", ["no", "N", "FALSE", "0", "off"])
def test_words_for_no(word):
    assert yes_no(word) is False


def test_neither_yes_nor_no_is_said():
    with pytest.raises(ValueError, match=r'^"maybe" is neither yes nor no\. Write yes or no\.$'):
        yes_no("maybe")


def test_a_number_out_of_range_is_a_problem():
    found = Table(Problems("t.csv"), ("turns",), [2, 3], {"turns": Cells.of(["1", "3"])})
    values = Columns(found).numbers("turns", "a number of turns", Range(2))
    np.testing.assert_array_equal(values, [np.nan, 3])
    assert [(each.line, each.column) for each in found.problems.found] == [(2, "turns")]


def test_empty_cells_give_the_default_or_a_problem(table):
    columns = Columns(table("lot,weight_g,turns\nA,1,\n"))
    assert columns.numbers("turns", "a number", ANY, 28.0).tolist() == [28.0]
    assert np.isnan(columns.numbers("nowhere", "a number", ANY)).all()
    assert (columns.texts("note"), columns.wrong_rows) == ([""], set())
    columns = Columns(table("lot,weight_g,turns\nA,1,2\n,,1\n"))
    columns.texts("lot")
    columns.numbers("weight_g", "a weight", ANY)
    assert [(each.line, each.column) for each in columns.table.problems.found] == [(3, "lot"), (3, "weight_g")]
    assert columns.wrong_rows == {1}


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
    found = frame_table(frame, HEADER)
    assert found.lines == [1, 2, 3]
    assert rows_of(found) == [
        ["A", "1", "", "yes", "2026-04-18", "a;b", "<class 'object'>"],
        ["7", "2", "", "no", "", "1.5;2", "1e+300"],
        ["1.5", "12.25", "28", "", "", str(10**400), "1e+17"],
    ]
    assert not found.problems.found


def test_a_frame_without_columns_or_without_a_readable_header_is_refused():
    for frame in (pd.DataFrame(), pd.DataFrame({"lot\x1b": ["A"]})):
        with pytest.raises(InputError):
            frame_table(frame, HEADER).problems.check()
    assert len(frame_table(pd.DataFrame({"lot": [], "weight_g": []}), HEADER)) == 0


def test_numbers_as_text_in_a_frame_are_read_as_in_a_file():
    frame = pd.DataFrame({"lot": ["A", "B"], "weight_g": ["12,4", "3,25"]})
    assert Columns(frame_table(frame, HEADER)).numbers("weight_g", "a weight", ANY).tolist() == [12.4, 3.25]


def test_problems_of_a_frame_are_those_of_a_file():
    found = frame_table(pd.DataFrame({"lots": ["A\x1b"]}), HEADER)
    assert [str(problem) for problem in found.problems.error().problems] == [
        'The column lot is missing. Is "lots" meant to be lot? Columns found: lots.',
        "The column weight_g or weight_oz is missing. Columns found: lots.",
        "line 1, column lots: The cell contains an invisible character. Clear the cell and retype it.",
    ]
    with pytest.raises(InputError, match="appears 2 times"):
        frame_table(pd.DataFrame([[1, 2, 3]], columns=["lot", "Lot", "weight_g"]), HEADER).problems.check()


# All of them


def test_after_some_thousand_problems_the_rest_is_announced_not_counted(table):
    n = MOST_PROBLEMS + 100
    for rows in ("A\n" * n, "A,1\n" + "A\x1b,1\n" * n, '"A"x,1\n' * n, "A\x1b,1\n" * 999 + "A\n" * n):
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
    start = time.process_time()
    with contextlib.suppress(InputError):
        numbers_of(table, content)
    assert time.process_time() - start < 10


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
        found = read_table(path, HEADER)
        found.problems.check()
    except InputError as error:
        unseen = any(UNSEEN.search(text) for row in rows for text in row)
        assert unseen or not rows, error
        return
    assert rows_of(found) == [list(map(composed, row)) for row in rows]


@given(st.binary(max_size=200))
@settings(max_examples=300, deadline=None)
def test_any_bytes_are_a_table_or_a_sentence(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("any") / "table.csv"
    path.write_bytes(data)
    try:
        read_table(path, HEADER).problems.check()
    except InputError as error:
        assert all(problem.message.endswith((".", "?")) for problem in error.problems)


def test_near_names_are_found_whatever_the_capitals():
    assert near("CACH_G", ["catch_g", "turns"]) == "catch_g"
    assert near("zzz", ["catch_g", "turns"]) is None


# Comments are taken out of the text that the CSV reader gets; a text without any is read as it is


PIECES = st.sampled_from(
    [
        *("lot,weight_g\n", "A,1\n", '"A, x",2\n', '"two\nlines",3\r\n', "# remark\n", '# "remark\n', '"# quoted",x\n'),
        *("\n", ",,\n", " , \n", 'B,"4"\n', 'C,5" wide\n', '"D"x,6\n', "E;8\r", "\tF,9\n", "#,1\n", "sep=,\n"),
    ]
)


@settings(max_examples=300, deadline=None)
@given(st.lists(PIECES, max_size=8).map("".join), st.sampled_from(["# plain\n", '# 12", wide, "\n', "#\r\n"]))
def test_a_comment_above_moves_the_rows_and_changes_nothing_else(text, comment):
    plain, below = (split(each, HEADER.known, Problems("t.csv")) for each in (text, comment + text))
    if text.startswith("sep="):
        return  # such a line means something at the top only
    assert below.cells == plain.cells
    assert below.rows == [row + 1 for row in plain.rows]
    assert below.remarks[1:] == [(row + 1, said) for row, said in plain.remarks]


@settings(max_examples=300, deadline=None)
@given(st.lists(PIECES, max_size=8).map("".join))
def test_each_record_is_where_it_is_said_to_be(text):
    """The text of its span alone gives its cells again, and what is between spans gives none."""
    found = split(text, HEADER.known, Problems("t.csv"))
    at = 0
    for (start, end), cells in zip(found.spans(), found.cells, strict=True):
        assert list(csv.reader([text[start:end]], delimiter=found.separator, skipinitialspace=True)) == [cells]
        assert at <= start < end
        at = end
    assert len(found.spans()) == len(found)


def test_a_cell_of_separators_only_is_a_cell(table):
    assert rows_of(table('"lot","weight_g","note"\nA,1,\n"","",";"\n')) == [["A", "1", ""], ["", "", ";"]]


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.sampled_from(["1", "2.5", "0", "007", "1.234", "1e3", "1,234.5", "-1", "", "3\n4", "x", "9" * 16]),
        min_size=1,
    )
)
def test_numbers_read_at_once_or_one_by_one_are_the_same(texts):
    def read(cells):
        found = Table(Problems("t.csv"), ("turns",), range(2, 2 + len(cells)), {"turns": Cells.of(cells)})
        values = Columns(found).numbers("turns", "a number", Range(0, 1e5, above=True), 28.0)
        return values.tolist(), [(each.line, each.message) for each in found.problems.found]

    each_alone = [read([text]) for text in texts]
    values, problems = read(texts)
    np.testing.assert_array_equal(values, [value for (value,), _ in each_alone])
    assert problems == [(i, said) for i, (_, found) in enumerate(each_alone, 2) for _, said in found]


def test_a_table_of_thousands_of_columns_is_refused(table):
    with pytest.raises(InputError, match="20,000 columns"):
        table(",".join(f"c{i}" for i in range(20_000)) + "\n1\n")


def test_a_row_of_empty_quotes_is_blank_where_a_comment_holds_a_quote(table):
    assert table('# 12" wide\nlot,weight_g\n"",""\nA,1\n').cells["lot"] == ["A"]


UNITS_WITH_FRACTIONS = ("g", "oz", "lb", "kg", "pct", "ac", "ha", "ft", "m", "ft2", "m2")


@pytest.mark.parametrize("unit", UNITS_WITH_FRACTIONS)
def test_a_decimal_comma_outside_quotes_is_named_in_a_column_of_any_unit(tmp_path, unit):
    path = tmp_path / "table.csv"
    path.write_text(f"lot,size_{unit}\nA,3,5\n", encoding="utf-8")
    header = Header(words=frozenset({"lot"}), numbers=frozenset({f"size_{unit}"}), required=(("lot",),))
    (problem,) = read_table(path, header).problems.found
    assert "write 3.5" in problem.message
