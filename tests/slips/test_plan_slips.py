"""Slips in plan.csv that the numbers can show: found, asked about, or said. All lots are invented."""

import pytest

from predictor import InputError, read_drill, read_plan
from tests import golden
from tests.running import TODAY
from tests.slips.test_three_ways import DRILL

HEAD = "box,lot,species,pls_rate_lb_ac,purity_pct,germination_pct,dormant_pct,blend,viable"
METRIC = DRILL.replace("spacing_in = 7.6", "spacing_cm = 19").replace("circumference_ft = 7.1", "circumference_m = 2.2")


@pytest.fixture
def plan(tmp_path):
    def read(*rows, head=HEAD, drill=DRILL):
        (tmp_path / "drill.toml").write_text(drill)
        (tmp_path / "plan.csv").write_text("\n".join([head, *rows]) + "\n")
        return read_plan(tmp_path / "plan.csv", read_drill(tmp_path / "drill.toml"), today=TODAY)

    return read


def codes(found):
    return {each.code for each in found.remarks}


def test_a_premixed_bag_written_as_its_species_is_refused(plan):
    """The purities of the rows add to what one tag has, so its rate would be planted once a species."""
    with pytest.raises(InputError) as caught:
        plan("grain,A,Canada wildrye,5,45,80,0,mix,", "grain,B,Virginia wildrye,5,40,80,0,mix,")
    assert [each.column for each in caught.value.problems] == ["bag"]


@pytest.mark.parametrize("tag", ["0.95,0.85,0", "95,0.85,0", "0.95,85,0"])
def test_fractions_for_per_cent_are_refused(plan, tag):
    with pytest.raises(InputError, match="looks like a fraction"):
        plan(f"grain,A,Canada wildrye,5,{tag},,")


@pytest.mark.parametrize(
    ("purity", "germination", "dormant", "found"),
    [
        (30, 60, 40, True),  # purity 60, germination 30 with 40 dormant: 0.42 of it is alive, and not 0.30
        (40, 70, 28, True),
        (60, 30, 40, False),
        (40, 70, 15, False),  # as chaffy seed commonly is
        (92, 96, 2, False),
        (30, 98, 0, False),  # the product is the same
    ],
)
def test_purity_and_germination_in_each_others_place_are_asked_about(plan, purity, germination, dormant, found):
    row = f"grain,A,Canada wildrye,5,{purity},{germination},{dormant},,{{}}"
    assert ("plan.swapped_tag" in codes(plan(row.format("total")))) == found
    # where dormant seed does not count, live seed is the product of the two whichever is which
    assert "plan.swapped_tag" not in codes(plan(row.format("germination")))


def test_a_swapped_tag_on_which_more_than_all_is_alive_is_refused(plan):
    with pytest.raises(InputError, match="add to more than 100"):
        plan("grain,A,Canada wildrye,5,60,95,25,,total")  # purity 95, germination 60


def test_rates_in_the_units_of_the_other_system_are_said(plan):
    row = "grain,A,Canada wildrye,5,95,85,0,,"
    metric = HEAD.replace("lb_ac", "kg_ha")
    assert "plan.other_units" not in codes(plan(row)) | codes(plan(row, head=metric, drill=METRIC))
    said = [str(each) for read in ({"head": metric}, {"drill": METRIC}) for each in plan(row, **read).remarks
            if each.code == "plan.other_units"]  # fmt: skip
    assert len(said) == 2
    golden.check("plan-slips", "\n".join([*said, *map(str, plan("grain,A,Canada wildrye,5,30,60,40,,total").remarks)]))
