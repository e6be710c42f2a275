"""The words of the decision card: what to do after each weight of the next catch."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from predictor.advice.ranges import Range, Table
from predictor.domain.catch import CatchSize, catch_size
from predictor.domain.drill import Drill
from predictor.domain.result import Remark
from predictor.format import decimals_of, in_100, plain, weight
from predictor.job.stage import Stage
from predictor.text.doing import Doing, do, look_first, without_slip
from predictor.text.drill import charge_words, size_words
from predictor.text.stage import headline

ASK = "weigh again, ask the program"
HEADER = ("Grams", "Do", "In 100", "Yours")
LADDER = ("Grams", "Then", "Yours")
AGAIN = "Set the control as the row of the weight says, and catch again."
SEVERAL = "Where a row names two settings, take those nearer the first for its lighter weights."
BLACK = " In a black row lock the control, and plant."
LIKELY = " In 100 is how many of 100 such catches fall into a row."
SENTENCES: dict[str, str | Callable[[Remark], str]] = {
    "ask": "So odd a weight is looked at first. Weigh the catch again, and record it to see what the program says."
}


def done(stage: Stage) -> str:
    """What a box that needs no further catch is at, and why."""
    why = "" if stage.doing == "planted" else str(stage.verdict.why) if stage.verdict else stage.advice.reason
    why = " ".join(filter(None, (why, without_slip(stage.advice)))) if stage.doing == "advised" else why
    return " ".join(filter(None, (f"{stage.box}, {stage.lot}: {headline(stage)}.", why)))


def row(k: int, table: Table, drill: Drill) -> tuple[str, ...]:
    """A range of weight, what to do in it, how likely it is, and room for the weight."""
    found = table.ranges[k]
    likely = "" if found.likely is None else in_100(found.likely) if found.likely >= 0.01 else "rare"
    return weight_words(k, table, drill.catch.scale_resolution_g), to_do(found, table, drill), likely, ""


def ladder(table: Table, drill: Drill) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    """Head and rows of a ladder in two columns, the lighter half at the left."""
    step = drill.catch.scale_resolution_g
    said = [to_do(each, table, drill).removesuffix(", catch again") for each in table.ranges]
    cells = [(weight_words(k, table, step), each, "") for k, each in enumerate(said)]
    half = (len(cells) + 1) // 2
    right = [*cells[half:], *([("", "", "")] if len(cells) % 2 else [])]
    return LADDER * 2, tuple(one + other for one, other in zip(cells[:half], right, strict=True))


def to_do(found: Range, table: Table, drill: Drill) -> str:
    """What to do in a range."""
    if found.decision == "ask":
        return ASK
    decision = look_first(found.why.code) or found.decision
    if found.last is not None:
        return Doing("set", f"{found.setting} to {found.last}", then="catch again").text(capitals=False)
    said = do(decision, found.setting, table.setting).text(capitals=decision in ("lock", "offer"))
    return f"{said}: {size_words(_size(found, table, drill))}" if found.decision == "lengthen" else said


def weight_words(k: int, table: Table, step: float) -> str:
    """The weights of a range in grams, to the scale's step; those that are asked about by where the next begins."""
    ranges, found = table.ranges, table.ranges[k]

    def shown(grams: float | None) -> str:
        return f"{grams or 0.0:.{decimals_of(step)}f}"

    low, high, asks = shown(found.low_g), shown(found.high_g), found.decision == "ask" and len(ranges) > 1
    if found.low_g is None and found.high_g is None:
        return "any weight"
    if found.low_g is None:
        return f"below {shown(ranges[k + 1].low_g)}" if asks else f"up to {high}"
    if found.high_g is None:
        return f"above {shown(ranges[k - 1].high_g)}" if asks else f"{low} or more"
    return low if low == high else f"{low} to {high}"


def title(table: Table, drill: Drill) -> str:
    """Where and how the catch of a table is made, and what it should weigh."""
    size = _size(table, table, drill)
    box = drill.box(table.box)
    half = ", box half full" if box.holds == "chaffy" else ""
    charge = charge_words(drill.catch_of(box), size)
    name = f"{table.box}, {table.lot}" if table.lot else table.box
    target = weight(table.target_g, drill.catch.scale_resolution_g)
    return f"{name}: catch at {table.setting}. {size_words(size)}, after {charge}{half}. Target {target} g."


def note(tables: Sequence[Table]) -> str:
    """What must be known beside the tables to read them; "" where they say it all."""
    said = [AGAIN] if any(each.ladder for each in tables) else []
    said += [SEVERAL] if any(found.last is not None for each in tables for found in each.ranges) else []
    return " ".join(said)


def how_to_use(tables: Sequence[Table], tolerance: float) -> str:
    """How to use a decision card."""
    towed = [each.towed for each in tables]
    drill = "towed drill" if towed and all(towed) else "drill" if any(towed) else "standing drill"
    black = any(found.decision == "lock" for each in tables for found in each.ranges)
    return (
        "Weigh the net seed to the scale's step. Write every weight into its row, the odd ones too, and record them "
        f"afterwards. The aim is that the {drill} is within {plain(100 * tolerance)} % of target."
        f"{BLACK if black else ''}{LIKELY if any(not each.ladder for each in tables) else ''}"
    )


def _size(catch: Range | Table, table: Table, drill: Drill) -> CatchSize:
    return catch_size(catch.turns, catch.rows, drill, drill.box(table.box), table.towed)
