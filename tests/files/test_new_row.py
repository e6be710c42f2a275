"""What is added to a log leaves every old row as it was, whatever wrote it. All values are invented."""

import pytest
from hypothesis import example, given, settings, strategies as st

from predictor import InputError, read_trials
from predictor.files.form import form_of
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row, confirm, leave_out, undo_last
from predictor.files.table import read_table
from predictor.files.text import composed
from tests.refused import problems_of

CATCH = {"box": "small", "lot": "A", "setting": "14", "catch_g": 61.2}
HEADER = "box,lot,setting,catch_g"
HEAD = "box;lot;setting;catch_g\n"


def log(tmp_path, data):
    path = tmp_path / "trials.csv"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def read(path):
    """Every row as the reader gives it; the sentence where it refuses."""
    try:
        trials = read_trials(path)
    except InputError as error:
        return [(each.line, each.column, each.message) for each in error.problems]
    columns = (trials.box, trials.lot, trials.setting, trials.opening, trials.catch_g, trials.turns, trials.fill_pct)
    words = (trials.date, trials.rows_g, trials.operator, trials.line, trials.note)
    return [tuple(map(repr, row)) for row in zip(*columns, *words, strict=True)]


WRITTEN = {
    "a point in a setting": (HEAD + "small;A;17.5;60\n", '18.5;"61.2"'),
    "a comma in a setting": (HEAD + "small;A;17,5;60\n", '18,5;"61,2"'),
    "both in settings": (HEAD + "small;A;17,5;60\nsmall;A;17.5;60\n", '18.5;"61.2"'),
    "whole numbers": (HEAD + "small;A;17;60\n", '18,5;"61,2"'),
    "no catch yet": (HEAD, '18,5;"61,2"'),
    "decimal commas": (HEAD + "small;A;17;60,5\n", '18,5;"61,2"'),
    "decimal points": (HEAD + "small;A;17;60.5\n", '18.5;"61.2"'),
    "a point at the end": (HEAD + "small;A;17;60.\n", '18.5;"61.2"'),
    "an exponent": (HEAD + "small;A;17;6.0E+01\n", '18.5;"61.2"'),
    "thousands": (HEAD + "small;A;17;1.234,5\n", '18,5;"61,2"'),
    "tabs and whole numbers": (HEAD.replace(";", "\t") + "small\tA\t17\t60\n", '18.5\t"61.2"'),
    "tabs and commas": (HEAD.replace(";", "\t") + "small\tA\t17\t60,5\n", '18,5\t"61,2"'),
    "tabs and a comma in a setting": (HEAD.replace(";", "\t") + "small\tA\t17,5\t60\n", '18,5\t"61,2"'),
    "commas and whole numbers": (HEAD.replace(";", ",") + "small,A,17,60\n", '18.5,"61.2"'),
    "commas and quoted decimal commas": (HEAD.replace(";", ",") + 'small,A,17,"60,5"\n', '"18,5","61,2"'),
}


@pytest.mark.parametrize(("data", "cells"), WRITTEN.values(), ids=WRITTEN)
def test_a_catch_is_written_with_the_sign_that_keeps_the_old_ones(tmp_path, data, cells):
    path = log(tmp_path, data)
    before = read(path) if "small" in data else []
    add_row(TRIALS, path, {**CATCH, "setting": 18.5})
    assert path.read_text().splitlines()[-1].endswith(cells)
    assert read(path)[:-1] == before
    assert (read_trials(path).opening[-1], read_trials(path).catch_g[-1]) == (18.5, 61.2)


@pytest.mark.parametrize(
    "data",
    [
        HEAD + "small;A;17;1.234\n",
        HEAD.replace(";", "\t") + "small\tA\t17\t1,234\n",
        HEAD.replace(";", ",") + 'small,A,17,"1,234"\n',
    ],
)
def test_a_catch_that_would_settle_what_another_number_means_is_refused(tmp_path, data):
    path = log(tmp_path, data)
    (problem,) = problems_of(lambda: add_row(TRIALS, path, CATCH))
    assert problem.message.startswith("Nothing was saved.")
    assert path.read_text() == data


def test_rows_that_do_not_fit_the_header_never_come_to_fit_by_an_added_column(tmp_path):
    """60,5 without quotes is two cells: with one more column the catch would be 60 g, and the note 5."""
    path = log(tmp_path, "box,lot,setting,catch_g\nsmall,A,14,60,5\nsmall,A,14,61.5\n")
    add_row(TRIALS, path, {**CATCH, "note": "new"})
    assert path.read_text().splitlines()[0] == "box,lot,setting,catch_g,note"
    assert [each.line for each in problems_of(lambda: read_trials(path))] == [2]


def test_cells_beyond_the_named_columns_get_no_name(tmp_path):
    path = log(tmp_path, "box,lot,setting,catch_g,,\nsmall,A,14,60.5,28,\n")
    before = read(path)
    add_row(TRIALS, path, {**CATCH, "turns": 40.0})
    assert path.read_text().splitlines()[0] == "box,lot,setting,catch_g,,turns"
    assert [each[1:] for each in read(path)] == [each[1:] for each in before]


@pytest.mark.parametrize(
    ("header", "rest"),
    [("box,lot,setting,catch_g,use,note,,,,", ",yes,wet"), ("box,lot,setting,catch_g,,,,,,", ""), (HEADER, "")],
)
def test_rows_are_marked_in_a_table_with_columns_without_a_name(tmp_path, header, rest):
    """Rows may end where the names end."""
    path = log(tmp_path, f"{header}\nsmall,A,14,60.5{rest}\nsmall,A,15,61.5{rest}\n")
    note = "wet; " if rest else ""
    assert undo_last(TRIALS, path)[0] == 3
    assert confirm(TRIALS, path, [2])[0]["catch_g"] == "60.5"
    assert leave_out(TRIALS, path, [2], "slip")[0]["lot"] == "A"
    trials = read_trials(path)
    assert trials.use.tolist() == [False, False]
    assert trials.note.tolist() == [f"{note}slip", f"{note}undone"]
    assert trials.confirmed.tolist() == [True, False]
    assert trials.catch_g.tolist() == [60.5, 61.5]


@pytest.mark.parametrize("word", ["no", "No", "N", "n", "FALSE", "false", "f", "0", "off"])
def test_what_is_not_used_is_not_undone_again(tmp_path, word):
    data = f"box,lot,setting,catch_g,use,note\nsmall,A,14,60.5,yes,\nsmall,A,14,61.5,{word},why\n"
    path = log(tmp_path, data)
    assert undo_last(TRIALS, path)[0] == 2
    assert path.read_text().splitlines()[2] == data.splitlines()[2]
    with pytest.raises(InputError, match="nothing to undo"):
        undo_last(TRIALS, path)


@pytest.mark.parametrize("word", ["yes", "Y", "", "true", "1"])
def test_what_is_used_is_undone_and_keeps_its_note(tmp_path, word):
    path = log(tmp_path, f'box,lot,setting,catch_g,use,note\nsmall,A,14,61.5,{word},"windy, ""cold"""\n')
    assert undo_last(TRIALS, path)[1]["note"] == 'windy, "cold"'
    assert read_trials(path).note.tolist() == ['windy, "cold"; undone']
    leave_out(TRIALS, path, [2], "slip")
    assert read_trials(path).note.tolist() == ['windy, "cold"; undone; slip']


def test_a_log_of_spreadsheets_keeps_their_line_ends_though_one_row_has_another(tmp_path):
    path = log(tmp_path, "box,lot,setting,catch_g,use,note\r\nsmall,A,14,60.5,,\nsmall,A,14,61.5,,\r\n")
    add_row(TRIALS, path, CATCH)
    assert path.read_bytes().endswith(b'61.2,,""\r\n')
    undo_last(TRIALS, path)
    assert path.read_bytes().endswith(b'61.2,no,"undone"\r\n')
    confirm(TRIALS, path, [2])
    lines = path.read_bytes().splitlines(keepends=True)
    assert [line.endswith(b"\r\n") for line in lines] == [True] * 4


def test_a_line_end_within_a_note_is_not_that_of_the_log(tmp_path):
    path = log(tmp_path, 'box,lot,setting,catch_g,note\nsmall,A,14,60.5,"wet\r\nand cold"\n')
    add_row(TRIALS, path, CATCH)
    assert path.read_bytes().endswith(b'61.2,""\n')
    assert not path.read_bytes().endswith(b"\r\n")


def test_old_dates_keep_their_order(tmp_path):
    path = log(tmp_path, "box,lot,setting,catch_g,date\nsmall,A,14,60.5,13/4/2026\nsmall,A,14,61,5/4/2026\n")
    before = read(path)
    with pytest.raises(InputError, match="Nothing was saved"):
        add_row(TRIALS, path, {**CATCH, "date": "4/13/2026"})
    add_row(TRIALS, path, {**CATCH, "date": "2026-04-13"})
    assert read(path)[:2] == before


# Random logs, as people and programs write them


names = st.text(st.sampled_from("Ab#;,\"' .é\u037e=-\n"), min_size=1, max_size=6).map(lambda text: "x" + text)
first_names = st.text(st.sampled_from('#Ab ;,"é'), min_size=1, max_size=5).filter(lambda text: text.strip())


@st.composite
def logs(draw):
    """A log in one dialect, often with a number that only one sign reads."""
    separator = draw(st.sampled_from([",", ";", "\t"]))
    comma = separator != "," and draw(st.booleans())
    newline = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    header = ["box", "lot", "setting", "catch_g"]
    header += draw(
        st.lists(st.sampled_from(["note", "use", "turns", "fill_pct", "rows_g", "mine", "date"]), unique=True)
    )
    header = draw(st.permutations(header))
    unnamed = draw(st.integers(0, 3))
    numbers = ["60", "7", "12.5", "12,5", "1.234", "1,234", "1.234,5", "1,234.5", "3.", ".5", "1,2E+01", "1.2E+01"]
    # of many kinds a file is mostly refused; of one or two it mostly shows a sign, or depends on one that it does not
    mine = draw(st.lists(st.sampled_from(numbers), min_size=1, max_size=2))
    mine += ["60", "12,5" if comma else "12.5", ""][: draw(st.integers(0, 3))]
    cells = {
        "box": first_names,
        "lot": first_names,
        "setting": st.sampled_from([*mine, "14", "B"]).map(lambda text: text or "14"),
        "catch_g": st.sampled_from([*mine, "60"]).map(lambda text: text or "7"),
        "note": names | st.just(""),
        "use": st.sampled_from(["", "yes", "N", "0", "no"]),
        "turns": st.sampled_from(["", "28", *mine]),
        "fill_pct": st.sampled_from(["", "50", *mine]),
        "rows_g": st.just(""),
        "mine": names | st.sampled_from(numbers),
        "date": st.sampled_from(["", "2026-04-18", "18.4.2026", "3/4/2026", "13/4/2026", "4/13/2026"]),
    }

    def written(cell):
        special = set(cell) & {separator, '"', "\n", "\r"} or cell.lstrip()[:1] == "#"
        return '"' + cell.replace('"', '""') + '"' if special or draw(st.integers(0, 9)) == 0 else cell

    lines = [separator.join([*header, *[""] * unnamed])]
    for _ in range(draw(st.integers(0, 4))):
        row = [written(draw(cells[name])) for name in header]
        row += [""] * draw(st.sampled_from([0, unnamed]))
        lines.append(separator.join(row))
        if draw(st.integers(0, 9)) == 0:
            lines.append(draw(st.sampled_from(['# a "remark', "", separator * 2, separator.join([*row, "more"])])))
    text = newline.join(lines) + draw(st.sampled_from([newline, newline, ""]))
    return text.encode(draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"])))


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@given(logs())
@example("box;lot;setting;catch_g\nsmall\u037eA;14;60\n".encode())
def test_what_adds_to_a_log_understands_it_as_what_reads_it(tmp_path_factory, data):
    """Two ways through the same bytes: the signs, the rows and their cells are the same, or both refuse."""
    path = log(tmp_path_factory.mktemp("log"), data)
    try:
        form = form_of(data, "", TRIALS)
    except InputError:
        assert refused(read(path))
        return
    table = read_table(path, TRIALS.header)
    signs = form.seen.signs(form.records.separator)
    assert table.signs == signs
    fitting = [k for k, cells in enumerate(form.cells_of) if k and len(cells) in form.widths]
    assert list(table.lines) == [form.records.rows[k] for k in fitting]
    for name, cells in table.cells.items():
        place = form.columns.index(name)
        assert list(cells) == [composed(form.cells_of[k][place].strip()) for k in fitting]


changes = st.one_of(
    st.tuples(st.just("undo"), st.none()),
    st.tuples(st.just("confirm"), st.integers(2, 6)),
    st.tuples(st.just("leave out"), st.integers(2, 6)),
    st.tuples(
        st.just("add"),
        st.fixed_dictionaries(
            {
                "box": first_names,
                "lot": first_names,
                "setting": st.sampled_from(["14", "3-5", "17.5", "17,5", 17.5, 17.0, 0.125]),
                "catch_g": st.sampled_from([61.0, 61.2, 1.234, 1234.0, 0.001, 12345.678, 0.0]),
            },
            optional={"note": names, "turns": st.sampled_from([28.0, 27.5]), "rows_g": st.just((20.5, 40.0))},
        ),
    ),
)


@pytest.mark.slow
@settings(max_examples=600, deadline=None)
@given(logs(), st.lists(changes, min_size=1, max_size=4))
@example(b"box;lot;setting;catch_g\nsmall;A;17.5;60\n", [("add", {**CATCH})])
@example(b"box;lot;setting;catch_g\nsmall;A;17;60.\n", [("add", {**CATCH})])
def test_whatever_is_done_to_a_log_old_rows_mean_the_same(tmp_path_factory, data, steps):
    """The old rows are as before and the new one as meant, or there is a sentence and the file has the same bytes."""
    path = log(tmp_path_factory.mktemp("log"), data)
    for what, value in steps:
        bytes_before, before = path.read_bytes(), read(path)
        try:
            if what == "undo":
                undo_last(TRIALS, path)
            elif what == "confirm":
                confirm(TRIALS, path, [value])
            elif what == "leave out":
                leave_out(TRIALS, path, [value], "slip")
            else:
                add_row(TRIALS, path, value)
        except InputError as error:
            assert path.read_bytes() == bytes_before
            assert all(each.message.endswith((".", "?")) for each in error.problems)
            continue
        after = read(path)
        if refused(before) and not nothing_in(before):  # nothing that is refused may come to be read
            # a row that was marked unused has a word in that column that is read
            places = [each[:2] for each in before]
            assert [each[:2] for each in after] in (places, [each for each in places if each[1] != "use"])
        elif what != "add":
            assert [each[:-1] for each in after] == [each[:-1] for each in before]
            assert all(new[-1].startswith(old[-1][:-1]) for new, old in zip(after, before, strict=True))
        else:
            assert after[:-1] == ([] if nothing_in(before) else before)
            assert_meant(path, value)


def refused(rows):
    """Whether the reader has refused a file."""
    return bool(rows) and len(rows[0]) == 3


def nothing_in(rows):
    """Whether there is a header alone."""
    return refused(rows) and "no row below" in rows[0][2]


def assert_meant(path, value):
    """The last row is what was to be added."""
    trials = read_trials(path)
    assert trials.catch_g[-1] == pytest.approx(value["catch_g"], rel=1e-8)
    assert trials.turns[-1] == value.get("turns", 28)
    assert trials.rows_g[-1] == value.get("rows_g")
    if isinstance(value["setting"], float):
        assert trials.opening[-1] == value["setting"]
