"""Fields in drill.toml: what is read, and what is refused with which words. All fields here are invented."""

from functools import partial

import pytest

from predictor import Field, read_drill
from tests.files.test_drill_file import US
from tests.refused import places_of, refusals

NORTH = '\n[[field]]\nname = "north"\narea_ac = 12\n'
SOUTH = '\n[[field]]\nname = "South 40"\narea_ha = 8.5\n'
LINE = len(US.split("\n"))  # the empty line before the first field


def read(tmp_path, text):
    path = tmp_path / "drill.toml"
    path.write_text(text)
    return read_drill(path)


def test_fields_are_read_into_square_metres_in_the_order_of_the_file(tmp_path):
    # 1 ac = 4046.8564224 m2 (43,560 square international feet), 1 ha = 10,000 m2, both exact
    fields = read(tmp_path, US + NORTH + SOUTH).fields
    assert [each.name for each in fields] == ["north", "South 40"]
    assert [each.area_m2 for each in fields] == pytest.approx([48_562.2770688, 85_000], rel=1e-14)
    assert read(tmp_path, US).fields == ()


@pytest.mark.parametrize("area", [0.0, -1.0, float("nan"), float("inf")])
def test_a_field_has_an_area(area):
    with pytest.raises(ValueError, match="above 0"):
        Field("north", area)


ODD = {
    "twice": (NORTH + NORTH.replace("north", "North"), f"line {LINE + 6}, field North, name"),
    "no name": (NORTH.replace('name = "north"\n', ""), f"line {LINE + 1}, field number 1, name"),
    "no area": (NORTH.replace("area_ac = 12\n", ""), f"line {LINE + 1}, field north, area"),
    "both areas": (NORTH + "area_ha = 5\n", f"line {LINE + 4}, field north, area_ha"),
    "square feet": (NORTH.replace("12", "522720"), f"line {LINE + 3}, field north, area_ac"),
    "square metres": (SOUTH.replace("8.5", "85000"), f"line {LINE + 3}, field South 40, area_ha"),
    "negative": (NORTH.replace("12", "-12"), f"line {LINE + 3}, field north, area_ac"),
    "nothing": (NORTH.replace("12", "0"), f"line {LINE + 3}, field north, area_ac"),
    "a unit": (NORTH.replace("12", '"12 ac"'), f"line {LINE + 3}, field north, area_ac"),
    "another key": (NORTH + "acres = 12\n", f"line {LINE + 4}, field north, acres"),
    "one pair of brackets": (NORTH.replace("[[field]]", "[field]"), f"line {LINE + 1}, field"),
}


@pytest.mark.parametrize(("more", "places"), ODD.values(), ids=ODD)
def test_odd_field_is_refused_with_the_one_thing_that_is_wrong(tmp_path, more, places):
    assert places_of(lambda: read(tmp_path, US + more)) == places


def test_the_words_of_each_refusal(tmp_path):
    refusals("refused-fields", {name: partial(read, tmp_path, US + more) for name, (more, _) in ODD.items()})
