"""The lowest versions that pyproject.toml allows, one a line, as constraints for pip; `make lowest` tests with them."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path


def lowest() -> list[str]:
    """Each dependency of the program at its lower bound: `numpy==1.26.0`."""
    with (Path(__file__).parent.parent.parent / "pyproject.toml").open("rb") as file:
        needed = tomllib.load(file)["project"]["dependencies"]
    bounds = [re.match(r"([\w-]+)>=([\d.]+)", each) for each in needed]
    assert all(bounds), "every dependency needs a lower bound"
    return [f"{each[1]}=={each[2]}" for each in bounds if each]


if __name__ == "__main__":
    print(*lowest(), sep="\n")
