"""The table of slips: what people do wrong at the scale and in the files, one entry a slip.

To add one, write an entry in `LISTED` or `OWN`: its name, which rows it spoils, what it does to a row as it is
written (`write`), to where the control truly stands (`hand`) or to the whole job (`prepare`), what an honest
technician would give away if asked (`tells`), and what else the line of things taken as given calls it (`given`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from predictor.units import GRAMS
from tests.slips.jobs import LAST_YEAR, PARTS, MadeUpJob, Row, rate_unit

Which = Literal["all", "one", "from", "job"]
Way = Literal["file", "typed"]
Write = Callable[[MadeUpJob, Row], Row | list[Row]]


@dataclass(frozen=True)
class Slip:
    """One way to go wrong."""

    name: str
    which: Which  # All rows, one of them, all from one on, or none: the files of the job
    write: Write | None = None  # The row, or rows, as written
    hand: Callable[[MadeUpJob, float], float] | None = None  # Where the control truly stands
    prepare: Callable[[MadeUpJob], None] | None = (
        None  # Before the first catch; from the first spoilt row on for "from"
    )
    tells: tuple[str, ...] = ()  # "tare", "charged", "turns", "rows", "lot", "date"
    given: tuple[str, ...] = ()  # In `slips.given`, besides those of `tells`
    ways: tuple[Way, ...] = ("file", "typed")
    listed: bool = True  # Whether it is one of those that everybody knows


def grams(change: Callable[[MadeUpJob, float], float]) -> Write:
    """A slip in the weight of a row."""
    return lambda job, row: {**row, "catch_g": max(round(change(job, float(str(row["catch_g"]))), 3), 0.0)}


def times(*factors: float) -> Write:
    """A weight that is so many times too large; one of several factors, the same in the whole job."""
    return grams(lambda job, weight: weight * factors[int(job.container_g * 10) % len(factors)])


def another(low: float, high: float) -> Write:
    """A catch of other seed, whose log output differs by so much."""
    return grams(lambda job, weight: weight * np.exp(job.rng.choice([-1, 1]) * job.rng.uniform(low, high)))


def both(name: str, write: Write, **rest: object) -> list[Slip]:
    """A slip in all rows, and in one."""
    return [Slip(f"{name}, all", "all", write, **rest), Slip(f"{name}, one", "one", write, **rest)]  # type: ignore[arg-type]


def size(job: MadeUpJob, low: float, high: float) -> float:
    """A number between two, the same in the whole job."""
    return float(low + (high - low) * ((job.container_g * 7.31) % 1))


def swapped_digits(job: MadeUpJob, weight: float) -> float:
    digits = f"{weight:.1f}"
    pairs = [i for i in range(len(digits) - 1) if (digits[i] + digits[i + 1]).isdigit() and digits[i] != digits[i + 1]]
    if not pairs:
        return weight * 10
    i = pairs[0]
    return float(digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :])


def mirrored(job: MadeUpJob, opening: float) -> float:
    openings = job.control.openings
    return float(openings[len(openings) - 1 - int(np.argmin(np.abs(openings - opening)))])


def half_moved(job: MadeUpJob, opening: float) -> float:
    """A chain with one end still where it was, or a lever that slipped a little."""
    return opening * 0.85 if job.stood is None else float(np.sqrt(max(opening, 1e-3) * max(job.stood, 1e-3)))


def off_step(job: MadeUpJob, row: Row) -> Row:
    text = str(row["setting"])
    step = getattr(job.control, "step", None)
    return {**row, "setting": f"{float(text) + 0.3 * step:g}" if step else f"{int(text)}.5"}


def emptying(job: MadeUpJob, row: Row) -> Row:
    """Three to five per cent less from catch to catch."""
    return grams(lambda job, weight: weight * np.exp(-size(job, 0.03, 0.05) * len(job.rows)))(job, row)  # type: ignore[return-value]


def pasted(job: MadeUpJob, row: Row) -> list[Row]:
    return [row, *[dict(each) for each in job.rows[-2:]], dict(row)]


def two_seasons(job: MadeUpJob) -> None:
    """Last year's catches of another lot of the same name, without a date, above those of this year."""
    lot = replace(job.lot, level=job.lot.level * float(np.exp(job.rng.choice([-1, 1]) * job.rng.uniform(0.2, 0.5))))
    openings = job.control.openings
    for share in (0.4, 0.5, 0.6):
        opening = float(openings[int(share * (len(openings) - 1))])
        weight = round(lot.catch(job.rng, opening, job.drill["turns"], 3)[0], 1)
        job.rows.append({"date": "", "box": job.box.name, "lot": job.name, "setting": job.control.at(opening).text,
                         "catch_g": weight, "turns": job.drill["turns"], "rows": 3, "charged": "yes"})  # fmt: skip


def said(**changes: Callable[[MadeUpJob], float]) -> Callable[[MadeUpJob], None]:
    """Figures of the drill that its file has wrong."""

    def prepare(job: MadeUpJob) -> None:
        job.drill |= {name: make(job) for name, make in changes.items()}

    return prepare


def template(job: MadeUpJob) -> None:
    job.drill |= {"spacing_m": 0.1905 if job.units == "us" else 0.19, "wheel_m": 2.19456 if job.units == "us" else 2.2}
    job.drill_name = "My drill"


def other_rate(job: MadeUpJob) -> None:
    for row in job.plan:
        for name in [each for each in row if "rate" in each]:
            row[name] = f"{float(str(row[name])) * size(job, 1.25, 1.6):.5f}"


def with_carrier(job: MadeUpJob) -> None:
    """A fifth of what the box drops is carrier."""
    unit, grams_m2 = rate_unit(job)
    bulk = job.target / (job.drill["wheel_m"] * job.drill["spacing_m"]) / grams_m2
    for row in job.plan:
        row[f"pls_rate_{unit}"] = f"{0.8 * float(str(row[f'pls_rate_{unit}'])):.5f}"
        row[f"carrier_{unit}"] = ""
    job.plan[0][f"carrier_{unit}"] = f"{0.2 * bulk:.5f}"


def whole_bag_each(job: MadeUpJob) -> None:
    """The rate of one premixed bag written in the row of each of its species."""
    unit, grams_m2 = rate_unit(job)
    bulk = job.target / (job.drill["wheel_m"] * job.drill["spacing_m"]) / grams_m2
    share = {0: 45.0, 1: 30.0}
    for i, row in enumerate(job.plan):
        row.pop(f"pls_rate_{unit}", None)
        row |= {f"bulk_rate_{unit}": f"{bulk:.3f}", "lot": "FM-26", "purity_pct": share[i], "germination_pct": 70}


def other_count(job: MadeUpJob) -> None:
    """Rates in seeds on the ground, with the seed count of another species."""
    unit = "seeds_per_ft2" if job.units == "us" else "seeds_per_m2"
    rate, grams_m2 = rate_unit(job)
    feet = 0.09290304 if job.units == "us" else 1.0
    for row, (_, count, *_) in zip(job.plan, PARTS[job.box.name], strict=True):
        pls = float(str(row.pop(f"pls_rate_{rate}"))) * grams_m2
        row[unit] = f"{pls * count * feet:.4f}"
        row["seeds_per_lb"] = round(count * GRAMS["lb"] * (size(job, 2, 4) if count < 1000 else 1 / size(job, 2, 4)))


def container_column(job: MadeUpJob, row: Row) -> Row:
    """A container in a column that the program does not know."""
    return {**row, "catch_g": round(float(str(row["catch_g"])) + job.container_g, 1), "cup weight": job.container_g}


def half_carrier(job: MadeUpJob) -> None:
    """Half of what the box drops is carrier."""
    unit, grams_m2 = rate_unit(job)
    bulk = job.target / (job.drill["wheel_m"] * job.drill["spacing_m"]) / grams_m2
    for row in job.plan:
        row[f"pls_rate_{unit}"] = f"{float(str(row[f'pls_rate_{unit}'])) / 2:.5f}"
    job.plan[0][f"carrier_{unit}"] = f"{bulk / 2:.5f}"


def part_named(job: MadeUpJob, row: Row) -> Row:
    return {**row, "lot": job.plan[0]["lot"]}


def one_row_plugged(job: MadeUpJob, row: Row) -> Row:
    """One of the caught rows gives nothing; nobody weighs the rows apart."""
    return grams(lambda job, weight: weight * 2 / 3)(job, row)  # type: ignore[return-value]


def plugged_in_rows(job: MadeUpJob, row: Row) -> Row:
    """The same, with the rows weighed apart."""
    each = float(str(row["catch_g"])) / 3
    return {**row, "catch_g": round(2 * each, 1), "rows_g": f"{each:.1f};0.1;{each - 0.1:.1f}"}


def fewer_rows(job: MadeUpJob) -> None:
    job.factor = 11 / 12


def too_little(most: float) -> Write:
    """A container taken off that was not there, at most such a share of the seed."""
    return grams(lambda job, weight: weight - min(job.container_g, most * weight))


container = grams(lambda job, weight: weight + job.container_g)
uncharged = grams(lambda job, weight: weight * (1 - job.rng.uniform(0.05, 0.18)))

LISTED = (
    *both("container in the weight", container, tells=("tare",)),
    Slip("net weight with a tare too", "all", lambda job, row: {**row, "tare_g": job.container_g}, tells=("tare",),
         given=("taken_off",)),
    *both("ounces as grams", times(1 / GRAMS["oz"])),
    *both("pounds as grams", times(1 / GRAMS["lb"])),
    *both("kilograms as grams", times(1 / 1000)),
    *both("12 rows caught, 3 written", times(4.0), tells=("rows",)),
    *both("3 rows caught, 12 written", lambda job, row: {**row, "rows": 12}, tells=("rows",)),
    *both("half or double the turns", times(0.5, 2.0), tells=("turns",)),
    *both("not charged", uncharged, tells=("charged",)),
    Slip("setting and catch swapped", "one", lambda job, row: {**row, "setting": row["catch_g"],
                                                                "catch_g": row["setting"]}),
    Slip("setting off the steps", "one", off_step),
    Slip("another box's catch", "one", another(0.4, 1.5)),
    Slip("another lot's catch", "one", another(0.2, 0.6)),
    Slip("a part named, not the blend", "all", part_named, tells=("lot",)),
    Slip("a row twice", "one", lambda job, row: [row, dict(row)], given=("equal",)),
    Slip("a block pasted twice", "one", pasted, ways=("file",), given=("equal",)),
    Slip("two seasons in one file", "job", prepare=two_seasons, given=("undated",), ways=("file",)),
    Slip("a decimal lost", "one", times(10.0, 0.1)),
    Slip("digits swapped", "one", grams(swapped_digits)),
    Slip("a plugged row", "from", one_row_plugged, prepare=fewer_rows, given=("alike",)),
    Slip("a plugged row, rows weighed", "from", plugged_in_rows, prepare=fewer_rows, ways=("file",)),
    Slip("rows that differ lastingly", "all", grams(lambda job, weight: weight * (1 + size(job, -0.25, 0.25))),
         given=("alike",)),
    Slip("an emptying box", "all", emptying, given=("filling",)),
    Slip("carrier segregating", "all", grams(lambda job, weight: weight * np.exp(
        (1 if job.container_g % 1 < 0.5 else -1) * size(job, 0.03, 0.05) * len(job.rows))),
         prepare=with_carrier, given=("carrier",)),
    Slip("scale read the wrong way", "all", hand=mirrored, given=("setting",)),
    Slip("a chain moved on one end", "one", hand=half_moved, given=("setting",)),
    Slip("tyres changed", "job", prepare=said(wheel_m=lambda job: job.drill["wheel_m"] * size(job, 0.8, 0.9)),
         given=("wheel",)),
    Slip("the template's figures", "job", prepare=template, given=("wheel",)),
    Slip("rate changed after the catches", "from", prepare=other_rate, given=("target",)),
    Slip("a premixed bag for each species", "job", prepare=whole_bag_each),
    Slip("another species' seed count", "job", prepare=other_count),
    Slip("an unused column", "all", container_column, ways=("file",), tells=("tare",)),
)  # fmt: skip

OWN = tuple(replace(each, listed=False) for each in (
    Slip("scale zeroed with a heavier cup", "all", too_little(0.5), tells=("tare",)),
    Slip("ounces from here on", "from", times(1 / GRAMS["oz"])),
    Slip("container not emptied before", "one", grams(lambda job, weight: weight + (
        float(str(job.rows[-1]["catch_g"])) if job.rows else weight))),
    Slip("a part spilled", "one", grams(lambda job, weight: weight * job.rng.uniform(0.5, 0.8))),
    Slip("mean of the rows, not their sum", "all", times(1 / 3), tells=("rows",)),
    Slip("lever not moved", "one", hand=lambda job, opening: job.stood or opening * 0.9, given=("setting",)),
    Slip("lever worked loose", "from", hand=lambda job, opening: max(opening - 0.06 * job.control.span, 1e-3),
         given=("setting",)),
    Slip("last year's date", "one", lambda job, row: {**row, "date": LAST_YEAR}, tells=("date",)),
    Slip("a letter missing in the lot", "one", lambda job, row: {**row, "lot": str(row["lot"])[:-1]}, tells=("lot",)),
    Slip("spacing in inches as cm", "job", prepare=said(spacing_m=lambda job: job.drill["spacing_m"] / (
        2.54 if job.units == "metric" else 1 / 2.54)), given=("spacing",)),
    Slip("wrong rows of the drill", "job", prepare=said(rows=lambda job: 6.0)),
    Slip("taken twice off from here on", "from", too_little(0.8), tells=("tare",)),
))  # fmt: skip
SLIPS = {each.name: each for each in (*LISTED, *OWN)}
