"""How much of each bag a mix takes, from its rate and the shares of the bags."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

# What a rate counts: bulk weight, weight of pure live seed, or live seeds.
RateOf = Literal["bulk", "pls", "seeds"]
# What a share is a share of: live seeds; or weight, which is bulk weight where the rate is, and else pure live seed.
ShareOf = Literal["seeds", "weight"]


@dataclass(frozen=True)
class Contents:
    """What one gram of a bag holds; NaN where that is not known."""

    pls: float  # Grams of pure live seed
    seeds: float  # Pure live seeds

    def of(self, what: RateOf) -> float:
        """How much of what a rate counts there is in a gram of the bag."""
        return {"bulk": 1.0, "pls": self.pls, "seeds": self.seeds}[what]


def bulk_rates(
    rate: float, rate_of: RateOf, shares: Sequence[float], share_of: ShareOf, bags: Sequence[Contents]
) -> list[float]:
    """Bulk rate of each bag of a mix.

    Shares by seeds or by weight say how the bulk weights of the bags relate. The rate says how large they are.

    Parameters
    ----------
    rate : float
        Of the whole mix: grams of bulk or of pure live seed, or live seeds, per square metre.
    rate_of : {"bulk", "pls", "seeds"}
    shares : sequence of float
        One for each bag, in any unit: only their ratios count.
    share_of : {"seeds", "weight"}
        By weight they are shares of bulk weight where the rate is one, and else of pure live seed.
    bags : sequence of Contents

    Returns
    -------
    list of float
        Grams per square metre.

    Examples
    --------
    >>> grass, forb = Contents(pls=0.5, seeds=100.0), Contents(pls=0.8, seeds=400.0)
    >>> bulk_rates(40.0, "seeds", [30, 70], "seeds", [grass, forb])  # 12 and 28 live seeds
    [0.12, 0.07]
    """
    weighed: RateOf = "bulk" if rate_of == "bulk" else "pls"
    shared = "seeds" if share_of == "seeds" else weighed
    parts = [share / bag.of(shared) for share, bag in zip(shares, bags, strict=True)]
    whole = sum(part * bag.of(rate_of) for part, bag in zip(parts, bags, strict=True))
    return [rate * part / whole for part in parts]
