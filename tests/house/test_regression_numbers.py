"""Numbers of the engine are what they were. They are from our own code: see tests/house/regression_numbers.py."""

import json

import pytest

from tests.house.regression_numbers import FILE, numbers

# Cells of a grid with a weight below 1e-5 of the greatest are left out. How numpy rounds, which differs between its
# versions and between processors, decides of one cell in a thousand. That moves limits by some 1e-4 of them at most,
# and a small chance by some 1e-7.
CLOSE, LEAST, LEAST_CHANCE = 1e-4, 1e-9, 1e-6


def differences(kept, found, path=""):
    """Places where two results differ by more than the last digits."""
    if isinstance(kept, dict):
        if not isinstance(found, dict) or kept.keys() != found.keys():
            return [path]
        return [each for name in kept for each in differences(kept[name], found[name], f"{path}/{name}")]
    if isinstance(kept, list):
        if not isinstance(found, list) or len(kept) != len(found):
            return [path]
        return [
            each for k, (a, b) in enumerate(zip(kept, found, strict=True)) for each in differences(a, b, f"{path}/{k}")
        ]
    if isinstance(kept, float) and isinstance(found, float | int):
        least = LEAST_CHANCE if "/chance" in path else LEAST
        return [] if found == pytest.approx(kept, rel=CLOSE, abs=least) else [f"{path}: {kept} became {found}"]
    return [] if kept == found else [f"{path}: {kept} became {found}"]


def test_no_number_moved_unseen():
    """If a number should change, run `python -m tests.house.regression_numbers` and give the reason in the commit."""
    assert differences(json.loads(FILE.read_text(encoding="utf-8")), numbers()) == []
