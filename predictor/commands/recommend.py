"""predictor recommend: the main job, from catches to a setting."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from predictor import cautions
from predictor.commands.options import (
    AsJson,
    DrillFile,
    PlanFile,
    UnitsOption,
    Viable,
    choice,
    drill_path,
    fraction,
    number,
    print_json,
    say,
    wrapped,
)

if TYPE_CHECKING:
    from predictor.advice import Advice
    from predictor.drill import Drill
    from predictor.seed import Plan
    from predictor.trials import Trials

HELP = f"""Say which setting to use, how sure that is, and when to stop testing.

Examples:

    predictor recommend myjob/trials.csv

    predictor recommend myjob/trials.csv --box small --target-g 61.5

drill.toml and plan.csv are looked for beside the trials.

{cautions.HELP}
"""

MOST_LINES = 8
HEADLINES = {
    "lock": "LOCK AT {setting}",
    "move": "SET {setting}, CATCH AGAIN",
    "repeat": "STAY AT {setting}, CATCH AGAIN",
    "lengthen": "STAY AT {setting}, LONGER CATCHES",
    "unreachable": "OUT OF REACH, NEAREST {setting}",
    "recheck": "REPEAT THE CATCH AT {setting}",
}


def command(
    trials: Annotated[str, typer.Argument(metavar="TRIALS.csv", help='Catches; "-" reads standard input.')],
    box: Annotated[str | None, typer.Option(metavar="BOX", help="This box only.")] = None,
    lot: Annotated[str | None, typer.Option(metavar="LOT", help="This lot only.")] = None,
    drill: DrillFile = None,
    plan: PlanFile = None,
    target_g: Annotated[
        str | None,
        typer.Option(
            metavar="GRAMS", help="Target catch of one box, grams, over the turns and rows of its last catch."
        ),
    ] = None,
    tolerance: Annotated[str, typer.Option(metavar="FRACTION", help="How far the rate may be off.")] = "0.10",
    confidence: Annotated[str, typer.Option(metavar="CHANCE", help="How sure before a setting is locked.")] = "0.95",
    history: Annotated[
        list[str] | None, typer.Option(metavar="FILE", help="Trials of earlier seasons; may be given again.")
    ] = None,
    no_history: Annotated[bool, typer.Option("--no-history", help="Learn nothing from earlier lots.")] = False,
    viable: Viable = None,
    units: UnitsOption = None,
    plot: Annotated[str | None, typer.Option(metavar="FILE", help="Draw the curves, .png or .svg.")] = None,
    as_json: AsJson = False,
) -> None:
    """Read, advise, print."""
    choice("viable", viable, ("germination", "total"))
    choice("units", units, ("us", "metric"))
    tolerance_value = fraction("tolerance", tolerance, above=0.0)
    confidence_value = fraction("confidence", confidence, above=0.5)
    target_value = number("target-g", target_g, above=1e-3, below=1e7)
    if target_value is not None and box is None:
        raise typer.BadParameter("A target catch is that of one box: name it with --box.", param_hint="--target-g")
    if plot is not None and Path(plot).suffix.lower() not in (".png", ".svg"):
        raise typer.BadParameter("A plot is a .png or a .svg file.", param_hint="--plot")
    from predictor.advice import recommend
    from predictor.drill_file import read_drill
    from predictor.trials import read_trials

    folder = Path("." if trials == "-" else trials).parent
    machine = read_drill(drill_path(folder, drill))
    caught = read_trials(trials, machine)
    earlier = _earlier(history or [], caught, machine)
    mix = _plan(plan, folder, machine, viable)
    jobs = _jobs(caught, machine, mix, box, lot, target_value)
    for sentence in caught.assumed:
        say(sentence)
    if not jobs:
        from predictor.errors import InputError

        raise InputError(_no_target(caught, box, lot, target_value))
    results = [
        recommend(
            caught,
            each.box,
            lot=each.lot,
            season=each.season,
            target_output=each.target_output,
            tolerance=tolerance_value,
            confidence=confidence_value,
            history=None if no_history else _history(caught, earlier, each),
        )
        for each in jobs
    ]
    if as_json:
        print_json({"schema": 1, "results": [each.to_dict(units) for each in results]})
    else:
        for advice in results:
            print("\n".join(lines(advice, units)))
    if plot is not None:
        from predictor.plots import plot_advice, save

        save(plot_advice(caught, results, machine, units), plot)
        say(f"Drawn: {plot}")


def _earlier(files: list[str], caught: Trials, machine: Drill) -> list[Trials]:
    """Logs of earlier seasons, without the catches that stand in another log as well."""
    from predictor.trials import joined, read_trials, without_copies

    logs: list[Trials] = []
    for file in files:
        log = read_trials(file, machine)
        new = without_copies(log, joined([*logs, caught]))
        if len(new) < len(log):
            say(f"{file}: {len(log) - len(new)} of its catches stand in another file too and were counted once.")
        if len(new):
            logs.append(new)
    return logs


def _plan(plan: str | None, folder: Path, machine: Drill, viable: str | None) -> Plan | None:
    from predictor.plan_file import read_plan

    path = Path(plan) if plan else folder / "plan.csv"
    return read_plan(path, machine, viable=viable) if plan or path.exists() else None


class _OneJob:
    """A box and lot with a target."""

    def __init__(self, box, lot: str, season: str | None, target_output: float):
        self.box, self.lot, self.season, self.target_output = box, lot, season, target_output


def _jobs(
    caught: Trials, machine: Drill, mix: Plan | None, box: str | None, lot: str | None, target_g: float | None
) -> list[_OneJob]:
    """Every box and lot with a target, in the drill's order: named on the line, in a row, or in the plan."""
    import numpy as np

    jobs = []
    for seed_box in machine.boxes:
        mine = caught.of(box=seed_box.name)
        if box is not None and seed_box.name.lower() != box.lower():
            continue
        planned = [] if mix is None else [each.lot for each in mix.boxes if each.box.name == seed_box.name]
        lots = list(dict.fromkeys(mine.lot.tolist()))
        caught_names = {each.lower() for each in lots}
        for name in [*lots, *(each for each in dict.fromkeys(planned) if each.lower() not in caught_names)]:
            if lot is not None and name.lower() != lot.lower():
                continue
            part = mine.of(lot=name)
            entry = None if mix is None else mix.target(seed_box.name, name)
            named = part.target_g / (part.turns * part.rows)
            named = named[np.isfinite(named)]
            if target_g is not None:
                catch = machine.catch
                size = part.turns[-1] * part.rows[-1] if len(part) else catch.turns * catch.rows
                target = float(target_g / size) if not lots or name == lots[-1] or lot is not None else None
            elif len(named):
                target = float(named[-1])
            else:
                target = entry.target_output if entry else None
            if target is not None:
                jobs.append(_OneJob(seed_box, name, str(part.season[-1]) if len(part) else None, target))
    return jobs


def _no_target(caught: Trials, box: str | None, lot: str | None, target_g: float | None) -> str:
    there = ", ".join(sorted({f"{b} {name}" for b, name in zip(caught.box.tolist(), caught.lot.tolist(), strict=True)}))
    if box or lot:
        return f"No catches or target for {' '.join(filter(None, (box, lot)))}. Boxes and lots in the trials: {there}."
    return (
        f"No box has a target. Boxes and lots in the trials: {there}. Write them into plan.csv beside the trials, add "
        "a column target_g, or give --box and --target-g."
    )


def _history(caught: Trials, earlier: list[Trials], job: _OneJob):
    """What earlier lots of the box say, those of further files included."""
    from predictor.history import learn_history
    from predictor.trials import joined

    pool = joined([*earlier, caught])
    season = job.season or "9999"
    return learn_history(pool, job.box, before=(job.lot, season))


def lines(advice: Advice, units: str | None = None) -> list[str]:
    """The advice in plain words: at most eight lines, warnings after the most important."""
    show = str if isinstance(advice.setting, str) else lambda value: f"{value:.10g}"
    name = f"BOX {advice.box}, lot {advice.lot}: " if advice.lot else f"BOX {advice.box}: "
    headline = HEADLINES[advice.decision]
    if advice.decision == "lengthen" and advice.setting != advice.present:
        headline = headline.replace("STAY AT", "SET")
    result = [wrapped(name + headline.format(setting=show(advice.setting)), "")]
    result.append(wrapped(advice.reason))
    if advice.chance is not None and advice.decision != "unreachable":
        share = min(int(100 * advice.chance), 99)
        what = "to be" if advice.whole_drill else "that the rows caught are"
        result.append(wrapped(f"Chance {share} in 100 {what} within {100 * advice.tolerance:g} % of target."))
    if advice.expected_output is not None:
        size = advice.turns * advice.rows
        result.append(
            wrapped(
                f"Target {advice.target_catch_g:.1f} g in {advice.turns:g} turns, {advice.rows:g} rows; expected "
                f"{advice.expected_output * size:.1f} g; next catch {advice.next_catch_interval_g[0]:.3g} to "
                f"{advice.next_catch_interval_g[1]:.3g} g."
            )
        )
    else:
        result.append(wrapped(f"Target {advice.target_catch_g:.1f} g in {advice.turns:g} turns, {advice.rows:g} rows."))
    result.append(wrapped(_evidence(advice, units)))
    remarks = [wrapped(warning) for warning in advice.warnings]
    extra = [wrapped(advice.history)] if advice.history else []
    # no more than eight lines a box, as they stand on the screen: what was left out matters more than what was learned
    if _height(result + extra + remarks) > MOST_LINES:
        extra = []
    shown: list[str] = []
    for k, remark in enumerate(remarks):
        if _height([*result, *shown, remark]) > MOST_LINES - (k < len(remarks) - 1):
            left = len(remarks) - k
            shown.append(f"  {left} more {'remark' if left == 1 else 'remarks'}: add --json.")
            break
        shown.append(remark)
    return result + extra + shown


def _height(parts: list[str]) -> int:
    return sum(part.count("\n") + 1 for part in parts)


def _ideal(advice: Advice) -> str:
    """Where the ideal setting lies, as far as the control goes."""
    low, high = advice.setting_interval
    if isinstance(low, str) or isinstance(high, str):  # chain positions
        if low is None or high is None:
            return f"ideal setting {'beyond' if high is None else 'before'} {low if high is None else high}"
        return f"ideal setting between {low} and {high}" if low != high else f"ideal setting {low}"
    if low is None and high is None:
        return ""
    control = advice.drill.box(advice.box).control if advice.drill else None
    lowest, highest = (control.lowest, control.highest) if control else (-float("inf"), float("inf"))
    if low is not None and low > highest:
        return f"ideal setting off the scale, beyond {highest:g}"
    if high is not None and high < lowest:
        return f"ideal setting off the scale, beyond {lowest:g}"
    start = f"{lowest:g} or less" if low is None or low < lowest else f"{low:.3g}"
    stop = f"{highest:g} or more" if high is None or high > highest else f"{high:.3g}"
    return f"ideal setting {start} to {stop}" if start != stop else f"ideal setting near {start}"


def _evidence(advice: Advice, units: str | None) -> str:
    """Rate, where the ideal setting lies, and the catches behind it."""
    parts = []
    rate = advice.rate(advice.target_output, units)
    if rate is not None:
        from predictor.units import RATE_UNIT

        parts.append(f"rate {rate:.2f} {RATE_UNIT[units or advice.drill.units]}")
    ideal = _ideal(advice)
    if ideal:
        parts.append(ideal)
    count = advice.catches_used
    parts.append(f"{count} {'catch' if count == 1 else 'catches'} used, {advice.catches_left_out} left out")
    if advice.catches_expected_more:
        parts.append(f"about {advice.catches_expected_more} more to come")
    text = "; ".join(parts)
    return text[0].upper() + text[1:] + "."
