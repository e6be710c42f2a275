"""The shipped table of seeds in a pound, found by any of a species' names, and how sure each count is."""

import csv
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from predictor.units import GRAMS, GRAMS_PER_POUND

# Genera whose seed is sold with awns, hairs or fluff unless debearded, for species that the table does not have; common
# practice, no source. The table itself says it of each of its species.
CHAFFY_GENERA = (
    "andropogon aster bothriochloa bouteloua calamovilfa hesperostipa liatris nassella oligoneuron schizachyrium "
    "solidago sorghastrum spartina stipa symphyotrichum"
)
# Standard deviations of the logarithm of a count. Lots of one species differ by about a tenth however well the sources
# agree, which often copy one another; common practice. A count with one source is less sure: those of the USDA table
# differ this much from the median of the others, by the median deviation of 27 species (a test works it out).
LOT_SPREAD, ONE_SOURCE_SPREAD = 0.10, 0.40
# The same of a count of the lot's own sample, counted three times; common practice.
COUNTED_SPREAD = 0.03
# Sources that differ by more than this do not agree on a count.
MOST_RANGE = 2.0
# A count this many times beyond all sources is a slip of zeros or units, or another kind of seed; common practice.
MOST_COUNT_RATIO = 3.0
# One that fits another species of the plan is likely that one's where it is so many times beyond its own; judgement.
OTHERS_COUNT_RATIO = 1.5
# A count beyond all sources by this much is held against the other units of weight.
SLIP_RATIO = 1.3

_TABLE = Path(__file__).parent / "seeds_per_pound.csv"
_NOT_LETTERS = re.compile(r"[^\w]+|_")
# Last words of names that say nothing of the plant.
_ANY_PLANT = frozenset({"grass", "plant"})
# How like two names must be to be taken for one another, and what is in front of their last word where it is the same.
_LIKE, _LIKE_IN_FRONT = 0.75, 0.6


@dataclass(frozen=True)
class Species:
    """A row of the shipped table: a species, or one kind of its seed."""

    common_name: str
    scientific_name: str
    symbol: str
    form: str  # Kind of seed where it is sold as several: "burs", "grain"; "" where there is one
    seeds_per_lb: int  # Seeds in a pound of pure seed
    low: int | None  # Least and greatest count of the sources; None where there is one source
    high: int | None
    sources: tuple[str, ...]
    chaffy: bool
    other_names: tuple[str, ...]

    @property
    def name(self) -> str:
        """Common name, with the kind of seed where there are several."""
        return f"{self.common_name} {self.form}".strip()

    @property
    def range(self) -> tuple[int, int]:
        """Least and greatest count of its sources."""
        return self.low or self.seeds_per_lb, self.high or self.seeds_per_lb

    @property
    def from_memory(self) -> bool:
        """Whether its count has no source."""
        return self.sources == ("memory",)

    @property
    def doubtful(self) -> bool:
        """Whether its sources do not agree on a count."""
        low, high = self.range
        return high >= MOST_RANGE * low

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm of the count of a lot.

        Half the range of the sources; of one source, or from memory, what one source is commonly off by.
        """
        low, high = self.range
        alone = self.low is None or self.from_memory
        return max(math.log(high / low) / 2, ONE_SOURCE_SPREAD if alone else LOT_SPREAD)


def find(name: str) -> Species | None:
    """A species of the table by its common or scientific name or its symbol: the first of `kinds`."""
    return next(iter(kinds(name)), None)


def kinds(name: str) -> tuple[Species, ...]:
    """The kinds of seed that a name may mean, the usual one first; one where the name ends in the kind.

    Capitals, spaces and hyphens do not count, nor do the authors behind a scientific name. "bluestem, little" is read
    too.

    Source: as the head of the table says. A starting value, overridden by a counted sample of the lot.
    """
    names = _names()
    last, comma, first = name.partition(",")
    turned = [f"{first} {last}"] if comma else []
    tries = (name, *turned, " ".join(name.split()[:2]))
    return next((names[folded] for each in tries if (folded := _folded(each)) in names), ())


def near_names(name: str, most: int = 3) -> list[str]:
    """Common names that a misspelt name may be meant for, best first."""
    import difflib  # only a misspelling needs it

    names, small = _names(), _folded(name[:80])
    last = _folded("".join(name[:80].split()[1:][-1:]))

    def same_plant(other: str) -> bool:
        # "showy milkweed" is as near to "swamp milkweed" as a misspelling, but another plant
        if not last or not other.endswith(last):
            return True
        front = small.removesuffix(last), other.removesuffix(last)
        return difflib.SequenceMatcher(None, *front).ratio() >= _LIKE_IN_FRONT

    like = filter(same_plant, difflib.get_close_matches(small, names, 5 * most, cutoff=_LIKE))
    return list(dict.fromkeys(names[each][0].common_name for each in like))[:most]


def kin_names(name: str, most: int = 3) -> list[str]:
    """Common names with the same last word, or of the same genus: other plants, as bluestems for "tall bluestem"."""
    words = name.lower().split()
    last, first = words[-1:], words[:1]
    found = [
        species.common_name
        for species in _table()
        if species.scientific_name.lower().split()[:1] == first
        or (species.common_name.lower().split()[-1:] == last and last[0] not in _ANY_PLANT)
    ]
    return list(dict.fromkeys(found))[:most]


def is_chaffy(name: str) -> bool:
    """Whether seed of a species is commonly chaffy: awned, hairy or fluffy unless debearded."""
    found = find(name)
    return found.chaffy if found else name.strip().partition(" ")[0].lower() in CHAFFY_GENERA.split()


def reach(meant: Sequence[Species]) -> tuple[int, int]:
    """Least and greatest count of any source for the kinds of seed that are meant."""
    return min(each.range[0] for each in meant), max(each.range[1] for each in meant)


def is_odd(meant: Sequence[Species], seeds_per_lb: float, ratio: float = MOST_COUNT_RATIO) -> bool:
    """Whether a count is so many times beyond what any source has for the kinds of seed that are meant."""
    low, high = reach(meant)
    return not low / ratio <= seeds_per_lb <= high * ratio


def whose_count(meant: Sequence[Species], seeds_per_lb: float, planned: Iterable[Species], most: int = 2) -> list[str]:
    """The other species whose count this likely is: those of the plan that it fits, else of which the table has it."""
    near, own = math.exp(LOT_SPREAD), {each.symbol for each in meant}
    fits = [each for each in planned if each.range[0] / near <= seeds_per_lb <= each.range[1] * near]
    fits = [each for each in fits if each.symbol not in own]
    if not fits and is_odd(meant, seeds_per_lb):
        fits = [each for each in _table() if each.seeds_per_lb == round(seeds_per_lb) and each.symbol not in own]
    return list(dict.fromkeys(each.name for each in fits))[:most]


def slip_of_unit(meant: Sequence[Species], count: float, unit: str = "lb") -> str:
    """The unit of weight that a count beyond all sources was likely made in; "" where it fits none.

    Example: 571,000 seeds of switchgrass are what is in a kilogram, not in a pound.
    """
    low, high = reach(meant)
    counts = {each: count * GRAMS_PER_POUND / GRAMS[each] for each in ("lb", "oz", "g", "kg")}
    if low / SLIP_RATIO <= counts.pop(unit) <= high * SLIP_RATIO:
        return ""
    near = math.exp(LOT_SPREAD)
    return next((unit for unit, each in counts.items() if low / near <= each <= high * near), "")


def _folded(name: str) -> str:
    return _NOT_LETTERS.sub("", name.lower()).replace("grey", "gray")


@cache
def _table() -> tuple[Species, ...]:
    """The rows of the table."""
    lines = _TABLE.read_text(encoding="utf-8").splitlines()
    return tuple(_species(row) for row in csv.DictReader(line for line in lines if not line.startswith("#")))


def _species(row: dict[str, str]) -> Species:
    low, high = (int(row[name]) if row[name] else None for name in ("low", "high"))
    others = tuple(filter(None, row["other_names"].split("; ")))
    return Species(
        common_name=row["common_name"],
        scientific_name=row["scientific_name"],
        symbol=row["symbol"],
        form=row["form"],
        seeds_per_lb=int(row["seeds_per_lb"]),
        low=low,
        high=high,
        sources=tuple(row["sources"].split()),
        chaffy=bool(row["chaffy"]),
        other_names=others,
    )


@cache
def _names() -> dict[str, tuple[Species, ...]]:
    """Every name of every species, folded, alone and with each kind of its seed behind it."""
    by_symbol: dict[str, list[Species]] = {}
    for each in _table():
        by_symbol.setdefault(each.symbol, []).append(each)
    names: dict[str, tuple[Species, ...]] = {}
    for forms in by_symbol.values():
        usual = forms[0]
        short = " ".join(usual.scientific_name.split()[:2])
        for name in (usual.common_name, usual.scientific_name, short, usual.symbol, *usual.other_names):
            names.setdefault(_folded(name), tuple(forms))
            for each in forms:
                if each.form:
                    names.setdefault(_folded(name + each.form), (each,))
    return names
