"""The remarks of a plan in sentences."""

import datetime

from predictor import Drill, Lever, SeedBox, read_plan
from predictor.text.plan import SENTENCES

BOXES = (SeedBox("grain", "free-flowing", Lever(0, 60)), SeedBox("small", "small", Lever(0, 60)))
ROWS = """\
box,lot,species,pls_rate_lb_ac,seeds_per_ft2,purity_pct,germination_pct,dormant_pct,seeds_per_lb,test_date,blend,kind,carrier_lb_ac
grain,A,switchgrass,1,,97,62,,25900,2026-02-24,early,,5
grain,B,swichgrass,1,,97,62,,,2026-11-26,early,chaffy,5
grain,C,little bluestem,,20,98,2,90,,,late,,
grain,D,switchgrass,,20,97,62,,,,late,,
small,E,TRVI,,5,97,62,,,,,,
"""


def test_every_remark_of_a_plan_is_a_sentence(tmp_path):
    path = tmp_path / "plan.csv"
    path.write_text(ROWS, encoding="utf-8")
    plan = read_plan(path, Drill("made up", 12, 0.19, 2.2, BOXES), today=datetime.date(2026, 11, 25))
    assert {remark.code.removeprefix("plan.") for remark in plan.remarks} == set(SENTENCES)
    for remark in plan.remarks:
        assert str(remark).endswith("."), remark
        assert "{" not in str(remark), remark
