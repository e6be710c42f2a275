"""drill.toml: read in US and metric, and refused with every problem named."""

import pytest

from predictor.drill import Lever, SeedBox, Sprockets
from predictor.drill_file import read_drill
from predictor.errors import InputError

TOP = 'name = "made up"\nrows = 12\nrow_spacing_in = 7.5\nrolling_circumference_ft = 7.2\n'
LEVER = '[[box]]\nname = "small"\nholds = "small"\ncontrol = "lever"\nlowest = 0\nhighest = 60\nstep = 1\n'
CHAIN = '[[box]]\nname = "chaffy"\nholds = "chaffy"\ncontrol = "sprockets"\npositions = [{label = "1", driver = 12, driven = 30}]\n'


def read(tmp_path, text):
    path = tmp_path / "drill.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_drill(path)


def test_us_and_metric_files_describe_the_same_drill(tmp_path):
    us = read(tmp_path, TOP + LEVER + CHAIN)
    metric = read(
        tmp_path,
        TOP.replace("row_spacing_in = 7.5", "row_spacing_cm = 19.05").replace("circumference_ft = 7.2", "circumference_m = 2.19456")
        + LEVER
        + CHAIN,
    )
    assert us.row_spacing_m == pytest.approx(metric.row_spacing_m, rel=1e-12)
    assert us.rolling_circumference_m == pytest.approx(metric.rolling_circumference_m, rel=1e-12)
    assert (us.units, metric.units) == ("us", "metric")
    assert us.box("chaffy").control.opening("1") == 0.4
    assert us.catch.turns == 28
    with pytest.raises(KeyError, match="small, chaffy"):
        us.box("none")


REFUSED = {
    "empty": ("", "The key is missing"),
    "bad toml": (TOP + "rows == 3\n", "line 5"),
    "not text": (b"\xff\xfe\x00", "UTF-16"),
    "unknown key with a near one": (TOP.replace("rows", "rws") + LEVER, "Did you mean rows?"),
    "no boxes": (TOP, "The drill has no boxes"),
    "a box that is no table": (TOP + "box = 3\n", "no boxes"),
    "a box twice": (TOP + LEVER + LEVER, "Two boxes have this name"),
    "an unknown kind of seed": (TOP + LEVER.replace('holds = "small"', 'holds = "fluffy"'), '"chaffy", "free-flowing", "small"'),
    "a box without its control": (TOP + LEVER.replace('control = "lever"\n', ""), '"lever", "sprockets"'),
    "lever ends reversed": (TOP + LEVER.replace("lowest = 0\nhighest = 60", "lowest = 60\nhighest = 0"), "smaller reading as lowest"),
    "a step larger than the scale": (TOP + LEVER.replace("step = 1", "step = 100"), "do not fit"),
    "a step of nothing": (TOP + LEVER.replace("step = 1", "step = 0"), "not above 0"),
    "a lever with positions": (TOP + LEVER + "positions = []\n", "A lever has no chain positions"),
    "sprockets with a scale": (TOP + CHAIN + "highest = 3\n", "Sprockets have no scale"),
    "no positions": (TOP + CHAIN.replace("positions", "# positions"), "Write the chain positions as"),
    "a position without teeth": (TOP + CHAIN.replace("driver = 12, ", ""), "driver: The key is missing"),
    "a ratio instead of teeth": (TOP + CHAIN.replace("driver = 12, driven = 30", "ratio = 0.4"), "knows no such key"),
    "a label twice": (TOP + CHAIN.replace("}]", '}, {label = "1", driver = 15, driven = 30}]'), "called 1"),
    "rows in quotes": (TOP.replace("rows = 12", 'rows = "12"') + LEVER, "is not a number"),
    "half a row": (TOP.replace("rows = 12", "rows = 12.5") + LEVER, "not a whole number"),
    "a name that is a number": (TOP.replace('"made up"', "5") + LEVER, "Write it in quotes"),
    "spacing in the wrong unit": (TOP.replace("= 7.5", "= 750") + LEVER, "cannot be"),
    "spacing in centimetres under inches": (TOP.replace("= 7.5", "= 90") + LEVER, "name the key row_spacing_cm"),
    "no circumference": (TOP.replace("rolling_circumference_ft = 7.2\n", "") + LEVER, "exactly one of"),
    "circumference twice": (TOP + "rolling_circumference_m = 2.2\n" + LEVER, "found 2"),
    "circumference zero": (TOP.replace("7.2", "0") + LEVER, "not above 0"),
    "nan": (TOP.replace("7.2", "nan") + LEVER, "is not a number"),
    "more rows caught than there are": (TOP + "[catch]\nrows = 13\n" + LEVER, "more than the drill's 12"),
    "catch that is no table": (TOP + "catch = 3\n" + LEVER, "[catch]"),
    "an unknown rule": (TOP + 'viable = "alive"\n' + LEVER, '"germination", "total"'),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_drill_that_cannot_be_is_refused_in_the_right_words(tmp_path, name):
    text, words = REFUSED[name]
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    assert words in str(caught.value)
    assert "drill.toml" in str(caught.value)


def test_all_problems_are_reported_together(tmp_path):
    with pytest.raises(InputError) as caught:
        read(tmp_path, 'rows = 0\ncolour = "red"\n' + LEVER.replace("highest = 60", ""))
    assert len(caught.value.problems) >= 5


def test_controls_that_cannot_be_are_refused():
    with pytest.raises(ValueError, match="lowest to its highest"):
        Lever(5, 5)
    with pytest.raises(ValueError, match="step"):
        Lever(0, 5, -1)
    with pytest.raises(ValueError, match="more_is"):
        Lever(0, 5, 1, more_is="up")
    with pytest.raises(ValueError, match="at least one"):
        Sprockets({})
    with pytest.raises(ValueError, match="above 0"):
        Sprockets({"1": 0.0})
    with pytest.raises(ValueError, match="holds"):
        SeedBox("a", "fluffy", Lever(0, 5))


def test_openings_grow_with_the_output_whichever_way_the_lever_counts():
    up, down = Lever(0, 10, 2.5), Lever(0, 10, 2.5, more_is="lower")
    assert up.openings.tolist() == down.openings.tolist() == [0, 2.5, 5, 7.5, 10]
    assert down.settings == (10, 7.5, 5, 2.5, 0)
    assert up.lowest_opening == down.lowest_opening == 0
    assert [down.at(each) for each in down.openings] == list(down.settings)


def test_sprockets_are_ordered_by_ratio_and_shown_by_label():
    chain = Sprockets({"b": 0.7, "a": 0.9, "c": 0.4})
    assert chain.settings == ("c", "b", "a")
    assert chain.openings.tolist() == [0.4, 0.7, 0.9]
    assert chain.show("b") == "b"
    assert hash(chain) == hash(Sprockets({"c": 0.4, "b": 0.7, "a": 0.9}))
