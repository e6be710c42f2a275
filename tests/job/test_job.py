"""A job is read once, and everything in it is worked out once."""

import pytest

import predictor
from predictor.advice import setup as lot_setup
from predictor.job import checked as checked_module, job as job_module
from tests.conftest import SAMPLE


@pytest.fixture
def made(monkeypatch):
    """What is worked out while a command runs: the data of each fit, history and solution of field factors."""
    found = {"fits": [], "histories": [], "factors": []}

    def counted(module, name, kind, key):
        real = getattr(module, name)

        def call(*arguments, **options):
            found[kind].append(key(*arguments, **options))
            return real(*arguments, **options)

        monkeypatch.setattr(module, name, call)

    counted(lot_setup, "fit_curve", "fits", lambda settings, outputs, **_: (tuple(settings), tuple(outputs)))
    counted(job_module, "history_of", "histories", lambda trials, box, before, *_, **__: (box.name, before))
    counted(checked_module, "field_factors", "factors", lambda checks, *_: tuple(each.result for each in checks))
    return found


@pytest.mark.parametrize(
    ("command", "most_fits"),
    [
        (("recommend", "{job}/trials.csv"), 20),
        (("check", "{job}/field.csv"), 20),
        (("plan", "--job", "{job}"), 20),
        (("card", "{job}/trials.csv"), 20),
        (("report", "--job", "{job}", "--out", "{job}/r.html"), 20),
    ],
)
def test_a_command_makes_each_fit_once(run, job, made, command, most_fits):
    done = run(*(each.format(job=job) for each in command))
    assert done.returncode == 0, done.stderr
    # of three lots in hand and what was learned before them 8; and a look for a container 3 for each lot
    assert len(made["fits"]) == len(set(made["fits"])) <= most_fits
    assert len(made["histories"]) == len(set(made["histories"]))
    assert len(made["factors"]) == 1


def test_the_same_rate_is_written_the_same_by_every_command(run, job):
    rates = [
        {word for word, unit in zip(text.split(), text.split()[1:], strict=False) if unit.strip(";,.") == "lb/ac"}
        for text in (
            run("plan", "--job", job).stdout,
            run("recommend", job / "trials.csv").stdout,
        )
    ]
    assert len(rates[1]) == 3
    assert rates[1] <= rates[0]


def test_targets_corrected_for_field_checks_share_what_was_worked_out():
    job = predictor.read_job(SAMPLE)
    assert job.field is job.corrected().field


def test_jobs_compare_and_refuse_a_hash():
    assert predictor.read_job(SAMPLE) == predictor.read_job(SAMPLE)
    with pytest.raises(TypeError):
        hash(predictor.read_job(SAMPLE))


def test_a_season_in_two_logs_is_fitted_from_both(tmp_path):
    """Field checks are compared with all catches of a lot, wherever they are kept."""
    head = "box,lot,setting,catch_g,season,date\n"
    (tmp_path / "a.csv").write_text(head + "small,KS-9,14,22.0,2026,2026-05-01\n")
    (tmp_path / "b.csv").write_text(head + "small,KS-9,14,26.0,2026,2026-05-02\n")
    job = predictor.read_job(SAMPLE, trials=tmp_path / "b.csv", earlier=[tmp_path / "a.csv"])
    box = job.drill.box("small")
    alone = predictor.read_job(SAMPLE, trials=tmp_path / "b.csv")
    assert job.stationary(box, "ks-9", 14.0).log_output < alone.stationary(box, "ks-9", 14.0).log_output
    assert job.history(box, "KS-9", "2026") is None  # never its own history


@pytest.mark.parametrize("name", ["FM-26", "fm-26", "KS-26"])
def test_catches_under_the_name_of_a_lot_of_a_blend_are_named(job, name):
    """The tag in the hand has the lot, but the catch is of the whole blend."""
    path = job / "trials.csv"
    path.write_text(path.read_text().replace(",forb mix,", f",{name},"))
    (message,) = [each for each in predictor.read_job(job).messages if "part of forb mix" in each]
    assert name in message
    path.write_text(path.read_text().replace(f",{name},", ",FORB MIX,"))
    assert not [each for each in predictor.read_job(job).messages if "part of" in each]


def test_catches_under_the_lot_of_a_premixed_bag_are_named(job):
    tag = "purity_pct,germination_pct\nsmall,M-26,{},MIX-1,{},{},80\nsmall,M-26,{},MIX-1,,{},80\n"
    rows = tag.format("switchgrass", 5, 60, "little bluestem", 30)
    (job / "plan.csv").write_text(f"box,lot,species,bag,bulk_rate_lb_ac,{rows}")
    path = job / "trials.csv"
    path.write_text(path.read_text().replace(",forb mix,", ",M-26,"))
    assert [each for each in predictor.read_job(job).messages if "part of MIX-1" in each]
