"""The words of a comparison of lots. Every log here is invented."""

import re

import numpy as np
import pandas as pd
import pytest

from predictor.lots.compare import compare_lots
from predictor.text.lot_lines import comparison_lines
from predictor.text.lots import SENTENCES, adjustment_sentence, lot_sentence, season_sentences, shape_sentence
from predictor.text.table import Strong
from tests import golden
from tests.lots.test_lots_thin_logs import BOX, CHAIN, log, made_up
from tests.running import ROOT


def seasons(k, i):
    return 2022 + i % 3


LOGS = {
    "a lot faster, a lot alike, a lot not known yet": (made_up([0, 0.2, 0.001, 0.03], cv=0.012), BOX, {}),
    "one lot": (made_up([0.0]), BOX, {}),
    "each lot caught once": (log([("A", 20, 50), ("B", 20, 60)]), BOX, {}),
    "a setting beyond the scale": (
        log([("A", 50, 100), ("A", 50, 101), ("A", 30, 58), ("B", 50, 50), ("B", 50, 51), ("B", 30, 29)]),
        BOX,
        {"reference": "A"},
    ),
    "lots of different shape": (made_up([0, 0, 0], per_lot=8, dead=(0, 12, 2), cv=0.01), BOX, {}),
    "two lots of different shape": (made_up([0, 0], per_lot=8, dead=(0, 12), cv=0.01), BOX, {}),
    "a chain": (log([("A", "1", 40), ("A", "1", 41), ("A", "2", 51), ("B", "3", 120), ("B", "3", 118)]), CHAIN, {}),
    "a chain, lots of different shape": (
        log(
            [("A", at, grams) for at, grams in zip("112233", (40, 40.4, 50, 50.3, 70, 69.5), strict=True)]
            + [("B", at, grams) for at, grams in zip("112233", (30, 30.4, 50, 50.3, 90, 89.5), strict=True)]
        ),
        CHAIN,
        {},
    ),
    "labels without drive ratios": (
        log([("A", "low", 50), ("A", "low", 52), ("B", "low", 60), ("B", "low", 61), ("B", "high", 90)]),
        None,
        {},
    ),
    "catches left out": (
        log([("A", 20, 50), ("A", 20, 51), ("A", 30, 0), ("B", 20, 60)], charged=["yes", "no", "yes", "yes"]),
        BOX,
        {},
    ),
    "nothing that counts": (log([("A", 20, 50)], use=["no"]), BOX, {}),
    "a drift": (made_up([0, 0.1, -0.1, 0.05], per_lot=9, season=seasons, drift=-0.06), BOX, {}),
    "no drift": (made_up([0, 0.1, -0.1], per_lot=9, season=seasons), BOX, {}),
    "seasons that catch differently": (
        pd.concat(
            [
                made_up([0, 0.1, -0.1], per_lot=10, cv=0.02, season=lambda k, i: 2024),
                made_up([0, 0.1, -0.1], per_lot=10, cv=0.12, season=lambda k, i: 2025, seed=9),
            ],
            ignore_index=True,
        ),
        BOX,
        {},
    ),
    "one lot in two seasons": (
        made_up([0, 0.1, 0.2], per_lot=6, season=lambda k, i: 2024 + (i % 2 if k == 0 else k % 2)),
        BOX,
        {},
    ),
    "one lot that changed, one that did not": (
        pd.concat(
            [
                made_up([0.0, 0.1, 0.4], per_lot=18, season=lambda k, i: 2024 + i % (3 if k == 0 else 1)),
                made_up([0.0], per_lot=4, season=lambda k, i: 2025).assign(lot="L1"),
            ]
        ),
        BOX,
        {},
    ),
    "many lots, two of them unusual": (
        made_up([*np.random.default_rng(2).normal(0, 0.02, 30), 0.6, -0.6], at=(30, 40)),
        BOX,
        {"level": 0.9},
    ),
}


@pytest.mark.parametrize("width", [40, 80])
def test_comparisons_in_plain_words(width):
    said = []
    for name, (frame, box, asked) in LOGS.items():
        lines = comparison_lines(compare_lots(frame, box, **asked), width, details=True)
        text = "\n".join(lines)
        assert max(map(len, text.splitlines())) <= width
        said.append(f"--- {name}\n{text}\n")
    golden.check(f"lots-{width}", "\n".join(said))


@pytest.mark.parametrize("name", LOGS)
def test_without_details_no_test_and_no_season_is_told(name):
    frame, box, asked = LOGS[name]
    found = compare_lots(frame, box, **asked)
    plain, whole = comparison_lines(found, 100), comparison_lines(found, 100, details=True)
    assert plain == whole[: len(plain)]
    assert not re.search(r"p [=<] 0|Dunnett|Sidak|[Rr]epeatability|A new lot may", "\n".join(plain))


@pytest.mark.parametrize("width", [40, 80, 100])
def test_the_setting_to_start_near_stands_out_in_the_order_of_the_ratios(width):
    frame, box, asked = LOGS["a lot faster, a lot alike, a lot not known yet"]
    found = compare_lots(frame, box, **asked)
    strong = [line.parts[1] for line in comparison_lines(found, width) if isinstance(line, Strong)]
    by_ratio = sorted(found.lots, key=lambda row: -row.ratio)
    starts = [*(row.setting.text for row in by_ratio), found.spread.next_setting.text]  # a lot not yet seen is last
    assert [each.split()[-1] for each in strong] == starts
    assert all(each.startswith("START NEAR") for each in strong)


def test_a_lot_that_changed_is_told_without_details():
    frame, box, asked = LOGS["one lot that changed, one that did not"]
    found = compare_lots(frame, box, **asked)
    changed = [each for each in found.lots_in_seasons if not each.pooled]
    said = " ".join(" ".join(comparison_lines(found, 80)).split())
    told = [each for each in found.lots_in_seasons if f"Lot {each.lot} flowed" in said]
    assert told == [each for each in changed if each.change.lower > 1 or each.change.upper < 1]


def test_a_multiple_has_as_many_figures_as_make_sense():
    catches = [("A", 30, 25.0), ("A", 30, 25.5), ("B", 30, 150 * 25.0), ("B", 30, 151 * 25.0)]
    found = compare_lots(log(catches), BOX, reference="A")
    said = lot_sentence(found.reference, found.lot("B"))
    assert re.search(r"flows 1[45]\d times as fast as A \(1[34]\d times as fast to 1[56]\d times as fast\)", said), said


def test_without_catches_there_is_nothing_more_to_say():
    frame, box, asked = LOGS["nothing that counts"]
    found = compare_lots(frame, box, **asked)
    assert (shape_sentence(found), adjustment_sentence(found), season_sentences(found)) == ("", "", [])


def test_every_remark_about_lots_has_its_sentence_and_no_sentence_is_left_over():
    code = "".join(path.read_text("utf-8") for path in (ROOT / "predictor" / "lots").glob("*.py"))
    status = {"unused", "uncharged", "nothing"}  # of `Trials.status`
    assert set(re.findall(r'"lots\.(\w+)"', code)) | status == set(SENTENCES)
