"""plan.csv: the other parts of a tag, noxious seed, origin and variety, and what the rates are meant for.

All lots here are invented. Pure seed, other crop, weed and inert matter of a tag add to 100 % (Texas DOT, read, no
page recorded).
"""

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import assume, given, strategies as st

from predictor import InputError, read_plan
from predictor.domain.result import Remark
from tests.domain.test_seed import DRILL, TODAY
from tests.refused import places_of, refusals

FIELDS = ("box", "lot", "species", "blend", "bag", "pls_rate_lb_ac", "purity_pct", "germination_pct", "treatment")
PARTS = ("other_crop_pct", "weed_pct", "inert_pct", "coating_pct")
COLUMNS = (*FIELDS, *PARTS, "noxious", "origin", "variety", "method")
LOT = {"box": "small", "lot": "K", "species": "switchgrass", "pls_rate_lb_ac": "3", "germination_pct": "80"}
BAG = {"box": "chaffy", "lot": "M", "bag": "MIX", "germination_pct": "80"}


def read(tmp_path, *rows, columns=COLUMNS):
    path = tmp_path / "plan.csv"
    lines = [",".join(f'"{row.get(name, "")}"' for name in columns) for row in rows]
    path.write_text("\n".join([",".join(columns), *lines, ""]), encoding="utf-8")
    return read_plan(path, DRILL, today=TODAY)


def tag(pure="", crop="", weed="", inert="", coating="", **values):
    """One lot with the parts of its tag, as printed."""
    return LOT | dict(zip(("purity_pct", *PARTS), (pure, crop, weed, inert, coating), strict=True)) | values


def bag(*parts):
    """A bag of three species with the parts of its tag in some of its rows."""
    rows = zip(("little bluestem", "Indiangrass", "big bluestem"), ("30.00", "24.00", "20.00"), strict=True)
    return [
        BAG | {"species": species, "purity_pct": pure, "pls_rate_lb_ac": "5" if k == 0 else ""} | parts[k]
        for k, (species, pure) in enumerate(rows)
    ]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("analysis")


def split(total, cuts):
    """Whole parts that add to a total, cut at some points."""
    points = [0, *sorted(cuts), total]
    return [high - low for low, high in itertools.pairwise(points)]


@given(st.data(), st.integers(0, 4), st.integers(3, 4), st.sampled_from(".,"))
def test_parts_that_add_to_100_pass_whatever_the_digits(folder, data, digits, cuts, sign):
    assume(digits != 3 or sign == ".")  # 1,234 may be a thousand
    steps = 100 * 10**digits
    parts = split(steps, data.draw(st.lists(st.integers(0, steps), min_size=cuts, max_size=cuts)))
    assume(parts[0] > 10**digits)  # a purity of at most 1 is taken for a fraction
    (lot,) = read(folder, tag(*(f"{each / 10**digits:.{digits}f}".replace(".", sign) for each in parts))).lots
    found = [lot.purity, lot.other_crop, lot.weed, lot.inert, lot.coating][: len(parts)]
    assert found == pytest.approx([each / steps for each in parts])
    assert math.isnan(lot.coating) == (len(parts) == 4)


@given(st.lists(st.integers(0, 10**8), min_size=3, max_size=3), st.lists(st.integers(0, 2), min_size=4, max_size=4))
def test_four_parts_that_were_rounded_each_to_its_own_digits_pass(folder, cuts, digits):
    pure, *rest = sorted(split(10**8, cuts), reverse=True)
    # no part lies half-way between two printed figures, where the way of rounding decides
    assume(all(each * 10**k % 10**6 != 500_000 for each, k in zip((pure, *rest), digits, strict=True)))
    texts = [f"{each / 1e6:.{k}f}" for each, k in zip((pure, *rest), digits, strict=True)]
    assert len(read(folder, tag(*texts)).lots) == 1


@given(st.integers(2, 9_000), st.integers(0, 500), st.integers(0, 400), st.integers(3, 500))
def test_an_analysis_that_misses_100_by_more_than_rounding_is_refused(folder, pure, crop, weed, miss):
    """In hundredths of a per cent; four figures to 0.01 miss their sum by at most 0.02."""
    parts = [pure + 200, crop, weed, 10_000 - (pure + 200) - crop - weed - miss]
    assume(parts[3] >= 0)
    with pytest.raises(InputError):
        read(folder, tag(*(f"{each / 100:.2f}" for each in parts)))


@pytest.mark.parametrize(
    "parts",
    [
        ("97.5", "", "", "2.5"),  # not all four are given, so less than 100 is no slip
        ("97.5", "", "", "1"),
        ("97.52", "0.06", "0.02", "2.40"),
        ("62.5", "0.05", "0.05", "2.4", "35"),  # the coat beside the inert matter
        ("62.5", "0.05", "0.05", "37.4", "35"),  # and within it
        ("98", "0", "0", "2", "0"),
    ],
)
def test_a_tag_that_adds_up_is_taken(tmp_path, parts):
    assert read(tmp_path, tag(*parts)).lots


@pytest.mark.parametrize(
    ("parts", "column"),
    [
        (("97.5", "", "", "3.1"), "inert_pct"),
        (("97.5", "0.06", "0.02", "1.40"), "other_crop_pct"),
        (("97.5", "", "5", "", ""), "weed_pct"),
        (("98", "", "", "2", "50"), "inert_pct"),  # purity of the bare seed
        (("62.5", "0.05", "0.05", "37.4", "40"), "other_crop_pct"),  # more coat than inert matter
        (("", "", "60", "50", ""), "weed_pct"),  # without purity too
    ],
)
def test_a_tag_that_does_not_is_refused(tmp_path, parts, column):
    row = tag(*parts)
    if not parts[0]:
        row |= {"germination_pct": "", "pls_rate_lb_ac": "", "bulk_rate_lb_ac": "30"}
    found = places_of(lambda: read(tmp_path, row, columns=(*COLUMNS, "bulk_rate_lb_ac")))
    assert found == f"line 2, column {column}"


def test_the_parts_of_a_row_without_purity_are_no_whole_analysis(tmp_path):
    row = tag("", "0.1", "0.1", "2") | {"germination_pct": "", "pls_rate_lb_ac": "", "bulk_rate_lb_ac": "30"}
    (lot,) = read(tmp_path, row, columns=(*COLUMNS, "bulk_rate_lb_ac")).lots
    assert (lot.inert, lot.tagged) == (0.02, False)


def test_no_figure_changes_by_the_rest_of_the_tag(tmp_path):
    plain = read(tmp_path, tag("62.5")).lots[0]
    told = tag(
        "62.5", "0.05", "0.05", "2.4", "35", noxious="none", origin="county C", variety="made-up", method="drilled"
    )
    (lot,) = read(tmp_path, told).lots
    names = ("other_crop", "weed", "inert", "coating", "noxious", "origin", "variety", "method")
    values = [getattr(lot, name) for name in names]
    assert values[:4] == pytest.approx([0.0005, 0.0005, 0.024, 0.35])
    assert values[4:] == ["none", "county C", "made-up", "drilled"]
    assert replace(lot, **{name: getattr(plain, name) for name in names}) == plain


def test_one_tag_of_a_bag_holds_for_all_its_species(tmp_path):
    parts = {"inert_pct": "25.8", "weed_pct": "0.1", "other_crop_pct": "0.1", "noxious": "none"}
    once = read(tmp_path, *bag({}, parts, {})).lots
    assert [(lot.inert, lot.weed, lot.noxious) for lot in once] == [(pytest.approx(0.258), 0.001, "none")] * 3
    assert read(tmp_path, *bag(parts, parts, parts)).lots == once
    # 30 + 24 + 20 + 26.2 is 100.2
    more = parts | {"inert_pct": "26.0"}
    assert places_of(lambda: read(tmp_path, *bag({}, {}, more))) == "line 4, column other_crop_pct"
    assert places_of(lambda: read(tmp_path, *bag(parts, more, {}))) == "line 3, column inert_pct"


def test_origin_and_variety_of_a_bag_are_those_of_each_species(tmp_path):
    lots = read(tmp_path, *bag({"origin": "county A"}, {"origin": "county B", "variety": "made-up"}, {})).lots
    assert [(lot.origin, lot.variety) for lot in lots] == [("county A", ""), ("county B", "made-up"), ("", "")]


@pytest.mark.parametrize("text", ["", "none", "None.", "NO", "0", "nil"])
def test_a_tag_without_noxious_seed_is_not_remarked_on(tmp_path, text):
    assert read(tmp_path, tag("97", noxious=text)).remarks == ()


def test_noxious_seed_is_pointed_at_once_a_bag(tmp_path):
    noxious = Remark("plan.noxious", {"lot": "K", "noxious": "2 dodder per lb"})
    assert read(tmp_path, tag("97", noxious="2 dodder per lb")).remarks == (noxious,)
    rows = bag({"noxious": "none"}, {"noxious": "2 dodder per lb"}, {"noxious": "none"})
    assert read(tmp_path, *rows).remarks == (Remark("plan.noxious", {"lot": "MIX", "noxious": "2 dodder per lb"}),)


def test_what_is_mixed_in_one_box_is_sown_in_one_way(tmp_path):
    one = tag("97", blend="mix", method="Broadcast")
    other = tag("96", blend="mix", lot="L")
    plan = read(tmp_path, one, other)
    assert [lot.method for lot in plan.lots] == ["broadcast"] * 2
    assert [box.method for box in plan.boxes] == ["broadcast"]
    assert read(tmp_path, tag("97")).boxes[0].method == ""
    assert places_of(lambda: read(tmp_path, one, other | {"method": "drilled"})) == "line 3, column method"
    assert places_of(lambda: read(tmp_path, tag("97", method="aerial"))) == "line 2, column method"


def test_the_words_of_what_is_refused(tmp_path):
    parts = {"inert_pct": "25.8", "weed_pct": "0.1", "other_crop_pct": "0.1"}
    refusals("refused-analysis", {
        "less than 100": lambda: read(tmp_path, tag("97.5", "0.06", "0.02", "1.40")),
        "more than 100": lambda: read(tmp_path, tag("97.5", "", "", "3.1")),
        "purity without the coat": lambda: read(tmp_path, tag("98", "", "", "2", "50")),
        "one tag written as several": lambda: read(
            tmp_path, *({**row, "bag": "", "blend": "mix", "pls_rate_lb_ac": "2"} for row in bag(parts, parts, parts))
        ),
        "a bag": lambda: read(tmp_path, *bag({}, {}, parts | {"inert_pct": "26.0"})),
        "two tags in a bag": lambda: read(tmp_path, *bag(parts, parts | {"inert_pct": "26.0"}, {})),
        "not a number": lambda: read(tmp_path, tag("97.5", "", "trace")),
        "no method": lambda: read(tmp_path, tag("97", method="aerial")),
        "two methods": lambda: read(
            tmp_path, tag("97", blend="mix", method="drilled"), tag("96", blend="mix", lot="L", method="broadcast")
        ),
    })  # fmt: skip
