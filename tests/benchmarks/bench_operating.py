"""Operating characteristics on boxes in general, broken down, for one who works on the engine.

Run `python -m tests.benchmarks.bench_operating --runs 300`. `--way` names one or several ways (their starts will do),
`--only` keeps boxes whose description holds all of several texts, such as `--only gate "lever, 10" drift`. Boxes are
those of their numbers from `--first` on, whatever else is asked for. `--cover` measures the 95 % limits instead, and
`--list` prints every calibration.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterable
from functools import partial

from predictor.advice.aim import TOLERANCE
from predictor.study.general import COVER_CATCHES, WAYS, Limits, Way, calibrated, limits_held, truth_for
from predictor.study.runs import each_run
from predictor.study.tally import Endings, Record, Share, by_factor

HEAD = (
    f"{'':<34}{'boxes':>6}{'finished':>14}{'lock right':>14}{'offer right':>14}{'false unr.':>14}{'unr. said':>14}"
    f"{'going':>14}{'catches':>14}{'oracle':>8}{'seed':>7}"
)


def shown(share: Share) -> str:
    """A share in per cent and its Monte Carlo error."""
    return "-" if share.share is None else f"{100 * share.share:.1f} +-{100 * (share.error or 0):.1f}"


def line(name: str, records: list[Record]) -> str:
    """One row of the table."""
    found = Endings.of(records)
    shares = (found.finished, found.lock_right, found.offer_right, found.wrongly_unreachable, found.unreachable_said)
    cells = "".join(f"{shown(each):>14}" for each in shares)
    ratio = "-" if found.over_oracle is None else f"{found.over_oracle:.2f} x"
    catches = f"{found.catches.mean:.2f} +-{found.catches.error:.2f}"
    return f"{name:<34}{len(records):>6}{cells}{shown(found.going):>14}{catches:>14}{ratio:>8}{found.seed.mean:>7.1f}"


def table(way: str, records: list[Record]) -> Iterable[str]:
    """Everything about one way to calibrate."""
    yield from ("", way, HEAD, line("all", records))
    before = ""
    for (factor, level), part in by_factor(records).items():
        if factor != before:
            yield f"  {factor}"
        before = factor
        yield line(f"    {level}", part)
    yield "  chance claimed at lock or offer, and true"
    for claim in Endings.of(records).claims:
        if claim.claimed is not None:
            span = f"{claim.low:g} to {claim.high:g}"
            yield f"    {span:<14}{claim.right.of:>6}{100 * claim.claimed:>8.1f}{shown(claim.right):>14}"


def cover(way: str, limits: list[Limits]) -> Iterable[str]:
    """Cover of the limits, all together, while going on, and by factor."""
    yield from ("", f"{way}: 95 % limits that hold the truth where the advice goes")
    yield f"{'':<34}{'catches':>8}{'limits':>8}{'mean':>14}{'next catch':>14}{'setting':>14}"
    groups = {"all": limits, "not ended yet": [each for each in limits if not each.ended]}
    for factor in limits[0].labels:
        for each in limits:
            groups.setdefault(f"{factor}: {each.labels[factor]}", []).append(each)
    for name, group in groups.items():
        for count in (*COVER_CATCHES, 0) if name in ("all", "not ended yet") else (0,):
            part = [each for each in group if count in (0, each.catches)]
            held = ([each.mean for each in part], [each.next for each in part])
            settings = [each.setting for each in part if each.setting is not None]
            cells = "".join(f"{shown(Share.count(each)):>14}" for each in (*held, settings))
            yield f"{name:<34}{count or 'any':>8}{len(part):>8}{cells}"


def chosen(way: Way, seed: int, first: int, runs: int, only: list[str]) -> list[int]:
    """Numbers of the boxes whose description holds all of several texts."""
    texts = {run: str(truth_for(way, seed, TOLERANCE, run).labels) for run in range(first, first + runs)}
    return [run for run, text in texts.items() if all(each in text for each in only)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    for name, value in (("--runs", 300), ("--first", 0), ("--seed", 1), ("--processes", 1)):
        parser.add_argument(name, type=int, default=value)
    parser.add_argument("--way", nargs="*", default=["cold"])
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--cover", action="store_true")
    parser.add_argument("--list", action="store_true")
    options = parser.parse_args()
    for name, way in WAYS.items():
        if not any(name.startswith(each) for each in options.way):
            continue
        runs, start = chosen(way, options.seed, options.first, options.runs, options.only), time.perf_counter()
        if options.cover:
            several = each_run(partial(limits_held, way, options.seed, TOLERANCE), runs, options.processes)
            print("\n".join(cover(name, [each for found in several for each in found])))
        else:
            job = partial(calibrated, way, options.seed, TOLERANCE)
            records = list(each_run(job, runs, options.processes))
            print("\n".join(table(name, records)))
            for run, each in zip(runs, records, strict=True) if options.list else ():
                print(run, each.ending, "right" if each.right else "WRONG", *each.labels.values(), sep="; ")
        print(f"{time.perf_counter() - start:.1f} s", flush=True)


if __name__ == "__main__":
    main()
