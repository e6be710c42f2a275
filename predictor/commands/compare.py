"""predictor compare: lots of a box across seasons."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from predictor.commands import options
from predictor.commands.output import draw, lead_on, print_json, say, show, width, wrapped
from predictor.format import listed
from predictor.text import cautions

if TYPE_CHECKING:
    from predictor.domain.trials import Trials
    from predictor.lots.results import LotComparison

HELP = f"""Compare the lots of each box: where to start with each, and how they flow.

Examples:

    predictor compare myjob

    predictor compare myjob --reference J-25 --plot lots.png

{options.HELP} A log of another name
is read in place of its trials.csv; "-" reads the log from standard input.

--details adds how much lots and seasons differ, drift and the tests.

Without --reference the most caught lot of each
box is the one the others are compared with. A lot caught in two seasons is compared as two lots,
"CW-24 (2025)" and "CW-24 (2026)", unless its output in them is shown to be alike within 10 %;
--reference CW-24 then means its last season. Logs of other seasons are added by --history. drill.toml is
looked for beside the trials; without one settings are taken as numbers.

{cautions.HELP}
"""


def command(
    place: options.JobPlace = options.HERE,
    box: options.BoxOnly = None,
    reference: Annotated[str | None, options.named("--reference", "LOT", "Compare the others with this lot.")] = None,
    drill: options.DrillFile = None,
    history: options.History = None,
    no_history: options.NoHistory = False,
    level: Annotated[
        float, options.named("--level", "FRACTION", "How surely the limits hold.", options.fraction, at_least=0.5)
    ] = 0.95,
    plot: options.PlotFile = None,
    details: options.Details = False,
    as_json: options.AsJson = False,
) -> None:
    """Read, compare, print."""
    from predictor.text.lot_lines import comparison_lines

    caught = _caught(place.path("trials.csv"), drill, history or [], not no_history)
    results = _compare(caught, box, reference, level)
    if as_json:
        print_json({"schema": 2, "results": [each.to_dict() for each in results]})
    else:
        for each in results:
            show([*comparison_lines(each, width(), details=details), ""])
        print(wrapped(f"These are only settings to start from. Catch before planting. {cautions.SHORT}", ""))
    if plot is not None:
        from predictor.plots.lots import plot_lots
        from predictor.text.pictures import lots_compared

        read = [place.path("trials.csv"), drill, *(history or [])]
        draw(plot_lots(results), " ".join(map(lots_compared, results)), plot, read)
    if not as_json and place.file != "-" and caught.drill is not None:
        lead_on("Next: what the catches of each box say.", "recommend", place)


def _caught(trials: str, drill: str | None, history: list[str], use_history: bool) -> Trials:
    """The catches of this drill in all logs; lots can be compared without a drill file."""
    from predictor.domain.trials import joined
    from predictor.files.drill import read_drill
    from predictor.files.trials import read_trials
    from predictor.job.earlier import find_logs, sort_logs

    folder = Path(trials).parent
    file = options.job_file(folder, drill, "drill.toml") if drill or (folder / "drill.toml").exists() else None
    machine = None if file is None else read_drill(file)
    named, said = find_logs(machine, file or folder, history, [trials, folder / "trials.csv"])
    own = read_trials(trials, machine)
    logs = sort_logs(own, machine, named if use_history else [])
    said = [*(str(each) for each in own.assumed if each.code != "files.other_drill"), *said, *logs.messages]
    for sentence in dict.fromkeys(said):
        say(sentence)
    return joined([*logs.earlier, logs.own])


def _compare(caught: Trials, box: str | None, reference: str | None, level: float) -> list[LotComparison]:
    from predictor.errors import InputError
    from predictor.lots.apart import in_seasons
    from predictor.lots.catches import select
    from predictor.lots.compare import compare_lots

    names = list(dict.fromkeys(caught.box.tolist()))
    if caught.drill is not None:
        order = [each.name for each in caught.drill.boxes]
        names.sort(key=lambda name: order.index(name) if name in order else len(order))
    if box is not None:
        names = [next((name for name in names if name.lower() == box.lower()), box)]
    if reference is not None and box is None:
        homes = [name for name in names if reference in caught.of(box=name).lot.tolist()]
        homes = homes or [name for name in names if in_seasons(select(caught, name)).has(reference)]
        if not homes:
            raise InputError(f"No box has a lot {reference!r}. Lots: {listed(sorted(set(caught.lot.tolist())))}.")
        names = homes
    if not names:
        raise InputError("There are no catches to compare.")
    return [compare_lots(caught, name, reference=reference, level=level) for name in names]
