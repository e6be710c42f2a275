"""predictor compare: lots of a box across seasons."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from predictor.commands.options import AsJson, DrillFile, History, PlotFile, TrialsFile, fraction, job_file
from predictor.commands.output import draw, print_json, say, width, wrapped
from predictor.text import cautions

if TYPE_CHECKING:
    from predictor.lots.results import LotComparison

HELP = f"""Compare the lots of each box: flow, where to start with each, drift and repeatability.

Examples:

    predictor compare myjob/trials.csv

    predictor compare myjob/trials.csv --reference J-25 --plot lots.png

TRIALS.csv holds the catches; "-" reads standard input. Without --reference the most caught lot of each
box is the one the others are compared with. Logs of other seasons are added by --history. drill.toml is
looked for beside the trials; without one settings are taken as numbers.

{cautions.HELP}
"""

# A season's log of a few lots is told lot by lot; of a longer one the table lists this many, and --json all.
MOST_SENTENCES, MOST_ROWS = 12, 40
MOST_LINES_NAMED = 12


def command(
    trials: TrialsFile,
    box: Annotated[str | None, typer.Option(metavar="BOX", help="This box only.")] = None,
    reference: Annotated[str | None, typer.Option(metavar="LOT", help="Compare the others with this lot.")] = None,
    drill: DrillFile = None,
    history: History = None,
    level: Annotated[
        float, typer.Option(metavar="FRACTION", parser=fraction(0.5), help="How surely the limits hold.")
    ] = 0.95,
    plot: PlotFile = None,
    as_json: AsJson = False,
) -> None:
    """Read, compare, print."""
    from predictor.domain.trials import joined, without_copies
    from predictor.files.trials import read_trials

    machine = _machine(trials, drill)
    caught = read_trials(trials, machine)
    for file in history or []:
        earlier = without_copies(read_trials(file, machine), caught)
        caught = joined([earlier, caught]) if len(earlier) else caught
    for sentence in caught.assumed:
        say(sentence)
    results = _compare(caught, box, reference, level)
    if as_json:
        print_json({"schema": 1, "results": [each.to_dict() for each in results]})
    else:
        print("\n\n".join("\n".join(lines(each)) for each in results))
        print(f"\n{wrapped(f'First settings only: catch before planting. {cautions.SHORT}', '', '')}")
    if plot is not None:
        from predictor.plots.lots import plot_lots

        draw(plot_lots(results), plot, [trials, drill, *(history or [])])


def _machine(trials: str, drill: str | None):
    """The drill named, or the one beside the trials; lots can be compared without."""
    from predictor.files.drill import read_drill

    folder = Path(trials).parent
    if drill is None and not (folder / "drill.toml").exists():
        return None
    return read_drill(job_file(folder, drill, "drill.toml"))


def _compare(caught, box: str | None, reference: str | None, level: float) -> list[LotComparison]:
    from predictor.errors import InputError
    from predictor.lots.compare import compare_lots

    names = list(dict.fromkeys(caught.box.tolist()))
    if caught.drill is not None:
        order = [each.name for each in caught.drill.boxes]
        names.sort(key=lambda name: order.index(name) if name in order else len(order))
    if box is not None:
        names = [next((name for name in names if name.lower() == box.lower()), box)]
    if reference is not None and box is None:
        homes = [name for name in names if reference in caught.of(box=name).lot.tolist()]
        if not homes:
            known = ", ".join(sorted(set(caught.lot.tolist()))[:12])
            raise InputError(f"No box has a lot {reference!r}. Lots in the trials: {known}.")
        names = homes
    if not names:
        raise InputError("There are no catches to compare.")
    return [compare_lots(caught, name, reference=reference, level=level) for name in names]


def lines(found: LotComparison) -> list[str]:
    """One box in plain words."""
    from predictor.text.lots import adjustment_sentence, season_sentences, shape_sentence, spread_sentences

    said = [wrapped(_headline(found), "").rstrip()]
    said += [wrapped(_left_out(each)) for each in found.left_out]
    if found.reference is None:
        return said + [wrapped(each) for each in found.warnings]
    said += _lot_lines(found)
    said += [wrapped(text) for text in (adjustment_sentence(found), shape_sentence(found)) if text]
    said.append("  LOTS IN GENERAL")
    said += [wrapped(text) for text in spread_sentences(found.spread)]
    said.append("  SEASONS")
    said += _season_table(found) + [wrapped(text) for text in season_sentences(found)]
    if found.warnings:
        said.append("  MIND")
        said += [wrapped(text) for text in found.warnings]
    return said


def _headline(found: LotComparison) -> str:
    from predictor.text.lots import percent, show

    name = f"BOX {found.box}: {len(found.lots)} lot{'s' * (len(found.lots) != 1)}, {catches(found.catches_used)}"
    if found.reference is None:
        return name
    where = "" if found.reference_setting is None else f" at {show(found.reference_setting)}"
    cv = "" if found.cv is None else f", repeatability {percent(found.cv)}"
    against = f". Compared with lot {found.reference}{where}" if len(found.lots) > 1 else ""
    return f"{name}{cv}{against}"


def catches(count: int) -> str:
    """A count of catches."""
    return f"{count} catch{'es' * (count != 1)}"


def _left_out(each) -> str:
    lines_named = ", ".join(str(line) for line in each.lines[:MOST_LINES_NAMED])
    more = " ..." if len(each.lines) > MOST_LINES_NAMED else ""
    where = f" (line{'s' * (len(each.lines) > 1)} {lines_named}{more})" if each.lines else ""
    return f"Left out: {catches(each.catches)}, {each.reason}{where}."


def _lot_lines(found: LotComparison) -> list[str]:
    from predictor.text.lots import lot_sentence

    others = [row for row in found.lots if row.lot != found.reference]
    if not others:
        return [wrapped("One lot only: there is nothing to compare it with.")]
    if len(others) <= MOST_SENTENCES:
        said = []
        for row in others:
            said.append(wrapped(lot_sentence(found, row)))
            said += [wrapped(f"{note}.", "    ", "    ") for note in row.notes if "beyond" not in note]
        return said
    return _lot_table(found, others)


def _lot_table(found: LotComparison, others) -> list[str]:
    """Many lots: the unusual first, then the most caught."""
    from predictor.text.lots import show

    order = sorted(others, key=lambda row: (not row.unusual, -row.catches))
    chosen = {row.lot for row in order[:MOST_ROWS]}
    size = min(max(3, *(len(row.lot) for row in others if row.lot in chosen)), width() - 36)
    table = [f"  {'lot':<{size}}  n  ratio  {'limits':<13} start"]
    for row in others:
        if row.lot not in chosen:
            continue
        name = row.lot
        if len(name) > size:  # cut names could be taken for one another: they get a line of their own
            table.append(wrapped(name, "  "))
            name = ""
        ratio = "    -" if row.ratio is None else f"{row.ratio:5.2f}"
        span = "" if row.lower is None else f"{row.lower:.2f} to {row.upper:.2f}"
        mark = " *" if row.unusual else ""
        table.append(f"  {name:<{size}} {row.catches:>2} {ratio:>6}  {span:<13} {show(row.setting)}{mark}")
    if len(others) > len(chosen):
        table.append(wrapped(f"and {len(others) - len(chosen)} more lots; --json lists them all."))
    if any(row.unusual for row in others):
        table.append("  * stands apart from the other lots")
    return table


def _season_table(found: LotComparison) -> list[str]:
    seasons = found.seasons
    if seasons is None or len(seasons.table) < 2:
        return []
    table = []
    for row in seasons.table[-MOST_ROWS:]:
        cv = "none repeated" if row.cv is None else f"{100 * row.cv:.1f} % ({_limits(row.cv_lower, row.cv_upper)})"
        table.append(wrapped(f"{row.season or 'no season'}: {catches(row.catches)}, repeatability {cv}"))
        if row.ratio is not None:
            span = f"{100 * (row.lower - 1):+.0f} to {100 * (row.upper - 1):+.0f}"
            text = (
                f"same lots against {row.since or 'catches without season'}: {100 * (row.ratio - 1):+.0f} % ({span} %)"
            )
            table.append(wrapped(text, "    ", "    "))
    return table


def _limits(low: float | None, high: float | None) -> str:
    start = "from 0" if low is None else f"{100 * low:.1f}"
    return f"{start}, no upper limit" if high is None or high >= 1 else f"{start} to {100 * high:.1f}"
