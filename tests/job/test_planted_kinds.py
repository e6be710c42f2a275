"""Evidence of lots out of the ordinary: premixed bags, boxes with two controls, towed catches. All is invented."""

import pytest

from predictor import read_job
from predictor.domain.planted import PlantedLine
from predictor.job.plant import evidence_of
from predictor.job.planting import planting
from tests.commands import test_towed, test_two_controls
from tests.conftest import SAMPLE

ACRE = 4046.8564224


def advice_of(job):
    return job.advice(job.tasks()[0])


def test_each_species_of_a_premixed_bag_has_the_live_seed_of_its_tag():
    """By hand: 2.5 lb/ac of a bag with 31 % of it pure seed that germinates at 41 % is 0.31775 lb/ac of live seed."""
    job = read_job(SAMPLE)
    box = job.drill.box("small")
    setting = box.control.find("14")
    evidence = evidence_of(job, box, "forb mix", setting)
    area = 8 * ACRE
    line = PlantedLine(
        "2026-11-25", "", box, "forb mix", setting, area, 1.1 * evidence.target * area, 0.0, "", "", True, evidence, 2
    )
    found = planting([line])
    clover = next(each for each in found.species if each.names == ("purple prairie clover",))
    assert clover.pls_g == pytest.approx(1.1 * 8 * 2.5 * 0.31 * 0.41 * 453.59237)
    live = 1.1 * 2.5 * 0.31 * 0.41 * 293_000 / 43_560
    assert clover.to_dict("us")["live_seeds_per_ft2"] == pytest.approx(live)
    bag = next(each for each in found.lots if each.names == ("FM-26",))
    assert bag.used_g == pytest.approx(1.1 * 8 * 2.5 * 453.59237)
    assert found.carrier[0].used_g == pytest.approx(1.1 * 8 * 2.2 * 453.59237)


def test_the_evidence_of_a_box_with_two_controls_is_that_of_the_drive_planted_on(tmp_path):
    log = test_two_controls.LOG + "".join(f"grain,W-1,11 on low,{grams},2026-11-21,\n" for grams in (4.1, 4.2))
    for name, text in (
        ("drill.toml", test_two_controls.KNOWN),
        ("trials.csv", log),
        ("plan.csv", test_two_controls.PLAN),
    ):
        (tmp_path / name).write_text(text)
    job = read_job(tmp_path)
    advice, box = advice_of(job), job.drill.box("grain")
    low = evidence_of(job, box, "W-1", advice.advised)
    assert (low.decision, low.advised) == ("lock", "11 on low")
    assert low.chance == pytest.approx(advice.chance)
    assert low.catches[0][:2] == ("2026-11-20", "30 on high")
    high = evidence_of(job, box, "W-1", box.control.find("30 on high"))
    assert high.chance < 0.01
    # the high drive turns the meters eight times as fast
    assert high.expected > 8 * low.expected


def test_the_evidence_of_a_towed_lot_has_the_rate_of_the_field_and_no_factor(tmp_path):
    weights = [test_towed.TARGET_G * each for each in (0.99, 1.0, 1.01, 1.0)]
    (tmp_path / "drill.toml").write_text(test_towed.DRILL)
    (tmp_path / "plan.csv").write_text(test_towed.PLAN)
    (tmp_path / "trials.csv").write_text(test_towed.HEAD + "".join(map(test_towed.TOWED.format, weights)))
    job = read_job(tmp_path)
    advice, box = advice_of(job), job.drill.box("grain")
    found = evidence_of(job, box, "W", box.control.find("30"))
    assert (found.towed, found.field_factor, found.decision) == (True, 1.0, "lock")
    assert found.chance == pytest.approx(advice.chance)
    # by hand: 6 lb/ac of live seed at 94 % pure and 88 % germination, in grams per square metre
    assert found.target == pytest.approx(6 / 0.94 / 0.88 * 453.59237 / ACRE)
    assert found.expected == pytest.approx(found.target, rel=0.01)
