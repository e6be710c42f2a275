"""The shipped table of seeds in a pound, found by any of a species' names."""

import csv
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

# Genera whose seed is sold with awns, hairs or fluff unless debearded; common practice, no source.
CHAFFY_GENERA = (
    "andropogon asclepias bothriochloa bouteloua hesperostipa liatris nassella oligoneuron schizachyrium sorghastrum "
    "symphyotrichum"
)
# Figures of the table that look several times too high beside other tables. For the first two the source says so; the
# others are from memory. Nothing should be sown by them without a counted sample.
DOUBTFUL = ("COTI3", "SPHE", "SPPE", "TRVI")

_TABLE = Path(__file__).parent / "seeds_per_pound.csv"
_NOT_LETTERS = re.compile(r"[^\w]+|_")


@dataclass(frozen=True)
class Species:
    """A row of the shipped table."""

    common_name: str
    scientific_name: str
    symbol: str
    seeds_per_lb: int  # Seeds in a pound of pure seed

    @property
    def doubtful(self) -> bool:
        """Whether the count looks wrong."""
        return self.symbol in DOUBTFUL


def find(name: str) -> Species | None:
    """A species of the table by its common or scientific name or its symbol.

    Capitals, spaces and hyphens do not count, nor do the authors behind a scientific name.

    Source: USDA NRCS PLANTS Database, characteristic "Seed per Pound": a starting value, overridden by a counted
    sample of the lot.
    """
    names = _names()
    return names.get(_folded(name)) or names.get(_folded(" ".join(name.split()[:2])))


def near_names(name: str, most: int = 3) -> list[str]:
    """Common names most like a name that the table does not have, best first."""
    import difflib  # only a misspelling needs it

    small, names = name.lower().strip()[:80], _names()
    found = [names[each].common_name for each in difflib.get_close_matches(_folded(small), names, most, cutoff=0.75)]
    # "tall bluestem" is near no name as a whole, but bluestems are what its writer wants to see
    last = small.split()[-1:]
    found += [each.common_name for each in names.values() if each.common_name.lower().split()[-1:] == last]
    return list(dict.fromkeys(found))[:most]


def is_chaffy(name: str) -> bool:
    """Whether seed of a species is commonly chaffy: awned, hairy or fluffy unless debearded."""
    found = find(name)
    return (found.scientific_name if found else name).strip().partition(" ")[0].lower() in CHAFFY_GENERA.split()


def _folded(name: str) -> str:
    return _NOT_LETTERS.sub("", name.lower())


@cache
def _names() -> dict[str, Species]:
    """Every name of every species, folded."""
    names: dict[str, Species] = {}
    lines = _TABLE.read_text(encoding="utf-8").splitlines()
    for row in csv.DictReader(line for line in lines if not line.startswith("#")):
        species = Species(row["common_name"], row["scientific_name"], row["symbol"], int(row["seeds_per_lb"]))
        short = " ".join(species.scientific_name.split()[:2])
        for name in (species.common_name, species.scientific_name, short, species.symbol):
            names.setdefault(_folded(name), species)
    return names
