"""Weights of bulk seed, areas and lengths as they are typed in the field."""

from functools import partial

import pytest

from predictor.errors import InputError
from predictor.files.amounts import read_area, read_bulk, read_length
from predictor.units import GRAMS, SQUARE_METRES
from tests import golden


@pytest.mark.parametrize(
    ("text", "units", "grams"),
    [
        ("40", "us", 40 * GRAMS["lb"]),
        ("40", "metric", 40_000),
        ("18.2kg", "us", 18_200),
        ("18,2 kg", "us", 18_200),
        ("40 LBS", "metric", 40 * GRAMS["lb"]),
        ("50+50+ 12.5", "us", 112.5 * GRAMS["lb"]),
        ("11 lb + 9 oz.", "us", 11.5625 * GRAMS["lb"]),
        ("0", "us", 0),
        ("800 g", "us", 800),
    ],
)
def test_a_weight_is_in_the_drills_unit_or_names_its_own(text, units, grams):
    assert read_bulk(text, units) == pytest.approx(grams, rel=1e-12)


def test_an_area_and_a_length_are_in_the_drills_unit_or_name_their_own():
    assert read_area("2.1", "us") == pytest.approx(2.1 * SQUARE_METRES["ac"])
    assert read_area("2.1 acres", "metric") == pytest.approx(2.1 * SQUARE_METRES["ac"])
    assert read_area("0.85", "metric") == 8500
    assert read_length("20", "us") == pytest.approx(6.096)
    assert read_length("20 m", "us") == 20


REFUSED = {
    "a word": partial(read_bulk, "some", "us"),
    "nothing": partial(read_bulk, "", "us"),
    "a unit of another kind": partial(read_bulk, "12 ac", "us"),
    "below zero": partial(read_bulk, "-3", "us"),
    "a piece below zero": partial(read_bulk, "50 + -3", "us"),
    "two meanings": partial(read_bulk, "1,234", "us"),
    "a piece that is missing": partial(read_bulk, "50+", "metric"),
    "more than any drill plants": partial(read_bulk, "900000", "us"),
    "no area": partial(read_area, "0", "us"),
    "an area in yards": partial(read_area, "200 yd", "us"),
    "an area beyond every farm": partial(read_area, "9000", "metric"),
    "no length": partial(read_length, "0", "us", what="a length of row"),
    "a length in miles": partial(read_length, "2 mi", "us"),
}


def test_what_cannot_be_meant_is_refused_in_a_sentence():
    said = []
    for name, call in REFUSED.items():
        with pytest.raises(ValueError, match=r"\.$") as caught:
            call()
        assert not isinstance(caught.value, InputError), name
        said.append(f"== {name}\n{caught.value}\n")
    golden.check("refused-amounts", "\n".join(said))
