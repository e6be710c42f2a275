"""The lowest versions that pyproject.toml allows, one a line, for pip: `python -m tests.house.lowest`."""

from __future__ import annotations

import re
import tomllib

from tests.running import ROOT


def lowest() -> list[str]:
    """Each dependency of the program at its lower bound: `numpy==1.26.0`."""
    with (ROOT / "pyproject.toml").open("rb") as file:
        needed = tomllib.load(file)["project"]["dependencies"]
    found = [re.match(r"([\w-]+)>=([\d.]+)", each) for each in needed]
    assert all(found), "every dependency needs a lower bound"
    return [f"{each[1]}=={each[2]}" for each in found if each]


if __name__ == "__main__":
    print(*lowest(), sep="\n")
