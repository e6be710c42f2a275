"""How the work on one lot grows with its catches and settings: counted in fits and in the sizes of their tables."""

import warnings
from contextlib import contextmanager
from dataclasses import replace
from unittest.mock import patch

import numpy as np
import pytest

import predictor
from predictor import Lever, SeedBox, recommend
from predictor.advice import decision
from predictor.curves import bent, fit, shapes, spline
from predictor.domain.trials import KINDS, MOST_CATCHES, MOST_SETTINGS, Trials
from predictor.errors import InputError
from predictor.slips import repeats

# Lines, or splines, that an advice may take: eleven to try a spline, after each of four times that catches were set
# aside, four to leave one catch out, and those of all checks for slips.
MOST_FITS = 5 * (fit.FOLDS + 1 + 4) + 25
BOX = SeedBox("small", "small", Lever(0, 100, 0.1))


def log(catches, settings, *, scatter=0.02, shape=lambda at: at - 0.05, box=BOX, **more):
    """A made-up log of one lot: its settings one after the other, again and again."""
    generator = np.random.default_rng(7)
    step = box.control.step
    opening = np.resize(np.round(np.linspace(10, 90, settings) / step) * step, catches)
    grams = 120 * shape(opening / 100) * np.exp(scatter * generator.standard_normal(catches))
    values = {"box": "small", "lot": "A", "season": "2026", "setting": [f"{each:.6g}" for each in opening]}
    values |= {"opening": opening, "catch_g": grams.round(1), "turns": 28, "rows": 3, "distance_m": np.nan}
    values |= {"charged": True, "use": True, "fill_pct": np.nan, "target_g": np.nan, "wanted_g": np.nan}
    values |= {"tare_g": np.nan, "line": np.arange(2, catches + 2), "date": "2026-11-20", **more}
    columns = {
        name: np.broadcast_to(np.asarray(values.get(name, ""), dtype=kind), catches)
        if name != "confirmed"
        else np.zeros(catches, dtype=bool)
        for name, kind in KINDS.items()
    }
    return Trials(**columns, rows_g=(None,) * catches, parts_g=(None,) * catches)


@contextmanager
def counted(place, name, size=lambda *arguments: 0):
    """The sizes of what a function was called with."""
    seen, real = [], getattr(place, name)

    def call(*arguments, **options):
        seen.append(size(*arguments))
        return real(*arguments, **options)

    with patch.object(place, name, call):
        yield seen


def kinked(at):
    return np.where(at < 0.5, 0.05 + 0.3 * at, 0.2 + 1.5 * (at - 0.5))


def fits(trials):
    """How many lines and splines an advice takes."""
    with counted(fit, "fit_shapes") as lines, counted(fit, "fit_spline") as splines:
        recommend(trials, BOX, target_g=40.0)
    return len(lines), len(splines)


@pytest.mark.parametrize("shape", [kinked, lambda at: at - 0.05], ids=["kinked", "straight"])
def test_ten_times_the_catches_and_settings_take_no_more_fits(shape):
    few, many = (fits(log(catches, settings, shape=shape)) for catches, settings in ((120, 24), (1200, 240)))
    # a check may look closer in one log than in another, and then makes a few more fits
    assert max(few) <= MOST_FITS
    assert max(many) <= MOST_FITS


def test_a_spline_is_fitted_to_means_at_settings_and_never_to_single_catches():
    trials = log(3000, 25, shape=kinked)
    with counted(spline, "monotone_least_squares", lambda design, *_: len(design)) as rows:
        curve = recommend(trials, BOX, target_g=40.0).curve
    assert curve.family == "spline"
    assert max(rows) == spline.MOST_INNER_KNOTS + spline._ORDER


def test_means_of_catches_at_their_settings_give_the_spline_that_single_catches_give():
    generator = np.random.default_rng(3)
    at = np.repeat(np.linspace(5.0, 60.0, 9), 4)
    y = kinked(at / 100) + 0.01 * generator.standard_normal(len(at))
    weights = generator.uniform(0.5, 2.0, len(at))
    curve = predictor.fit_curve(at, y, family="spline", weights=weights, prior=None, noise="constant")
    root, rough = np.sqrt(weights / weights.mean()), spline._roughness(curve.knots)
    design = curve._basis(at) * root[:, None]
    unit = np.trace(design.T @ design) / np.trace(rough.T @ rough)
    single = [
        spline.monotone_least_squares(design, y * root, np.sqrt(share * unit) * rough) for share in spline.PENALTIES
    ]
    same = [min(single, key=lambda other: np.abs(each - other).max()) for each in curve.coefficients]
    assert curve.coefficients == pytest.approx(np.array(same), abs=1e-9)
    left = curve.weight @ [((y * root - design @ each) ** 2).sum() for each in same]
    assert curve.sd**2 * curve.df == pytest.approx(weights.mean() * left, rel=1e-9)


def test_curves_are_asked_at_each_setting_once_however_many_catches_there_are():
    trials = log(3000, 25)
    with counted(shapes.Shapes, "normal", lambda self, x, *_: len(self.weight) * len(x)) as cells:
        recommend(trials, BOX, target_g=40.0)
    assert max(cells) <= bent.MOST_AT_ONCE
    assert max(cells) < 3000 * 100


def test_a_curve_asked_at_many_settings_answers_a_few_at_a_time():
    curve = predictor.fit_curve([20, 30, 40], [1.0, 1.6, 2.1], span=60.0)
    x = np.linspace(15, 55, 20_000)
    with counted(shapes.Shapes, "normal", lambda self, x, *_: len(self.weight) * len(x)) as cells:
        mean, chance = curve.mean(x), curve.probability(x, 1.0, 2.0)
    assert max(cells) <= bent.MOST_AT_ONCE
    assert mean[::4999] == pytest.approx([curve.mean(each) for each in x[::4999].tolist()], rel=1e-6)
    assert chance[::4999] == pytest.approx([curve.probability(each, 1.0, 2.0) for each in x[::4999].tolist()])


def test_more_ways_to_choose_some_catches_than_any_float_holds_are_no_error():
    trials = log(1500, 10)
    grams = np.where(np.arange(1500) % 3 == 0, 2 * trials.catch_g, trials.catch_g)
    advice = recommend(replace(trials, catch_g=grams), BOX, target_g=40.0)
    (run,) = [each for each in advice.slips if each.code == "run"]
    assert len(run.lines) > 400
    assert set(run.lines) <= set(range(2, 1502, 3))


def test_scatter_of_a_lot_is_worked_out_once_for_its_copies():
    single = tuple((each / 3,) * 3 for each in log(400, 5).catch_g.tolist())
    trials = replace(log(400, 5), rows_g=single)
    with counted(repeats, "_scatter") as calls:
        recommend(trials, BOX, target_g=40.0)
    assert 1 <= len(calls) <= 2


def test_only_the_last_catch_is_looked_at_for_plugged_rows_to_catch_again():
    single = tuple((each / 3,) * 3 for each in log(400, 5).catch_g.tolist())
    with counted(decision, "plugged_rows", len) as sizes:
        advice = recommend(replace(log(400, 5), rows_g=(*single[:-1], (1.0, 20.0, 20.0))), BOX, target_g=40.0)
    assert set(sizes) == {1}
    assert (advice.decision, advice.why.code, advice.why["rows"]) == ("recheck", "advice.plugged", (1,))
    assert (advice.why["number"], advice.why["line"]) == (400, 401)


def test_many_catches_between_two_steps_are_one_finding():
    coarse = SeedBox("small", "small", Lever(0, 100, 1))
    trials = log(400, 40, box=BOX)
    with counted(fit, "fit_shapes") as lines:
        advice = recommend(trials, coarse, target_g=40.0)
    found = [each for each in advice.slips if each.code == "between_steps"]
    assert len(found) == 1
    assert len(found[0].lines) > 100
    assert len(lines) < 100
    assert len(str(found[0])) < 400


def test_a_lot_with_more_settings_than_a_lever_has_is_refused_in_a_sentence(tmp_path):
    rows = [f"small,A,{each / 50:g},{10 + each / 40:.1f}" for each in range(MOST_SETTINGS + 1)]
    path = tmp_path / "trials.csv"
    path.write_text("box,lot,setting,catch_g\n" + "\n".join(rows) + "\n")
    with pytest.raises(InputError) as raised:
        predictor.read_trials(path)
    (problem,) = raised.value.problems
    assert (problem.line, problem.column) == (MOST_SETTINGS + 2, "setting")
    path.write_text("box,lot,setting,catch_g\n" + "\n".join(rows[:-1]) + "\n")
    assert len(predictor.read_trials(path)) == MOST_SETTINGS
    path.write_text("box,lot,setting,catch_g\n" + "\n".join(rows[:-1]) + "\nsmall,B,90.01,50\n")
    assert len(predictor.read_trials(path)) == MOST_SETTINGS + 1


def write_catches(path, catches, lots=1):
    rows = "".join(f"small,L{each % lots},{each % 40},{10 + each % 7}\n" for each in range(catches))
    path.write_text(f"box,lot,setting,catch_g\n{rows}")


def test_a_lot_with_more_catches_than_anyone_makes_in_a_season_is_refused_in_a_sentence(tmp_path):
    path = tmp_path / "trials.csv"
    write_catches(path, MOST_CATCHES + 1)
    with pytest.raises(InputError, match="10,001 catches") as raised:
        predictor.read_trials(path)
    assert len(raised.value.problems) == 1
    write_catches(path, MOST_CATCHES)
    assert len(predictor.read_trials(path)) == MOST_CATCHES
    write_catches(path, 10 * MOST_CATCHES, lots=10)
    assert len(predictor.read_trials(path)) == 10 * MOST_CATCHES


def test_a_curve_of_more_settings_than_a_lever_has_is_refused_in_a_sentence():
    x = np.linspace(1, 100, MOST_SETTINGS + 1)
    with pytest.raises(InputError, match="different"):
        predictor.fit_curve(x, x)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert predictor.fit_curve(x[:-1], x[:-1], family="line").n == MOST_SETTINGS
