"""plan.csv: rows of one premixed bag that are not written as one are asked for. All lots here are invented."""

import pytest

from predictor.domain.result import Remark
from tests.files.test_bags_and_shares import BAG, IG, LB, RATE, bag, read
from tests.refused import places_of, refusals

TEN = {"bulk_rate_lb_ac": 10}
BOXES = "chaffy", "grain", "small"
OWN_LOTS = [row | {"lot": row["species"]} for row in BAG]


def over_boxes(rows, **values):
    return [row | TEN | {"box": box} | values for row, box in zip(rows, BOXES, strict=True)]


def blend(*bags, rows=BAG):
    """Every row with the rate of the whole bag, and a name of a bag of its own or none."""
    return [row | TEN | {"blend": "mix", "bag": name} for row, name in zip(rows, bags, strict=True)]


REFUSED = {
    "a bag over three boxes": (over_boxes(BAG), "line 3, column box"),
    "a bag over three boxes in a blend": (over_boxes(BAG, blend="mix"), "line 3, column box"),
    "a lot over three boxes and no bag": (over_boxes(BAG, bag=""), "line 3, column lot"),
    "a hyphen in one of the names": (blend("MIX-1", "MIX 1", "mix-1"), "line 3, column bag"),
    "two spaces in one of the names": (blend("MIX  1", "MIX 1", "MIX  1"), "line 3, column bag"),
    "another name with the same lot": (blend("MIX-1", "MIX-1", "MX-1"), "line 4, column bag"),
    "a row without its bag": (blend("MIX-1", "MIX-1", ""), "line 4, column bag"),
    "two rows without their bag": (blend("MIX-1", "", "", rows=OWN_LOTS), "line 3, column bag; line 4, column bag"),
    "a row without its bag before the bag": (blend("", "MIX-1", "MIX-1"), "line 2, column bag"),
    "a species twice under two names": (
        [*bag(TEN), BAG[1] | {"species": "Sorghastrum nutans"}], "line 5, column species"
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rows", "places"), REFUSED.values(), ids=REFUSED)
def test_one_bag_that_would_be_planted_twice_is_asked_for(tmp_path, rows, places):
    assert places_of(lambda: read(tmp_path, *rows)) == places


def test_the_words_of_each_question(tmp_path):
    refusals("refused-one-bag", {name: lambda rows=rows: read(tmp_path, *rows) for name, (rows, _) in REFUSED.items()})


RICH = [row | RATE | {"purity_pct": 90 - k} for k, row in enumerate(OWN_LOTS)]
TAKEN = {
    "one bag in two boxes, whole in each": [*bag(TEN, box="chaffy"), *bag(TEN, box="grain")],
    "names in capitals or not": blend("MIX-1", "mix-1", "Mix-1"),
    "one lot name for different lots, as numbers in each box": over_boxes(RICH, bag="", lot="1", bulk_rate_lb_ac=""),
    "a bag and a lot that cannot be on its tag": [*bag(TEN, blend="mix"), IG | RATE],
    "a bag and a poor lot that has a name of its own": [
        *bag(TEN, blend="mix"), IG | RATE | {"purity_pct": 20, "bag": "IG"}
    ],
    "two bags with a species in common": [
        *bag(TEN, blend="mix"), BAG[0] | RATE | {"blend": "mix", "bag": "LB", "purity_pct": 20}
    ],
    "lots in two blends": [LB | RATE | {"purity_pct": 40}, IG | RATE | {"blend": "other", "purity_pct": 40}],
}  # fmt: skip


@pytest.mark.parametrize("rows", TAKEN.values(), ids=TAKEN)
def test_what_cannot_be_one_bag_is_taken(tmp_path, rows):
    assert read(tmp_path, *rows).lots


def test_lots_in_several_boxes_that_look_like_one_tag_are_named(tmp_path):
    rows = over_boxes(OWN_LOTS, bag="")
    found = [each for each in read(tmp_path, *rows).remarks if each.code == "plan.bag_in_boxes"]
    # the poorest first
    lots = "purple prairie clover", "Indiangrass", "little bluestem"
    assert found == [Remark("plan.bag_in_boxes", {"lots": lots, "total": 70.0})]
    named = [row | {"bag": row["lot"]} for row in rows]
    rich = over_boxes(RICH, bag="", bulk_rate_lb_ac="")
    for other in (named, rich):
        assert "plan.bag_in_boxes" not in [each.code for each in read(tmp_path, *other).remarks]


@pytest.mark.parametrize(("rows", "lots"), [
    ([*bag(TEN, box="chaffy"), *bag(TEN, box="grain")], ["MIX-1"]),
    ([row | RATE | {"box": box, "blend": ""} for box, row in zip(BOXES, [LB, LB, IG], strict=True)], ["LB"]),
    ([row | RATE | {"box": box, "blend": ""} for box, row in zip(BOXES, [LB, IG], strict=False)], []),
    (over_boxes(RICH, bag="", lot="1", bulk_rate_lb_ac=""), []),
])  # fmt: skip
def test_what_goes_into_two_boxes_is_said_to_add_up(tmp_path, rows, lots):
    """The rate of the field in the rows of each box is twice the seed."""
    remarks = [each for each in read(tmp_path, *rows).remarks if each.code == "plan.in_boxes"]
    assert remarks == [Remark("plan.in_boxes", {"lot": lot, "boxes": ("chaffy", "grain")}) for lot in lots]
