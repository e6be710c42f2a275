"""No figure of the example that a new job starts with comes into a lock without a word."""

import math
from importlib import resources

import pytest

import predictor
from predictor.slips import examples

TEMPLATES = resources.files("predictor.commands").joinpath("templates")
LOG = "date,box,lot,setting,catch_g\n" + "".join(
    f"2026-11-24,small,{{lot}},20,{grams}\n" for grams in (10.1, 10.2, 10.0, 10.1, 10.2, 10.1)
)


def new_job(folder, units="us", drill=(), plan=(), lot="example C"):
    for name, changes in (("drill.toml", drill), ("plan.csv", plan)):
        stem, ending = name.split(".")
        text = TEMPLATES.joinpath(f"{stem}_{units}.{ending}").read_text("utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        (folder / name).write_text(text, "utf-8")
    (folder / "trials.csv").write_text(LOG.format(lot=lot))
    return predictor.read_job(folder)


def advice(job, box="small"):
    return job.advice(next(task for task in job.in_hand() if task.box.name == box))


MINE = ("example C", "SW-26")
CALLED = ("My drill", "Made-up drill")
ROLLED = ("circumference_ft = 7.2", "circumference_ft = 7.25")
DAY = ('# measured = "2026-03-14"', 'measured = "2026-03-14"')


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_figures_kept_here_are_those_of_the_templates(tmp_path, units):
    job = new_job(tmp_path, units)
    drill = job.drill
    found = (drill.rows, drill.row_spacing_m, drill.rolling_circumference_m)
    assert all(math.isclose(a, b) for a, b in zip(found, examples.FIGURES[units], strict=True))
    assert {box.name: box.control for box in drill.boxes} == examples.BOXES
    assert drill.name == examples.NAME
    assert len(examples.example_lots(job.plan)) == len(job.plan.lots) == 3


@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_lock_waits_on_untouched_files(tmp_path, units):
    found = advice(new_job(tmp_path, units))
    assert [each.code for each in found.slips][:2] == ["example_drill", "example_lots"]
    assert not found.offers_lock
    assert found.decision != "lock"


@pytest.mark.parametrize("changes", [(CALLED, ROLLED), (ROLLED,), (CALLED, ("rows = 12  ", "rows = 10  ")), (DAY,)])
def test_a_changed_or_measured_drill_with_own_lots_locks(tmp_path, changes):
    job = new_job(tmp_path, drill=changes, plan=[MINE], lot="SW-26")
    assert not [each for each in advice(job).slips if each.code.startswith("example")]
    assert advice(job).decision == "lock"
    assert not any("drill.toml still" in each for each in job.messages)


def test_the_wheel_of_the_example_holds_a_lock_that_all_else_allows(tmp_path):
    changes = [("rows = 12  ", "rows = 10  ")]  # the name and the wheel are left
    found = advice(new_job(tmp_path, drill=changes, plan=[MINE], lot="SW-26"))
    assert (found.decision, found.why.code) == ("recheck", "slips.example_drill")


def test_a_lot_of_the_example_holds_its_own_box_only(tmp_path):
    found = new_job(tmp_path, drill=[CALLED, ROLLED])
    assert advice(found).why.code == "slips.example_lots"
    assert advice(new_job(tmp_path, drill=[CALLED, ROLLED], plan=[MINE], lot="SW-26")).decision == "lock"


def test_the_sample_job_has_no_figure_of_the_example_alone():
    job = predictor.read_job("sample_trials")
    assert examples.remarks(job.drill, job.plan) == []


def test_a_day_that_is_none_is_refused(tmp_path):
    with pytest.raises(predictor.InputError, match="measured"):
        new_job(tmp_path, drill=[(DAY[0], 'measured = "some time"')])


def test_what_is_to_be_corrected_is_named_where_it_is_and_plan_is_the_next_step(run, tmp_path):
    cases = {
        "drill.toml": (new_job(tmp_path, plan=[MINE], lot="SW-26"), "CHECK DRILL.TOML FIRST"),
        "plan.csv": (new_job(tmp_path, drill=[CALLED, ROLLED]), "CHECK PLAN.CSV FIRST"),
    }
    for name, (job, headline) in cases.items():
        (stage,) = [each for each in job.stages("small") if each.in_hand]
        step = job.next_step("recommend")
        assert str(stage.headline) == headline
        assert (step.code, step.boxes, step.values["files"]) == ("check_files", ("small",), (name,))
    done = run("recommend", tmp_path)  # the case written last
    assert done.stdout.count("CHECK PLAN.CSV FIRST") == 1
    assert done.stderr.splitlines()[-1] == f"  predictor plan {tmp_path}"
