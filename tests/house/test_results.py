"""Every public class is a value: compared, hashed or not to be hashed, pickled and copied, and never changed."""

import copy
import dataclasses
import pickle

import pandas as pd
import pytest

import predictor
from predictor import fit_curve, learn_history, read_job
from tests.conftest import SAMPLE

CLASSES = [name for name in predictor.__all__ if isinstance(getattr(predictor, name), type)]
# Equal to nothing but themselves: a curve keeps arrays of its fit, and errors are as Python makes them.
ONLY_ITSELF = ("Curve", "InputError", "NotEnoughCatches")


def odd_catch():
    """Advice on catches of which one was written without its decimal sign."""
    columns = {"box": "small", "lot": "A", "setting": [30, 38, 38, 38], "catch_g": [48.0, 61.0, 60.9, 610]}
    box = predictor.SeedBox("small", "small", predictor.Lever(0, 60, 1))
    return predictor.recommend(pd.DataFrame(columns), box, target_g=61.0)


def made():
    """An example of every public class, by name."""
    job = read_job(SAMPLE)
    task = job.tasks()[0]
    advice, plan, box = job.advice(task), job.plan.boxes[0], job.drill.box("small")
    lots = predictor.compare_lots(job.trials, box)
    budget = job.budgets()[0]
    curve = fit_curve([20.0, 30.0, 30.0, 40.0], [1.0, 1.6, 1.5, 2.1])
    return {
        "Advice": advice,
        "Aim": predictor.Aim(1.0),
        "BoxFactor": job.field.boxes[0],
        "BoxPlan": plan,
        "Budget": budget,
        "CatchDefaults": job.drill.catch,
        "CatchSize": advice.next_size,
        "CheckResult": job.field.checks[0],
        "Curve": curve,
        "Drill": job.drill,
        "Field": predictor.Field("north", 48_562.3),
        "FieldResult": job.field,
        "Finding": odd_catch().slips[0],
        "History": learn_history(job.trials, box),
        "InputError": predictor.InputError("wrong"),
        "Job": job,
        "Lever": box.control,
        "LeverAndDrive": predictor.LeverAndDrive(box.control, {"high": 2.0, "low": None}),
        "Lot": lots.lots[0],
        "LotComparison": lots,
        "LotPlan": plan.lots[0],
        "NotEnoughCatches": predictor.NotEnoughCatches("one catch"),
        "OnDrive": predictor.LeverAndDrive(box.control, {"high": 2.0, "low": None}).on("low"),
        "Plan": job.plan,
        "Prior": learn_history(job.trials, box).prior,
        "Problem": predictor.Problem("wrong", "a.csv", 3),
        "Remark": advice.why,
        "SeedBox": box,
        "Setting": box.control.at(12.0),
        "SettingEstimate": curve.setting_for(1.4),
        "Source": budget.sources[0],
        "Sprockets": job.drill.box("chaffy").control,
        "Stationary": job.stationary(task.box, task.lot, 0.5),
        "Task": task,
        "Trials": job.trials,
        "Verdict": job.verdicts()[0],
    }


@pytest.fixture(scope="module")
def values():
    return made()


@pytest.fixture(scope="module")
def again():
    """The same, made a second time."""
    return made()


def test_there_is_an_example_of_every_public_class(values):
    assert sorted(values) == CLASSES, "give a new public class its example in made()"
    for name, value in values.items():
        assert isinstance(value, getattr(predictor, name)), name


@pytest.mark.parametrize("name", CLASSES)
def test_a_value_is_compared_and_hashed_or_refuses_to_be_hashed(values, again, name):
    value, other = values[name], again[name]
    assert (value == value) is True
    assert (value == other) is (name not in ONLY_ITSELF)
    assert (value == "text") is False
    try:
        known = hash(value)
    except TypeError as refused:
        assert "unhashable" in str(refused)
    else:
        assert known == hash(value)
        assert value != other or known == hash(other)


@pytest.mark.parametrize("name", CLASSES)
def test_a_value_comes_back_from_a_pickle_as_it_was(values, name):
    value = values[name]
    for back in (pickle.loads(pickle.dumps(value)), copy.deepcopy(value), copy.copy(value)):
        assert type(back) is type(value)
        assert str(back) == str(value)
        assert back == value or name in ONLY_ITSELF


@pytest.mark.parametrize("name", [each for each in CLASSES if dataclasses.is_dataclass(getattr(predictor, each))])
def test_a_value_is_never_changed(values, name):
    value = values[name]
    for field in dataclasses.fields(value):
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(value, field.name, None)
