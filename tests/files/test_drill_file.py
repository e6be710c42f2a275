"""drill.toml: what is read, and what is refused with which words. All drills here are invented."""

# One case on each line reads better than wrapped cases.
# ruff: noqa: E501

import contextlib
import time
from functools import partial

import pytest

from predictor import InputError, Lever, LeverAndDrive, Sprockets, read_drill
from tests.refused import places_of, problems_of, refusals

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
    assert drill.box("chaffy").control.teeth == {"1": (12, 30), "2": (15, 28)}
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


def test_the_ratio_of_a_chain_in_two_stages_is_their_product(tmp_path):
    two = US.replace("driver = 12, driven = 30", "driver = [12, 20], driven = [30, 15]")
    two = two.replace("driver = 15, driven = 28", "driver = [15], driven = [28]")
    control = read(tmp_path, two).box("chaffy").control
    assert control.opening("1") == pytest.approx(8 / 15, rel=1e-15)  # 12/30 x 20/15, by hand
    assert control.opening("2") == 15 / 28


def test_where_a_lever_is_shut_is_read(tmp_path):
    assert read(tmp_path, US.replace("step = 1", "shut = 5")).box("small").control == Lever(0, 60, 1, shut=5)


def test_drives_of_a_lever_are_read_by_their_teeth_their_ratio_or_their_label_alone(tmp_path):
    drives = '[{label = "high", driver = 20, driven = 12}, {label = 2, ratio = 0.5}, {label = "creep"}]'
    control = read(tmp_path, US.replace("step = 1", f"drives = {drives}")).box("small").control
    assert control == LeverAndDrive(Lever(0, 60, 1), {"high": 20 / 12, "2": 0.5, "creep": None})


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


def test_rows_of_a_box_are_read_with_the_ground_they_cover(tmp_path):
    found = [read(tmp_path, f"{US}{more}") for more in ("rows = 6\n", "rows = 6\nrow_spacing_in = 7.5\n", "")]
    boxes = [drill.box("small") for drill in found]
    assert [(box.rows, drill.rows_of(box)) for box, drill in zip(boxes, found, strict=True)] == [
        (6, 6),
        (6, 6),
        (None, 12),
    ]
    assert [drill.spacing_of(box) / 0.0254 for box, drill in zip(boxes, found, strict=True)] == pytest.approx(
        [15, 7.5, 7.5]
    )


def test_what_drives_the_meters_is_read_with_its_ground(tmp_path):
    """4.4 ft/s is 3 mph; 30 ft2 of a drill 7.5 ft wide are 4 ft."""
    crank = 'counted = "crank turns"\nturns = 40\neach_covers_{}\n'
    seconds = US.replace("turns = 28", 'turns = 60\ncounted = "seconds"\neach_covers_ft = 4.4')
    drill = read(tmp_path, seconds.replace("rolling_circumference_ft = 7.2\n", "") + crank.format("ft2 = 30"))
    assert drill.rolling_circumference_m is None
    chaffy, small = drill.boxes
    assert (drill.catch_of(chaffy).counted, drill.catch_of(chaffy).turns) == ("seconds", 60)
    assert (drill.catch_of(small).counted, drill.catch_of(small).turns) == ("crank turns", 40)
    assert [drill.covers_of(box) / 0.3048 for box in drill.boxes] == pytest.approx([4.4, 4.0])
    acre = 30 / 43560
    for same in ("ft = 4", "m = 1.2192", "m2 = 2.7870912", f"ac = {acre}", f"ha = {acre * 0.40468564224}"):
        drill = read(tmp_path, US + crank.format(same))
        assert drill.covers_of(drill.box("small")) == pytest.approx(1.2192, rel=1e-12)
        assert drill.covers_of(drill.box("chaffy")) == drill.rolling_circumference_m


def test_a_circumference_is_read_where_no_catch_counts_wheel_turns_too(tmp_path):
    seconds = US.replace("turns = 28", 'turns = 60\ncounted = "seconds"\neach_covers_ft = 4.4')
    assert read(tmp_path, seconds).rolling_circumference_m == pytest.approx(7.2 * 0.3048)


def test_a_box_may_have_a_usual_catch_of_its_own(tmp_path):
    drill = read(tmp_path, US + "turns = 56\n")
    assert [drill.catch_of(box).turns for box in drill.boxes] == [28, 56]


SMALL = "box small, "
ODD = {
    "name missing": ('name = "North shed drill"\n', "", "name"),
    "name empty": ('"North shed drill"', '" "', "line 2, name"),
    "name a number": ('"North shed drill"', "7", "line 2, name"),
    "name that could steer a terminal": ('"North shed drill"', '"a\\u001b[2J"', "line 2, name"),
    "rows missing": ("rows = 12\n", "", "rows"),
    "rows in quotes": ("rows = 12", 'rows = "12"', "line 3, rows"),
    "rows not whole": ("rows = 12", "rows = 12.5", "line 3, rows"),
    "rows zero": ("rows = 12", "rows = 0", "line 3, rows"),
    "rows true": ("rows = 12", "rows = true", "line 3, rows"),
    "rows absurd": ("rows = 12", "rows = 0x" + "f" * 900, "line 3, rows"),
    "rows too long to read": ("rows = 12", "rows = 9" + "0" * 5000, "line 3"),
    "nan": ("7.5", "nan", "line 4, row_spacing_in"),
    "inf": ("7.2", "inf", "line 5, rolling_circumference_ft"),
    "unknown key": ("rows = 12", "rows = 12\nrow_spacing = 7", "line 4, row_spacing"),
    "unknown key in a box": ("highest = 60", "higest = 60", "line 19, box small, highest; line 24, box small, higest"),
    "unknown key in catch": ("charge_turns", "charge", "line 10, catch, charge"),
    "unknown key in a position": ("driven = 30}", "driven = 30, spare = 1}", "line 17, box chaffy, position 1, spare"),
    "unknown table": ("[catch]", "[wheel]\nturns = 1\n[catch]", "line 7, wheel"),
    "unknown table in a box": ('holds = "small"', '[box.meter]\nrows = 6', "line 19, box small, holds; line 19, box small, control; line 21, box small, meter"),
    "unknown viable": ("rows = 12", 'rows = 12\nviable = "dormant"', "line 4, viable"),
    "no spacing": ("row_spacing_in = 7.5\n", "", "row_spacing"),
    "two spacings": ("row_spacing_in = 7.5", "row_spacing_in = 7.5\nrow_spacing_cm = 19", "line 5, row_spacing_cm"),
    "decimal point lost": ("7.5", "750", "line 4, row_spacing_in"),
    "inches called centimetres": ("row_spacing_in = 7.5", "row_spacing_m = 19.05", "line 4, row_spacing_m"),
    "millimetres": ("row_spacing_in = 7.5", "row_spacing_cm = 190.5", "line 4, row_spacing_cm"),
    "circumference zero": ("7.2", "0", "line 5, rolling_circumference_ft"),
    "feet called inches": ("circumference_ft", "circumference_in", "line 5, rolling_circumference_in"),
    "catch not a table": ("[catch]\nturns = 28\nrows = 3\ncharge_turns = 5\nscale_resolution_g = 0.1\n", "catch = 28\n", "line 7, catch"),
    "more rows caught than there are": ("rows = 3", "rows = 13", "line 9, catch, rows"),
    "turns negative": ("turns = 28", "turns = -28", "line 8, catch, turns"),
    "scale resolution zero": ("= 0.1", "= 0", "line 11, catch, scale_resolution_g"),
    "box twice": ('name = "small"', 'name = "Chaffy"', "line 20, box Chaffy, name"),
    "box without a name": ('name = "small"\n', "", "line 19, box number 2, name"),
    "unknown kind of seed": ('holds = "small"', 'holds = "tiny"', "line 21, box small, holds"),
    "unknown control": ('control = "lever"', 'control = "knob"', "line 22, box small, control"),
    "control missing": ('control = "lever"\n', "", "line 19, box small, control"),
    "lever ends reversed": ("lowest = 0\nhighest = 60", "lowest = 60\nhighest = 0", "line 23, box small, lowest"),
    "lever without an end": ("highest = 60\n", "", "line 19, box small, highest"),
    "step larger than the scale": ("step = 1", "step = 61", "line 25, box small, step"),
    "step that makes a million readings": ("step = 1", "step = 0.00001", "line 25, box small, step"),
    "direction unknown": ("step = 1", 'more_is = "up"', "line 25, box small, more_is"),
    "lever with positions": ("step = 1", "positions = []", "line 25, box small, positions"),
    "sprockets with a scale": ("positions =", "highest = 9\npositions =", "line 17, box chaffy, highest"),
    "no positions": ("positions = [{label = \"1\", driver = 12, driven = 30}, {label = \"2\", driver = 15, driven = 28}]", "", "line 13, box chaffy, positions"),
    "positions as numbers": ("positions = [{label = \"1\", driver = 12, driven = 30}, {label = \"2\", driver = 15, driven = 28}]", "positions = [1, 2]", "line 17, box chaffy, positions"),
    "a ratio for the teeth": ("driver = 12, driven = 30", "ratio = 0.4", "line 17, box chaffy, position 1, ratio"),
    "no driven sprocket": (", driven = 30", "", "line 17, box chaffy, position 1, driven"),
    "no teeth": ("driver = 12", "driver = 0", "line 17, box chaffy, position 1, driver"),
    "stages of one side only": ("driver = 12, driven = 30", "driver = [12, 20], driven = 30", "line 17, box chaffy, position 1, driven"),
    "more stages on one side": ("driver = 12, driven = 30", "driver = [12, 20], driven = [30, 15, 20]", "line 17, box chaffy, position 1, driven"),
    "no stages": ("driver = 12, driven = 30", "driver = [], driven = []", "line 17, box chaffy, position 1, driver; line 17, box chaffy, position 1, driven"),
    "stages beyond any drill": ("driver = 12", f"driver = {[12] * 6}", "line 17, box chaffy, position 1, driver"),
    "a stage without teeth": ("driver = 12, driven = 30", "driver = [12, 0], driven = [30, 15]", "line 17, box chaffy, position 1, driver"),
    "a stage in words": ("driver = 12, driven = 30", 'driver = [12, "20"], driven = [30, 15]', "line 17, box chaffy, position 1, driver"),
    "shut off the scale": ("step = 1", "shut = 61", "line 25, box small, shut"),
    "shut where it gives most": ("step = 1", "shut = 60", "line 25, box small, shut"),
    "shut beyond the last step": ("step = 1", "step = 7\nshut = 57", "line 26, box small, shut"),
    "shut where a lower reading gives most": ("step = 1", 'shut = 0\nmore_is = "lower"', "line 25, box small, shut"),
    "shut of a chain": ("positions =", "shut = 0\npositions =", "line 17, box chaffy, shut"),
    "drives of a chain": ("positions =", "drives = []\npositions =", "line 17, box chaffy, drives"),
    "no drives": ("step = 1", "drives = []", "line 25, box small, drives"),
    "drive twice": ("step = 1", 'drives = [{label = "A"}, {label = "a"}]', "line 25, box small, drive 2, label"),
    "drive with a sign in its label": ("step = 1", 'drives = [{label = "1/2"}]', "line 25, box small, drive 1, label"),
    "drive with on in its label": ("step = 1", 'drives = [{label = "on high"}]', "line 25, box small, drive 1, label"),
    "box that feeds no rows": ("step = 1", "rows = 0", "line 25, box small, rows"),
    "drive with half its teeth": ("step = 1", 'drives = [{label = "A", driver = 20}]', "line 25, box small, drive 1, driven"),
    "drive with teeth and a ratio": ("step = 1", 'drives = [{label = "A", driver = 20, driven = 10, ratio = 2}]', "line 25, box small, drive 1, ratio"),
    "drive that does not turn": ("step = 1", 'drives = [{label = "A", ratio = 0}]', "line 25, box small, drive 1, ratio"),
    "half a tooth": ("driver = 12", "driver = 12.5", "line 17, box chaffy, position 1, driver"),
    "label twice": ('label = "2"', 'label = "1"', "line 17, box chaffy, position 2, label"),
    "more rows fed than there are": ("step = 1", "rows = 13", "line 25, box small, rows"),
    "rows of a box not whole": ("step = 1", "rows = 5.5", "line 25, box small, rows"),
    "spacing of a box without its rows": ("step = 1", "row_spacing_in = 15", "line 25, box small, row_spacing_in"),
    "a box wider than the drill": ("step = 1", "rows = 6\nrow_spacing_in = 16", "line 26, box small, row_spacing_in"),
    "two spacings of a box": ("step = 1", "rows = 6\nrow_spacing_in = 15\nrow_spacing_cm = 38", "line 27, box small, row_spacing_cm"),
    "an unknown drive": ("turns = 28", 'counted = "wheels"', "line 8, catch, counted"),
    "a crank without its ground": ("turns = 28", 'turns = 30\ncounted = "crank turns"', "line 7, catch, each_covers"),
    "a crank with two grounds": ("turns = 28", 'turns = 30\ncounted = "crank turns"\neach_covers_ft = 2\neach_covers_ft2 = 15', "line 10, catch, each_covers_ft"),
    "a crank without turns of a catch": ("turns = 28", 'counted = "crank turns"\neach_covers_ft = 2', "line 7, catch, turns"),
    "a wheel with the ground of a turn": ("turns = 28", "turns = 28\neach_covers_ft = 7.2", "line 9, catch, each_covers_ft"),
    "a second of a mile": ("step = 1", 'counted = "seconds"\nturns = 60\neach_covers_ft = 5280', "line 27, box small, each_covers_ft"),
    "a turn of an acre": ("step = 1", 'counted = "crank turns"\nturns = 60\neach_covers_ac = 1', "line 27, box small, each_covers_ac"),
    "a wheel without circumference beside a crank": ("rolling_circumference_ft = 7.2\n", "", "rolling_circumference"),
    "label missing": ('label = "1", ', "", "line 17, box chaffy, position 1, label"),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "places"), ODD.values(), ids=ODD)
def test_odd_drill_is_refused_with_the_one_thing_that_is_wrong(tmp_path, old, new, places):
    assert US.count(old) >= 1
    assert places_of(lambda: read(tmp_path, US.replace(old, new, 1))) == places


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
        "line 1",
    ),
    "decimal comma": ("row_spacing_in = 7,5", "line 1"),
    "a unit": ("row_spacing_in = 7.5 in", "line 1"),
    "key in two words": ("row spacing in = 7", "line 1"),
    "curly quotes": ("name = “ours”", "line 1"),
    "quote never closed": ('rows = 2\nname = "ours', "line 2"),
    "no = sign": ('name : "ours"', "line 1"),
    "nothing behind the =": ("rows =", "line 1"),
    "point first": ("row_spacing_m = .5", "line 1"),
    "bracket never closed": ("positions = [1, 2", ""),
    "key twice": (
        'name = "a"\nrows = 3\nname = "b"',
        "line 3",
    ),
    "table twice": ("[catch]\nturns = 3\n[catch]\nrows = 3", "line 3"),
}


@pytest.mark.parametrize(("text", "places"), SYNTAX.values(), ids=SYNTAX)
def test_line_that_is_not_toml_is_one_problem_at_its_place(tmp_path, text, places):
    assert places_of(lambda: read(tmp_path, text + "\n")) == places


def test_the_words_of_each_refusal(tmp_path):
    texts = {name: US.replace(old, new, 1) for name, (old, new, _) in ODD.items()}
    texts |= {name: f"{text}\n" for name, (text, _) in SYNTAX.items()}
    texts |= {name: data for name, (data, _) in NO_DRILL.items()}
    refusals("refused-drill", {name: partial(read, tmp_path, text) for name, text in texts.items()})


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


NO_DRILL = {
    "empty": (b"", "name; rows; row_spacing; box; rolling_circumference"),
    "broken UTF-16": (b"\xff\xfe\x00", ""),
    "Latin-1": ("name = \"caf\xe9\"".encode("latin-1"), "line 1"),
    "brackets without end": (b"a = " + b"[" * 5000, "line 1"),
}  # fmt: skip


@pytest.mark.parametrize(("data", "places"), NO_DRILL.values(), ids=NO_DRILL)
def test_file_that_is_no_drill_is_refused(tmp_path, data, places):
    assert places_of(lambda: read(tmp_path, data)) == places


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


# What no person could have written


def deep(pieces):
    """A file with something that nests so many times."""
    return US.replace("rows = 12", pieces)


BEYOND = {
    "larger than a drill": (US + "# " + "x" * 200_000, ""),
    "a dotted key": (deep("a." * 40_000 + "a = 1"), "line 3"),
    "a dotted key in quotes": (deep('"a".' * 40_000 + "a = 1"), "line 3"),
    "a dotted key with blanks": (deep("a . " * 30_000 + "a = 1"), "line 3"),
    "a dotted table": (deep("[" + "a." * 40_000 + "a]"), "line 3"),
    "a dotted key in a table in a line": (deep("a = {b = 1, " + "c." * 40_000 + "c = 1}"), "line 3"),
    "lists in lists": (deep("rows = " + "[" * 60_000 + "]" * 60_000), "line 3"),
    "tables in tables": (deep("rows = " + "{a = " * 30_000 + "1" + "}" * 30_000), "line 3"),
    "a number of a hundred thousand digits": (deep("rows = " + "9" * 100_000), "line 3"),
}


@pytest.mark.parametrize(("text", "places"), BEYOND.values(), ids=BEYOND)
def test_what_would_take_time_or_memory_without_end_is_refused_before_it_is_read(tmp_path, monkeypatch, text, places):
    monkeypatch.setattr("tomllib.loads", lambda _: pytest.fail("it was read"))
    assert places_of(lambda: read(tmp_path, text)) == places


@pytest.mark.parametrize("quotes", ['"{}"', "'{}'", '"""\n{}"""', "'''{}'''", '"\\"{}"', '"""\n\\"""{}"""'])
def test_points_and_brackets_in_quotes_and_comments_are_no_depth(tmp_path, quotes):
    many = "a.b." * 20 + "[{" * 20
    found = read(tmp_path, US.replace('"North shed drill"', quotes.format(many)) + "# " + many)
    assert found.name.endswith(many)


LONG_LINES = {
    "blanks": " ",
    "blanks in a table": "[ ",
    "quotes": '"',
    "single quotes": "'",
    "escaped quotes": '\\"""',
    "digits": "1",
    "points": ".",
    "dashes": "-",
    "opened brackets": "[",
    "closed brackets": "]",
    "other digits": "٣",
}


@pytest.mark.slow
@pytest.mark.parametrize("start", ["", "[", "a = ", 'a = """', "a"])
@pytest.mark.parametrize("run", LONG_LINES.values(), ids=LONG_LINES)
def test_a_long_line_takes_time_in_proportion_to_its_length(tmp_path, start, run):
    def seconds(size):
        times = []
        for _ in range(3):
            before = time.process_time()
            problems(tmp_path, start + run * (size // len(run)))
            times.append(time.process_time() - before)
        return min(times)

    # eight times the length: a quadratic pattern takes 64 times as long, and seconds
    assert seconds(160_000) < max(24 * seconds(20_000), 0.2)


NO_NUMBERS = {
    "digits of another script": "٣",
    "a fraction in another script": "٣,٣",
    "digits that are raised": "7²",
    "infinity": "inf",
    "nothing that is a number": "nan",
    "a day": "2026-04-18",
    "a time": "07:32:00",
    "a moment": "2026-04-18T07:32:00Z",
    "a table": "{a = 1}",
    "a list": "[12]",
    "a list of tables": "[{a = 1}]",
    "true": "true",
    "a whole number beyond all numbers": "1" + "0" * 400,
    "a number beyond all numbers": "1e400",
    "a number in another base": "0x" + "f" * 300,
    "text": '"12"',
    "nothing": "",
}


@pytest.mark.parametrize("value", NO_NUMBERS.values(), ids=NO_NUMBERS)
@pytest.mark.parametrize(
    "line", ["rows = 12", "row_spacing_in = 7.5", "turns = 28", "scale_resolution_g = 0.1", "highest = 60", "step = 1"]
)
def test_what_is_no_number_is_said_at_its_place(tmp_path, line, value):
    text = US.replace(line, f"{line.partition('=')[0]}= {value}", 1)
    number = text[: text.index(line.partition("=")[0])].count("\n") + 1
    found = {each.line for each in problems_of(lambda: read(tmp_path, text))}
    assert number in found


@pytest.mark.parametrize("key", ["name", "viable", "measured", "history", "catch", "box", "field", "rows", "unknown"])
@pytest.mark.parametrize("value", [*NO_NUMBERS.values(), "12.5", "-1", '""', '"\\u001b[31m"', "[[1]]", "{}", "[]"])
def test_any_value_under_any_key_is_read_or_refused_in_sentences(tmp_path, key, value):
    text = "".join(line for line in US.splitlines(True) if not line.startswith(f"{key} ="))
    with contextlib.suppress(InputError):
        read(tmp_path, f"{key} = {value}\n{text}")
    for table in ("[catch]\n", "[[box]]\n", "[[field]]\n"):
        with contextlib.suppress(InputError):
            read(tmp_path, f"{US}\n{table}{key} = {value}\n")
