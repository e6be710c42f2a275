"""Catches are added in the form a file has, whatever saved it. Weights are invented."""

from functools import partial

import pytest
from hypothesis import example, given, settings, strategies as st

from predictor import InputError, read_trials
from predictor.files.cut import comment_out_last, cut_short
from predictor.files.kinds import TRIALS
from predictor.files.log import add_row, begin_log, confirm, undo_last
from tests.refused import places_of, refusals

CATCH = {"box": "small", "lot": "A", "setting": "14", "catch_g": 61.2}


def log(tmp_path, data):
    path = tmp_path / "trials.csv"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def test_a_new_log_is_begun_once(tmp_path):
    path = tmp_path / "trials.csv"
    assert begin_log(TRIALS, path)
    assert not begin_log(TRIALS, path)
    assert path.read_text() == TRIALS.new_header + "\n"
    assert add_row(TRIALS, path, CATCH) == 2
    assert read_trials(path).catch_g.tolist() == [61.2]


@pytest.mark.parametrize(
    "data",
    [
        "box,lot,setting,catch_g\nsmall,A,14,60.5",
        "box,lot,setting,catch_g\r\nsmall,A,14,60.5\r\n",
        "﻿box,lot,setting,catch_g\nsmall,A,14,60.5\n",
        "box;lot;setting;catch_g\nsmall;A;14;60,5\n",
        "Box\tLot\tSetting\tCatch_g\nsmall\tA\t14\t60.5\n",
        "# made by hand\n\nbox,lot,setting,catch_g\n# a remark\nsmall,A,14,60.5\n\n",
        'box,lot,setting,catch_g,"my own"\nsmall,A,14,60.5,"two\nlines"\n',
        "box,lot,setting,catch_g,,\nsmall,A,14,60.5,,\n,,,,,\n",
        "box;lot;setting;catch_g\nsmall;A;14;60,5\n".encode("utf-16"),
    ],
)
def test_a_file_keeps_its_form_and_all_that_stood_in_it(tmp_path, data):
    path = log(tmp_path, data)
    before = path.read_bytes()
    line = add_row(TRIALS, path, CATCH)
    assert path.read_bytes().startswith(before)
    trials = read_trials(path)
    assert trials.catch_g.tolist() == [60.5, 61.2]
    assert trials.line[-1] == line


def test_weights_go_into_the_unit_of_the_column(tmp_path):
    path = log(tmp_path, "box,lot,setting,catch_oz,tare_lb,rows_oz,parts_kg\nsmall,A,14,2.1,,,\n")
    apart = {"rows_g": (20.0, 20.5, 20.7), "parts_g": (30.4, 30.8)}
    add_row(TRIALS, path, {**CATCH, "catch_g": 91.2, "tare_g": 30.0, "rows": 3.0, **apart})
    trials = read_trials(path)
    assert trials.catch_g[-1] == pytest.approx(61.2)
    assert trials.rows_g[-1] == pytest.approx(apart["rows_g"])
    assert trials.parts_g[-1] == pytest.approx(apart["parts_g"])


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_parts_are_written_and_read_back_and_stay_when_the_catch_is_undone(tmp_path, separator):
    old = separator.join(["box", "lot", "setting", "catch_g"])
    path = log(tmp_path, f"{old}\n{separator.join(['small', 'A', '14', '60' if separator == ',' else '60,5'])}\n")
    add_row(TRIALS, path, {**CATCH, "catch_g": 28.5, "parts_g": (7.1, 7.3, 6.9, 7.2)})
    assert path.read_text().splitlines()[0] == separator.join([old, "parts_g"])
    add_row(TRIALS, path, CATCH)
    assert read_trials(path).parts_g == (None, (7.1, 7.3, 6.9, 7.2), None)
    assert [undo_last(TRIALS, path)[0], undo_last(TRIALS, path)[0]] == [4, 3]
    trials = read_trials(path)
    assert trials.parts_g == (None, (7.1, 7.3, 6.9, 7.2), None)
    assert trials.use.tolist() == [True, False, False]


def test_parts_that_do_not_add_up_are_not_saved(tmp_path):
    path = log(tmp_path, "box,lot,setting,catch_g\nsmall,A,14,60.5\n")
    before = path.read_bytes()
    with pytest.raises(InputError, match="add up"):
        add_row(TRIALS, path, {**CATCH, "parts_g": (20.0, 20.0)})
    assert path.read_bytes() == before


def test_columns_a_catch_needs_are_added_and_the_rest_stays(tmp_path):
    path = log(tmp_path, "# mine\nbox,lot,setting,catch_g,own\nsmall,A,14,60.5,x\n\nsmall,A,14,60.7,y\n")
    assert add_row(TRIALS, path, {**CATCH, "turns": 40.0, "note": "long"}) == 6
    lines = path.read_text().splitlines()
    assert lines[:2] == ["# mine", "box,lot,setting,catch_g,own,turns,note"]
    assert lines[2:5] == ["small,A,14,60.5,x,,", "", "small,A,14,60.7,y,,"]
    trials = read_trials(path)
    assert (trials.turns.tolist(), trials.note.tolist()) == ([28, 28, 40], ["", "", "long"])


def test_undo_marks_the_last_catch_in_use_and_deletes_nothing(tmp_path):
    path = log(tmp_path, "box,lot,setting,catch_g\nsmall,A,14,60.5\ngrain,B,14,61.5\nsmall,A,14,70.5\n")
    assert undo_last(TRIALS, path)[0] == 4
    assert undo_last(TRIALS, path, box="Small")[0] == 2
    trials = read_trials(path)
    assert trials.catch_g.tolist() == [60.5, 61.5, 70.5]
    assert trials.use.tolist() == [False, True, False]
    assert trials.note.tolist() == ["undone", "", "undone"]
    with pytest.raises(InputError, match="nothing to undo"):
        undo_last(TRIALS, path, box="small")


def test_a_row_with_a_note_of_two_lines_is_undone_too(tmp_path):
    path = log(tmp_path, 'box,lot,setting,catch_g,note,use\nsmall,A,14,60.5,"two\nlines",yes\n')
    assert undo_last(TRIALS, path)[0] == 2
    trials = read_trials(path)
    assert (trials.use.tolist(), trials.note.tolist()) == ([False], ["two lines; undone"])


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_name_that_begins_like_a_comment_is_quoted_and_read(tmp_path, separator):
    path = log(tmp_path, "lot,box,setting,catch_g,note\nA,small,14,60,\n".replace(",", separator))
    for lot in ("#1", " #2", "#3\nA", "#4" + separator + "x", '#"5"', "#"):
        add_row(TRIALS, path, {**CATCH, "lot": lot, "note": "# windy"})
    assert undo_last(TRIALS, path)[0] == 8
    confirm(TRIALS, path, [3])
    trials = read_trials(path)
    assert trials.lot.tolist() == ["A", "#1", "#2", "#3 A", "#4" + separator.replace("\t", " ") + "x", '#"5"', "#"]
    assert trials.use.tolist() == [True] * 6 + [False]
    assert trials.confirmed.tolist() == [False, True] + [False] * 5


def test_a_note_cannot_become_a_formula(tmp_path):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    add_row(TRIALS, path, {**CATCH, "note": "=2+3", "operator": "@x", "lot": "-A"})
    assert '" =2+3"' in path.read_text()
    assert ", @x," in path.read_text()
    trials = read_trials(path)
    assert (trials.note[0], trials.operator[0], trials.lot[0]) == ("=2+3", "@x", "-A")


def test_a_lever_below_zero_stays_a_number(tmp_path):
    path = tmp_path / "trials.csv"
    begin_log(TRIALS, path)
    add_row(TRIALS, path, {**CATCH, "setting": "-5"})
    assert ",-5," in path.read_text()


REFUSED = {
    "nothing in it": ("", ""),
    "a column missing": ("box,lot,setting\nsmall,A,14\n", "line 1"),
    "an open quote": ('box,lot,setting,catch_g\nsmall,A,14,"60', "line 2"),
    "a line cut short": ("box,lot,setting,catch_g\nsmall,A,14", "line 2"),
    "other letters": (b"box,lot,setting,catch_g\nsm\xff,A,14,2\n", "line 2"),
    "a number with two meanings": ("box;lot;setting;catch_g\nsmall;A;14;1.234\n", ""),
}


@pytest.mark.parametrize(("data", "places"), REFUSED.values(), ids=REFUSED)
def test_a_log_that_cannot_be_read_is_not_added_to(tmp_path, data, places):
    path = log(tmp_path, data)
    before = path.read_bytes()
    assert places_of(lambda: add_row(TRIALS, path, CATCH)) == places
    assert path.read_bytes() == before


def test_the_words_of_each_refusal(tmp_path):
    def add(data, **values):
        add_row(TRIALS, log(tmp_path, data), {**CATCH, **values})

    calls = {name: partial(add, data) for name, (data, _) in REFUSED.items()}
    good = "lot,box,setting,catch_g\nA,small,14,60.5\n"
    calls["an invisible letter"] = partial(add, good, note="a\u200bb")
    calls["half a letter"] = partial(add, good, note="\ud800")
    calls["no lot"] = partial(add, good, lot="")
    calls["nothing to undo"] = lambda: undo_last(TRIALS, log(tmp_path, good), box="grain")
    refusals("refused-logs", calls)


def test_a_cut_line_is_kept_as_a_comment(tmp_path):
    path = log(tmp_path, 'box,lot,setting,catch_g,note\nsmall,A,14,60.5,x\nsmall,A,14,6,"o')
    assert cut_short(TRIALS, path) == (3, 'small,A,14,6,"o')
    comment_out_last(TRIALS, path)
    assert path.read_text().splitlines()[-1] == "# cut short: small,A,14,6,'o"
    assert add_row(TRIALS, path, CATCH) == 4


def test_a_whole_last_line_without_its_end_is_not_cut_short(tmp_path):
    assert cut_short(TRIALS, log(tmp_path, "box,lot,setting,catch_g\nsmall,A,14,60.5")) is None
    assert cut_short(TRIALS, log(tmp_path, "box,lot,setting,catch_g\n# the en")) is None
    assert cut_short(TRIALS, log(tmp_path, "box,lot,setting,catch_g")) is None


words = st.text(st.characters(exclude_categories=("C", "Z"), max_codepoint=0x24FF), min_size=1, max_size=12)


@example("\u037e", "1;2", 1.0, ";", "utf-8")  # a Greek question mark is read as the semicolon it looks like
@settings(max_examples=150, deadline=None)
@given(words, words, st.floats(1e-3, 1e5), st.sampled_from([",", ";", "\t"]), st.sampled_from(["utf-8", "utf-16"]))
def test_whatever_is_written_is_read_again(tmp_path_factory, lot, note, grams, separator, encoding):
    path = tmp_path_factory.mktemp("log") / "trials.csv"
    path.write_bytes((TRIALS.new_header.replace(",", separator) + "\n").encode(encoding))
    values = {**CATCH, "lot": lot, "note": note, "catch_g": grams}
    add_row(TRIALS, path, values)
    add_row(TRIALS, path, values)
    import unicodedata

    trials = read_trials(path)
    assert trials.catch_g.tolist() == pytest.approx([grams, grams], rel=1e-8)
    assert trials.lot.tolist() == [unicodedata.normalize("NFC", lot)] * 2
    assert trials.note.tolist() == [unicodedata.normalize("NFC", note)] * 2


def test_an_empty_log_is_begun_and_one_with_catches_left_alone(tmp_path):
    """Two who find the same empty file: the second must not wipe what the first has saved."""
    path = log(tmp_path, "")
    begin_log(TRIALS, path)
    add_row(TRIALS, path, CATCH)
    before = path.read_bytes()
    begin_log(TRIALS, path)
    assert path.read_bytes() == before
    assert before.decode().startswith(TRIALS.new_header + "\n")
