"""The kinds of files that rows are added to: what their columns are, and who reads a row back."""

from predictor.domain.drill import Drill
from predictor.errors import InputError
from predictor.files import field, planted
from predictor.files.columns import Measure
from predictor.files.form import Kind
from predictor.files.table import Table
from predictor.files.trials import HEADER, NO_DRILL, trials_of
from predictor.units import GRAMS


def _check_trials(table: Table) -> None:
    """Read catches without a drill; only its file says what ground a distance is, so that is not asked for here."""
    try:
        trials_of(table, None)
    except InputError as error:
        others = [each for each in error.problems if each.message != NO_DRILL]
        if others:
            raise InputError(others) from None


def _weights(name: str, *units: str) -> dict[str, float]:
    return {f"{name}_{unit}": GRAMS[unit] for unit in units}


TRIALS = Kind(
    HEADER,
    "date,season,box,lot,setting,turns,rows,catch_g,rows_g,parts_g,tare_g,charged,fill_pct,wanted_g,use,confirmed,operator,note",
    {f"{name}_g": _weights(name, "g", "oz", "lb", "kg") for name in ("catch", "rows", "parts", "tare", "wanted")},
    _check_trials,
    "catch",
    "Correct it first (recommend says which), then record again.",
)


def _own_first(measures: dict[str, Measure], drill: Drill) -> dict[str, float]:
    """Columns and their factors, the one in the drill's unit first: that one is added where none is there."""
    units = ("ac", "lb", "ft") if drill.units == "us" else ("ha", "kg", "m")
    in_order = sorted(measures.items(), key=lambda each: each[0].rpartition("_")[2] not in units)
    return {column: measure.factor for column, measure in in_order}


def field_checks(drill: Drill) -> Kind:
    """The file of field checks of a drill. A new one is in the units of the drill file."""
    area, weight, length = ("ac", "lb", "ft") if drill.units == "us" else ("ha", "kg", "m")
    measures = {
        "area_m2": field.AREAS,
        "distance_m": field.DISTANCES,
        "used_g": field.USED,
        "loaded_g": field.LOADED,
        "left_g": field.LEFT,
        "row_m": field.ROW_LENGTHS,
    }
    return Kind(
        field.HEADER,
        f"date,field,box,lot,setting,area_{area},seed_loaded_{weight},seed_left_{weight},seeds_counted,"
        f"row_length_{length},use,operator,note",
        {name: _own_first(each, drill) for name, each in measures.items()},
        lambda table: field.field_of(table, drill),
        "check",
        "Correct it first (check says which), then add the check again.",
    )


def planted_lines(drill: Drill) -> Kind:
    """What was planted with a drill. A new file is in the units of the drill file."""
    area, weight, rate = ("ac", "lb", "lb_ac") if drill.units == "us" else ("ha", "kg", "kg_ha")
    measures = {"area_m2": planted.AREAS, "loaded_g": planted.LOADED, "left_g": field.LEFT, **planted.RATES_SHOWN}
    return Kind(
        planted.HEADER,
        f"date,field,box,lot,setting,area_{area},seed_loaded_{weight},seed_left_{weight},use,operator,note,decision,"
        f"chance,target_rate_{rate},expected_rate_{rate},catches,field_factor,program,evidence",
        {name: _own_first(each, drill) for name, each in measures.items()},
        lambda table: planted.planted_of(table, drill),
        "planted line",
        "Correct it first (report says which), then enter the line again.",
    )
