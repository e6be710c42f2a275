"""How much of each bag a mix takes: every pairing of rate and shares gives what was asked. All bags are invented."""

import pytest
from hypothesis import given, strategies as st

from predictor.domain.mix import Contents, bulk_rates

amounts = st.floats(0.01, 100)
bags = st.lists(
    st.tuples(st.builds(Contents, pls=st.floats(0.01, 1), seeds=st.floats(1, 10_000)), amounts), min_size=1, max_size=8
)


@pytest.mark.parametrize("rate_of", ["bulk", "pls", "seeds"])
@pytest.mark.parametrize("share_of", ["seeds", "weight"])
@given(mix=bags, rate=amounts)
def test_a_mix_has_the_rate_and_the_shares_that_were_asked(rate_of, share_of, mix, rate):
    contents, shares = zip(*mix, strict=True)
    rates = bulk_rates(rate, rate_of, shares, share_of, contents)
    assert sum(bulk * bag.of(rate_of) for bulk, bag in zip(rates, contents, strict=True)) == pytest.approx(rate)
    shared = "seeds" if share_of == "seeds" else "bulk" if rate_of == "bulk" else "pls"
    parts = [bulk * bag.of(shared) for bulk, bag in zip(rates, contents, strict=True)]
    for part, share in zip(parts, shares, strict=True):
        assert part / sum(parts) == pytest.approx(share / sum(shares))


@given(mix=bags, rate=amounts)
def test_shares_by_seed_and_by_weight_of_one_mix_agree(mix, rate):
    contents, shares = zip(*mix, strict=True)
    rates = bulk_rates(rate, "seeds", shares, "seeds", contents)
    weights = [bulk * bag.pls for bulk, bag in zip(rates, contents, strict=True)]
    assert bulk_rates(sum(weights), "pls", weights, "weight", contents) == pytest.approx(rates)
    assert bulk_rates(sum(rates), "bulk", rates, "weight", contents) == pytest.approx(rates)


def test_forty_live_seeds_of_which_thirty_per_cent_are_of_one_lot():
    """By hand: 12 of 40 seeds at 100 live seeds a gram of bag are 0.12 g; 28 at 400 are 0.07 g."""
    grass, forb = Contents(pls=0.5, seeds=100.0), Contents(pls=0.8, seeds=400.0)
    assert bulk_rates(40.0, "seeds", [30, 70], "seeds", [grass, forb]) == pytest.approx([0.12, 0.07], rel=1e-14)
