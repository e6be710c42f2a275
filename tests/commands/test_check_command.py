"""predictor check: what it says, in US and metric units, and that plan and recommend use it."""

import json

import pytest

from tests.conftest import SAMPLE


def test_metric_and_us_say_the_same(run):
    us, metric = (
        json.loads(run("check", SAMPLE / "field.csv", "--json", "--units", u).stdout) for u in ("us", "metric")
    )
    assert us["checks"][2]["achieved"] * 1.120851 == pytest.approx(metric["checks"][2]["achieved"], rel=1e-6)
    assert us["checks"][3]["achieved"] * 10.76391 == pytest.approx(metric["checks"][3]["achieved"], rel=1e-6)
    assert [each["factor"] for each in us["boxes"]] == [each["factor"] for each in metric["boxes"]]
    assert (us["rate_unit"], metric["checks"][3]["unit"]) == ("lb/ac", "seeds/m2")


def test_plan_and_recommend_use_the_factor_and_say_so(run, job):
    found, plain = run("plan", "--job", job, "--json"), run("plan", "--job", job, "--json", "--no-field-factor")
    assert "field factors: chaffy" in found.stderr
    assert "field factors" not in plain.stderr
    with_it, without = (json.loads(each.stdout)["boxes"][1] for each in (found, plain))
    factor = with_it["field_factor"]
    assert 0.92 < factor < 0.93  # that of last season's check alone: those of this lot were within tolerance
    assert with_it["target_catch_g"] * factor == pytest.approx(without["target_catch_g"])
    assert without["field_factor"] == 1.0
    assert with_it["bulk_rate"] == without["bulk_rate"]
    advised, bare = (
        json.loads(run("recommend", job / "trials.csv", "--json", *more).stdout)["results"][1]
        for more in ((), ("--no-field-factor",))
    )
    assert advised["target"]["catch_g"] == pytest.approx(with_it["target_catch_g"])
    assert bare["target"]["catch_g"] == pytest.approx(without["target_catch_g"])
    assert advised["target"]["rate"] == pytest.approx(bare["target"]["rate"])  # the field's rate stays the wanted one


def test_a_broken_log_stops_neither_a_plan_without_checks_nor_stays_unsaid_with_them(run, job):
    (job / "trials.csv").write_text("box,lot\n", encoding="utf-8")
    assert run("plan", "--job", job).returncode == 1
    assert run("plan", "--job", job, "--no-field-factor").returncode == 0
    (job / "field.csv").unlink()
    assert run("plan", "--job", job).returncode == 0


def test_checks_without_plan_or_catches_give_the_rates_alone(run, job):
    for name in ("plan.csv", "trials.csv"):
        (job / name).unlink()
    done = run("check", job / "field.csv", columns=40)
    assert done.returncode == 0
    assert max(map(len, done.stdout.splitlines())) <= 40
    found = json.loads(run("check", job / "field.csv", "--json").stdout)
    assert (found["boxes"], found["budgets"]) == ([], [])
    assert {each["target"] for each in found["checks"]} == {each["factor"] for each in found["checks"]} == {None}
    assert all(each["achieved"] > 0 and each["why_not"] for each in found["checks"])


def test_the_budget_is_drawn(run, tmp_path):
    assert run("check", SAMPLE / "field.csv", "--plot", tmp_path / "budget.svg").returncode == 0
    assert (tmp_path / "budget.svg").read_text(encoding="utf-8").count("all together</text>") == 3
