"""predictor plan: from seed tags and a planting mix to what each box must drop."""

from __future__ import annotations

from functools import partial

from predictor.commands import options
from predictor.commands.output import lead_on, next_step, print_json, say, show, width, wrapped
from predictor.errors import InputError
from predictor.job.plain import stages_dict
from predictor.text import cautions

HELP = f"""Work out what each box must drop, and what to weigh.

Examples:

    predictor plan myjob --area-ac 12

    predictor plan myjob --turns 40 --rows 6 --viable total

    predictor plan myjob --distance-ft 100

{options.HELP}

{cautions.HELP}
"""


def command(
    place: options.JobPlace = options.HERE,
    job: options.JobFolder = None,
    drill: options.DrillFile = None,
    plan: options.PlanFile = None,
    viable: options.ViableRule = None,
    units: options.UnitsOption = None,
    area_ac: options.Acres = None,
    area_ha: options.Hectares = None,
    turns: options.Turns = None,
    distance_ft: options.DistanceFt = None,
    distance_m: options.DistanceM = None,
    rows: options.Rows = None,
    on: options.PlantingDay = None,
    history: options.History = None,
    no_history: options.NoHistory = False,
    no_field_factor: options.NoFieldFactor = False,
    details: options.Details = False,
    as_json: options.AsJson = False,
) -> None:
    """Read the job, print the plan."""
    from predictor.job.first import first_setting
    from predictor.job.read import read_job
    from predictor.text.answer import answer
    from predictor.text.plan_lines import PlanLines
    from predictor.text.sheet import Sheet
    from predictor.units import METRES

    place = options.one_place(place, job)
    folder = place.folder
    area = options.area_m2(area_ac, area_ha)
    towed = options.towed_over(turns, distance_ft, distance_m)
    reading = partial(
        read_job,
        folder,
        drill=options.job_file(folder, drill, "drill.toml"),
        plan=options.job_file(folder, plan or place.file, "plan.csv"),
        viable=viable,
        use_field_factor=not no_field_factor,
        today=on,
    )
    try:
        found = whole = reading(earlier=history or [], use_history=not no_history)
    except InputError:
        # a plan needs the catches only where field checks are compared with them
        if history or (not no_field_factor and (folder / "field.csv").exists()):
            raise
        found, whole = reading(with_trials=False, with_earlier=False), None
        say("A log cannot be read, so no first setting rests on it. The command recommend says what is wrong.")
    assert found.plan is not None  # its file was named
    options.told(found, factors=towed is None)
    machine, caught = found.drill, options.rows_of(rows, found.drill)
    distance = towed and towed[0] * METRES[towed[1]]
    checked = frozenset((each.box, each.lot.lower()) for each in found.verdicts() if each.answer != "weigh")
    settings = ((each, first_setting(found, each.box, each.lot)) for each in found.plan.boxes)
    first = {f"{each.box.name}\t{each.lot}": setting for each, setting in settings if setting}
    # before a catch or a check the first setting says what to do
    stages = whole.stages() if whole else ()
    begun = [each for each in stages if each.doing != "advised" or each.task.season is not None]
    now = {f"{each.box}\t{each.lot}": answer(each) for each in begun}
    sheet = Sheet(found.plan, machine, units or machine.units, turns, caught, area, distance, checked, first, now)
    if as_json:
        print_json({**sheet.to_dict(), **({} if whole is None else stages_dict(whole, "plan"))})
        return
    show([*PlanLines(sheet, wrapped, width(), details).lines(), wrapped(cautions.short([towed is not None]), "")])
    if whole is None:
        lead_on("Next: what do the catches say?", "recommend", folder)
    else:
        next_step(whole, options.Place(folder), "plan")
