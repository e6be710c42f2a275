"""One catch asked for at the drill: what was not given is a question."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from predictor.asking.asked import Asked, as_said, settings_to_choose
from predictor.domain.result import Remark
from predictor.errors import InputError

if TYPE_CHECKING:
    from predictor.advice.result import Advice
    from predictor.domain.catch import CatchSize, Measured
    from predictor.domain.control import Setting
    from predictor.domain.drill import SeedBox
    from predictor.files.entry import Catch, Weight
    from predictor.job.first import FirstSetting
    from predictor.job.job import Job

AGAIN = "Nothing was saved. Record the catch again."
OTHER_DAY = "Nothing was saved. Record the catch again with its day."
# Questions that say nothing of the weight.
OF_TYPING = frozenset({"log.rows_differ", "log.between_steps", "log.same_again"})
# Findings that a question of typing asks about as well.
SAME = {"odd": "log.far", "level": "log.far", "between_steps": "log.between_steps"}
# Questions of typing that a finding asks better, since it names the likely cause.
BETTER = {"offset": "log.far", "repeats": "log.same_again", "copies": "log.same_again"}


@dataclass(frozen=True)
class Size:
    """The size of a catch as it was given, and whether the meters were said not to be charged."""

    turns: float | None = None
    towed: tuple[float, Measured] | None = None  # Distance and its unit
    rows: float | None = None
    not_charged: bool = False
    other: bool = False  # Whether it is known to differ from the size asked for, so that it is to be asked


@dataclass(frozen=True)
class Container:
    """The container of a catch: its weight, and whether somebody said so."""

    tare_g: float = 0.0  # Of each weight that is typed
    known: bool = False


@dataclass(frozen=True)
class ToCatch:
    """What is known of the next catch of a box and lot before it is made."""

    box: SeedBox
    lot: str
    advice: Advice | None  # None without a target
    first: FirstSetting | None  # Before the first catch of the lot in a season
    last: str  # The setting of the last catch of the box; "" for none
    in_force: Setting | None = None  # Where a field check or planting left the box, which goes before the advice

    @property
    def advised(self) -> str:
        """The setting that is advised; "" where none is."""
        if self.in_force is not None:
            return self.in_force.text
        if self.first is not None:
            return self.first.setting.text
        caught = self.advice is not None and self.advice.catches_used + self.advice.catches_left_out
        return (
            self.advice.advised.text if self.advice is not None and self.advice.advised is not None and caught else ""
        )


def to_catch(job: Job, box: SeedBox, lot: str) -> ToCatch:
    """What is known of the next catch of a box and lot."""
    from predictor.job.entry import advice_on
    from predictor.job.first import first_setting

    first = first_setting(job, box, lot)
    advice = first.advice if first else advice_on(job, box, lot)
    stage = next(iter(job.stages(box.name, lot)), None)
    in_force = None if stage is None or first or stage.doing == "advised" else stage.setting
    last = next(iter(job.trials.of(box=box.name).setting[-1:].tolist()), "")
    return ToCatch(box, lot, advice, first, last, in_force)


def ask_day(asked: Asked, job: Job, day: datetime.date, told: set[str]) -> None:
    """Ask about a day that is to come, or long past; what was `told` is not asked again."""
    from predictor.job.days import early_day

    odd = early_day(job, day.isoformat())
    if day > datetime.date.today():
        odd = Remark("log.future_day", {"day": day})
    if odd is None or str(odd) in told:
        return
    if not asked.agreed(odd):
        raise InputError(OTHER_DAY)
    told.add(str(odd))


def ask_catch(asked: Asked, job: Job, given: Size) -> Catch:
    """The catch that was given and asked for; slips are asked about."""
    from predictor.files.entry import Catch, read_box, read_fill
    from predictor.job.entry import box_to_catch

    names = [each.name for each in job.drill.boxes]
    last = str(job.trials.box[-1]) if len(job.trials) and asked.weighed else box_to_catch(job)
    box = asked.value(
        "box", f"Box ({', '.join(names)})", last, lambda text: read_box(text, job.drill), choices=as_said(names)
    )
    lot = _lot(asked, job, box)
    known = to_catch(job, box, lot)
    setting = _setting(asked, known)
    size = _size(asked, job, box, lot, known.advice, given)
    container, charged = _container(asked, job), _charged(asked, job, box, given)

    def made(weight: Weight) -> Catch:
        rows = weight.rows(int(size.rows))
        return Catch(
            *(box, lot, setting, weight, size.length, rows),
            counted=size.counted,
            charged=charged,
            tare_known=container.known,
        )

    catch = _weighed(asked, job, size, container, known.advice, made, box)
    if asked.given["fill"] is None and (box.holds != "chaffy" or asked.weighed):
        return catch
    label = "How full is the box, per cent (Enter if you have not looked)"
    fill = asked.value("fill", label, "", read_fill, choices={"": "not looked"}, typing="number")
    return replace(catch, fill_pct=fill)


def _weighed(
    asked: Asked,
    job: Job,
    size: CatchSize,
    container: Container,
    advice: Advice | None,
    made: Callable[[Weight], Catch],
    box: SeedBox,
) -> Catch:
    """The catch with its weight, once whatever looks like a slip is confirmed."""
    from predictor.files.entry import read_weight
    from predictor.text.log import OF_THE_DAY

    label = _weight_label(job, box, size, container)
    read = partial(read_weight, tare_g=container.tare_g, most_rows=job.drill.rows_of(box))
    while True:
        catch = made(asked.value("catch", label, "", read, typing="weight"))
        found = _questions(job, catch, int(size.rows), advice)
        # where catches repeat well, equal weights are ordinary: Enter is enough
        wrong = next((each for each in found if not asked.agreed(each, enter=each.code == "log.same_again")), None)
        if wrong is None:
            return replace(catch, confirmed=any(each.code not in OF_TYPING for each in found))
        if wrong.code == "log.slip" and wrong.values["slip"].code in OF_THE_DAY:
            raise InputError(OTHER_DAY)  # another weight would change nothing
        if asked.weighed:
            raise InputError(AGAIN)


def _questions(job: Job, catch: Catch, rows: int, advice: Advice | None) -> list[Remark]:
    """What looks like a slip in a catch: what is asked of typed rows alone, and what the log would show with it."""
    from predictor.job.adding import slips_with
    from predictor.job.entry import as_caught, expected_g, turns_of
    from predictor.slips.typed import questions

    advice = advice or as_caught(job, catch.box, catch.lot)
    expected = expected_g(advice, catch.setting, turns_of(job, catch) * catch.rows)
    found = questions(catch, job.trials.of(box=catch.box.name), rows=rows, expected_g=expected)
    slips = slips_with(job, catch)
    better = {BETTER[each.code] for each in slips if each.code in BETTER}
    odd = next((each for each in slips if each.code == "odd"), None)
    if odd is not None:  # it knows the other boxes and lots as well
        found = [
            replace(each, values={**each.values, "causes": odd.values["causes"]}) if each.code == "log.far" else each
            for each in found
        ]
    found = [each for each in found if each.code not in better]
    asked = {each.code for each in found} | better
    shown = [each for each in slips if SAME.get(each.code) not in asked]
    return [*found, *(Remark("log.slip", {"slip": each, "grams": catch.weight.grams}) for each in shown)]


def _weight_label(job: Job, box: SeedBox, size: CatchSize, container: Container) -> str:
    from predictor.text.drill import charge_words, size_words
    from predictor.units import METRES

    charge = f" after {charge_words(job.drill.catch_of(box), size)}" if size.counted in METRES else ""
    return (
        f"Weight {weighed_words(container.tare_g)} in {size_words(size)}{charge}, g (+ between rows, / between parts)"
    )


def weighed_words(tare_g: float) -> str:
    """What is weighed: the seed, or a container with it."""
    return f"with the container of {tare_g:.4g} g" if tare_g else "of seed alone"


def ask_container(asked: Asked) -> str:
    """What is weighed: "s" for the seed alone, "c" for a container with it."""
    return asked.one_of(Remark("log.container"), {"s": "seed alone", "c": "with the container"}, "tare")


def _container(asked: Asked, job: Job) -> Container:
    """The container of the weights: by option, as an earlier catch of the job states it, else asked for."""
    from predictor.files.entry import read_weight
    from predictor.job.entry import last_container

    if asked.given["tare"]:
        return Container(asked.value("tare", "", "0", read_weight).grams, known=True)
    stated, along = last_container(job.trials), asked.given.get("container")
    if along is None and asked.weighed:  # a weight by option is net unless a tare goes with it
        return Container()
    if along is None and stated is not None:
        # an answer about one catch says nothing of a container that is left on the scale at a later one
        return Container(stated, known=stated > 0)
    if (along or ask_container(asked)) == "s":
        return Container(known=True)

    def some(text: str) -> float:
        grams = read_weight(text).grams
        if grams == 0:
            raise ValueError("The weight is 0. Weigh the empty container.")
        return grams

    return Container(asked.value("tare", "Weight of the empty container, g", "", some, typing="weight"), known=True)


def _charged(asked: Asked, job: Job, box: SeedBox, given: Size) -> bool | None:
    """Whether the meters were charged: by option, as earlier catches of the box state it, else asked for."""
    from predictor.job.entry import was_charged
    from predictor.text.drill import charge_words

    if given.not_charged:
        return False
    usual = job.drill.catch_of(box)
    if was_charged(job.trials.of(box=box.name)) or not usual.charge_turns:
        return True
    if asked.weighed:
        return None
    question = Remark("log.charged", {"charge": charge_words(usual)})
    return asked.one_of(question, {"y": "yes", "n": "no"}, "not-charged") == "y"


def _size(asked: Asked, job: Job, box: SeedBox, lot: str, advice: Advice | None, given: Size) -> CatchSize:
    """The size of the catch: by option, else as it was advised; of a weight by option that of the drill file."""
    from predictor.domain.catch import CatchSize
    from predictor.job.entry import asked_size, last_size

    # nobody is shown the size of a weight by option, so it must not depend on the catches before
    by_option = asked.weighed
    usual = asked_size(job, box, None if by_option else advice)
    rows = _rows(asked, job, box, given.rows) or usual.rows
    if given.towed is not None:
        return CatchSize(*given.towed, rows)
    if given.turns is not None:
        return CatchSize(given.turns, job.drill.catch_of(box).counted, rows)
    if by_option and job.is_towed(box, lot):
        raise InputError(
            f"Nothing was saved: the drill was towed for the last catch of {lot}. Pass --distance-ft or "
            "--distance-m, or --turns if it stood this time."
        )
    size = CatchSize(usual.length, usual.counted, rows)
    as_usual = by_option or given.rows is not None or size == last_size(job, box, lot)
    if not given.other and (as_usual or asked.agreed(Remark("log.size_as_asked", {"size": size}), enter=True)):
        return size
    return _other(asked, job, box, size)


def _rows(asked: Asked, job: Job, box: SeedBox, rows: float | None) -> int | None:
    """The rows of a catch as they were given, no more than the box feeds; None where they were not given."""
    if rows is None:
        return None
    if rows > job.drill.rows_of(box):
        asked.refuse("rows", f"{rows:g} is more than the {job.drill.rows_of(box)} rows that box {box.name} feeds.")
    return int(rows)


def _other(asked: Asked, job: Job, box: SeedBox, wanted: CatchSize) -> CatchSize:
    """The size of a catch that was made otherwise than it was asked for."""
    from predictor.domain.catch import CatchSize
    from predictor.numbers import parse_number
    from predictor.text.drill import several

    counted, most = wanted.counted, job.drill.rows_of(box)

    def length(text: str) -> float:
        value = parse_number(text, what="a number")
        if not 0 < value < 1e5:
            raise ValueError(f"{text} is out of range. Write how many there were.")
        return value

    def rows(text: str) -> float:
        value = parse_number(text, what="a number of rows")
        if value != int(value) or not 1 <= value <= most:
            raise ValueError(f"{text} rows cannot be caught. Box {box.name} feeds {most} rows.")
        return value

    made = asked.value("turns", f"How many {several(counted)}", "", length, typing="number")
    return CatchSize(made, counted, asked.value("rows", "How many rows", "", rows, typing="number"))


def _lot(asked: Asked, job: Job, box: SeedBox) -> str:
    """The lot of the catch; one that is new in the box is asked about, and a wrong one is asked for again."""
    from predictor.job.entry import lot_to_catch, lots_of, named_lot
    from predictor.slips.names import near_name

    def read(text: str) -> str:
        name = named_lot(job, box, text)
        if name.lower() != " ".join(text.lower().split()):
            asked.say(str(Remark("log.part_of_blend", {"part": text, "blend": name})))
        return name

    known = lots_of(job, box)
    while True:
        lot = asked.value("lot", "Lot", lot_to_catch(job, box), read, choices=as_said(known))
        if not known or lot in known:
            return lot
        near = near_name(lot, known)
        new = {"lot": lot, "box": box.name}
        if near and not asked.yes and asked.agreed(Remark("log.near_lot", {**new, "near": near})):
            return near
        if asked.agreed(Remark("log.new_lot", new)):
            return lot
        if asked.given.get("lot") is not None or asked.weighed:
            raise InputError("Nothing was saved. Record the catch again with the lot's right name.")


def _setting(asked: Asked, known: ToCatch) -> Setting:
    """The setting of the catch; where the last one and the advised one differ, Enter could mean either."""
    from predictor.domain.drives import LeverAndDrive
    from predictor.files.entry import setting_of
    from predictor.files.settings import example_of

    box, advised, first = known.box, known.advised, known.first
    label, usual = "Setting", known.last
    if first is not None:
        last = f"; last catch at {usual}" if usual else ""
        label = f"Setting (advised {advised}, {first.source}{last})"
        # Enter takes what earlier lots say, but neither the middle nor the setting of another lot
        learned = first.advice.curve is not None and not asked.weighed
        usual = advised if learned and usual in ("", advised) else ""
    elif usual and advised not in ("", usual) and not asked.weighed:
        label, usual = f"Setting (advised {advised}; last catch at {usual})", ""
    elif not usual and isinstance(box.control, LeverAndDrive):
        label = f"Setting (lever reading and drive, as {example_of(box.control)})"
    choices, typing = settings_to_choose(box, (advised, known.last))
    return asked.value("setting", label, usual, lambda text: setting_of(text, box), choices=choices, typing=typing)
