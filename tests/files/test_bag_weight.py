"""plan.csv: what a full bag weighs. All lots here are invented."""

import math

import pytest

from tests.files.test_analysis import FIELDS, bag, read, tag
from tests.refused import places_of, refusals

COLUMNS = (*FIELDS, "bag_weight_lb", "bag_weight_kg")


def weighed(tmp_path, *rows):
    return [lot.bag_weight for lot in read(tmp_path, *rows, columns=COLUMNS).lots]


def test_the_weight_of_a_bag_is_read_in_pounds_or_kilograms(tmp_path):
    # 1 lb = 453.59237 g, exact
    found = weighed(
        tmp_path, tag("97", bag_weight_lb="50", blend="m"), tag("96", bag_weight_kg="22.5", lot="L", blend="m")
    )
    assert found == pytest.approx([22_679.6185, 22_500], rel=1e-14)
    assert math.isnan(weighed(tmp_path, tag("97"))[0])


@pytest.mark.parametrize("row", [0, 1, 2])
def test_any_row_of_a_premixed_bag_may_hold_its_weight(tmp_path, row):
    parts = [{}, {}, {}]
    parts[row] = {"bag_weight_kg": "20"}
    assert weighed(tmp_path, *bag(*parts)) == [20_000] * 3


def test_one_weight_in_two_units_is_one_weight(tmp_path):
    found = weighed(tmp_path, *bag({"bag_weight_lb": "50"}, {"bag_weight_kg": "22.7"}, {}))
    assert found == pytest.approx([22_679.6185] * 3)


ODD = {
    "two weights": (bag({"bag_weight_lb": "50"}, {"bag_weight_lb": "40"}, {}), "line 3, column bag_weight_lb"),
    "two units": (bag({}, {"bag_weight_lb": "50"}, {"bag_weight_kg": "50"}), "line 4, column bag_weight_kg"),
    "both units in a row": ([tag("97", bag_weight_lb="50", bag_weight_kg="22.7")], "line 2, column bag_weight_kg"),
    "nothing in it": ([tag("97", bag_weight_lb="0")], "line 2, column bag_weight_lb"),
    "a truckload": ([tag("97", bag_weight_lb="50000")], "line 2, column bag_weight_lb"),
    "a unit in the cell": ([tag("97", bag_weight_kg="22.7 lb")], "line 2, column bag_weight_kg"),
}


@pytest.mark.parametrize(("rows", "places"), ODD.values(), ids=ODD)
def test_an_odd_weight_is_refused_where_it_is(tmp_path, rows, places):
    assert places_of(lambda: weighed(tmp_path, *rows)) == places


def test_the_words_of_what_is_refused(tmp_path):
    refusals(
        "refused-bag-weight", {name: lambda rows=rows: weighed(tmp_path, *rows) for name, (rows, _) in ODD.items()}
    )
