"""Practice and operating characteristics in words and tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from predictor.study.characteristics import GENERAL, Study
from predictor.study.own_boxes import Result, Setup
from predictor.study.practice import PracticeCatch
from predictor.study.tally import Endings, Mean, Share
from predictor.text.fold import fold

NAMES = {
    "one-catch": "one-catch rule",
    "two-catch": "two-catch rule",
    "oracle": "oracle",
    "advice": "this program",
    "advice-parts": "this program, first catch in 4 parts",
}
# Ways to calibrate boxes in general, in order, as heads of columns.
WAYS = ("cold", "in parts", "6 lots", "calm lots", "other lots")
MEASURES: dict[str, Callable[[Endings], Share | Mean]] = {
    "locked and right, %": lambda ends: ends.finished,
    "right at lock, %": lambda ends: ends.lock_right,
    "right at offers taken, %": lambda ends: ends.offer_right,
    "wrongly unreachable, %": lambda ends: ends.wrongly_unreachable,
    "unreachable and said so, %": lambda ends: ends.unreachable_said,
    "not ended in 30 catches, %": lambda ends: ends.going,
    "catches": lambda ends: ends.catches,
    "seed, catches of 28 turns": lambda ends: ends.seed,
}


def catch_words(catch: PracticeCatch) -> str:
    """A practice catch in one line."""
    return f"Box {catch.box} at {catch.setting}: {catch.grams:.1f} g (target {catch.target_g:.1f} g)"


def study_words(study: Study) -> list[str]:
    """A study as tables: its own boxes, boxes in general, and how often the intervals hold the truth."""
    return [*_rules(study), *_general(study), *_factors(study), *_claims(study), *_cover(study)]


def study_in_short(study: Study) -> list[str]:
    """What a study says to a technician, as items of a list."""
    whole = {row.way: row for row in study.general if not row.factor}
    ends = {way: row.endings for way, row in whole.items()}
    cold, parts, known, *misled = (ends[way] for way in GENERAL)
    worst = min((each.lock_right for each in misled), key=lambda each: each.share or 0.0)
    error = max(each.error or 0.0 for each in (cold.finished, cold.lock_right))
    lines = [
        f"A lock was right {_times(cold.lock_right)}. With six earlier lots in the log it was right "
        f"{_times(known.lock_right)}, and {_times(worst)} where the earlier lots misled the program.",
        f"Of 100 boxes that have a setting within tolerance, {_count(cold.finished)} ended with such a setting locked. "
        f"With the first catch weighed in four parts {_count(parts.finished)} did, and with six earlier lots in the "
        f"log {_count(known.finished)}.",
        f"A calibration took {cold.catches.mean:.1f} catches on average, {parts.catches.mean:.1f} with the first catch "
        f"in four parts, and {known.catches.mean:.1f} with six earlier lots in the log.",
        *_offers(cold),
        f"Of 100 boxes that have a setting, {_count(cold.wrongly_unreachable)} were wrongly called `unreachable`. Of "
        f"100 boxes that have none, {_count(cold.unreachable_said)} were called so.",
        f"Of 100 calibrations, {_count(cold.going)} did not end within 30 catches.",
        _by_hand(study),
        f"Each figure of boxes in general counts {whole[GENERAL[0]].boxes} boxes. The boxes were drawn at random, so "
        f"shares of 100 may be off by {200 * error:.0f} either way.",
    ]
    return [fold(f"- {line}", "", "  ", width=120) for line in lines]


def _offers(ends: Endings) -> Iterator[str]:
    """What became of offers to lock below the confidence."""
    if ends.offer_right.share is not None:
        yield (
            "Where many more catches would be needed, the program offers a lock with a smaller chance. Such an offer "
            f"was taken {_times(Share(ends.offer_right.of / ends.catches.of, None, ends.catches.of))}, at "
            f"{100 * (ends.offer_claimed.mean or 0.0):.0f} chances in 100 on average, and was right "
            f"{_times(ends.offer_right)}."
        )


def _by_hand(study: Study) -> str:
    """The program against the usual hand method, on the study's own boxes."""

    def span(rule: str) -> str:
        shares = [
            each.right
            for setup, results in study.rows
            if not setup.earlier_lots
            for each in results
            if each.rule == rule
        ]
        low, high = (f"{100 * share:.0f}" for share in (min(shares), max(shares)))
        return low if low == high else f"{low} to {high}"

    return (
        f"On ordinary boxes, the usual hand method ended with a setting within tolerance {span('one-catch')} times in "
        f"100, depending on the scatter, and the program {span('advice')} times. The hand method is to adjust in "
        "proportion and to stop at the first catch inside tolerance."
    )


def _count(share: Share) -> str:
    """A share as so many of 100."""
    if share.share is None:
        return "-"
    return "none" if share.share == 0 else f"{100 * share.share:.0f}" if share.share >= 0.005 else "less than 1"


def _times(share: Share) -> str:
    return f"{_count(share)} times in 100"


def _folded(text: str) -> str:
    return fold(text, "", width=90)


def _cell(value: Share | Mean) -> str:
    """A share in per cent, or a mean, and its Monte Carlo error; a dash where there was no case."""
    if isinstance(value, Mean):
        return "-" if value.mean is None else f"{value.mean:.2f} +-{value.error:.2f}"
    return "-" if value.share is None else f"{100 * value.share:.1f} +-{100 * (value.error or 0.0):.1f}"


def _rules(study: Study) -> list[str]:
    """Mean catches and share right on the study's own boxes, with Monte Carlo errors."""
    lines = [
        _folded(
            f"The study's own boxes. Each row counts {study.runs} made-up calibrations with a tolerance of "
            f"{100 * study.tolerance:g} %. It gives the mean number of catches, and the share that ended with a "
            "setting that is truly within tolerance, each +- one Monte Carlo standard error. The oracle knows the "
            "true shape of the curve and the scatter. The figure in brackets is the number of catches over the "
            "oracle's."
        ),
        "",
        f"{'repeatability':<20}{'rule':<46}{'catches':>12}{'right, %':>12}",
    ]
    oracle = {
        (setup.cv, setup.holds): each.catches
        for setup, results in study.rows
        for each in results
        if each.rule == "oracle"
    }
    for setup, results in study.rows:
        where = f"{100 * setup.cv:g} %, {setup.holds}"
        for result in results:
            lines.append(
                f"{where:<20}{_name(setup, result, oracle[setup.cv, setup.holds]):<46}"
                f"{f'{result.catches:.2f} +-{result.catches_error:.2f}':>12}"
                f"{f'{100 * result.right:.1f} +-{100 * result.right_error:.1f}':>12}"
            )
            where = ""
    return lines


def _name(setup: Setup, result: Result, oracle: float) -> str:
    if not result.rule.startswith("advice"):
        return NAMES[result.rule]
    known = f", {setup.earlier_lots} earlier lots" if setup.earlier_lots else ", cold" * (result.rule == "advice")
    return f"{NAMES[result.rule]}{known} ({result.catches / oracle:.2f} x)"


def _general(study: Study) -> Iterator[str]:
    """How calibrations of boxes in general end, by what the program has to go on."""
    ends = {row.way: row.endings for row in study.general if not row.factor}
    boxes = next(row.boxes for row in study.general if not row.factor)
    yield ""
    yield _folded(
        f"Boxes in general: {boxes} boxes with levers of 10, 30 and 100 steps or a chain, targets anywhere on the "
        "scale, curves of eight kinds, and some with heavy tails, bridging, drift, or a target that no setting "
        "reaches. In parts: the first catch is weighed in four parts. 6 lots: six earlier lots of the box. Calm lots: "
        "the earlier lots scattered by 3 %, the lot in hand scatters by 10 %. Other lots: the earlier lots had a curve "
        "of another kind. Locked and right, and wrongly called unreachable: of boxes that have a setting within "
        "tolerance. An offer is taken where more than five further catches are expected."
    )
    yield ""
    yield f"{'':<30}" + "".join(f"{head:>12}" for head in WAYS)
    for measure, of in MEASURES.items():
        yield f"{measure:<30}" + "".join(f"{_cell(of(ends[way])):>12}" for way in GENERAL)
    over = [ends[way].over_oracle for way in GENERAL]
    head, cells = "catches over the oracle's", ["-" if each is None else f"{each:.2f} x" for each in over]
    yield f"{head:<30}" + "".join(f"{cell:>12}" for cell in cells)


def _factors(study: Study) -> Iterator[str]:
    """The cold calibrations by what the boxes are like."""
    yield ""
    yield _folded("The cold calibrations of boxes in general, by what the boxes are like.")
    yield ""
    heads = ("boxes", "locked and", "right at", "wrongly un-", "catches")
    yield "{:<32}{:>6}{:>13}{:>13}{:>13}{:>13}".format("", *heads)
    yield f"{'':<38}{'right, %':>13}{'lock, %':>13}{'reachable, %':>13}"
    factor = ""
    for row in study.general:
        if row.way == GENERAL[0] and row.factor:
            if row.factor != factor:
                yield row.factor
            factor, ends = row.factor, row.endings
            values = (ends.finished, ends.lock_right, ends.wrongly_unreachable, ends.catches)
            yield f"  {row.level:<30}{row.boxes:>6}" + "".join(f"{_cell(each):>13}" for each in values)


def _claims(study: Study) -> Iterator[str]:
    """Claimed against true chance of what was locked, cold."""
    yield ""
    yield _folded("The chance that the program gave when a setting was locked, cold, and how often it was right.")
    yield ""
    yield f"{'chance':<16}{'locks':>8}{'claimed, %':>14}{'right, %':>16}"
    for claim in next(row.endings.claims for row in study.general if not row.factor):
        claimed = "-" if claim.claimed is None else f"{100 * claim.claimed:.1f}"
        span = f"{100 * claim.low:g} to {100 * claim.high:g}"
        yield f"{span:<16}{claim.right.of:>8}{claimed:>14}{_cell(claim.right):>16}"


def _cover(study: Study) -> Iterator[str]:
    """How often 95 % intervals held the truth."""
    yield ""
    yield _folded(
        "The share of 95 % intervals that held the truth, in per cent: at the setting that is advised after so many "
        "catches, on boxes in general, cold, whether or not the calibration would have ended before. The lower half "
        "of the table has boxes with heavy tails, bridging or drift, the upper half the others."
    )
    yield ""
    yield f"{'catches':<10}{'mean':>14}{'next catch':>16}{'setting':>16}"
    for each in study.cover:
        yield f"{each.catches:<10}{_cell(each.mean):>14}{_cell(each.next):>16}{_cell(each.setting):>16}"
