"""drill.toml: what is read, and what is refused with which words. All drills here are invented."""

# A case a line reads better than wrapped ones.
# ruff: noqa: E501

import pytest

from predictor import InputError, Lever, Sprockets, read_drill

US = """
name = "North shed drill"
rows = 12
row_spacing_in = 7.5
rolling_circumference_ft = 7.2

[catch]
turns = 28
rows = 3
charge_turns = 5
scale_resolution_g = 0.1

[[box]]
name = "chaffy"
holds = "chaffy"
control = "sprockets"
positions = [{label = "1", driver = 12, driven = 30}, {label = "2", driver = 15, driven = 28}]

[[box]]
name = "small"
holds = "small"
control = "lever"
lowest = 0
highest = 60
step = 1
"""


def read(tmp_path, text):
    path = tmp_path / "drill.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_drill(path)


def problems(tmp_path, text):
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    assert all(problem.file for problem in caught.value.problems)
    return [str(problem).partition("drill.toml")[2].lstrip(" ") for problem in caught.value.problems]


def test_drill_file_is_read_into_metres_and_controls(tmp_path):
    drill = read(tmp_path, US)
    assert (drill.name, drill.rows, drill.viable, drill.units) == (
        "North shed drill",
        12,
        "germination",
        "us",
    )
    assert drill.row_spacing_m == pytest.approx(0.1905, abs=1e-15)
    assert drill.rolling_circumference_m == pytest.approx(2.19456, abs=1e-15)
    assert (drill.catch.turns, drill.catch.rows, drill.catch.charge_turns) == (28, 3, 5)
    assert drill.box("chaffy").control == Sprockets({"1": 12 / 30, "2": 15 / 28})
    assert drill.box("small").control == Lever(0, 60, 1)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("row_spacing_in = 7.5", "row_spacing_cm = 19.05"),
        ("row_spacing_in = 7.5", "row_spacing_m = 0.1905"),
        ("row_spacing_in = 7.5", "row_spacing_ft = 0.625"),
        ("rolling_circumference_ft = 7.2", "rolling_circumference_m = 2.19456"),
        ("rolling_circumference_ft = 7.2", "rolling_circumference_in = 86.4"),
        ("rolling_circumference_ft = 7.2", "rolling_circumference_cm = 219.456"),
    ],
)
def test_every_unit_gives_the_same_drill(tmp_path, old, new):
    ours, theirs = read(tmp_path, US), read(tmp_path, US.replace(old, new))
    assert theirs.row_spacing_m == pytest.approx(ours.row_spacing_m, rel=1e-14)
    assert theirs.rolling_circumference_m == pytest.approx(ours.rolling_circumference_m, rel=1e-14)


def test_results_are_shown_in_the_units_of_the_row_spacing(tmp_path):
    metric = US.replace("row_spacing_in = 7.5", "row_spacing_cm = 19.05")
    assert read(tmp_path, metric).units == "metric"


def test_what_the_file_leaves_out_has_its_usual_value(tmp_path):
    short = US[: US.index("[catch]")].replace("rows = 12", "rows = 2") + US[US.index("[[box]]") :]
    drill = read(tmp_path, short.replace("lowest = 0\n", "").replace("step = 1\n", ""))
    assert (drill.catch.turns, drill.catch.rows, drill.catch.scale_resolution_g) == (28, 2, 0.1)
    assert drill.box("small").control == Lever(0, 60, 1)


@pytest.mark.parametrize(
    "text",
    [
        b"\xef\xbb\xbf" + US.encode(),
        US.replace("\n", "\r\n").encode(),
        US.encode("utf-16"),
        US.replace('"1"', "1").replace('"2"', "2").encode(),
        ("# the old drill\n" + US + "# end\n").encode(),
        (US[: US.index("positions")] + US[US.index("\n[[box]]\nname = \"small\"") :]
         .replace("\n[[box]]", "\n[[box.positions]]\nlabel = \"1\"\ndriver = 12\ndriven = 30\n"
                  "[[box.positions]]\nlabel = \"2\"\ndriver = 15\ndriven = 28\n\n[[box]]")).encode(),
    ],
    ids=["byte order mark", "CRLF", "UTF-16", "labels as numbers", "comments", "positions as tables"],
)  # fmt: skip
def test_drill_file_is_read_whatever_saved_it(tmp_path, text):
    assert read(tmp_path, text) == read(tmp_path, US)


def test_viable_rule_and_direction_of_a_lever_are_read(tmp_path):
    text = US.replace("rows = 12", 'rows = 12\nviable = "total"').replace("step = 1", 'more_is = "lower"')
    drill = read(tmp_path, text)
    assert drill.viable == "total"
    assert drill.box("small").control.more_is == "lower"


SMALL = "box small, "
ODD = {
    "name missing": ('name = "North shed drill"\n', "", "name: The key is missing."),
    "name empty": ('"North shed drill"', '" "', 'line 2, name: " " is not a name.'),
    "name a number": ('"North shed drill"', "7", "line 2, name: 7 is not a name."),
    "name that could steer a terminal": ('"North shed drill"', '"a\\u001b[2J"', 'line 2, name: "a\\x1b[2J" is not a name.'),
    "rows missing": ("rows = 12\n", "", "rows: The key is missing. Write its number."),
    "rows in quotes": ("rows = 12", 'rows = "12"', 'line 3, rows: "12" is not a number. Write the number alone'),
    "rows not whole": ("rows = 12", "rows = 12.5", "line 3, rows: 12.5 is not a whole number."),
    "rows zero": ("rows = 12", "rows = 0", "line 3, rows: 0 cannot be: it lies between 1 and 200."),
    "rows true": ("rows = 12", "rows = true", 'line 3, rows: "True" is not a number.'),
    "rows absurd": ("rows = 12", "rows = 0x" + "f" * 5000, "line 3, rows: This number cannot be"),
    "nan": ("7.5", "nan", "line 4, row_spacing_in: nan is not a number."),
    "inf": ("7.2", "inf", "line 5, rolling_circumference_ft: inf cannot be"),
    "unknown key": ("rows = 12", "rows = 12\nrow_spacing = 7", "line 4, row_spacing: The program knows no such key. Did you mean row_spacing_"),
    "unknown key in a box": ("highest = 60", "higest = 60", f"line 24, {SMALL}higest: The program knows no such key. Did you mean highest?"),
    "unknown key in catch": ("charge_turns", "charge", "line 10, catch, charge: The program knows no such key. Did you mean charge_turns?"),
    "unknown viable": ("rows = 12", 'rows = 12\nviable = "hard"', 'viable: "hard" is none of them. Write one of: "germination", "total".'),
    "no spacing": ("row_spacing_in = 7.5\n", "", "row_spacing: Write exactly one of row_spacing_m, row_spacing_cm, row_spacing_ft, row_spacing_in; there is none."),
    "two spacings": ("row_spacing_in = 7.5", "row_spacing_in = 7.5\nrow_spacing_cm = 19", "there are 2."),
    "decimal point lost": ("7.5", "750", "line 4, row_spacing_in: 750 in cannot be: it lies between 1.97 and 59.1. Is a decimal point missing, as in 7.5?"),
    "inches called centimetres": ("row_spacing_in = 7.5", "row_spacing_m = 19.05", "Is 19.05 in cm or in? Then name the key row_spacing_cm or row_spacing_in."),
    "millimetres": ("row_spacing_in = 7.5", "row_spacing_cm = 190.5", "Is 190.5 in millimetres? Then write row_spacing_cm = 19.05."),
    "circumference zero": ("7.2", "0", "line 5, rolling_circumference_ft: 0 cannot be: it must be above 0. Roll the loaded drill 10 turns"),
    "feet called inches": ("circumference_ft", "circumference_in", "Is 7.2 in m or ft? Then name the key rolling_circumference_m or rolling_circumference_ft."),
    "catch not a table": ("[catch]\nturns = 28\nrows = 3\ncharge_turns = 5\nscale_resolution_g = 0.1\n", "catch = 28\n", "catch: Write it as a table: [catch] on a line of its own"),
    "more rows caught than there are": ("rows = 3", "rows = 13", "line 9, catch, rows: 13 rows cannot be caught: the drill has 12."),
    "turns negative": ("turns = 28", "turns = -28", "line 8, catch, turns: -28 cannot be: it must be above 0."),
    "scale resolution zero": ("= 0.1", "= 0", "catch, scale_resolution_g: 0 cannot be: it must be above 0. Write it in grams."),
    "box twice": ('name = "small"', 'name = "Chaffy"', "line 20, box Chaffy, name: Two boxes are called Chaffy. Give each its own name."),
    "box without a name": ('name = "small"\n', "", "line 19, box number 2, name: The key is missing."),
    "unknown kind of seed": ('holds = "small"', 'holds = "tiny"', f'line 21, {SMALL}holds: "tiny" is none of them. Write one of: "chaffy", "free-flowing", "small".'),
    "unknown control": ('control = "lever"', 'control = "knob"', f'{SMALL}control: "knob" is none of them. Write one of: "lever", "sprockets".'),
    "control missing": ('control = "lever"\n', "", f"{SMALL}control: The key is missing."),
    "lever ends reversed": ("lowest = 0\nhighest = 60", "lowest = 60\nhighest = 0", f'line 23, {SMALL}lowest: The scale would run from 60 to 0. Write the smaller reading as lowest; where a smaller reading gives more seed, add more_is = "lower".'),
    "lever without an end": ("highest = 60\n", "", f"line 19, {SMALL}highest: The key is missing."),
    "step larger than the scale": ("step = 1", "step = 61", f"{SMALL}step: Steps of 61 do not fit a scale from 0 to 60."),
    "step that makes a million readings": ("step = 1", "step = 0.00001", f"{SMALL}step: Steps of 1e-05 do not fit"),
    "direction unknown": ("step = 1", 'more_is = "up"', f'{SMALL}more_is: "up" is none of them. Write one of: "higher", "lower".'),
    "lever with positions": ("step = 1", "positions = []", f"{SMALL}positions: A lever has no chain positions."),
    "sprockets with a scale": ("positions =", "highest = 9\npositions =", "line 17, box chaffy, highest: Sprockets have no scale."),
    "no positions": ("positions = [{label = \"1\", driver = 12, driven = 30}, {label = \"2\", driver = 15, driven = 28}]", "", "box chaffy, positions: The chain positions are missing. Write them as positions = [{label"),
    "positions as numbers": ("positions = [{label = \"1\", driver = 12, driven = 30}, {label = \"2\", driver = 15, driven = 28}]", "positions = [1, 2]", 'box chaffy, positions: "[1, 2]" has no teeth in it.'),
    "a ratio for the teeth": ("driver = 12, driven = 30", "ratio = 0.4", "line 17, box chaffy, position 1, ratio: A ratio is worked out from the teeth. Write driver and driven in its place."),
    "no driven sprocket": (", driven = 30", "", "line 17, box chaffy, position 1, driven: The key is missing."),
    "no teeth": ("driver = 12", "driver = 0", "box chaffy, position 1, driver: 0 cannot be"),
    "half a tooth": ("driver = 12", "driver = 12.5", "box chaffy, position 1, driver: 12.5 is not a whole number."),
    "label twice": ('label = "2"', 'label = "1"', "box chaffy, position 2, label: Two chain positions are called 1."),
    "label missing": ('label = "1", ', "", "box chaffy, position 1, label: The key is missing."),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "words"), ODD.values(), ids=ODD)
def test_odd_drill_is_refused_with_the_one_thing_that_is_wrong(tmp_path, old, new, words):
    assert US.count(old) >= 1
    found = problems(tmp_path, US.replace(old, new, 1))
    assert any(words in problem for problem in found), found
    # one slip is one problem, but for a misspelt key, which is also missing
    assert len(found) == (2 if "higest" in new else 1), found


def test_single_brackets_around_box_are_named(tmp_path):
    text = US[: US.index("[[box]]")] + '[box]\nname = "small"\n'
    assert problems(tmp_path, text) == [
        "line 13, box: One pair of brackets is missing. Write [[box]] on a line of its own for each box, its keys below."
    ]


def test_drill_without_boxes_is_refused(tmp_path):
    words = "box: The drill has no boxes. Write [[box]] on a line of its own for each box, its keys below."
    assert problems(tmp_path, US[: US.index("[[box]]")]) == [f", {words}"]
    assert problems(tmp_path, "box = 3\n" + US[: US.index("[[box]]")]) == [f"line 1, {words}"]


SYNTAX = {
    "words without quotes": (
        "name = ours",
        'line 1: "name = ours" cannot be read. Put words in quotes: name = "ours".',
    ),
    "decimal comma": ("row_spacing_in = 7,5", "Write a decimal point: 7.5."),
    "a unit": ("row_spacing_in = 7.5 in", "Write the number alone, without its unit: 7.5."),
    "key in two words": ("row spacing in = 7", "Write the key in one word: row_spacing_in."),
    "curly quotes": ("name = “ours”", 'Type straight quotes: ".'),
    "quote never closed": ('rows = 2\nname = "ours', "line 2: "),
    "no = sign": ('name : "ours"', "Write a key, an = sign and its value"),
    "nothing behind the =": ("rows =", "Nothing stands behind the = sign."),
    "point first": ("row_spacing_m = .5", "Write a zero before the point: 0.5."),
    "bracket never closed": ("positions = [1, 2", "The file ends too early. Look for a quote or bracket"),
    "key twice": (
        'name = "a"\nrows = 3\nname = "b"',
        'line 3: "name = "b"" stands a second time in its table.',
    ),
    "table twice": ("[catch]\nturns = 3\n[catch]\nrows = 3", 'line 3: "[catch]" stands a second time'),
}


@pytest.mark.parametrize(("text", "words"), SYNTAX.values(), ids=SYNTAX)
def test_line_that_is_not_toml_is_shown_with_what_to_do(tmp_path, text, words):
    found = problems(tmp_path, text + "\n")
    assert len(found) == 1
    assert words in found[0]


def test_several_problems_are_reported_together_in_the_order_of_the_file(tmp_path):
    text = (
        US.replace('name = "North shed drill"', 'nane = "x"')
        .replace("7.5", "750")
        .replace("= 7.2", "= 0")
        .replace("turns = 28", 'turns = "28"', 1)
        .replace("driver = 12", "driver = 0")
        .replace("highest = 60", "highest = -1")
    )
    found = problems(tmp_path, text)
    places = [problem.partition(":")[0] for problem in found]
    assert places == [
        ", name",
        "line 2, nane",
        "line 4, row_spacing_in",
        "line 5, rolling_circumference_ft",
        "line 8, catch, turns",
        "line 17, box chaffy, position 1, driver",
        "line 23, box small, lowest",
    ]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "name: The key is missing."),
        (b"\xff\xfe\x00", "UTF-16"),
        ("name = \"caf\xe9\"".encode("latin-1"), "UTF-8"),
        (b"a = " + b"[" * 5000, "The file ends too early."),
    ],
    ids=["empty", "broken UTF-16", "Latin-1", "brackets without end"],
)  # fmt: skip
def test_file_that_is_no_drill_is_refused_in_words(tmp_path, data, words):
    assert any(words in problem for problem in problems(tmp_path, data))


def test_missing_file_and_folder_are_named(tmp_path):
    (tmp_path / "drill.toml").write_text(US)
    with pytest.raises(InputError, match=r"Did you mean .*drill\.toml"):
        read_drill(tmp_path / "dril.toml")
    with pytest.raises(InputError, match="This is a folder"):
        read_drill(tmp_path)


def test_a_length_that_nothing_explains_is_refused_without_a_guess(tmp_path):
    (found,) = problems(tmp_path, US.replace("row_spacing_in = 7.5", "row_spacing_in = 5e8"))
    assert found.startswith("line 4, row_spacing_in:")
    assert "Did you mean" not in found


def test_a_full_box_has_one_weight(tmp_path):
    (found,) = problems(tmp_path, US.replace('name = "small"', 'name = "small"\nfull_lb = 40\nfull_kg = 18'))
    assert "box small" in found
    assert read(tmp_path, US.replace('name = "small"', 'name = "small"\nfull_kg = 18')).box("small").full_g == 18_000


def test_a_ratio_beside_the_teeth_is_one_problem(tmp_path):
    (found,) = problems(tmp_path, US.replace('label = "1", ', 'label = "1", ratio = 0.4, '))
    assert found.startswith("line 17, box chaffy, position 1, ratio:")
