"""Type checkers of users see the names, signatures and results of the library."""

import os
import re
import subprocess
import sys

import pytest

from tests.house import public
from tests.running import ROOT


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    """Runs mypy over a user's file and gives its messages."""
    folder = tmp_path_factory.mktemp("user")

    def check(*lines):
        (folder / "theirs.py").write_text("\n".join(["import predictor", *lines, ""]), encoding="utf-8")
        options = ["--strict", "--follow-imports=silent", "--no-error-summary", f"--cache-dir={ROOT / '.mypy_cache'}"]
        done = subprocess.run(
            [sys.executable, "-m", "mypy", *options, "theirs.py"],
            cwd=folder,
            env={**os.environ, "MYPYPATH": str(ROOT)},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.stderr == ""
        return done.stdout.splitlines()

    return check


@pytest.mark.slow
def test_every_public_name_and_each_of_its_parameters_and_results_has_a_type_for_users(checked):
    names = [each.name for each in public.nodes()]
    said = checked(*(f"reveal_type(predictor.{name})" for name in names))
    types = dict(zip(names, (re.search(r'Revealed type is "(.*)"', line)[1] for line in said), strict=True))
    assert not {name: text for name, text in types.items() if re.search(r"(^|: |-> |\| )Any\b", text)}


@pytest.mark.slow
def test_a_name_that_is_none_of_ours_is_refused_by_type_checkers(checked):
    (line,) = checked("predictor.nonsense")
    assert 'has no attribute "nonsense"' in line


@pytest.mark.slow
def test_a_curve_gives_numbers_for_numbers_and_arrays_for_arrays(checked):
    said = checked(
        "curve = predictor.fit_curve([10.0, 20.0, 30.0], [1.0, 2.0, 3.1])",
        *(f"reveal_type(curve{each})" for each in ("", ".mean(1.0)", ".interval(1.0)", ".probability(1.0, 2.0, 3.0)")),
        *(f"reveal_type(curve{each})" for each in (".mean([1.0])", ".quantile([1.0], 0.5)", ".setting_for(1.0)")),
    )
    types = [re.search(r'Revealed type is "(.*)"', line)[1].replace("builtins.", "") for line in said]
    assert types[0].endswith("Curve")
    assert types[1:4] == ["float", "tuple[float, float]", "float"]
    assert all("ndarray" in each and "float64" in each for each in types[4:6])
    assert types[6].endswith("SettingEstimate")
