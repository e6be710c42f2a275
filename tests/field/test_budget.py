"""Where the uncertainty of the planted live seed comes from. All numbers are invented."""

import json
import math
import pickle

import pytest
from hypothesis import given, strategies as st

from predictor.advice.lot_fit import Stationary
from predictor.field.budget import combined_uncertainty, germination_tolerance, live_seed_budget, purity_tolerance
from predictor.field.results import FieldResult
from predictor.files.plan import read_plan
from predictor.job.read import read_job
from tests.conftest import SAMPLE

JOB = read_job(SAMPLE)
STANDING = Stationary(0.0, 0.05, 0.04, 0.03, 12.0)


def budget(box="chaffy", standing=STANDING, **options):
    plan = next(each for each in JOB.plan.boxes if each.box.name == box)
    return live_seed_budget(plan, standing, JOB.drill, **options)


def size(found, name):
    return next(each.u for each in found.sources if each.name == name)


def test_parts_add_up_to_the_whole():
    found = budget()
    assert math.fsum(map(found.share, found.sources)) == pytest.approx(1)
    assert found.combined == pytest.approx(math.sqrt(sum(each.u**2 for each in found.sources)))
    assert found.expanded == pytest.approx(found.k * found.combined)
    assert [each.u for each in found.sources] == sorted((each.u for each in found.sources), reverse=True)


def test_a_single_lots_tag_is_its_tolerance_over_root_three():
    found = budget("grain")  # 94 % pure, 88 % germination: 7 points
    assert size(found, "germination") == pytest.approx(0.07 / math.sqrt(3) / 0.88)
    assert size(found, "purity") == pytest.approx(purity_tolerance(94) / 100 / math.sqrt(3) / 0.94)


def test_lots_of_a_blend_count_by_their_live_seed():
    found = budget("small")
    lots = JOB.plan.target("small", "forb mix").lots
    total = sum(lot.pls_rate for lot in lots)
    parts = [
        lot.pls_rate / total * germination_tolerance(100 * lot.germination) / 100 / lot.germination / math.sqrt(3)
        for lot in lots
    ]
    assert size(found, "germination") == pytest.approx(math.hypot(*parts))


def test_dormant_seed_counts_under_the_rule_that_counts_it():
    total = read_plan(SAMPLE / "plan.csv", JOB.drill, viable="total").target("small", "forb mix")
    assert size(live_seed_budget(total, STANDING, JOB.drill), "germination") < size(budget("small"), "germination")


def test_without_field_check_the_uncorrected_offset_adds_its_square():
    """JCGM 100:2008, F.2.4.5 (from memory): a known correction that is not made enlarges the uncertainty."""
    found = budget("small")
    assert size(found, "field_factor") == pytest.approx(math.hypot(1 - 0.918, 0.045, 0.032))
    assert "circumference" in {each.name for each in found.sources}
    assert (found.best["source"], found.best["remedy"].code) == ("field_factor", "budget.check_box")
    assert found.best["after"] < found.best["before"] == found.expanded
    assert found.left_out is None


def test_a_check_of_another_lot_narrows_the_factor_and_holds_the_circumference():
    found = budget("chaffy", field=JOB.field)
    assert size(found, "field_factor") < 0.05
    assert "circumference" not in {each.name for each in found.sources}
    assert found.left_out.code == "budget.without_circumference"


def test_a_check_of_this_lot_takes_the_place_of_the_catches():
    found = budget("grain", field=JOB.field)
    names = {each.name for each in found.sources}
    assert "field_checks" in names
    assert not names & {"catches", "rows", "scale", "field_factor"}
    assert found.left_out.code == "budget.without_catches"
    assert found.expanded < budget("grain", field=FieldResult((), ())).expanded


def test_rows_weighed_singly_are_measured_and_others_assumed():
    assert size(budget(), "rows") == 0.03
    unknown = Stationary(0.0, 0.04, 0.04, 0.0, 12.0)
    assert size(budget(standing=unknown), "rows") == pytest.approx(0.07 * math.sqrt(1 / 3 - 1 / 12))
    assert size(budget(standing=unknown, rows=12), "rows") == 0


def test_filling_is_measured_published_or_assumed():
    measured = Stationary(0.0, 0.05, 0.04, 0.03, 12.0, 0.24)
    assert size(budget(standing=measured), "filling") == pytest.approx(0.12 / math.sqrt(3))
    assert size(budget(), "filling") == pytest.approx(0.075 / math.sqrt(3))
    assert size(budget("grain"), "filling") == pytest.approx(0.05 / math.sqrt(3))


def test_json_has_words_for_codes_and_no_infinity():
    values = json.loads(json.dumps(budget().to_dict(), allow_nan=False))
    assert {each["dof"] for each in values["sources"]} == {None, 12.0}
    assert math.fsum(each["share"] for each in values["sources"]) == pytest.approx(1)
    assert {type(each[name]) for each in values["sources"] for name in ("name", "basis", "remedy")} == {str}


def test_what_is_left_after_a_remedy_is_what_it_leaves():
    """The remedy of the rows, catching every one, leaves nothing of their part."""
    found = budget()
    rows = next(each for each in found.sources if each.name == "rows")
    others = [each.u for each in found.sources if each.name != "rows"]
    assert found.after(rows) == pytest.approx(found.k * math.hypot(*others))


def test_a_budget_is_compared_hashed_and_pickled_by_its_values():
    assert budget() == budget() != budget("grain")
    assert hash(budget()) == hash(budget())
    assert pickle.loads(pickle.dumps(budget())) == budget()


@given(
    st.lists(st.tuples(st.floats(1e-6, 1.0), st.one_of(st.just(math.inf), st.floats(1, 1e5))), min_size=1, max_size=8)
)
def test_welch_satterthwaite_lies_between_its_parts(parts):
    combined, dof, k = combined_uncertainty(parts)
    assert max(u for u, _ in parts) <= combined * (1 + 1e-12)
    assert min(free for _, free in parts) <= dof * (1 + 1e-9)
    assert dof <= sum(free for _, free in parts) * (1 + 1e-9)
    assert 1.95 < k < 12.8
