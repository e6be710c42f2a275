"""The least Bayes factor that a p-value stands for, against the values its authors print."""

import pytest

from predictor.slips.odd import ODD, chance_of


@pytest.mark.parametrize(("p", "factor"), [(0.1, 0.6259), (0.05, 0.4072), (0.01, 0.1252), (0.001, 0.01878)])
def test_the_chance_of_a_slip_is_at_most_what_the_scatter_allows(p, factor):
    """-e p ln p: Sellke, Bayarri & Berger (2001), The American Statistician 55(1), 62-71 (from memory)."""
    odds = ODD / (1 - ODD) / factor
    assert chance_of(p) == pytest.approx(odds / (1 + odds), rel=1e-3)
