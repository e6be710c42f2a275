"""The remarks of a plan in sentences."""

import datetime

import pytest

from predictor import Drill, Lever, SeedBox, read_plan
from predictor.domain.catch import coarse_scale
from predictor.domain.drill import CatchDefaults
from predictor.text.plan import SENTENCES

BOXES = (SeedBox("grain", "free-flowing", Lever(0, 60)), SeedBox("small", "small", Lever(0, 60)))
ROWS = """\
box,lot,species,pls_rate_lb_ac,bulk_rate_lb_ac,seeds_per_ft2,purity_pct,germination_pct,tz_pct,viable,dormant_pct,seeds_per_lb,test_date,blend,kind,carrier_lb_ac
grain,A,switchgrass,1,,,97,62,,total,,25900,2026-02-24,early,,5
grain,B,swichgrass,1,,,97,62,,,,,2026-11-26,early,chaffy,5
grain,C,little bluestem,,,20,98,2,,,90,,,late,,
grain,D,switchgrass,,,20,97,,62,hard,,,,late,,
small,E,BATI,,,5,97,62,,,,,,forbs,,
small,F,oats,,30,,,,,,,,,forbs,,
small,G,purple prairie clover,1,,,97,62,,,,,,forbs,,
small,I,switchgrass,1,,,30,62,,,,,,forbs,,
small,J,switchgrass,1,,,25,62,,,,,,forbs,,
small,H,prairie dropseed,1,,,97,62,,,,16000,,forbs,,
"""
# Without a rule that is typed: premixed bags, and lots alone in their boxes
BAGS = """\
box,lot,species,bag,seeds_per_ft2,purity_pct,germination_pct,dormant_pct,viable,noxious
grain,A,switchgrass,one bag,20,60,62,,,
grain,A,little bluestem,one bag,20,40,62,,,
small,B,switchgrass,,10,98,62,20,hard,2 dodder per lb
"""
ALONE = """\
box,lot,species,pls_rate_lb_ac,seeds_per_ft2,purity_pct,germination_pct
grain,A,switchgrass,1,,30,62
small,B,little bluestem,,500,30,62
"""
SAME = """\
box,lot,species,blend,pls_rate_lb_ac,purity_pct,germination_pct
grain,A,switchgrass,mix,9,98,62
grain,B,switchgrass,mix,9,97,62
grain,C,switchgrass,mix,9,96,62
small,C,switchgrass,,9,96,62
small,D,switchgrass,,9,95,62
"""

SWAPPED = """\
box,lot,species,pls_rate_kg_ha,purity_pct,germination_pct,dormant_pct,viable
grain,A,switchgrass,4,60,75,23,total
"""


def test_every_remark_of_a_plan_is_a_sentence(tmp_path):
    path, remarks = tmp_path / "plan.csv", []
    for rows, rule in ((ROWS, "germination"), (BAGS, None), (ALONE, None), (SAME, None), (SWAPPED, None)):
        path.write_text(rows, encoding="utf-8")
        drill = Drill("made up", 12, 0.19, 2.2, BOXES)
        plan = read_plan(path, drill, today=datetime.date(2026, 11, 25), viable=rule)
        remarks += [*plan.remarks, *(each for each in plan.assumed if each.code.startswith("plan."))]
    assert {remark.code.removeprefix("plan.") for remark in remarks} | {"coarse_scale"} == set(SENTENCES)
    for remark in remarks:
        assert str(remark).endswith("."), remark
        assert "{" not in str(remark), remark
        assert "e+" not in str(remark), remark


@pytest.mark.parametrize(
    ("step_g", "more"),
    [
        (0.09, None),
        (0.1, {"more_turns": 32, "more_rows": 4, "turns_of_all": None}),
        (0.3, {"more_turns": 94, "more_rows": 10, "turns_of_all": None}),
        (0.5, {"more_turns": None, "more_rows": None, "turns_of_all": 39}),
        (5.0, {"more_turns": None, "more_rows": None, "turns_of_all": None}),
    ],
)
def test_mends_of_a_coarse_scale_stay_within_what_a_person_does(step_g, more):
    """A catch of 9.01 g in 28 turns and 3 of 12 rows: at 1 % a step of the scale may be 0.0901 g."""
    drill = Drill("made up", 12, 0.19, 2.2, BOXES, CatchDefaults(28, 3, 5, step_g))
    remark = coarse_scale(BOXES[1], 9.01 / 84, drill, 28, 3)
    assert (remark is None) == (more is None)
    if remark is not None:
        assert {name: remark[name] for name in more} == more
        assert remark["share"] == pytest.approx(step_g / 9.01)
        assert str(remark).startswith("Box small: ")
