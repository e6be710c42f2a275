"""The sample job is what its generator makes, and says that it is invented."""

import importlib.util

from tests.conftest import SAMPLE


def test_the_sample_is_what_its_seed_makes():
    spec = importlib.util.spec_from_file_location("make_sample", SAMPLE / "make_sample.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    assert (SAMPLE / "trials.csv").read_text(encoding="utf-8") == module.text()


def test_the_sample_says_it_is_invented():
    for name in ("README.md", "drill.toml", "plan.csv", "trials.csv"):
        assert "nvented" in (SAMPLE / name).read_text(encoding="utf-8")


def test_the_sample_holds_the_mishaps_it_is_to_show():
    text = (SAMPLE / "trials.csv").read_text(encoding="utf-8")
    assert ",no,50,yes," in text  # an uncharged catch
    assert "bridged" in text
    assert text.count("sent back to be debearded") == 3  # a lot left out
    assert {row.split(",")[1] for row in text.splitlines()[2:]} == {"2025", "2026"}
