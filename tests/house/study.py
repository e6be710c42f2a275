"""The study whose figures README and the page for the statistician show.

`python -m tests.house.study --runs 300 --processes 2` makes it again, keeps its figures in study.json, and writes them
into both pages. `python -m tests.house.readme_blocks` writes the kept figures in today's words.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from predictor.study.characteristics import GENERAL, Study, whole_study
from predictor.text.study import study_in_short, study_words
from tests.running import ROOT

KEPT = Path(__file__).with_name("study.json")
README, STATISTICS = ROOT / "README.md", ROOT / "sample_trials" / "statistics.md"
START, END = "<!-- study: made by python -m tests.house.study -->\n", "<!-- end of the study -->"


def kept() -> Study:
    """The study whose figures are kept."""
    return Study.from_dict(json.loads(KEPT.read_text(encoding="utf-8")))


def keep(study: Study) -> None:
    """Keep what the pages show of a study, a row a line."""
    plain = study.to_dict()
    plain["general"] = [row for row in plain["general"] if row["way"] == GENERAL[0] or not row["factor"]]
    lines = []
    for name, value in plain.items():
        rows = "[\n" + ",\n".join(map(json.dumps, value)) + "\n]" if isinstance(value, list) else json.dumps(value)
        lines.append(f'"{name}": {rows}')
    KEPT.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def blocks(study: Study) -> dict[Path, str]:
    """What each page shows of a study."""
    words, tables = "\n".join(study_in_short(study)), "\n".join(study_words(study))
    return {README: f"{words}\n", STATISTICS: f"```\n{tables}\n```\n"}


def shown(page: str) -> str:
    """The study in the text of a page."""
    return page.partition(START)[2].partition(END)[0]


def write_blocks(study: Study) -> None:
    """Write a study into both pages."""
    for path, block in blocks(study).items():
        page = path.read_text(encoding="utf-8")
        before, start, rest = page.partition(START)
        _, end, after = rest.partition(END)
        assert start, f"{path.name} has no place for the study: {START.strip()}"
        assert end, f"{path.name} does not say where the study ends: {END}"
        path.write_text(before + start + block + end + after, encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name, value in (("--runs", 300), ("--seed", 1), ("--processes", 1)):
        parser.add_argument(name, type=int, default=value)
    options = parser.parse_args()
    study = whole_study(options.runs, options.seed, 0.10, 0.01, 0.0, lambda: None, options.processes)
    keep(study)
    write_blocks(study)


if __name__ == "__main__":
    main()
