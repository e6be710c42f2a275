"""Many field checks of one box: what was known at each is worked out once, and is what it was from the start."""

import shutil

from predictor import read_job
from predictor.field.model import Model
from predictor.field.slips import sifted, sifted_in_time
from tests.conftest import ROOT
from tests.running import TODAY


def job(folder, checks):
    folder.mkdir()
    for name in ("drill.toml", "plan.csv", "trials.csv"):
        shutil.copy(ROOT / "sample_trials" / name, folder)
    rows = [
        f"2026-11-{18 + i % 7},grain,CW-26,17,{2 + i % 3}.{i % 10},{(25 if i == 6 else 5) + i % 3}.8"
        for i in range(checks)
    ]
    text = "\n".join(["date,box,lot,setting,area_ac,seed_used_lb", *rows, ""])
    (folder / "field.csv").write_text(text, encoding="utf-8")
    return read_job(folder, today=TODAY)


def test_what_was_known_at_each_check_is_what_the_checks_until_then_say(tmp_path):
    read = job(tmp_path / "a", 14)
    order = sorted(read._compared(), key=lambda each: (each.check.date, each.check.line))
    known = list(sifted_in_time(order, read.drill))
    assert len(known) == 14
    for k, now in enumerate(known):
        assert [each.finding for each in now[: k + 1]] == [each.finding for each in sifted(order[: k + 1], read.drill)]
    assert {each.finding for each in known[-1]} > {"fits"}, "no check was found out"


def test_the_model_is_asked_in_proportion_to_the_checks(tmp_path, monkeypatch):
    asked = []
    usual = Model.expects
    monkeypatch.setattr(Model, "expects", lambda self, one: asked.append(1) or usual(self, one))
    counts = []
    for n in (8, 16):
        asked.clear()
        job(tmp_path / str(n), n).verdicts()
        counts.append(len(asked))
    assert counts[1] <= 2.2 * counts[0], counts
